"""Form 1: facts with free members, and prose where form 2 has codes. This is the one mapping of the old to the new.

Members that form 1 wrote twice, or made of others, are left out: the name of the summed quantity, the fields beside the
values of a disputed read-back. What was told at a hold is no part of its fact any more, and is kept beside it.
"""

from collections.abc import Callable, Mapping

from handsfree.errors import RecordError
from handsfree.model.commands import GiveValues
from handsfree.model.effects import Json
from handsfree.model.events import CommandDoubted, CommandSpoken, SessionEvent
from handsfree.model.fact_base import KeptValue
from handsfree.model.facts import AnyFact, OperatorDeclared, RoleDeclared, StatedReading
from handsfree.model.readings import Exact, SpokenValue, value_text
from handsfree.record.codec import decode_fact, encode_part
from handsfree.record.forms.form_1_reasons import (
    grounds_of,
    grounds_or_none,
    lifted_reason,
    open_item,
    open_reading,
    refusal_of,
    scan_fault_of,
)
from handsfree.record.forms.form_1_values import as_said, stated_value, value_by_look, value_of

Members = dict[str, Json]
RENAMED = {
    "session_started": "visit_begun",
    "session_interrupted": "visit_continued",
    "session_paused": "visit_paused",
    "session_resumed": "visit_resumed",
    "session_stopped": "visit_ended_early",
    "session_closed": "visit_closed",
    "latch_set": "hold_set",
    "latch_lifted": "hold_lifted",
    "sound_lost": "device_lost",
    "sound_returned": "device_returned",
    "tone_heard": "lamp_beeped",
    "practice_event": "scenario_event_happened",
}
"""Kinds of form 1 that are called otherwise now."""
_HEARD = ("heard", "probability", "runner_up", "engine", "spoken_from_s", "spoken_to_s")
_SILENT = frozenset({"command_refused", "reading_refused", "latch_lifted", "light_turned_off", "doubt_settled"})
"""Kinds that form 1 wrote with or without words."""
_DECLARES: Mapping[tuple[str, str], Callable[[str], AnyFact]] = {
    ("operator_code", "code"): lambda text: OperatorDeclared(operator=text),
    ("operator", "role"): lambda text: RoleDeclared(role=text),
}
"""Readings that said who works, by their step and field in the procedure files of form 1."""


def told_at_hold(kind: str, data: Mapping[str, Json]) -> str:
    """What form 1 wrote that the tool told to do at a hold; "" for everything else, and for later forms."""
    action = data.get("action") if kind == "latch_set" else None
    return action if isinstance(action, str) else ""


class FormOneReader:
    """Reads the facts of a record in order: what an event or an earlier fact tells more exactly is taken from there."""

    def __init__(self) -> None:
        self._said: dict[str, SpokenValue] = {}
        self._known: dict[tuple[str, str], KeptValue] = {}

    def take_event(self, event: SessionEvent | None) -> None:
        """Remember the values that were said."""
        if isinstance(event, CommandSpoken | CommandDoubted) and isinstance(event.command, GiveValues):
            for given in event.command.values:
                self._said[given.slot.rpartition(".")[2]] = given.value

    def facts(self, kind: str, data: Mapping[str, Json]) -> tuple[AnyFact, ...]:
        """What a fact of form 1 states.

        Raises:
            RecordError: Form 1 had no such fact.
        """
        if kind in RENAMED.values():
            raise RecordError(f"the kind {kind!r} is unknown in form 1")
        try:
            members = self._members(kind, dict(data))
        except (KeyError, TypeError) as error:
            raise RecordError(f"{kind} does not have the members that it must have") from error
        fact = decode_fact(RENAMED.get(kind, kind), members)
        if not isinstance(fact, StatedReading):
            return (fact,)
        self._known[fact.stage, fact.field] = fact.value
        declares = _DECLARES.get((fact.step, fact.field)) if kind != "reading_proposed" else None
        return (fact, declares(value_text(fact.value))) if declares is not None else (fact,)

    def _members(self, kind: str, data: Members) -> Members:
        members = _with_heard(kind, data)
        match kind:
            case "reading_proposed" | "reading_confirmed" | "reading_amended":
                return self._reading(kind, members)
            case "read_back_disputed":
                del members["fields"]
                return members | {"values": self._values(members)}
            case "values_dropped":
                return members | {"values": self._values(members)}
            case _:
                change = _CHANGES.get(kind)
                return change(members) if change is not None else members

    def _reading(self, kind: str, members: Members) -> Members:
        place = _text(members, "stage"), _text(members, "field")
        value = as_said(stated_value(members), self._said.get(place[1]))
        for name in ("type", "decimals", "comparator"):
            del members[name]
        members["value"] = encode_part(value)
        members |= _classed(members)
        if kind == "reading_amended":
            members["old_value"] = encode_part(self._earlier(place, _text(members, "old_value"), value))
            members["why"] = "repeated" if members.pop("reason") == "repeated as asked" else "corrected"
        return members

    def _earlier(self, place: tuple[str, str], text: str, like: KeptValue) -> KeptValue:
        """The value before: as it is known, or of the kind of the one that took its place, or by its look."""
        known = self._known.get(place)
        if known is not None and value_text(known) == text:
            return known
        try:
            return value_of(type(like), text)
        except RecordError:
            return value_by_look(text)

    def _values(self, members: Members) -> Members:
        stage, values = _text(members, "stage"), members["values"]
        if not isinstance(values, dict):
            raise RecordError("the values are none of form 1")
        kept = {name: self._known.get((stage, name)) for name in values}
        return {
            name: encode_part(one if one is not None and value_text(one) == text else value_by_look(str(text)))
            for (name, text), one in zip(values.items(), kept.values(), strict=True)
        }


def from_form_1(kind: str, data: Mapping[str, Json]) -> tuple[AnyFact, ...]:
    """What one fact of form 1 states, by itself.

    Args:
        kind: Its kind.
        data: Its members.

    Raises:
        RecordError: Form 1 had no such fact.
    """
    return FormOneReader().facts(kind, data)


def _text(members: Members, name: str) -> str:
    value = members[name]
    if not isinstance(value, str):
        raise RecordError(f"{name} is no text")
    return value


def _texts(members: Members, name: str) -> list[str]:
    value = members[name]
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise RecordError(f"{name} is no list of texts")
    return [str(item) for item in value]


def _with_heard(kind: str, data: Members) -> Members:
    """The words and what is known of them as one member."""
    if kind == "utterance_not_taken":
        words = data.get("heard", "")
        whole = {name: data.pop(name) for name in _HEARD if name in data} if "engine" in data else None
        data.pop("heard", None)
        return data | {"words": words, "heard": _utterance(whole) if whole is not None else None}
    if "engine" in data:
        return {name: value for name, value in data.items() if name not in _HEARD} | {"heard": _utterance(data)}
    return data | {"heard": None} if kind in _SILENT else data


def _utterance(data: Members) -> Json:
    return {"text": data["heard"], **{name: data[name] for name in _HEARD if name != "heard"}}


def _classed(members: Members) -> Members:
    return {"severity": members.pop("class"), "grounds": encode_part(grounds_or_none(str(members.pop("class_reason"))))}


def _lifted(members: Members) -> Members:
    role = members["role"]
    return members | {
        "hold": members.pop("latch"),
        "grounds": encode_part(grounds_of(str(members.pop("set_for")))),
        "reason": lifted_reason(_text(members, "reason"), role),
    }


def _hold(members: Members) -> Members:
    members.pop("action")
    return members | {"hold": members.pop("latch"), "grounds": encode_part(grounds_of(str(members.pop("reason"))))}


def _open(members: Members) -> Members:
    zones = members.get("zones")
    listed = [zone for zone in zones if isinstance(zone, dict)] if isinstance(zones, list) else []
    ids = {str(zone.get("label")): str(zone.get("zone")) for zone in listed}
    items: list[Json] = [encode_part(open_item(text, ids)) for text in _texts(members, "open_items")]
    return members | {"open_items": items}


def _refused(members: Members) -> Members:
    return members | {"reason": encode_part(refusal_of(_text(members, "reason")))}


def _due(members: Members) -> Members:
    return members | {"value": encode_part(value_of(Exact, _text(members, "value")))}


def _faulty(members: Members) -> Members:
    return members | {"faults": [encode_part(scan_fault_of(text)) for text in _texts(members, "faults")]}


def _totalled(members: Members) -> Members:
    members.pop("quantity")
    return members


_CHANGES: Mapping[str, Callable[[Members], Members]] = {
    "session_started": lambda members: {"compared_with": None} | members,
    "session_closed": _open,
    "close_refused": _open,
    "latch_set": _hold,
    "latch_lifted": lambda members: {"code": None} | _lifted(members),
    "session_stopped": lambda members: {"code": None} | members,
    "reading_classed_again": lambda members: members | _classed(members),
    "reading_refused": _refused,
    "command_refused": lambda members: {"command": None} | _refused(members),
    "gaps_accepted": lambda members: (
        {"code": None} | members | {"gaps": [encode_part(open_reading(text)) for text in _texts(members, "gaps")]}
    ),
    "kind_declared": lambda members: members | {"declared": members.pop("kind")},
    "due_set": _due,
    "label_scanned": _faulty,
    "override_dropped": lambda members: members | {"of": "hold"} if members.get("of") == "latch" else members,
    "stop_word_heard": lambda members: members | {"mode": "held"} if members.get("mode") == "latched" else members,
    "zone_totalled": _totalled,
    "practice_planned": lambda members: {"plan": members},
}
"""What changes besides the words, by kind of form 1."""
