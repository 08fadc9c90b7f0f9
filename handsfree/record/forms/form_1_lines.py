"""Form 1: the lines that the journal itself wrote. Hashes and signatures are checked on the lines as they stand."""

from collections.abc import Callable, Mapping
from typing import cast

from handsfree.errors import RecordError
from handsfree.model.effects import Json
from handsfree.model.fact_base import KeptValue
from handsfree.model.readings import Between, Beyond, Exact, Option, Side
from handsfree.record.clips import Retention
from handsfree.record.codec import encode_part
from handsfree.record.forms.form_1_events import event_of
from handsfree.record.forms.form_1_reasons import open_item
from handsfree.record.forms.form_1_values import stated_value, value_of
from handsfree.record.header import BaselineUsed, RecallListUsed, RecordHeader
from handsfree.record.own_lines import (
    AMENDED,
    ATTESTED,
    CLIP_DELETED,
    EVENT,
    HEADER,
    INTERRUPTED,
    SEALED,
    Amended,
    AmendedLine,
    AttestedLine,
    EventLine,
    OwnContent,
    own_form,
)

_BASELINE: dict[str, type[KeptValue]] = {"exact": Exact, "between": Between, "beyond": Beyond, "option": Option}
_VALUE_MEMBERS = frozenset({"value", "type", "comparator", "decimals"})


def own_line_of(kind: str, data: Mapping[str, Json], entry: "Callable[[int], KeptValue | None]") -> OwnContent:
    """What a line of the journal's own states.

    Args:
        kind: Its kind.
        data: Its members without the sum.
        entry: The value of the reading at a line, as it stands; None where there is none.

    Raises:
        RecordError: Form 1 had no such line.
    """
    read = _READ.get(kind)
    if read is None:
        raise RecordError(f"the kind {kind!r} is unknown in form 1")
    try:
        return read(dict(data)) if kind != AMENDED else _amended(dict(data), entry)
    except (KeyError, TypeError, AttributeError) as error:
        raise RecordError(f"{kind} does not have the members that it must have") from error


def _header(data: dict[str, Json]) -> OwnContent:
    if "program" in data or "build" in data:
        raise RecordError("program and build are members too many")
    recall, baseline = data.get("recall_list"), data.get("baseline")
    members: dict[str, Json] = {
        "procedure": "",
        "title": "",
        "procedure_sha256": "",
        "practice": False,
        "versions": {},
        "started": "",
        "patient_reference": None,
        "retention": Retention.OFF.value,
        **data,
    }
    members |= {"program": _program(members["versions"]), "build": ""}
    members["recall_list"] = encode_part(_recall_list(recall) if isinstance(recall, dict) else None)
    members["baseline"] = encode_part(_baseline(baseline) if isinstance(baseline, dict) else None)
    return cast("RecordHeader", own_form(HEADER).decode(members))


def _program(versions: Json) -> str:
    return str(versions.get("handsfree", "")) if isinstance(versions, dict) else ""


def _recall_list(kept: dict[str, Json]) -> RecallListUsed:
    lots = cast("dict[str, Json]", kept["lots"])
    return RecallListUsed(sha256=str(kept["sha256"]), lots={lot: str(reason) for lot, reason in lots.items()})


def _baseline(kept: dict[str, Json]) -> BaselineUsed:
    values = cast("dict[str, Json]", kept["values"])
    return BaselineUsed(
        record_id=str(kept["record_id"]),
        day=str(kept["day"]),
        head=str(kept["head"]),
        values={name: _compared(name, str(text)) for name, text in values.items()},
        due=str(kept.get("due") or ""),
    )


def _compared(name: str, text: str) -> KeptValue:
    kind, _, written = text.partition(":")
    if kind not in _BASELINE:
        raise RecordError(f"the header's baseline holds {name} = {text}, which is no value")
    decimals = len(written.partition(".")[2]) if kind == "exact" else 0
    return value_of(_BASELINE[kind], written, decimals)


def _event(data: dict[str, Json]) -> OwnContent:
    if set(data) - {"clip_sha256"} != {"event", "facts", "facts_sha256"}:
        raise RecordError("the event line does not have the members it must have")
    event = data["event"]
    bare = own_form(EVENT).decode({"clip_sha256": None} | data | {"event": None})
    return EventLine(
        event=event_of(event) if event is not None else None,
        facts=bare.facts,
        facts_sha256=bare.facts_sha256,
        clip_sha256=bare.clip_sha256,
    )


def _interrupted(data: dict[str, Json]) -> OwnContent:
    return cast("OwnContent", own_form(INTERRUPTED).decode(data | {"program": "", "build": ""}))


def _amended(data: dict[str, Json], entry: "Callable[[int], KeptValue | None]") -> OwnContent:
    number, was, now = data["entry"], data["was"], data["now"]
    if type(number) is not int or not isinstance(was, dict) or not isinstance(now, dict):
        raise RecordError("the amendment does not have the members it must have")
    standing = entry(number)
    if "value" in now and standing is None:
        raise RecordError(f"the amendment is of entry {number}, which has no value")
    return AmendedLine(
        entry=number,
        was=_changed(was, standing, standing),
        now=_changed(now, None, standing),
        by=str(data["by"]),
        reason=str(data["reason"]),
    )


def _changed(members: dict[str, Json], known: KeptValue | None, like: KeptValue | None) -> Amended:
    """One side of an amendment; `known` is its value where that is on record, `like` tells the kind of a bare text."""
    unknown = set(members) - _VALUE_MEMBERS - {"side", "text", "verified"}
    if unknown:
        raise RecordError(f"{min(unknown)} cannot be amended")
    value = None
    if "value" in members and like is not None:
        stated = {"type": type(like).__name__.lower()} | members
        value = known if known is not None else stated_value(stated)
    side, text, verified = (members.get(name) for name in ("side", "text", "verified"))
    return Amended(
        value=value,
        side=Side(str(side)) if side is not None else None,
        text=str(text) if text is not None else None,
        verified=verified if isinstance(verified, bool) else None,
    )


def _attested(data: dict[str, Json]) -> OwnContent:
    listed = data.pop("open_items", None) or []
    items: list[Json] = [encode_part(open_item(str(text), {})) for text in cast("list[Json]", listed)]
    members = {"because": ""} | data | {"open_items": items}
    return cast("AttestedLine", own_form(ATTESTED).decode(members))


_UNSIGNED: Mapping[str, Json] = {"public_key": "", "signature": ""}
"""Of this form only attestations were signed."""


def _plainly(kind: str) -> Callable[[dict[str, Json]], OwnContent]:
    return lambda data: cast("OwnContent", own_form(kind).decode({**_UNSIGNED, **data}))


_READ: Mapping[str, Callable[[dict[str, Json]], OwnContent]] = {
    HEADER: _header,
    EVENT: _event,
    SEALED: _plainly(SEALED),
    INTERRUPTED: _interrupted,
    AMENDED: _plainly(AMENDED),
    CLIP_DELETED: _plainly(CLIP_DELETED),
    ATTESTED: _attested,
}
