"""Lines as bytes: strict both ways, so that what was written is what is read.

A line is the canonical form (RFC 8785) of `{"seq", "prev", "at", "kind", "data"}`; `prev` is the SHA-256 (FIPS 180-4)
of the line before it, 64 zeros for the first. The chain shows holes and edits inside a file. Lines that lead a batch
also carry `data.sum`, a SHA-256 over themselves, so that the last line of a file is covered as well.
"""

import dataclasses
import hashlib
import json
import typing
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import rfc8785
from pydantic_core import PydanticSerializationError, from_json, to_json

from handsfree.errors import RecordError
from handsfree.model.effects import Json

FIRST_PREV = "0" * 64
_LINE_KEYS = {"seq", "prev", "at", "kind", "data"}
_LONG = 10**15
"""Integers up to here are written alike everywhere."""


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
    _raw: list[bytes] = field(default_factory=list, init=False, repr=False, compare=False)

    @property
    def json(self) -> dict[str, Json]:
        """The line as it is written, its own members in order."""
        return {"at": self.at, "data": dict(self.data), "kind": self.kind, "prev": self.prev, "seq": self.seq}

    @property
    def raw(self) -> bytes:
        """Canonical bytes without the line end; made once."""
        if not self._raw:
            self._raw.append(canonical(self.json))
        return self._raw[0]

    @property
    def hash(self) -> str:
        """What the next line's `prev` must be."""
        return hashlib.sha256(self.raw).hexdigest()

    @property
    def sum_fits(self) -> bool:
        """Whether `data.sum` is the SHA-256 of the line without it."""
        stated = dict(self.data).pop("sum", None)
        member = f'"sum":"{stated}"'.encode()
        if self.raw.count(member) != 1:
            return with_sum(self) == self
        shown = next(piece for piece in (b"," + member, member + b",", member) if piece in self.raw)
        return hashlib.sha256(self.raw.replace(shown, b"")).hexdigest() == stated

    @property
    def sum_as_fact(self) -> str:
        """What the line that leads a batch lists of this one: `fact_sum` of its kind and data, from the bytes."""
        raw = self.raw
        data, kind, prev = raw.index(b'"data":') + 7, raw.rindex(b',"kind":'), raw.rindex(b',"prev":')
        return hashlib.sha256(b"[%b,%b]" % (raw[kind + 8 : prev], raw[data:kind])).hexdigest()


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
    """The same bytes from a fast library, or None where it may write other ones.

    It could differ in the order of names outside ASCII, in numbers with an exponent, in long ones, and in whole floats.
    """
    try:
        if not _plainly_in_order(value):
            value = _in_order(value)
            if not _plainly_in_order(value):
                return None
        text = to_json(value)
    except (PydanticSerializationError, TypeError, ValueError, RecursionError):
        return None
    return text if text.isascii() else None


def _plainly_in_order(value: Any) -> bool:  # noqa: ANN401 - any JSON
    """Whether members stand in order and every number is one that is written alike everywhere."""
    items: Iterable[Any] = (value,)
    if type(value) is dict:
        before = ""
        for name in value:
            if name < before:
                return False
            before = name
        items = value.values()
    elif type(value) is list:
        items = value
    for item in items:
        kind = type(item)
        if kind is str or kind is bool or item is None:
            continue
        if kind is dict or kind is list:
            if not _plainly_in_order(item):
                return False
        elif kind is int:
            if not -_LONG < item < _LONG:
                return False
        elif kind is not float or not _plain_float(item):
            return False
    return True


def _plain_float(value: float) -> bool:
    """Whether a number with a fraction is written with its digits alone; "inf" and "nan" have an n."""
    written = repr(value)
    return not ("e" in written or "n" in written or written.endswith(".0"))


def _in_order(value: Json) -> Json:
    """A value with the members of every object in order, as canonical form has them."""
    match value:
        case dict():
            return {name: _in_order(value[name]) for name in sorted(value)}
        case list() | tuple():
            return [_in_order(item) for item in value]
        case _:
            return value


def with_sum(line: RecordLine) -> RecordLine:
    """The same line with `data.sum`, the SHA-256 of the line without it."""
    plain = {name: value for name, value in line.data.items() if name != "sum"}
    return dataclasses.replace(line, data=plain | {"sum": dataclasses.replace(line, data=plain).hash})


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
    value, canonically = _read(raw)
    if not isinstance(value, dict) or value.keys() != _LINE_KEYS:
        raise RecordError("does not have exactly the members seq, prev, at, kind and data")
    seq, prev, at, kind, data = (value[name] for name in ("seq", "prev", "at", "kind", "data"))
    if (
        type(seq) is not int
        or not all(isinstance(text, str) for text in (prev, at, kind))
        or not isinstance(data, dict)
    ):
        raise RecordError("has a member of the wrong type")
    if not canonically and canonical(value) != raw:
        raise RecordError("is not in canonical form (RFC 8785)")
    line = RecordLine(seq, prev, at, kind, data)
    line._raw.append(raw)
    return line


def _read(raw: bytes) -> tuple[Any, bool]:
    """The JSON of a line, and whether it is known to be canonical; False leaves that open.

    Raises:
        RecordError: It is no JSON.
    """
    try:
        value = from_json(raw, allow_inf_nan=False)
        if _quick(value) == raw:
            return value, True
    except (ValueError, RecursionError):
        pass  # the standard library says what is JSON
    try:
        return json.loads(raw.decode()), False
    except (ValueError, RecursionError) as error:
        raise RecordError("is not JSON in UTF-8") from error
