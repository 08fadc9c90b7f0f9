"""What steps and fields are called where one is named among others: their topics, prompts and labels. Pure."""

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from handsfree.definition.form import Procedure, Step
from handsfree.definition.side_words import on_paper
from handsfree.definition.verbalization import cardinal
from handsfree.model.readings import Timing
from handsfree.model.step_names import StepNames

_SENTENCE_END = re.compile(r"[.!?](?:\s|$)")
_TIMINGS = {Timing.BASELINE: "before", Timing.DURING: "during", Timing.AFTER: "after"}


def names_of(procedure: Procedure) -> StepNames:
    """The names of a procedure: no two steps have the same one, where topic, time and prompt can tell them apart."""
    steps = _step_names(procedure.steps)
    labels = Counter(field.label for step in procedure.steps for field in step.fields)
    single = (step for step in procedure.steps if len(step.fields) == 1 and step.repeat is None)
    alone = {
        f"{step.id}.{step.fields[0].id}"
        for step in single
        if step.fields[0].label == steps[step.id] or (step.topic is None and labels[step.fields[0].label] == 1)
    }
    return StepNames(
        dict(one for step in procedure.steps for one in _stages(step, steps[step.id])),
        {f"{step.id}.{field.id}": field.label for step in procedure.steps for field in step.fields},
        frozenset(alone),
    )


def _stages(step: Step, name: str) -> Iterator[tuple[str, str]]:
    yield step.id, name
    if step.repeat is not None:
        yield from ((f"{step.id}@{count}", f"{name} {cardinal(count)}") for count in range(1, step.repeat.most + 1))


def _step_names(steps: Sequence[Step]) -> dict[str, str]:
    """The shortest name of each step that no other one would have."""
    found: dict[str, str] = {}
    ways: tuple[Callable[[Step], str], ...] = (
        _short,
        lambda step: f"{_short(step)} {_TIMINGS[step.timing] if step.timing is not None else step.phase}",
        lambda step: _quoted(on_paper(step.prompt)),
        lambda step: step.id.replace("_", " "),
    )
    for way in ways:
        count = Counter(map(way, steps))
        for step in steps:
            if step.id not in found and (count[way(step)] == 1 or way is ways[-1]):
                found[step.id] = way(step)
    return found


def _short(step: Step) -> str:
    """What it is called aloud, else the first sentence of its prompt."""
    if step.repeat is not None:
        return step.repeat.name
    text = on_paper(step.prompt)
    end = _SENTENCE_END.search(text)
    return step.topic or _quoted(text[: end.start()] if end is not None else text)


def _quoted(prompt: str) -> str:
    return f"“{prompt.rstrip(' .!?')}”"
