"""New lines of a record, before they are written. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import cast

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from handsfree.model.effects import Json
from handsfree.model.events import SessionEvent
from handsfree.model.facts import AnyFact
from handsfree.record.codec import encode_fact
from handsfree.record.own_lines import EventLine, OwnContent, SealedLine, SignableLine, kind_of, own_form
from handsfree.record.record_line import RecordLine, fact_sum, with_sum
from handsfree.record.signing import message_to_sign, public_hex


@dataclass(slots=True)
class LineChain:
    """Lines to be written in one piece, each with the hash of the one before.

    Attributes:
        seq: Sequence number of the next line.
        prev: SHA-256 of the line before it.
        key: Signs every line that may stand after the end of a visit; None leaves them unsigned.
        lines: The lines so far.
    """

    seq: int
    prev: str
    key: Ed25519PrivateKey | None = None
    lines: list[RecordLine] = field(default_factory=list)

    def add(self, facts: Sequence[AnyFact], at: str) -> None:
        """Add facts.

        Raises:
            RecordError: A member of one is not what its type says.
        """
        self._add_written([encode_fact(fact) for fact in facts], at)

    def add_batch(self, event: SessionEvent | None, facts: Sequence[AnyFact], at: str, clip_sha256: str | None) -> None:
        """Add an event and the facts that follow from it.

        Raises:
            RecordError: A member of one is not what its type says.
        """
        written = [encode_fact(fact) for fact in facts]
        sums = tuple(fact_sum(kind, data) for kind, data in written)
        self.add_own(EventLine(event=event, facts=len(sums), facts_sha256=sums, clip_sha256=clip_sha256), at)
        self._add_written(written, at)

    def add_own(self, content: OwnContent, at: str) -> None:
        """Add a line of the journal's own, signed where it may be and a key is at hand."""
        key = self.key if isinstance(content, SignableLine) else None
        if key is not None and isinstance(content, SignableLine):
            content = replace(content, public_key=public_hex(key))
        kind = kind_of(content)
        data = cast("dict[str, Json]", own_form(kind).encode(content))
        line = RecordLine(self.seq, self.prev, at, kind, data)
        if key is not None:
            line = replace(line, data=data | {"signature": key.sign(message_to_sign(line)).hex()})
        self._add(with_sum(line))

    def seal(self, at: str) -> None:
        """Close the record."""
        self.add_own(SealedLine(lines=self.seq + 1, head=self.prev), at)

    def _add_written(self, written: Sequence[tuple[str, Mapping[str, Json]]], at: str) -> None:
        for kind, data in written:
            self._add(RecordLine(self.seq, self.prev, at, kind, data))

    def _add(self, line: RecordLine) -> None:
        self.lines.append(line)
        self.seq, self.prev = line.seq + 1, line.hash
