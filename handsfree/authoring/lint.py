"""What is odd about a procedure that loads: steps nobody comes to, readings that lead nowhere, weak sources."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from handsfree.authoring.findings import FindingLevel
from handsfree.definition.cross_checks import LONGEST_PROMPT_WORDS
from handsfree.definition.form import Number, Procedure, Step, StepField, When
from handsfree.definition.plan import Plan
from handsfree.definition.profile_form import DeviceProfile
from handsfree.definition.side_words import SIDE_PLACEHOLDER, with_side
from handsfree.definition.source_lines import Path_
from handsfree.definition.verbalization import UNITS

LONGEST_EXPERT_WORDS = 3
"""Short prompts have two or three words, the side not counted; common practice, no source."""
_ASKS = re.compile(
    r"\b(is|are|was|were|do|does|did|has|have|had|can|or|who|what|which|where|when|why|how|any|in degrees|in celsius"
    r"|[a-z]+(?:ed|ing)|check|spell|measure|say|tell|touch|put|remove|wash|keep|call|read|take|look|here|first|score)\b"
)
"""Words of which one makes a prompt a question or an instruction; common practice, no source."""
_HOLDING = frozenset({"red", "stop"})
_ALL = _HOLDING | {"amber"}
_NO_SOURCE = re.compile(r"no source|from memory", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Odd:
    """A finding, by its place in the written-out procedure."""

    level: FindingLevel
    code: str
    path: Path_
    text: str
    advice: str = ""


def structure_findings(plan: Plan, device: DeviceProfile | None) -> Iterator[Odd]:
    """Everything odd about the structure of a compiled procedure."""
    procedure = plan.procedure
    yield from _branches(procedure)
    for index, step in enumerate(procedure.steps):
        where: Path_ = ("steps", index)
        yield from _wording(step, where)
        yield from _bypass(step, where)
        for number, field in enumerate(step.fields):
            yield from _field(procedure, step, field, (*where, "fields", number))
    yield from _patient(procedure)
    yield from _readings(procedure, device)
    yield from _light(procedure)


def _branches(procedure: Procedure) -> Iterator[Odd]:
    """Conditions that always hold, or hold only after a stop.

    Only what the file alone shows is found: a condition of several parts is looked at part by part.
    """
    steps = {step.id: step for step in procedure.steps}
    for index, step in enumerate(procedure.steps):
        if step.when is None:
            continue
        where: Path_ = ("steps", index, "when")
        for one in step.when.alone():
            name, _, field_id = (one.step or "").partition(".")
            field = next(field for field in steps[name].fields if field.id == field_id)
            certain = steps[name].hard and steps[name].when is None
            yield from _branch(step, field, one, where, certain=certain)


def _branch(step: Step, field: StepField, when: When, where: Path_, *, certain: bool) -> Iterator[Odd]:
    """What is odd about a condition on one field.

    Args:
        step: The step that hangs on it.
        field: The field.
        when: The condition.
        where: Where it is written.
        certain: Whether the field is always asked and answered.
    """
    limits = field.number
    always = (
        when.holds_for(limits.low, limits.high) if limits is not None else set(when.is_) == set(field.options or ())
    )
    if always and certain:
        yield Odd(FindingLevel.WARNING, "always", where, f"{step.id} is done whatever is answered", "leave when out")
    elif limits is not None and always is False:
        span = f"{limits.low} to {limits.high}"
        text = f"{step.id} is never done: {field.label} is from {span}"
        yield Odd(FindingLevel.WARNING, "never", where, text, "compare with a number in that range")
    elif limits is None and set(when.is_) <= {*field.stop, *field.red}:
        text = f"{step.id} is reached only after an answer that stops the procedure, by override"
        yield Odd(FindingLevel.WARNING, "after-stop", where, text, "let an answer that does not stop lead here")


def _patient(procedure: Procedure) -> Iterator[Odd]:
    """A side is somebody's: then a live visit asks whose."""
    if procedure.side_from is not None and procedure.patient_from is None:
        yield Odd(
            FindingLevel.WARNING,
            "no-patient",
            ("side_from",),
            "a live visit never asks whose side it is",
            "add a step that spells the patient's reference, and name it in patient_from",
        )


def _wording(step: Step, where: Path_) -> Iterator[Odd]:
    for key, said in (("prompt", step.prompt), ("expert", step.expert)):
        if step.for_each is not None and said is not None and SIDE_PLACEHOLDER not in said:
            yield Odd(
                FindingLevel.WARNING,
                "no-side",
                (*where, key),
                f"{step.id} is asked for each side, and its {key} does not say which",
                f"put {SIDE_PLACEHOLDER} into it",
            )
    if step.expert is None:
        if step.kind != "tell":
            yield Odd(
                FindingLevel.NOTE,
                "no-expert",
                where,
                f"{step.id} has no short prompt",
                "add expert: two or three words",
            )
    elif len(with_side(step.expert, None).split()) > LONGEST_EXPERT_WORDS:
        count = len(with_side(step.expert, None).split())
        yield Odd(
            FindingLevel.WARNING,
            "long-expert",
            (*where, "expert"),
            f"the short prompt has {count} words",
            f"at most {LONGEST_EXPERT_WORDS}",
        )
    words = len(step.prompt.split())
    if words > LONGEST_PROMPT_WORDS:
        yield Odd(
            FindingLevel.WARNING,
            "long-prompt",
            (*where, "prompt"),
            f"the prompt has {words} words",
            f"at most {LONGEST_PROMPT_WORDS}",
        )
    if not _ASKS.search(step.prompt.lower()):
        yield Odd(
            FindingLevel.NOTE,
            "heading-prompt",
            (*where, "prompt"),
            "the prompt is a list of headings: nobody would ask so aloud",
            'ask or tell something: "How is …?", "Any …?", "Check …."',
        )
    if len(step.fields) > 1:
        said = f"{step.prompt} {step.expert or ''}".lower()
        silent = [f.label for f in step.fields if not any(_stem(word) in said for word in f.label.split())]
        if silent:
            yield Odd(
                FindingLevel.WARNING,
                "unsaid-label",
                (*where, "prompt"),
                f"nobody hears that an answer begins with: {', '.join(silent)}",
                "use the label in the prompt",
            )


def _stem(word: str) -> str:
    """Enough of a word to be known again: "edges" in "edge", "colour" in "color"."""
    return word[:4].lower()


def _bypass(step: Step, where: Path_) -> Iterator[Odd]:
    """Hard stops that somebody could pass."""
    if step.hard:
        return
    stopping = [field.id for field in step.fields if field.stop or field.red or _stops(field.number)]
    if stopping:
        yield Odd(
            FindingLevel.ERROR,
            "bypass",
            where,
            f"{step.id} may be skipped, and with it what stops the procedure: {', '.join(stopping)}",
            "add hard: true",
        )


def _stops(number: Number | None) -> bool:
    return number is not None and (number.band is not None or number.holds)


def _field(procedure: Procedure, step: Step, field: StepField, where: Path_) -> Iterator[Odd]:
    options = set(field.options or ())
    if options and options <= {*field.stop, *field.red}:
        yield Odd(
            FindingLevel.ERROR,
            "dead-end",
            (*where, "options"),
            f"every answer to {field.label} stops the procedure",
            "one answer must lead on",
        )
    elif len(options) == 1 and not (step.second_person is not None and step.second_person.role == field.id):
        yield Odd(
            FindingLevel.WARNING,
            "one-answer",
            (*where, "options"),
            f"{field.label} has one answer only",
            "add what else may be found, or use kind confirm",
        )
    limits = field.number
    if limits is not None and limits.spoken is None and limits.unit not in UNITS:
        yield Odd(
            FindingLevel.WARNING,
            "unspoken-unit",
            (*where, "number", "unit"),
            f"{limits.unit} has no spoken name: it is read back as written, and nobody can say it",
            f"say how it is called (spoken: newton metres), or use one of {', '.join(sorted(UNITS, key=str.lower))}",
        )
    if limits is not None:
        yield from _limits(field, limits, (*where, "number"))
    graded = bool(field.stop or field.amber or field.red or field.compare or (limits is not None and _limited(limits)))
    source = procedure.sources.get(field.source or step.source, "")
    if graded and _NO_SOURCE.search(source):
        yield Odd(
            FindingLevel.NOTE,
            "weak-source",
            where,
            f"what flags or stops {step.id}.{field.id} rests on: {source}",
            "name a published source, or who decided it here",
        )


def _limited(limits: Number) -> bool:
    return bool(limits.limits) or limits.band is not None


def _limits(field: StepField, limits: Number, where: Path_) -> Iterator[Odd]:
    for limit in limits.limits:
        key, side, end, extreme = (
            ("flag_above", "over", limits.high, "highest")
            if limit.above
            else ("flag_below", "under", limits.low, "lowest")
        )
        if not limit.is_passed(limits.low, limits.high):
            advice = "raise high, or lower flag_above" if limit.above else "lower low, or raise flag_below"
            text = f"{field.label} can never be {side} {limit.bound}: {end} is the {extreme} that is taken"
            yield Odd(FindingLevel.WARNING, "limit-never", (*where, key), text, advice)
    for classes, level in ((_HOLDING, FindingLevel.ERROR), (_ALL, FindingLevel.WARNING)):
        if _flags_everything(limits, classes):
            text = f"every value of {field.label} {'stops the procedure' if classes is _HOLDING else 'is flagged'}"
            yield Odd(level, "dead-end", where, text, "look at flag_above and flag_below")
            return


def _flags_everything(limits: Number, classes: frozenset[str]) -> bool:
    """Whether no number from low to high is free of these classes."""
    own = [limit for limit in limits.limits if limit.class_ in classes]
    above = min((limit.bound for limit in own if limit.above), default=limits.high)
    below = max((limit.bound for limit in own if not limit.above), default=limits.low)
    return above < limits.low or below > limits.high or above < below


def _readings(procedure: Procedure, device: DeviceProfile | None) -> Iterator[Odd]:
    """Readings that lead nowhere, and things to be read that nobody is asked for."""
    compared = {field.compare.with_ for step in procedure.steps for field in step.fields if field.compare is not None}
    for index, step in enumerate(procedure.steps):
        bilateral_baseline = step.timing == "baseline" and step.for_each is not None
        if bilateral_baseline and step.id not in compared:
            yield Odd(
                FindingLevel.WARNING,
                "never-compared",
                ("steps", index),
                f"{step.id} is taken before and never compared after",
                "add a later step with compare: {with: ...}",
            )
        # What is due later is no reading of a time in the visit, and "not done" would say nothing.
        planned = all(field.number is not None and field.number.due for field in step.fields)
        if step.kind == "measure" and step.timing is None and not planned:
            yield Odd(
                FindingLevel.WARNING,
                "no-timing",
                ("steps", index),
                f"{step.id} does not say when in the visit it is measured, and takes no 'not done'",
                "add timing: baseline, during or after",
            )
    if device is None:
        return
    bands = {field.number.band for step in procedure.steps for field in step.fields if field.number is not None}
    for name in sorted(set(device.bands) - bands):
        if any(bands - {None}):
            yield Odd(
                FindingLevel.WARNING,
                "never-captured",
                ("device_profile",),
                f"the device profile limits {name}, and no step measures it",
                "add a number with this band",
            )
    exposes = any(step.kind == "expose" for step in procedure.steps)
    if exposes and device.size_chart is not None and not any(step.size_from for step in procedure.steps):
        yield Odd(
            FindingLevel.WARNING,
            "never-captured",
            ("device_profile",),
            "the device profile has a size chart, and no step measures for it",
            "add a measure step with size_from: device",
        )


def _light(procedure: Procedure) -> Iterator[Odd]:
    strap = {zone for step in procedure.steps if step.kind == "expose" for zone in [step.zones]}
    for index, step in enumerate(procedure.steps):
        if step.kind == "expose" and step.zones == "strap" and "open" not in strap:
            yield Odd(
                FindingLevel.WARNING,
                "strap-alone",
                ("steps", index),
                "only what lay under the strap gets light",
                "add a step with zones: open before it",
            )
        if step.kind == "expose" and not step.warmth:
            yield Odd(
                FindingLevel.NOTE, "no-warmth", ("steps", index), f"{step.id} asks for no warmth", "add warmth: true"
            )
