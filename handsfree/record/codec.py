"""Events as JSON and lines as bytes: strict both ways, so that what was written is what is read.

A line is the canonical form (RFC 8785) of `{"seq", "prev", "at", "kind", "data"}`; `prev` is the SHA-256 (FIPS 180-4)
of the line before it, 64 zeros for the first. The chain shows holes and edits inside a file. Lines that lead a batch
also carry `data.sum`, a SHA-256 over themselves, so that the last line of a file is covered as well.
"""

import dataclasses
import functools
import hashlib
import json
import math
import re
import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import Enum
from typing import Any

import rfc8785

from handsfree.errors import RecordError
from handsfree.model import commands, events, hypotheses, readings
from handsfree.model.effects import Append, Json

FIRST_PREV = "0" * 64
_LINE_KEYS = {"seq", "prev", "at", "kind", "data"}
_MAY_DIFFER = re.compile(r"(?:^|[:\[,])-?(?:[0-9.]+e|[0-9]{16,}(?![.0-9])|[0-9]+\.0(?![0-9]))")
_NOT_INLINED = {"clip"}
"""Fields that never enter a line: sound is kept beside the journal, its hash inside."""


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


def fact_sum(fact: Append) -> str:
    """SHA-256 over kind and data of one fact; the line that leads a batch lists those of its facts."""
    return hashlib.sha256(canonical([fact.kind, dict(fact.data)])).hexdigest()


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


@functools.cache
def _known() -> dict[str, type]:
    return {
        name: value
        for module in (events, commands, readings, hypotheses)
        for name, value in vars(module).items()
        if isinstance(value, type) and dataclasses.is_dataclass(value) and value.__module__ == module.__name__
    }


@functools.cache
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def encode(value: Any) -> Json:  # noqa: ANN401 - any model value
    """A model value as JSON; dataclasses become objects with a "type" member.

    Raises:
        RecordError: The value is none of the model's.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        name = type(value).__name__
        if _known().get(name) is not type(value):
            raise RecordError(f"{name} is not a value that records hold")
        members = (item.name for item in dataclasses.fields(value) if item.name not in _NOT_INLINED)
        return {"type": name} | {member: encode(getattr(value, member)) for member in members}
    return _encode_plain(value)


def _encode_plain(value: Any) -> Json:  # noqa: ANN401
    match value:
        case Enum():
            return typing.cast("Json", value.value)
        case None | bool() | str() | int():
            return value
        case float():
            return _encode_float(value)
        case Decimal():
            return str(value)
        case date():
            return value.isoformat()
        case tuple():
            return [encode(item) for item in value]
        case frozenset():
            return sorted((encode(item) for item in value), key=str)
        case _:
            raise RecordError(f"{type(value).__name__} is not a value that records hold")


def _encode_float(value: float) -> Json:
    if math.isfinite(value):
        return value
    if math.isnan(value):
        raise RecordError("a record holds no NaN")
    return "Infinity" if value > 0 else "-Infinity"


def decode(value: Json, expected: Any = None) -> Any:  # noqa: ANN401
    """Read what `encode` wrote.

    Args:
        value: JSON.
        expected: A type, or a union of types; any known dataclass where None.

    Raises:
        RecordError: The JSON does not have exactly the members and types of the model.
    """
    if expected is None:
        return _decode_object(value, tuple(_known().values()))
    origin = typing.get_origin(expected)
    if origin in (types.UnionType, typing.Union):
        return _decode_union(value, typing.get_args(expected))
    if origin is tuple:
        return _decode_tuple(value, typing.get_args(expected))
    if origin is frozenset:
        return frozenset(decode(item, typing.get_args(expected)[0]) for item in _list(value))
    if dataclasses.is_dataclass(expected):
        return _decode_object(value, (typing.cast("type", expected),))
    return _decode_scalar(value, expected)


def decode_event(value: Json) -> events.SessionEvent:
    """Read an event.

    Raises:
        RecordError: It is not exactly one of the events of the model.
    """
    return typing.cast("events.SessionEvent", decode(value, events.SessionEvent))


def _list(value: Json) -> list[Json]:
    if not isinstance(value, list):
        raise RecordError("a list was due")
    return value


def _decode_tuple(value: Json, arguments: tuple[Any, ...]) -> tuple[Any, ...]:
    items = _list(value)
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        return tuple(decode(item, arguments[0]) for item in items)
    if len(items) != len(arguments):
        raise RecordError(f"a list of {len(arguments)} was due")
    return tuple(decode(item, argument) for item, argument in zip(items, arguments, strict=True))


def _decode_union(value: Json, arguments: tuple[Any, ...]) -> Any:  # noqa: ANN401
    if value is None and type(None) in arguments:
        return None
    if isinstance(value, dict):
        return _decode_object(value, tuple(item for item in arguments if dataclasses.is_dataclass(item)))
    plain = [item for item in arguments if item is not type(None) and not dataclasses.is_dataclass(item)]
    if len(plain) != 1:
        raise RecordError("an object with a type was due")
    return decode(value, plain[0])


def _decode_object(value: Json, allowed: tuple[Any, ...]) -> Any:  # noqa: ANN401
    if not isinstance(value, dict) or not isinstance(value.get("type"), str):
        raise RecordError("an object with a type was due")
    kind = next((item for item in allowed if item.__name__ == value["type"]), None)
    if kind is None:
        raise RecordError(f"type {value['type']!r} is unknown here")
    members = {item.name for item in dataclasses.fields(kind)} - _NOT_INLINED
    if set(value) != members | {"type"}:
        raise RecordError(f"{value['type']} does not have exactly the members {', '.join(sorted(members))}")
    hints = _hints(kind)
    try:
        return kind(**{name: decode(value[name], hints[name]) for name in members})
    except RecordError as error:
        raise RecordError(f"{value['type']}: {error}") from None


def _decode_scalar(value: Json, expected: type) -> Any:  # noqa: ANN401
    if expected is float:
        return _decode_float(value)
    if expected in (bool, int, str):
        if type(value) is not expected:
            raise RecordError(f"{expected.__name__} was due")
        return value
    if not isinstance(value, str):
        raise RecordError(f"text for {expected.__name__} was due")
    try:
        if expected is Decimal:
            number = Decimal(value)
            if not number.is_finite():
                raise RecordError(f"{value!r} is not a finite number")
            return number
        if expected is date:
            return date.fromisoformat(value)
        return expected(value)
    except (ValueError, InvalidOperation) as error:
        raise RecordError(f"{value!r} is not a {expected.__name__}") from error


def _decode_float(value: Json) -> float:
    if value in ("Infinity", "-Infinity"):
        return float(str(value))
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise RecordError("a number was due")
    return float(value)
