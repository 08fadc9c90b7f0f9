"""The first draft of a procedure file from a few answers: it checks without an error and is written on from there."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation

from handsfree.definition.form import STOP_WORDS
from handsfree.definition.verbalization import UNITS
from handsfree.errors import UsageError

_READING = "write LABEL UNIT LOW HIGH, for example: length cm 0 30"


_MOST_WORDS = 4
"""With what is asked around them a prompt stays within the words that can be heard in one go."""
_LONGEST_ID = 40


@dataclass(frozen=True, slots=True)
class DraftReading:
    """A number that the procedure measures.

    Attributes:
        label: What is said before it: "wound length".
        unit: UCUM code, one that has a spoken name.
        low: Smallest value that can be.
        high: Largest value that can be.
    """

    label: str
    unit: str
    low: Decimal
    high: Decimal

    @property
    def id(self) -> str:
        """Its identifier."""
        return re.sub(r"[^a-z0-9]+", "_", self.label).strip("_")

    @property
    def decimals(self) -> int:
        """Digits after the point that are taken: those of its limits."""
        return max(0, *(-int(limit.as_tuple().exponent) for limit in (self.low, self.high)))


@dataclass(frozen=True, slots=True)
class Draft:
    """What is known of a procedure before it is written.

    Attributes:
        name: Identifier, also the file's name without its ending.
        title: What people call it.
        sides: Whether it is about one side of the body, and what is looked at is looked at on both.
        readings: Numbers that it measures.
        light: Whether something is hardened with light.
        patient: Whether it is done on a patient, whose reference is asked for in a live visit.
    """

    name: str
    title: str
    sides: bool
    readings: tuple[DraftReading, ...]
    light: bool
    patient: bool = True

    def with_reading(self, text: str) -> "Draft":
        """The same with one reading more; see `reading_of`."""
        return replace(self, readings=(*self.readings, reading_of(text)))


def reading_of(text: str) -> DraftReading:
    """A reading from one line: "wound length cm 0 30".

    Raises:
        UsageError: It is none, or its unit cannot be said.
    """
    *label, unit, low, high = text.split() if len(text.split()) >= 4 else ["", "", "x", "x"]
    try:
        least, most = Decimal(low), Decimal(high)
    except InvalidOperation:
        raise UsageError(f"{text!r} is no reading; {_READING}") from None
    if not (least.is_finite() and most.is_finite() and least < most):
        raise UsageError(f"{text!r}: {low} must be below {high}; {_READING}")
    if unit not in UNITS:
        known = ", ".join(sorted(UNITS, key=str.lower))
        raise UsageError(
            f"{text!r}: {unit} has no spoken name; use one of {known}; another is written into the file afterwards, "
            "in number: its UCUM code as unit, and as spoken what people say"
        )
    words = " ".join(label).lower()
    if not re.fullmatch(r"[a-z][a-z' -]*", words):
        raise UsageError(f"{text!r}: {words!r} cannot be said so; small letters, numbers written out; {_READING}")
    if len(label) > _MOST_WORDS or len(words) > _LONGEST_ID:
        raise UsageError(
            f"{text!r}: a label has at most {_MOST_WORDS} words and {_LONGEST_ID} letters, so that it can be said"
        )
    if set(words.split()) & STOP_WORDS:
        raise UsageError(f"{text!r}: {words!r} holds a stop word, which acts at once; use another word")
    return DraftReading(words, unit, least, most)


def draft_text(draft: Draft) -> str:
    """The file.

    Raises:
        UsageError: Two readings have one name, or a reading has that of a step that every draft has.
    """
    text = "\n".join([*_top(draft), "steps:", *_before(draft), *_during(draft), *_after(draft)]) + "\n"
    for one in draft.readings:
        if text.count(f"  - id: {one.id}\n") > 1:
            raise UsageError(f"two steps would be called {one.id}; give the reading another label")
    return text


_ROLES = "roles: {lead: [lead technician], technician: [technician]}"


def _top(draft: Draft) -> Iterator[str]:
    yield "# A first draft: write on from here with the guide for authors (GUIDE.md), and run `handsfree check` often."
    yield "form: 1"
    yield f"id: {draft.name}"
    yield f"title: {json.dumps(draft.title, ensure_ascii=False)}"
    yield 'version: "0.1.0"'
    yield "language: en-US"
    yield "approved_by: null  # a role that has to approve it, or null; the approval itself: handsfree approve"
    yield "sources:"
    yield "  local: common practice, no source  # who decided it, and when; every step names a key of this list"
    yield "cautions:"
    yield "  - This tool asks and records. It does not judge."
    if draft.light:
        yield "# Both profiles are invented: put those of your device and of your light, as measured, beside this file."
        yield "device_profile: example-ulnar-sleeve"
        yield "light_profile: example-blue-light"
    yield "roles: {surgeon: [surgeon], nurse: [ward nurse]}" if draft.patient else _ROLES
    yield f"skip_reasons: {{{'declined: [patient declined], ' if draft.patient else ''}unavailable: [not available]}}"
    yield "override_reasons: {senior: [senior agrees]}"
    yield "lift:  # who may lift what; local rules come first"
    gravest, others = ("surgeon", "nurse") if draft.patient else ("lead", "technician")
    yield f"  red: {{by: [{gravest}], reasons: [senior]}}"
    yield f"  stop: {{by: [{gravest}, {others}], reasons: [senior]}}"
    yield "kind_from: session_kind.kind"
    if draft.patient:
        yield "patient_from: patient.reference"
    if draft.sides:
        yield "side_from: side.side"
    yield ""


def _step(name: str, kind: str, phase: str, prompt: str, *more: str, hard: bool = True) -> Iterator[str]:
    yield f"  - id: {name}"
    yield f"    kind: {kind}"
    yield f"    phase: {phase}"
    yield f'    prompt: "{prompt}"'
    if kind not in {"tell", "teach", "expose"}:
        yield f"    topic: {name.replace('_', ' ')}"
    if hard:
        yield "    hard: true"
    yield "    source: local"
    yield from (f"    {line}" for line in more)
    yield ""


def _before(draft: Draft) -> Iterator[str]:
    kinds = "options: {live: [live session, live], practice: [practice session, practice]}"
    kind = f"  - {{id: kind, label: kind, {kinds}}}"
    yield from _step("session_kind", "choose", "before", "Live or practice session?", "fields:", kind)
    reference = "  - {id: reference, label: reference, identifier: {max_length: 20}}"
    spell = "Spell the patient's reference, not the name."
    if draft.patient:
        yield from _step("patient", "identify", "before", spell, "fields:", reference, hard=False)
    if draft.sides:
        side = "  - {id: side, label: side, options: {left: [left], right: [right]}}"
        yield from _step("side", "choose", "before", "Which side is it?", "fields:", side)
        yield from _looked_at("before", "baseline", "")
    if draft.light:
        worn = "{worn: [protected], missing: [missing]}, stop: [missing]"
        eyes = [f"  - {{id: {who}, label: {who}, options: {worn}, lift: never}}" for who in ("operator", "patient")]
        asked = "Are the eyes of operator and patient protected?"
        yield from _step("eye_protection", "finding", "before", asked, "fields:", *eyes)
    yield from _step("ready", "confirm", "before", "Is everything at hand?", "reported: [everything at hand]")


def _looked_at(phase: str, timing: str, compare: str) -> Iterator[str]:
    colors = "options: {usual: [usual], pale: [pale], blue: [blue]}, red: [blue]"
    color = f"  - {{id: color, label: color, {colors}{compare}}}"
    lines = (f"timing: {timing}", "for_each: side", "red_action: Stop. Call the senior now.", "fields:", color)
    yield from _step(f"skin_{phase}", "finding", phase, "What color is the skin on the {side}?", *lines)


def _during(draft: Draft) -> Iterator[str]:
    for one in draft.readings:
        limits = f"unit: {_quoted(one.unit)}, low: {one.low}, high: {one.high}, decimals: {one.decimals}"
        field = f"  - {{id: {one.id}, label: {one.label}, number: {{{limits}}}}}"
        name = one.label.capitalize()
        told = f"{name}: how much, in {UNITS[one.unit]}?" if UNITS[one.unit] else f"{name}: how many?"
        yield "  # Limits that matter: flag_above, flag_below and flag_class: amber, red or stop, inside number."
        yield from _step(one.id, "measure", "during", told, "timing: during", "fields:", field)
    if draft.light:
        yield "  # The zones, their seconds and when to ask about warmth are those of the device profile."
        needs = ["eye_protection", *(["skin_before"] if draft.sides else []), "ready"]
        lines = ("zones: open", "warmth: true", "late_question_s: [60, 120]", f"requires: [{', '.join(needs)}]")
        yield from _step("expose_open", "expose", "during", "Light the zones one by one. Say light on.", *lines)
        lines = ("zones: strap", "warmth: true", "late_question_s: [60, 120]", "requires: [expose_open]")
        yield from _step("expose_strap", "expose", "during", "Take the strap off, then light.", *lines)
    if not draft.readings and not draft.light:
        yield from _step("done", "confirm", "during", "Is the work done?", "reported: [work is done]")


def _after(draft: Draft) -> Iterator[str]:
    if draft.sides:
        yield from _looked_at(
            "after", "after", ", scale: [usual, pale, blue], compare: {with: skin_before, worse: red}"
        )
    care = "  - {id: call, say: Call us if it feels numb or gets worse.}"
    if draft.patient:
        yield from _step("care", "teach", "after", "Tell the patient when to call.", "items:", care, hard=False)
    found = "options: {none: [none happened], present: [problem present]}, amber: [present]"
    problem = f"  - {{id: problem, label: problem, {found}}}"
    yield from _step("closing", "finding", "after", "Has any problem happened?", "fields:", problem)


def _quoted(unit: str) -> str:
    return f'"{unit}"'
