"""Whether a procedure can be narrated: what could be meant for two items of a phase, and which topic would help."""

from collections import defaultdict
from collections.abc import Iterator

from handsfree.authoring.findings import FindingLevel
from handsfree.authoring.lint import Odd
from handsfree.definition.form import STOP_PHRASES, STOP_WORDS, Step, StepField
from handsfree.definition.plan import Plan
from handsfree.session.section import section_of

_NOT_DONE = "not done"


def narration_findings(plan: Plan) -> Iterator[Odd]:
    """Everything that could be meant for two, phase by phase; and words that can be no topic."""
    places = {step.id: number for number, step in enumerate(plan.procedure.steps)}
    seen: set[str] = set()
    for stage in plan.stages:
        section = section_of(plan, stage.id)
        if section and section[0].id not in seen:
            seen.add(section[0].id)
            steps = list({one.step.id: one.step for one in section}.values())
            yield from _collisions(steps, places)
            yield from _topics_twice(steps, places)
    for step in plan.procedure.steps:
        for key, phrases in (("topic", (step.topic,) if step.topic else ()), ("reported", step.reported)):
            for phrase in phrases:
                if set(phrase.split()) & STOP_WORDS or any(stop in phrase for stop in STOP_PHRASES):
                    text = f'"{phrase}" holds a stop word, which acts at once'
                    yield Odd(FindingLevel.ERROR, "topic", ("steps", places[step.id], key), text, "use another word")


def _answers(step: Step, field: StepField) -> Iterator[str]:
    """What may be said to a field, each kind of value as one."""
    if field.options is not None:
        yield from (phrase for phrases in field.options.values() for phrase in phrases)
    elif field.number is not None:
        yield f"a number of {field.number.unit}"
    else:
        yield "a code" if field.identifier is not None else "a date"
    if step.timing is not None:
        yield _NOT_DONE


def _collisions(steps: list[Step], places: dict[str, int]) -> Iterator[Odd]:
    """Labels that with one answer could be of several steps, of which one has no topic to be told by."""
    found: dict[tuple[str, str], list[Step]] = defaultdict(list)
    for step in steps:
        for field in step.fields:
            for label in {field.label, *field.also}:
                for answer in _answers(step, field):
                    found[label, answer].append(step)
    told: set[tuple[str, ...]] = set()
    for (label, answer), several in sorted(found.items(), key=lambda item: item[0]):
        names = tuple(step.id for step in several)
        without = [step for step in several if step.topic is None]
        if len(several) < 2 or not without or names in told:
            continue
        told.add(names)
        words = " and ".join(f"topic: {_suggested(step)} to {step.id}" for step in without)
        text = f'"{label}" with {answer} could be of {" or ".join(names)} where the visit is narrated'
        yield Odd(FindingLevel.ERROR, "narration", ("steps", places[without[0].id]), text, f"give {words}")


def _topics_twice(steps: list[Step], places: dict[str, int]) -> Iterator[Odd]:
    topics: dict[str, str] = {}
    for step in steps:
        if step.topic is None:
            continue
        if step.topic in topics:
            text = f'"{step.topic}" is the topic of {topics[step.topic]} in the same phase'
            advice = f"another word would do, such as {_suggested(step)}"
            yield Odd(FindingLevel.ERROR, "topic", ("steps", places[step.id], "topic"), text, advice)
        topics.setdefault(step.topic, step.id)


def _suggested(step: Step) -> str:
    """What a step is about by its identifier, without when it is done."""
    words = [word for word in step.id.split("_") if word not in {"before", "after", "mid"}]
    return " ".join(words)
