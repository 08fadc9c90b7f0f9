"""What a trainer lays out and knows before a practice, from the scenario. Pure. Learners do not see it."""

from collections.abc import Iterator

from handsfree.practice.computed_truth import computed_truths, times_due
from handsfree.practice.deciding import Decides
from handsfree.practice.event_injection import drawn
from handsfree.practice.scenario import ScenarioEvent
from handsfree.practice.scenario_loader import LoadedScenario
from handsfree.practice.timeline import of_every


def sheet_lines(case: LoadedScenario) -> Iterator[str]:
    """The sheet as text: what is true, what follows from it, what happens and when, and the keys that cue it."""
    scenario = case.scenario
    yield f"FOR THE TRAINER - {scenario.title} ({scenario.id} {scenario.version})"
    yield f"procedure {scenario.procedure}, {scenario.patient.value} patient, seed {scenario.seed}"
    yield ""
    yield "TRUE FROM THE BEGINNING (lay it out or tell it; the rest is as the procedure hopes)"
    yield from (f"  {place}: {value}" for place, value in scenario.case.items())
    for step in case.bundle.procedure.steps:
        if step.repeat is not None:
            more = "" if step.id in scenario.times else " at least"
            yield f"  {step.id}: {times_due(scenario, step)} times{more}"
    yield from _computed_lines(case)
    yield ""
    yield "WHAT HAPPENS"
    for event in scenario.events:
        key = f", key {event.key}" if event.key is not None else ""
        yield f"  {event.id} ({event.kind}{key}): {_when(event, scenario.seed)}"
        if event.say is not None:
            yield f"      {event.who} says: {event.say}"
        if event.noise is not None:
            yield f"      {event.noise.kind} noise for {event.noise_s:g} s"
        yield from (f"      shows {place}: {value}" for place, value in event.shows.items())
        yield from (f"      once put right, {place}: {value}" for place, value in event.remedy.items())
        right = " or ".join(action.value.replace("_", " ") for action in event.answer)
        hard = "; missing it fails the attempt" if event.hard else ""
        yield f"      right: {right} within {event.within_s:g} s{hard}. {event.why}"


def _computed_lines(case: LoadedScenario) -> Iterator[str]:
    """What follows from the case; of a result that does not, why."""
    fields = [(step, field) for step in case.bundle.procedure.steps for field in step.fields if field.computed]
    if not fields:
        return
    yield ""
    yield "FOLLOWS FROM THAT (nobody says it; a value that hides it weighs as much as it does)"
    truths = computed_truths(case.scenario, case.bundle)
    for step, field in fields:
        mine = {place: one for place, one in truths.items() if of_every(place) == f"{step.id}.{field.id}"}
        for place, one in mine.items():
            means = {Decides.FLAG: ", flagged", Decides.STOP: ", stops the work"}.get(one.decides, "")
            yield f"  {place}: {one.true}{means}"
        if not mine:
            behind = ", ".join(field.computed.inputs) if field.computed is not None else ""
            timed = field.computed is not None and field.computed.how == "elapsed"
            why = "as long as the learner takes" if timed else f"not known, the case leaves something of {behind} open"
            yield f"  {step.id}.{field.id}: {why}"


def _when(event: ScenarioEvent, seed: int) -> str:
    moment = drawn(event, seed)
    if event.at.cue:
        return "when you cue it"
    if moment.at_s is not None:
        return f"at {moment.at_s:.0f} s"
    lit = f", {event.at.zone} lit" if event.at.zone is not None else ""
    return f"at {moment.step}{lit}, after {moment.wait_s:.1f} s"
