"""Short visits of invented rooms, many of them: real sessions, multiplied with other days, lots and people.

A visit of the multiplied kind is what a session wrote, with another identifier, day, lot and operator put in and every
hash of its lines counted anew, so that it verifies as what a room wrote.
"""

import hashlib
import random
import re
import sys
import uuid
from datetime import date
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests" / "record")]

from record_samples import START, wall  # noqa: E402
from record_visits import Visit  # noqa: E402

from handsfree.clock import ManualClock  # noqa: E402
from handsfree.definition.loader import load_bundle  # noqa: E402
from handsfree.model.events import SessionStarted  # noqa: E402
from handsfree.record.contents import RecordHeader  # noqa: E402
from handsfree.record.journal import Journal  # noqa: E402
from handsfree.record.line_checking import RECORD_FILE  # noqa: E402
from handsfree.session.session import Session  # noqa: E402

PROCEDURE = """\
form: 1
id: short-fitting
title: An invented short fitting
version: "1.0.0"
language: en-US
approved_by: null
sources: {common: "common practice, no source"}
cautions: [The product's own instructions come first.]
device_profile: sleeve
light_profile: lamp
roles: {surgeon: [surgeon]}
skip_reasons: {declined: [patient declined]}
override_reasons: {reviewed: [reviewed by the senior]}
kind_from: session_kind.kind
operator_from: operator_code.code
steps:
  - id: session_kind
    kind: choose
    phase: before
    prompt: Live or practice session?
    hard: true
    source: common
    fields:
      - {id: kind, label: kind, options: {live: [live session], practice: [practice session]}}
  - id: operator_code
    kind: identify
    phase: before
    prompt: Your code?
    hard: true
    source: common
    fields: [{id: code, label: operator code, identifier: {max_length: 4}}]
  - id: pack
    kind: identify
    phase: before
    prompt: Lot?
    hard: true
    source: common
    fields: [{id: lot, label: lot, identifier: {max_length: 10}}]
  - id: circulation
    kind: measure
    phase: before
    prompt: Refill?
    hard: true
    source: common
    timing: baseline
    fields:
      - id: refill
        label: refill
        number: {unit: s, low: 0.2, high: 10, decimals: 1, flag_above: 2.0, flag_class: amber}
  - id: cure
    kind: expose
    phase: during
    prompt: When ready, say light on.
    hard: true
    source: common
    zones: open
    requires: [circulation]
"""
DEVICE = """\
id: sleeve
title: Invented sleeve
version: "0.1.0"
approved_by: null
note: Invented.
body_part: wrist
zones:
  - {id: front, name: front part, order: 1, target_s: 6}
"""
LIGHT = """\
id: lamp
title: Invented lamp
version: "0.1.0"
approved_by: null
note: Invented.
wavelength_nm: 460
window_diameter_cm: 2.0
irradiance:
  - {distance_cm: 3.0, mw_cm2: 70}
  - {distance_cm: 8.0, mw_cm2: 28}
stated_distance_cm: 3.0
output_checked_on: "2026-11-02"
output_check_valid_days: 3650
"""
FIRST_DAY = date(2026, 1, 1)
LOTS = [f"{a}{b}{c}{d}" for a in "BCDF" for b in "123456" for c in "GHJK" for d in "1234567"]
PEOPLE = [f"{a}{b}" for a in "KLMN" for b in "123456789"]
_DAY, _LOT, _CODE, _ID = "2026-11-25", "A4B2", "K4", "00000000-0000-4000-8000-00000000beef"
_SUM = re.compile(rb',"sum":"[0-9a-f]{64}"|"sum":"[0-9a-f]{64}",')


class _ShortFitting(Visit):  # type: ignore[misc] - of the tests
    """A whole short fitting; how long the light is on, and the refill, make the kinds of it."""

    def __init__(self, procedure: Path, folder: Path, *, lit_s: float, refill: str) -> None:
        self.bundle = load_bundle(str(procedure))
        self.session = Session(self.bundle)
        self.folder = folder
        self.now_s = 0.0
        self.closed = False
        self.lit_s = lit_s
        self.refill = refill

    def write(self) -> bytes:
        """Hold it; the bytes of its record."""
        header = RecordHeader(
            record_id=_ID,
            procedure=self.bundle.procedure.id,
            title=self.bundle.procedure.title,
            procedure_sha256=self.bundle.sha256,
            practice=False,
            versions={},
            build="bench",
            started=wall(0),
        )
        with Journal.create(self.folder, header, clock=ManualClock(START)) as self.journal:
            self.handle(
                SessionStarted(
                    at_s=0.0, wall=wall(0), local_offset_minutes=0, today=_DAY, record_id=_ID, practice=False
                )
            )
            for said in ("live session", "kilo four", "alfa four bravo two", self.refill):
                self.wait(2.0)
                self.say(said)
                self.settle()
            self.wait(2.0)
            self.say("light on")
            self.wait(self.lit_s)
            self.say("light off")
            for _ in range(20):
                if self.closed:
                    break
                self.wait(2.0)
                self.settle()
                if not self.closed and self.session.snapshot.mode == "warmth":
                    self.say("warm")
        return (self.folder / RECORD_FILE).read_bytes()


class Multiplied:
    """A record of which others are made.

    Args:
        content: Its bytes; day, lot and operator code are those of this module.
        record_id: Its identifier.
    """

    def __init__(self, content: bytes, record_id: str = _ID) -> None:
        self.content = content
        self._id = f'"record_id":"{record_id}"'.encode()
        self.lines = content.count(b"\n")

    def made(self, record_id: str, day: date, lot: str, operator: str) -> bytes:
        """The bytes of another visit.

        Args:
            record_id: Its identifier, 36 signs.
            day: Local day, and day in UTC.
            lot: Four signs.
            operator: Two signs.
        """
        content = self.content.replace(_DAY.encode(), day.isoformat().encode())
        content = content.replace(self._id, f'"record_id":"{record_id}"'.encode())
        content = content.replace(f'"{_LOT}"'.encode(), f'"{lot}"'.encode())
        content = content.replace(f'"{_CODE}"'.encode(), f'"{operator}"'.encode())
        lines = content.splitlines()
        sums = [_fact_sum(line) for line in lines]
        out, prev = [], b"0" * 64
        for number, line in enumerate(lines):
            start = line.rindex(b',"prev":"') + 9
            line = line[:start] + prev + line[start + 64 :]
            if b'"kind":"event"' in line:
                line = _with_sums(line, sums[number + 1 :])
            if b'"kind":"sealed"' in line:
                head = line.index(b'"head":"') + 8
                line = line[:head] + prev + line[head + 64 :]
            if _SUM.search(line) is not None:
                plain = hashlib.sha256(_SUM.sub(b"", line, 1)).hexdigest().encode()
                at = line.index(b'"sum":"') + 7
                line = line[:at] + plain + line[at + 64 :]
            prev = hashlib.sha256(line).hexdigest().encode()
            out.append(line)
        return b"\n".join(out) + b"\n"


def _fact_sum(raw: bytes) -> bytes:
    data, kind, prev = raw.index(b'"data":') + 7, raw.rindex(b',"kind":'), raw.rindex(b',"prev":')
    return hashlib.sha256(b"[%b,%b]" % (raw[kind + 8 : prev], raw[data:kind])).hexdigest().encode()


def _with_sums(line: bytes, following: list[bytes]) -> bytes:
    start = line.index(b'"facts_sha256":[') + 16
    end = line.index(b"]", start)
    count = (end - start + 1) // 67
    return line[:start] + b",".join(b'"%b"' % one for one in following[:count]) + line[end:]


def kinds(place: Path) -> list[Multiplied]:
    """A plain visit, one with light over its target, and one with a flagged refill."""
    place.mkdir(parents=True, exist_ok=True)
    procedure = place / "short-fitting.yaml"
    procedure.write_text(PROCEDURE, encoding="utf-8")
    (place / "sleeve.yaml").write_text(DEVICE, encoding="utf-8")
    (place / "lamp.yaml").write_text(LIGHT, encoding="utf-8")
    held = [
        ("plain", 6.2, "one point five"),
        ("over", 9.0, "one point five"),
        ("flagged", 6.2, "two point six"),
    ]
    return [
        Multiplied(_ShortFitting(procedure, place / name, lit_s=lit_s, refill=refill).write())
        for name, lit_s, refill in held
    ]


def whole_fitting(place: Path) -> bytes:
    """The bytes of a whole bundled fitting."""
    Visit("ulnar-fitting", place).start().finish()
    return (place / RECORD_FILE).read_bytes()


def visit(made: list[Multiplied], draw: random.Random, day: date) -> tuple[str, bytes, int]:
    """One visit of a day: of a hundred two with light over the target and one flagged; with the number of its kind."""
    chance = draw.random()
    kind = 1 if chance < 0.02 else 2 if chance < 0.03 else 0
    record_id = str(uuid.UUID(int=draw.getrandbits(128), version=4))
    return record_id, made[kind].made(record_id, day, draw.choice(LOTS), draw.choice(PEOPLE)), kind
