"""Whether a session answers as a record states: facts and codes are compared, never wording. Pure."""

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from handsfree.model.effects import Append, Effect
from handsfree.model.events import SessionEvent
from handsfree.model.facts import (
    AnyFact,
    DiskFoundSlow,
    Outcome,
    PracticeAttempted,
    PracticePlanned,
    PromptCutShort,
    ScenarioEventHappened,
    SoundOverflowed,
    VisitClosed,
)
from handsfree.model.open_items import OpenZone
from handsfree.model.readings import Side, SpokenDate
from handsfree.model.reasons import AsWritten, Reason
from handsfree.record.chain_checking import RecordFault
from handsfree.record.codec import encode_fact
from handsfree.record.contents import Record, RecordedFact
from handsfree.record.declared_sides import SIDE_ROLES

_UNSTATED: Mapping[str, frozenset[str]] = {
    "command_refused": frozenset({"command", "heard"}),
    "reading_refused": frozenset({"heard"}),
    "doubt_settled": frozenset({"heard"}),
    "zone_totalled": frozenset({"tolerance_s", "over_from_s"}),
    "ZoneSum": frozenset({"tolerance_s", "over_from_s"}),
}
"""Members that older forms did not always write: where one is None there, nothing is known of it."""
_CHANGED: Mapping[str, frozenset[str]] = {
    # The cue to put the light off comes by the reaction of this visit, and prompts go on after the target.
    "light_still_on": frozenset({"cues"}),
}
"""Members in which earlier versions answered the same events otherwise; no light, hold or value depends on them."""

FROM_NO_EVENT = (
    PromptCutShort,
    SoundOverflowed,
    DiskFoundSlow,
    PracticePlanned,
    ScenarioEventHappened,
    PracticeAttempted,
)
"""Facts about devices, the disk and practice that are written beside the session; it knows nothing of them."""


_OLDER_OUTCOMES: Mapping[Outcome, Outcome] = {"completed_with_overrides": "completed"}


def same_fact(on_file: AnyFact, given: AnyFact, *, older: bool = False) -> bool:
    """Whether a session states what stands in a record.

    A reason that is kept in words equals any reason: the words are those of the program that wrote them. A stage that
    is named by the role of its side equals the same stage by the side itself: earlier builds named some so.

    Args:
        on_file: The fact of the record.
        given: What the session states now.
        older: Whether the record's line is of an older form, which did not write everything.
    """
    if on_file == given:
        return True
    if type(on_file) is not type(given):
        return False
    if older and isinstance(on_file, VisitClosed) and isinstance(given, VisitClosed):
        # Older forms did not tell whether anything had been lifted by an override.
        given = dataclasses.replace(given, outcome=_OLDER_OUTCOMES.get(given.outcome, given.outcome))
    unstated = _UNSTATED.get(on_file.kind, frozenset()) if older else frozenset()
    changed = _CHANGED.get(on_file.kind, frozenset()) if older else frozenset()
    return all(
        name in changed
        or (name in unstated and getattr(on_file, name) is None)
        or _same(getattr(on_file, name), getattr(given, name), older)
        or (name == "stage" and _same_stage(getattr(on_file, name), getattr(given, name)))
        for name in (item.name for item in dataclasses.fields(on_file))
    )


def _same_stage(on_file: str, given: str) -> bool:
    step, _, role = on_file.partition("@")
    return role in SIDE_ROLES and given in {f"{step}@{side}" for side in Side}


def _same(one: Any, two: Any, older: bool) -> bool:  # noqa: ANN401 - members of facts
    if isinstance(one, AsWritten) or isinstance(two, AsWritten):
        return isinstance(one, Reason) and isinstance(two, Reason)
    if isinstance(one, tuple) and isinstance(two, tuple):
        return len(one) == len(two) and all(_same(a, b, older) for a, b in zip(one, two, strict=True))
    if older and isinstance(one, SpokenDate) and isinstance(two, SpokenDate):
        return one.value == two.value  # whether only the month was said was not written of every date
    if older and isinstance(one, OpenZone) and isinstance(two, OpenZone) and not one.zone:
        return one.label == two.label
    if dataclasses.is_dataclass(one) and type(one) is type(two):
        unstated = _UNSTATED.get(type(one).__name__, frozenset()) if older else frozenset()
        names = (item.name for item in dataclasses.fields(one))
        return all(
            (name in unstated and getattr(one, name) is None) or _same(getattr(one, name), getattr(two, name), older)
            for name in names
        )
    return bool(one == two)


def differences(
    record: Record,
    handle: Callable[[SessionEvent], Iterable[Effect]],
    misheard: Callable[[SessionEvent], str] = lambda _: "",
) -> list[RecordFault]:
    """Hand every event of a record to a new session and compare the facts that follow from each.

    Args:
        record: The record.
        handle: `Session.handle` of a session made from the same definitions.
        misheard: Asked before an event is handed over: why its words do not mean what was taken from them, or "".

    Returns:
        What differs, by line; empty where the record replays to itself.
    """
    first_present = record.present_from if record.present_from is not None else record.lines
    by_event: dict[int, list[RecordedFact[AnyFact]]] = {seq: [] for seq in record.event_lines}
    found: list[RecordFault] = []
    for item in record.facts:
        if item.event_seq in by_event:
            by_event[item.event_seq].append(item)
        elif not isinstance(item.fact, FROM_NO_EVENT):
            found.append(RecordFault(item.seq + 1, f"{item.kind} follows from no event"))
    last = record.event_lines[-1] if record.event_lines and not record.sealed else None
    for seq, event in zip(record.event_lines, record.events, strict=True):
        why = misheard(event)
        if why:
            found.append(RecordFault(seq + 1, why))
        try:
            effects = tuple(handle(event))
        except Exception as error:  # noqa: BLE001 - no session wrote an event that it cannot take
            found.append(RecordFault(seq + 1, f"replay cannot take this event: {type(error).__name__}"))
            break
        if not effects:
            found.append(RecordFault(seq + 1, "replay gives nothing for this event, and such events are not kept"))
        given = [effect.fact for effect in effects if isinstance(effect, Append)]
        on_file = by_event[seq]
        found += [
            RecordFault(item.seq + 1, f"the record says {_shown(item.fact)}, replay gives {_shown(fact)}")
            for item, fact in zip(on_file, given, strict=False)
            if not same_fact(item.fact, fact, older=item.seq < first_present)
        ]
        if len(on_file) > len(given) or (len(on_file) < len(given) and seq != last):
            what = f"the record has {len(on_file)} facts of this event, replay gives {len(given)}"
            found.append(RecordFault(seq + 1, what))
    return found


def _shown(fact: AnyFact) -> str:
    kind, data = encode_fact(fact)
    return f"{kind} {data}"
