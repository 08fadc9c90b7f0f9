"""What a procedure has said aloud, or leaves unsaid, that could cost somebody a stop. Pure."""

import re
from collections.abc import Iterator

from handsfree.authoring.findings import FindingLevel
from handsfree.authoring.lint import Odd
from handsfree.definition.form import STOP_PHRASES, STOP_WORDS, Step, StepField
from handsfree.definition.plan import Plan
from handsfree.definition.source_lines import Path_


def spoken_findings(plan: Plan) -> Iterator[Odd]:
    """Reds without a word on what to do, and stop words in what the tool's own voice says."""
    for index, step in enumerate(plan.procedure.steps):
        where: Path_ = ("steps", index)
        yield from _red(step, where)
        for key, text in _said(step):
            yield from _stop_words(text, (*where, *key))


def _red(step: Step, where: Path_) -> Iterator[Odd]:
    labels = [field.label for field in step.fields if _may_be_red(field)]
    if labels and step.red_action is None:
        yield Odd(
            FindingLevel.WARNING,
            "no-red-action",
            where,
            f"{', '.join(labels)} can be red, and {step.id} does not say what to do first: the senior is called",
            "add red_action, in a few words",
        )


def _may_be_red(field: StepField) -> bool:
    limits, compare, sides, again = field.number, field.compare, field.sides, field.again
    classes = {limit.class_ for limit in limits.limits} if limits is not None else set()
    classes |= {one for rule in (compare, sides) if rule is not None for one in (rule.worse, rule.class_) if one}
    classes |= {again.class_} if again is not None else set()
    return bool(field.red) or "red" in classes


def _said(step: Step) -> Iterator[tuple[Path_, str]]:
    """What is said of a step, with its key."""
    yield ("prompt",), step.prompt
    yield ("expert",), step.expert or ""
    for number, item in enumerate(step.items):
        yield ("items", number), f"{item.say} {item.expert or ''}"
    for number, field in enumerate(step.fields):
        yield ("fields", number), field.again.say if field.again is not None else ""


def _stop_words(text: str, where: Path_) -> Iterator[Odd]:
    words = re.findall(r"[a-z]+", text.lower())
    found = [word for word in dict.fromkeys(words) if word in STOP_WORDS]
    found += [phrase for phrase in sorted(STOP_PHRASES) if phrase in " ".join(words)]
    if found:
        quoted = ", ".join(f'"{one}"' for one in found)
        yield Odd(
            FindingLevel.WARNING,
            "stop-word-said",
            where,
            f"the tool's own voice says {quoted}: a person who says it meanwhile may be taken for the tool",
            "use other words, unless the word itself is what is asked about",
        )
