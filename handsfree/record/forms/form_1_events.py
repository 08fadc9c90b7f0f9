"""Form 1: its events, which named their types as the program's classes were called."""

import re

from handsfree.errors import RecordError
from handsfree.model.effects import Json
from handsfree.model.events import SessionEvent
from handsfree.record.codec import decode_event
from handsfree.record.forms.form_1_reasons import scan_fault_of
from handsfree.record.forms.form_1_values import how_to_say

_UNNAMED = {"SlotValue", "Hypothesis", "Evidence"}
"""What stands in one place only needs no name."""
_WORDS = {"NeedsAsking", "Refused"}


def event_of(value: Json) -> SessionEvent:
    """An event of form 1.

    Raises:
        RecordError: It was none.
    """
    return decode_event(_renamed(value))


def _renamed(value: Json) -> Json:
    if isinstance(value, list):
        return [_renamed(item) for item in value]
    if not isinstance(value, dict):
        return value
    kind = value.get("type")
    if not isinstance(kind, str) or re.fullmatch(r"(?:[A-Z][a-z0-9]*)+", kind) is None:
        raise RecordError("an object with a type of form 1 was due")
    members = {name: _renamed(item) for name, item in value.items() if name != "type"}
    if kind in _WORDS:
        code, arguments = how_to_say(str(members.pop("reason", "")))
        members |= {"code": code.value, "arguments": list(arguments)}
    if kind == "ScanLabel":
        members["faults"] = _faults(members.get("faults"))
    return members if kind in _UNNAMED else members | {"type": _snake(kind)}


def _faults(listed: Json) -> Json:
    if not isinstance(listed, list):
        raise RecordError("the faults of a label are no list")
    faults = [scan_fault_of(str(text)) for text in listed]
    return [{"code": fault.code.value, "argument": fault.argument, "type": fault.type} for fault in faults]


def _snake(name: str) -> str:
    return re.sub(r"(?<!^)(?=[A-Z])", "_", name).lower()
