"""Model values as JSON and back: one form for each value, strict both ways.

The types say what a record may hold; pydantic reads and writes them. Read is only what would be written again just so:
no member too many or too few, none converted silently. Facts are told apart by `kind`, all other values by `type`.
"""

from collections.abc import Hashable, Mapping
from functools import cache
from typing import Annotated, Any, Generic, TypeVar, cast

from pydantic import Field, TypeAdapter, ValidationError
from pydantic_core import ErrorDetails, PydanticSerializationError, to_json

from handsfree.errors import RecordError
from handsfree.model.effects import Json
from handsfree.model.events import SessionEvent
from handsfree.model.facts import AnyFact

T = TypeVar("T")
_LONGEST = 100
"""Longest list of what would be right, in characters."""
_WHOLE = 2**53
"""Up to here a float without fraction is one integer; RFC 8785 writes both alike."""


class JsonForm(Generic[T]):
    """How the values of one type are written and read.

    Attributes:
        adapter: Pydantic's reader and writer of the type.
    """

    def __init__(self, kind: Any) -> None:  # noqa: ANN401 - a type, or a union of types
        self.adapter: TypeAdapter[T] = TypeAdapter(kind)

    def encode(self, value: T) -> Json:
        """A value as JSON.

        Raises:
            RecordError: It is not what its type says, or could not be read back.
        """
        written = _plain(self._dumped(value))
        self.decode(written)
        return written

    def decode(self, value: Json) -> T:
        """Read what `encode` wrote.

        Raises:
            RecordError: The JSON does not have exactly the members and types of the model.
        """
        try:
            read = self.adapter.validate_json(to_json(value, inf_nan_mode="constants"))
        except ValidationError as error:
            raise RecordError(_told(error.errors(include_url=False, include_context=True))) from None
        except (ValueError, RecursionError, PydanticSerializationError) as error:
            raise RecordError("is not JSON") from error
        if self._dumped(read) != value:  # whole numbers with and without a fraction are equal here
            raise RecordError("is not written as records write it")
        return read

    def _dumped(self, value: T) -> Any:  # noqa: ANN401 - what pydantic calls JSON
        try:
            return self.adapter.dump_python(value, mode="json", warnings="error")
        except (ValueError, RecursionError) as error:  # of pydantic
            raise RecordError(f"{type(value).__name__} is not what records hold: {_last_line(error)}") from error


def _last_line(error: Exception) -> str:
    return str(error).strip().splitlines()[-1].strip()


def _plain(value: Any) -> Json:  # noqa: ANN401 - what pydantic calls JSON
    """Members and numbers as they stand in a line: in order, and a whole one without a fraction."""
    match value:
        case dict():
            return {name: _plain(value[name]) for name in sorted(value)}
        case list():
            return [_plain(item) for item in value]
        case float() if value.is_integer() and abs(value) < _WHOLE:
            return int(value)
        case _:
            return cast("Json", value)


def _told(errors: list[ErrorDetails]) -> str:
    """One line about the first fault; of values that may be of several types, by the type that they name."""
    others = {error["loc"][:-1] for error in errors if error["type"] == "literal_error" and error["loc"][-1] == "type"}
    named = [error for error in errors if not any(error["loc"][: len(other)] == other for other in others)]
    first = (named or errors)[0]
    if first["type"] == "union_tag_invalid":
        context = first["ctx"]
        return f"the {str(context['discriminator']).strip(chr(39))} {context['tag']!r} is unknown here"
    place = ".".join(str(part) for part in first["loc"])
    what = {"unexpected_keyword_argument": "is a member too many", "missing": "is missing"}.get(first["type"])
    if what is None:
        what = str(first["msg"]) if len(first["msg"]) <= _LONGEST else "is none of the words that it may be"
    return f"{place}: {what}" if place else what


@cache
def fact_form() -> JsonForm[AnyFact]:
    """The form of facts, told apart by `kind`."""
    return JsonForm(Annotated[AnyFact, Field(discriminator="kind")])


@cache
def event_form() -> JsonForm[SessionEvent]:
    """The form of events, told apart by `type`."""
    return JsonForm(Annotated[SessionEvent, Field(discriminator="type")])


@cache
def _part_form(kind: Hashable) -> JsonForm[Any]:
    return JsonForm(kind)


def encode_part(value: object) -> Json:
    """A value, a reason or an open item as it stands inside a fact; None stays None.

    Raises:
        RecordError: A member is not what its type says.
    """
    return None if value is None else _part_form(cast("Hashable", type(value))).encode(value)


def encode_fact(fact: AnyFact) -> tuple[str, dict[str, Json]]:
    """A fact as it stands in a line: its kind and its other members.

    Raises:
        RecordError: A member is not what its type says.
    """
    data = cast("dict[str, Json]", fact_form().encode(fact))
    return str(data.pop("kind")), data


def decode_fact(kind: str, data: Mapping[str, Json]) -> AnyFact:
    """Read a fact.

    Raises:
        RecordError: Kind or members are not exactly those of a fact of the model.
    """
    if "kind" in data:
        raise RecordError(f"{kind}.kind: is a member too many")
    return fact_form().decode({**data, "kind": kind})


def encode_event(event: SessionEvent) -> Json:
    """An event as JSON. Its sound is left out: that is kept beside the journal.

    Raises:
        RecordError: A member is not what its type says.
    """
    return event_form().encode(event)


def decode_event(value: Json) -> SessionEvent:
    """Read an event.

    Raises:
        RecordError: It is not exactly one of the events of the model.
    """
    return event_form().decode(value)
