"""Finished records of an invented visit with sound, for whoever wants to corrupt them."""

import shutil
import struct
from dataclasses import dataclass, replace
from decimal import Decimal
from math import pi, sin
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from record_visits import Visit

from handsfree.model.readings import Exact
from handsfree.record.amendments import amend, attest
from handsfree.record.contents import Amended
from handsfree.record.signing import public_hex
from handsfree.record.verify import verify

PROCEDURE = "neurovascular-check"
KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER_KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
TRUSTED = public_hex(KEY)
OTHERWISE = (
    ("refill one point four", "refill one point three"),
    ("refill one point four", "refill one point one"),
    ("rest three stretch four", "rest two stretch three"),
)
"""What could have been said instead in the same visit."""


@dataclass(frozen=True)
class Records:
    """What is corrupted, and what it is done with.

    Attributes:
        attested: A visit with sound that was attested.
        amended: The same, amended with the key afterwards.
        otherwise: The same visit as it would have been with other words; not attested.
        heads: Head hash of the first two, as it was written down.
    """

    attested: Path
    amended: Path
    otherwise: tuple[Path, ...]
    heads: dict[Path, str]

    @classmethod
    def make(cls, place: Path) -> "Records":
        """Write them into a folder."""
        attested = sounded(place / "attested")
        attest(attested, KEY, by="surgeon")
        amended = Path(shutil.copytree(attested, place / "amended"))
        correct(amended, KEY)
        others = tuple(sounded(place / f"otherwise-{number}", *change) for number, change in enumerate(OTHERWISE))
        return cls(attested, amended, others, {one: verify(one).head_hash for one in (attested, amended)})


class _Sounded(Visit):  # type: ignore[misc] - of the tests
    """A visit whose utterances are kept as tones, each of its own pitch."""

    def handle(self, event: Any) -> None:  # noqa: ANN401 - as the base has it
        if getattr(event, "heard", None) is not None:
            event = replace(event, heard=replace(event.heard, clip=_tone(200 + self.now_s)))
        super().handle(event)


def _tone(hertz: float) -> bytes:
    return b"".join(struct.pack("<h", int(8000 * sin(2 * pi * hertz * n / 16_000))) for n in range(1600))


def sounded(folder: Path, old: str = "", new: str = "") -> Path:
    """A whole visit, closed, with its sound; one piece of what is said may be another."""
    visit = _Sounded(PROCEDURE, folder)
    visit.lines = [{**line, "say": line["say"].replace(",", "").replace(old, new)} for line in visit.lines]
    visit.start().journal.keep_clips = True
    visit.finish()
    return folder


def correct(folder: Path, key: Ed25519PrivateKey | None) -> None:
    """Amend the first number of a record."""
    record = verify(folder).record
    readings = record.readings if record is not None else ()
    entry = next(one.recorded.seq for one in readings if isinstance(one.stands.value, Exact))
    amend(folder, entry, Amended(value=Exact(Decimal("1.8"), 1)), by="surgeon", reason="misheard", key=key)
