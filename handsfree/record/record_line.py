"""Lines as bytes: strict both ways, so that what was written is what is read.

A line is the canonical form (RFC 8785) of `{"seq", "prev", "at", "kind", "data"}`; `prev` is the SHA-256 (FIPS 180-4)
of the line before it, 64 zeros for the first. The chain shows holes and edits inside a file. Lines that lead a batch
also carry `data.sum`, a SHA-256 over themselves, so that the last line of a file is covered as well.
"""

import dataclasses
import hashlib
import json
import re
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import rfc8785

from handsfree.errors import RecordError
from handsfree.model.effects import Json

FIRST_PREV = "0" * 64
_LINE_KEYS = {"seq", "prev", "at", "kind", "data"}
_MAY_DIFFER = re.compile(r"(?:^|[:\[,])-?(?:[0-9.]+e|[0-9]{16,}(?![.0-9])|[0-9]+\.0(?![0-9]))")


@dataclass(frozen=True, slots=True)
class RecordLine:
    """One line of a record.

    Attributes:
        seq: Position, from 0.
        prev: SHA-256 of the line before, lower-case hexadecimal.
        at: RFC 3339 UTC time with milliseconds.
        kind: What it states, past tense; "header", "event", "sealed" and the like are the journal's own.
        data: The facts.
    """

    seq: int
    prev: str
    at: str
    kind: str
    data: Mapping[str, Json]

    @property
    def json(self) -> dict[str, Json]:
        """The line as it is written."""
        return {"seq": self.seq, "prev": self.prev, "at": self.at, "kind": self.kind, "data": dict(self.data)}

    @property
    def raw(self) -> bytes:
        """Canonical bytes without the line end."""
        return canonical(self.json)

    @property
    def hash(self) -> str:
        """What the next line's `prev` must be."""
        return hashlib.sha256(self.raw).hexdigest()


def canonical(value: Json) -> bytes:
    """RFC 8785 bytes of a JSON value.

    Raises:
        RecordError: The value has no canonical form (not finite, an integer past 2^53, a half surrogate pair).
    """
    quick = _quick(value)
    if quick is not None:
        return quick
    try:
        return rfc8785.dumps(typing.cast("Any", value))
    except (rfc8785.CanonicalizationError, UnicodeError, RecursionError) as error:
        raise RecordError(f"cannot be written as canonical JSON: {error}") from error


def _quick(value: Json) -> bytes | None:
    """The same bytes from the standard library, ten times as fast, or None where the two may differ.

    They can differ in the order of keys outside ASCII, in numbers with an exponent, in long ones, and in whole floats,
    which the standard library writes with ".0".
    """
    try:
        text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    except (TypeError, ValueError, RecursionError):
        return None
    return text.encode() if text.isascii() and _MAY_DIFFER.search(text) is None else None


def with_sum(line: RecordLine) -> RecordLine:
    """The same line with `data.sum`, the SHA-256 of the line without it."""
    plain = {name: value for name, value in line.data.items() if name != "sum"}
    bare = dataclasses.replace(line, data=plain)
    return dataclasses.replace(line, data=plain | {"sum": bare.hash})


def fact_sum(kind: str, data: Mapping[str, Json]) -> str:
    """SHA-256 over kind and data of one fact; the line that leads a batch lists those of its facts."""
    return hashlib.sha256(canonical([kind, dict(data)])).hexdigest()


def parse_line(raw: bytes) -> RecordLine:
    """Read one line; anything but the exact canonical bytes is refused.

    Args:
        raw: The bytes without the line end.

    Raises:
        RecordError: Not canonical JSON of the five members, or one of them has the wrong type.
    """
    try:
        value = json.loads(raw.decode())
    except (ValueError, RecursionError) as error:
        raise RecordError("is not JSON in UTF-8") from error
    if not isinstance(value, dict) or set(value) != _LINE_KEYS:
        raise RecordError("does not have exactly the members seq, prev, at, kind and data")
    seq, prev, at, kind, data = (value[name] for name in ("seq", "prev", "at", "kind", "data"))
    if (
        type(seq) is not int
        or not all(isinstance(text, str) for text in (prev, at, kind))
        or not isinstance(data, dict)
    ):
        raise RecordError("has a member of the wrong type")
    if canonical(value) != raw:
        raise RecordError("is not in canonical form (RFC 8785)")
    return RecordLine(seq, prev, at, kind, data)
