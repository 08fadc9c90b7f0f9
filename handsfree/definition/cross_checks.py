"""What is wrong with a procedure that has the right form: names that lead nowhere, hard steps that could be passed."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from handsfree.definition.computed_checks import computed_faults
from handsfree.definition.condition_checks import when_faults
from handsfree.definition.form import STOP_PHRASES, STOP_WORDS, Phrases, Procedure, Step, StepField
from handsfree.definition.lift_form import Lift, LiftRule
from handsfree.definition.profile_form import DeviceProfile, LightFile
from handsfree.definition.second_person_checks import second_person_faults
from handsfree.definition.side_words import NUMBER_PLACEHOLDER, SIDE_PLACEHOLDER, VISIT_PLACEHOLDERS
from handsfree.definition.ucum_codes import is_ucum
from handsfree.definition.verbalization import UNITS

LONGEST_PROMPT_WORDS = 12
"""One action in about five seconds at 150 words a minute; common practice, no source."""
At = tuple[str | int, ...]
Fault = tuple[At, str]


@dataclass(frozen=True)
class Profiles:
    """The profiles of a procedure.

    Attributes:
        device: Device profile, or None.
        light: Light profile, or None.
        faulty: Whether one is named but missing or wrong, so that nothing can be said about its content.
    """

    device: DeviceProfile | None = None
    light: LightFile | None = None
    faulty: bool = False


def procedure_faults(procedure: Procedure, profiles: Profiles) -> Iterator[Fault]:
    """Everything that is wrong, with the place of each fault in the written-out procedure."""
    earlier: dict[str, Step] = {}
    every = {step.id for step in procedure.steps}
    timers: set[str] = set()
    for index, step in enumerate(procedure.steps):
        where = ("steps", index)
        if step.id in earlier:
            yield (*where, "id"), f"two steps are called {step.id}"
        yield from _step_faults(procedure, step, where, earlier, every)
        yield from _light_faults(procedure, step, where, profiles, earlier)
        for number, field in enumerate(step.fields):
            yield from _field_faults(procedure, step, field, (*where, "fields", number), earlier)
            yield from _band_faults(field, (*where, "fields", number), profiles)
        for key in ("prompt", "expert", "red_action", "red_action_other"):
            yield from _wording_faults(getattr(step, key), (*where, key), step)
        for number, item in enumerate(step.items):
            for key in ("say", "expert"):
                yield from _wording_faults(getattr(item, key), (*where, "items", number, key), step)
        for number, timer in enumerate(step.timers):
            yield from _wording_faults(timer.say, (*where, "timers", number, "say"), step)
            if timer.id in timers:
                yield (*where, "timers", number, "id"), f"two timers are called {timer.id}"
            timers.add(timer.id)
        earlier[step.id] = step
    yield from _any_order_faults(procedure)
    yield from _time_out_faults(procedure)
    yield from _reference_faults(procedure)
    yield from _lift_faults(procedure)
    for key in ("roles", "skip_reasons", "override_reasons"):
        yield from _phrase_faults(getattr(procedure, key), (key,))


def _wording_faults(text: str | None, where: At, step: Step) -> Iterator[Fault]:
    if text is None:
        return
    words = max(len(sentence.split()) for sentence in re.split(r"[.!?]\s+", text))
    if words > LONGEST_PROMPT_WORDS:
        yield (
            where,
            f"has {words} words in a sentence (at most {LONGEST_PROMPT_WORDS}, so that it can be heard in one go)",
        )
    found = set(re.findall(r"\{[^}]*\}", text))
    unknown = found - {SIDE_PLACEHOLDER, NUMBER_PLACEHOLDER, *VISIT_PLACEHOLDERS}
    if unknown:
        known = ", ".join([SIDE_PLACEHOLDER, NUMBER_PLACEHOLDER, *sorted(VISIT_PLACEHOLDERS)])
        yield where, f"{', '.join(sorted(unknown))} is not known ({known} are)"
    if NUMBER_PLACEHOLDER in found and step.repeat is None:
        yield where, f"{NUMBER_PLACEHOLDER} needs repeat"
    if SIDE_PLACEHOLDER in found and step.for_each is None:
        yield where, f"{SIDE_PLACEHOLDER} needs for_each: side"


def _time_out_faults(procedure: Procedure) -> Iterator[Fault]:
    """The time-out is the last of what comes before: nothing else of that phase may follow it."""
    steps = procedure.steps
    for index, step in enumerate(steps):
        if step.time_out and step.phase != "before":
            yield ("steps", index, "time_out"), "belongs to the phase before"
        elif step.time_out and any(later.phase == "before" and not later.time_out for later in steps[index:]):
            yield ("steps", index, "time_out"), "must be the last of the phase before (move it behind the others)"


def _step_faults(
    procedure: Procedure, step: Step, where: At, earlier: dict[str, Step], every: set[str]
) -> Iterator[Fault]:
    if step.source not in procedure.sources:
        yield (*where, "source"), f"{step.source} is not listed under sources{_near(step.source, procedure.sources)}"
    for name in step.requires:
        if name not in earlier:
            text = "comes later (a step can only require earlier ones)" if name in every else "is no step"
            yield (*where, "requires"), f"{name} {text}{_near(name, earlier) if name not in every else ''}"
        elif earlier[name].when is not None and earlier[name].when != step.when:
            yield (*where, "requires"), f"{name} may be left out by its own when, so this could never be reached"
    yield from when_faults(step, where, earlier)
    yield from computed_faults(step, where, earlier)
    yield from second_person_faults(procedure, step, where, earlier)
    if step.for_each is not None:
        side = (procedure.side_from or "").partition(".")[0]
        if procedure.side_from is None:
            yield (*where, "for_each"), "needs side_from at the top of the file"
        elif side in every and side not in earlier:
            yield (*where, "for_each"), f"the side is not known yet: {side} comes later (put it before)"
    yield from _group_faults(step, where)


def _group_faults(step: Step, where: At) -> Iterator[Fault]:
    """Faults between the fields of one step."""
    ids = [field.id for field in step.fields]
    if len(set(ids)) != len(ids):
        yield (*where, "fields"), "two fields have the same id"
    labels = [field.label for field in step.fields]
    if len(set(labels)) != len(labels):
        yield (*where, "fields"), "two fields have the same label, so nobody could tell them apart aloud"
    if step.agree and any(set(field.options or ()) != set(step.fields[0].options or ()) for field in step.fields):
        yield (*where, "agree"), "needs fields with the same options"
    if step.repeat_within is not None:
        measured = {field.id for field in step.fields if field.number is not None}
        if set(step.repeat_within.fields) - set(ids):
            yield (*where, "repeat_within", "fields"), f"names no field of this step (there are: {', '.join(ids)})"
        elif set(step.repeat_within.fields) - measured:
            yield (*where, "repeat_within", "fields"), "names a field that is no number"


_ALIKE = ("phase", "timing", "for_each", "light_must_be_off", "read_back")
_NOT_IN_A_GROUP = ("when", "agree", "repeat_within", "size_from")


def _any_order_faults(procedure: Procedure) -> Iterator[Fault]:
    """Faults of groups whose steps may be answered in any order."""
    steps = procedure.steps
    for index, step in enumerate(steps):
        if step.group is None:
            continue
        where = ("steps", index, "group")
        first = next(number for number, other in enumerate(steps) if other.group == step.group)
        if any(other.group != step.group for other in steps[first:index]):
            yield where, f"the steps of group {step.group} do not follow one another"
        if not step.fields:
            yield where, f"kind {step.kind} has no answers that could be given in any order"
        apart = [key for key in _ALIKE if getattr(step, key) != getattr(steps[first], key)]
        if apart:
            yield where, f"{', '.join(apart)} must be as in {steps[first].id}, the first step of the group"
        if step.together and index != first:
            yield ("steps", index, "together"), f"the first step of group {step.group} asks for all of it, not this one"
        alone = [key for key in _NOT_IN_A_GROUP if getattr(step, key)]
        if alone:
            yield where, f"a step with {', '.join(alone)} cannot be answered in any order"


def _light_faults(
    procedure: Procedure, step: Step, where: At, profiles: Profiles, earlier: dict[str, Step]
) -> Iterator[Fault]:
    """Faults between a step and the device and light that it works on."""
    device = profiles.device
    if step.size_from is not None and not profiles.faulty and (device is None or device.size_chart is None):
        yield (*where, "size_from"), "needs a device profile with a size_chart"
    if step.more_light and not any(one.kind == "expose" for one in earlier.values()):
        yield (*where, "more_light"), "no light comes before this step"
    if step.kind != "expose":
        return
    if not step.hard:
        yield (*where, "kind"), "light is never a step that may be skipped (add hard: true)"
    if not step.requires:
        yield (
            (*where, "kind"),
            "light needs steps that must be done before it (name eyewear and examination in requires)",
        )
    if procedure.device_profile is None or procedure.light_profile is None:
        yield (*where, "kind"), "expose needs device_profile and light_profile"
    elif device is not None and not profiles.faulty and step.zones not in _kinds_of_zones(device):
        yield (*where, "zones"), f"the device profile has no zone for {step.zones}"


def _kinds_of_zones(device: DeviceProfile) -> set[str]:
    return {"strap" if zone.strap_shadowed else "open" for zone in device.zones}


def _field_faults(
    procedure: Procedure, step: Step, field: StepField, where: At, earlier: dict[str, Step]
) -> Iterator[Fault]:
    if field.source is not None and field.source not in procedure.sources:
        yield (*where, "source"), f"{field.source} is not listed under sources{_near(field.source, procedure.sources)}"
    for key, name in _sources_of(field):
        if name not in procedure.sources:
            yield (*where, *key), f"{name} is not listed under sources{_near(name, procedure.sources)}"
    for called, name in (("label", field.label), *(("also", other) for other in field.also)):
        if set(name.split()) & STOP_WORDS:
            yield (*where, called), f'"{name}" holds a stop word, which acts at once (use another word)'
    yield from _unit_faults(field, (*where, "number"))
    yield from _phrase_faults(field.options or {}, (*where, "options"))
    if field.again is not None and not _may_be_amber(field):
        yield (*where, "again"), f"no value of {field.id} is ever amber, so nothing is taken again"
    if field.compare is not None and field.compare.with_ is not None:
        with_step = earlier.get(field.compare.with_)
        other = next((f for f in with_step.fields if f.id == field.id), None) if with_step else None
        if other is None:
            yield (*where, "compare", "with"), f"{field.compare.with_} is no earlier step with a field {field.id}"
        elif set(field.scale) - set(other.options or ()):
            yield (*where, "scale"), f"has options that {field.compare.with_} does not have"
        elif field.number is not None and other.number is not None and field.number.unit != other.number.unit:
            yield (*where, "compare", "with"), f"{field.compare.with_} is in {other.number.unit}, this in another unit"
        if with_step is not None and with_step.repeat is not None:
            yield (*where, "compare", "with"), f"{field.compare.with_} is repeated, so its answer is not one"
        if with_step is not None and with_step.for_each != step.for_each:
            yield (*where, "compare", "with"), f"{field.compare.with_} is not taken for the same sides"


def _unit_faults(field: StepField, where: At) -> Iterator[Fault]:
    if field.number is None:
        return
    if not is_ucum(field.number.unit):
        named = field.number.unit.lower()
        near = [code for code, words in UNITS.items() if get_close_matches(named, [words, *words.split()], 1, 0.8)]
        hint = f"is {' or '.join(near)} meant?" if near else "of newton metres it would be N.m, of litres L"
        yield (*where, "unit"), f"{field.number.unit} is no UCUM code ({hint})"
    if field.number.spoken is not None and set(field.number.spoken.split()) & STOP_WORDS:
        yield (*where, "spoken"), f'"{field.number.spoken}" holds a stop word, which acts at once (use another word)'


def _sources_of(field: StepField) -> Iterator[tuple[At, str]]:
    """Sources that are named inside a field, with their place in it."""
    for key, limits in (("number", field.number), ("date", field.date)):
        if limits is not None and limits.range_source is not None:
            yield (key, "range_source"), limits.range_source
    if field.number is not None and field.number.error_source is not None:
        yield ("number", "error_source"), field.number.error_source
    if field.code is not None:
        yield ("code", "source"), field.code.source


def _may_be_amber(field: StepField) -> bool:
    limits, compare, sides = field.number, field.compare, field.sides
    flagged = limits is not None and any(limit.class_ == "amber" for limit in limits.limits)
    by_rules = "amber" in {rule.worse for rule in (compare, sides) if rule} | {r.class_ for r in (compare, sides) if r}
    return bool(field.amber) or flagged or by_rules or (limits is not None and limits.band is not None)


def _phrase_faults(options: Mapping[str, Phrases], where: At) -> Iterator[Fault]:
    """Faults of phrases of which one is to be said."""
    phrases = [phrase for group in options.values() for phrase in group]
    for phrase in sorted({phrase for phrase in phrases if phrases.count(phrase) > 1}):
        yield where, f'"{phrase}" means two options'
    for name, group in options.items():
        for phrase in group:
            if set(phrase.split()) & STOP_WORDS or phrase in STOP_PHRASES:
                yield (*where, name), f'"{phrase}" holds a stop word, which acts at once (use another word)'


def _band_faults(field: StepField, where: At, profiles: Profiles) -> Iterator[Fault]:
    if field.number is None or field.number.band is None or profiles.faulty:
        return
    bands = profiles.device.bands if profiles.device is not None else {}
    if field.number.band not in bands:
        yield (*where, "number", "band"), f"{field.number.band} is no band of the device profile"
    else:
        band = bands[field.number.band]
        if band.high < field.number.low or band.low > field.number.high:
            yield (
                (*where, "number", "band"),
                f"{field.number.band} lies outside low to high, so no value could be taken",
            )


def _reference_faults(procedure: Procedure) -> Iterator[Fault]:
    fields = {f"{step.id}.{field.id}": (step, field) for step in procedure.steps for field in step.fields}
    for key, options in (("side_from", {"left", "right"}), ("kind_from", {"live", "practice"})):
        name = getattr(procedure, key)
        if name is None:
            continue
        step, field = fields.get(name, (None, None))
        if field is None or set(field.options or ()) != options:
            there_are = [full for full, (_, other) in fields.items() if set(other.options or ()) == options]
            hint = f"there are: {', '.join(there_are)}" if there_are else "write the step, a point and the field"
            yield (key,), f"{name} is no field with the options {' and '.join(sorted(options))} ({hint})"
        elif step is not None and not step.hard:
            yield (key,), f"{step.id} may be skipped, and then this would be unknown (add hard: true to it)"
    for key, fits in (("operator_from", "options or an identifier"), ("role_from", "options")):
        name = getattr(procedure, key)
        step, field = fields.get(name, (None, None))
        fitting = field is not None and (
            field.options is not None or (key == "operator_from" and field.identifier is not None)
        )
        if name is not None and (not fitting or step is None or step.for_each is not None):
            yield (key,), f"{name} is no field with {fits}, of a step that is done once{_near(name, fields)}"
    yield from _patient_faults(procedure)
    used = {step.source for step in procedure.steps}
    fields_ = [field for step in procedure.steps for field in step.fields]
    used |= {field.source for field in fields_ if field.source is not None}
    used |= {name for field in fields_ for _, name in _sources_of(field)}
    for name in procedure.sources:
        if name not in used:
            yield ("sources", name), "no step uses it"


def _lift_faults(procedure: Procedure) -> Iterator[Fault]:
    """Roles and reasons of who may lift what that the procedure does not have."""
    rules: list[tuple[At, LiftRule | None]] = [
        (("lift", key), getattr(procedure.lift, key)) for key in type(procedure.lift).model_fields
    ]
    for index, step in enumerate(procedure.steps):
        rules.append((("steps", index, "lift"), step.lift))
        rules += [(("steps", index, "fields", n, "lift"), field.lift) for n, field in enumerate(step.fields)]
    for where, rule in rules:
        if not isinstance(rule, Lift):
            continue
        for key, named, listed, known in (
            ("by", rule.by, "roles", procedure.roles),
            ("reasons", rule.reasons, "override_reasons", procedure.override_reasons),
        ):
            for name in sorted(set(named) - set(known)):
                hint = _near(name, known) or f" (there are: {', '.join(known)})"
                yield (*where, key), f"{name} is not listed under {listed} at the top of the file{hint}"
    for name in set(procedure.lift.second_person) - set(procedure.override_reasons):
        yield ("lift", "second_person"), f"{name} is no override reason{_near(name, procedure.override_reasons)}"


def _patient_faults(procedure: Procedure) -> Iterator[Fault]:
    """Faults of the step that asks whose visit it is, which is left out in practice and where the start has said it."""
    if procedure.patient_from is None:
        return
    name, _, field_id = procedure.patient_from.partition(".")
    places = {step.id: number for number, step in enumerate(procedure.steps)}
    step = procedure.steps[places[name]] if name in places else None
    field = next((one for one in step.fields if one.id == field_id), None) if step is not None else None
    if step is None or field is None or field.identifier is None or len(step.fields) != 1:
        fields = [f"{one.id}.{each.id}" for one in procedure.steps for each in one.fields]
        text = f"{procedure.patient_from} is no identifier that a step asks for alone"
        yield ("patient_from",), text + _near(procedure.patient_from, fields)
        return
    if step.for_each is not None or step.when is not None or step.group is not None:
        yield ("patient_from",), f"{name} must be asked once, without for_each, when or group"
    kind = (procedure.kind_from or "").partition(".")[0]
    if kind in places and places[kind] > places[name]:
        yield ("patient_from",), f"{name} must come after {kind}: practice is not asked for a patient"
    for number, other in enumerate(procedure.steps):
        if name in other.requires:
            yield (
                ("steps", number, "requires"),
                f"{name} is left out where the patient is known, so nothing can need it",
            )


def _near(name: str, known: object) -> str:
    """A likely spelling, where one is near."""
    names = list(known) if isinstance(known, dict | list) else []
    near = get_close_matches(name, names, 1)
    return f" (did you mean {near[0]}?)" if near else ""
