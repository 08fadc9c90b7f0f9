"""What stopped a visit, who answered for what, breaks and notes, as FHIR R4 resources with codes of our own. Pure.

R4 has DetectedIssue for what stands in the way of an act, and its mitigation for who went on all the same, and why
(hl7.org/fhir/R4/detectedissue.html). No published system has codes for these; ours are listed in a CodeSystem resource
of the bundle, so that nobody takes them for another's.
"""

from collections.abc import Iterator
from decimal import Decimal

from handsfree.export.amounts import as_written
from handsfree.export.fhir_people import who_answered
from handsfree.export.fhir_writer import OURS, Resource, Value, Writer, quantity
from handsfree.record.account_parts import OverrideAccount, OverrideOf, StopAccount, StopKind
from handsfree.record.account_words import AccountWords
from handsfree.record.contents import RecordedNote

EVENT = f"{OURS}:event"
MITIGATION = f"{OURS}:mitigation"
OVERRIDE = "override"
_CONCEPTS = {
    StopKind.WORD.value: "A stop word was said and acted upon",
    StopKind.CRY.value: "Words that may have been a cry of heat or pain were heard",
    StopKind.BREAK.value: "The light was on as the program or the microphone failed",
    StopKind.FINDING.value: "A value, or answers that do not agree, held the visit",
    OverrideOf.STEP.value: "A step counts as done because somebody answered for it",
    OverrideOf.GAPS.value: "Readings are missing, and somebody answered for that",
    OverrideOf.ZONE.value: "A zone was left short of its light, and somebody answered for that",
    OverrideOf.END.value: "The visit was ended early, and somebody answered for that",
    "break": "The program was not running for some time",
    "wait": "The visit waited, after the word wait or stop",
    "device-lost": "A sound device went away",
    "stray-light": "Light was, or may have been, on outside a zone; it is credited to nothing",
    "light-run": "One run of light on a zone",
    "light-zone": "All light on a zone, against its target",
    "note": "A dictated note; preliminary until a person has read it",
}


def add_code_system(writer: Writer) -> None:
    """Name the codes of our own as what they are."""
    concepts: list[Value] = [{"code": code, "display": display} for code, display in _CONCEPTS.items()]
    writer.add(
        "codes/event",
        {
            "resourceType": "CodeSystem",
            "url": EVENT,
            "title": "Events of a voice-recorded procedure, codes of the recording program",
            "status": "active",
            "content": "complete",
            "caseSensitive": True,
            "concept": concepts,
        },
    )


def event_code(code: str, text: str) -> Resource:
    """A code of our own with words for a person."""
    return {"coding": [event_coding(code)], "text": text}


def event_coding(code: str) -> Resource:
    """A code of our own alone."""
    return {"system": EVENT, "code": code, "display": _CONCEPTS[code]}


def extension(name: str, **value: Value) -> Resource:
    """An extension of our own."""
    return {"url": f"{OURS}:{name}", **value}


def add_events(writer: Writer, words: AccountWords) -> None:
    """Add stops, what somebody answered for, breaks, lost devices and notes."""
    account = words.account
    for stop in account.stops:
        _add_stop(writer, words, stop)
    for one in account.overrides:
        if one.of is not OverrideOf.HOLD:
            _add_override(writer, words, one)
    for item in account.breaks:
        code = "break" if item.program_ended else "wait"
        seconds: Resource = {"valueQuantity": quantity(Decimal(as_written(round(item.seconds, 3))), "s")}
        _add_observation(writer, f"break/{item.seq}", code, item.seq, item.at, seconds)
    for lost in account.devices_lost:
        what: Resource = {"valueString": lost.fact.what}
        _add_observation(writer, f"lost/{lost.seq}", "device-lost", lost.seq, lost.at, what)
    for stray in account.strays:
        value: Resource = {"dataAbsentReason": {"coding": [{"system": ABSENT, "code": "unknown"}]}}
        if stray.seconds is not None:
            value = {"valueQuantity": quantity(Decimal(as_written(round(stray.seconds, 3))), "s")}
        _add_observation(writer, f"stray/{stray.seq}", "stray-light", stray.seq, stray.at, value)
    for note in account.notes:
        _add_note(writer, note)


ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"


def _add_stop(writer: Writer, words: AccountWords, stop: StopAccount) -> None:
    hold = stop.hold
    more = [extension("while-lit", valueBoolean=stop.while_lit), extension("after", valueCode=stop.after.value)]
    texts = (("words", stop.words), ("zone", stop.zone), ("stage", stop.stage))
    more += [extension(name, valueString=text) for name, text in texts if text]
    if hold is not None:
        more.append(extension("hold", valueCode=hold.hold))
    if stop.run is not None:
        more.append(extension("light-run", valueReference=writer.reference(f"run/{stop.run.seq}")))
    issue: Resource = {
        "resourceType": "DetectedIssue",
        "extension": more,
        "identifier": [writer.record_entry(stop.seq)],
        "status": "final",
        "code": event_code(stop.kind.value, words.stop(stop)),
        "severity": _severity(stop),
        "patient": writer.reference("patient"),
        "identifiedDateTime": stop.at,
        "implicated": [writer.reference("procedure")],
    }
    if hold is not None:
        ground = {"system": f"{OURS}:ground", "code": hold.grounds.ground.type.replace("_", "-")}
        issue["evidence"] = [{"code": [{"coding": [ground], "text": words.reason(hold.grounds)}]}]
    issue["detail"] = words.stop(stop)
    if hold is not None and hold.lifted is not None:
        issue["mitigation"] = [_lifting(writer, words, stop)]
    writer.add(f"stop/{stop.seq}", issue)


def _severity(stop: StopAccount) -> str:
    if stop.while_lit or (stop.hold is not None and stop.hold.hold == "red"):
        return "high"
    return "moderate" if stop.hold is not None else "low"


def _lifting(writer: Writer, words: AccountWords, stop: StopAccount) -> Resource:
    assert stop.hold is not None  # noqa: S101 - the caller asks
    assert stop.hold.lifted is not None  # noqa: S101 - the caller asks
    lifted = stop.hold.lifted
    if lifted.role is None:
        action: Resource = {"coding": [{"system": MITIGATION, "code": lifted.reason}], "text": words.lifted(stop.hold)}
        return {"action": action, "date": lifted.at}
    told = words.lifted(stop.hold)
    return _answered(writer, words, lifted.seq, lifted.at, lifted.role, lifted.reason, lifted.code, told)


def _answered(
    writer: Writer, words: AccountWords, seq: int, at: str, role: str, reason: str, code: str | None, told: str
) -> Resource:
    """Who answered for something, and why: an override."""
    coding: list[Value] = [
        {"system": MITIGATION, "code": OVERRIDE, "display": "A person answered for going on all the same"},
        {
            "system": f"{OURS}:override-reason:{writer.procedure_id}",
            "code": reason,
            "display": words.phrases.override_reason(reason),
        },
    ]
    return {
        "extension": [extension("entry", valueInteger=seq)],
        "action": {"coding": coding, "text": told},
        "date": at,
        "author": who_answered(writer, role, code, words.phrases),
    }


def _add_override(writer: Writer, words: AccountWords, one: OverrideAccount) -> None:
    told = words.override(one)
    texts = (("zone", one.zone), ("stage", one.stage))
    more = [extension(name, valueString=text) for name, text in texts if text]
    more += [extension("missing", valueString=f"{gap.stage}.{gap.field}") for gap in one.gaps]
    issue: Resource = {"resourceType": "DetectedIssue"}
    if more:
        issue["extension"] = more
    issue |= {
        "identifier": [writer.record_entry(one.seq)],
        "status": "final",
        "code": event_code(one.of.value, told),
        "severity": "high" if one.of is OverrideOf.END else "moderate",
        "patient": writer.reference("patient"),
        "identifiedDateTime": one.at,
        "implicated": [writer.reference("procedure")],
        "detail": told,
        "mitigation": [_answered(writer, words, one.seq, one.at, one.role, one.reason, one.code, told)],
    }
    writer.add(f"override/{one.seq}", issue)


def _add_note(writer: Writer, note: RecordedNote) -> None:
    changed = any(one.now.text is not None for one in note.amendments)
    status = "preliminary" if not note.verified else "amended" if changed else "final"
    seq = note.recorded.seq
    text: Resource = {"valueString": note.text}
    _add_observation(writer, f"entry/{seq}", "note", seq, note.recorded.at, text, status)


def _add_observation(
    writer: Writer, name: str, code: str, seq: int, at: str, value: Resource, status: str = "final"
) -> None:
    observation: Resource = {
        "resourceType": "Observation",
        "identifier": [writer.record_entry(seq)],
        "partOf": [writer.reference("procedure")],
        "status": status,
        "code": event_code(code, _CONCEPTS[code]),
        "subject": writer.reference("patient"),
        "effectiveDateTime": at,
    }
    writer.add(name, observation | value)


def narrative(lines: Iterator[str], heading: str) -> Resource:
    """What a person reads of it (hl7.org/fhir/R4/narrative.html): XHTML without anything active."""
    listed = "".join(f"<li>{_escaped(line)}</li>" for line in lines)
    body = f"<p>{_escaped(heading)}</p>" + (f"<ul>{listed}</ul>" if listed else "")
    return {"status": "generated", "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{body}</div>'}


def _escaped(text: str) -> str:
    """Text as XHTML; what no XML document may hold is left out (XML 1.0, 2.2)."""
    shown = "".join(one for one in text if one in "\t\n" or (one >= " " and not "\ud800" <= one <= "\udfff"))
    return shown.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
