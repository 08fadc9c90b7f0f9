"""What a trainer lays out and knows before a practice, from the scenario. Pure. Learners do not see it."""

from collections.abc import Iterator

from handsfree.practice.event_injection import drawn
from handsfree.practice.scenario import Scenario, ScenarioEvent


def sheet_lines(scenario: Scenario) -> Iterator[str]:
    """The sheet as text: what is true, what happens and when, and the keys that cue it."""
    yield f"FOR THE TRAINER - {scenario.title} ({scenario.id} {scenario.version})"
    yield f"procedure {scenario.procedure}, {scenario.patient.value} patient, seed {scenario.seed}"
    yield ""
    yield "TRUE FROM THE BEGINNING (lay it out or tell it; the rest is as the procedure hopes)"
    yield from (f"  {place}: {value}" for place, value in scenario.case.items())
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


def _when(event: ScenarioEvent, seed: int) -> str:
    moment = drawn(event, seed)
    if event.at.cue:
        return "when you cue it"
    if moment.at_s is not None:
        return f"at {moment.at_s:.0f} s"
    lit = f", {event.at.zone} lit" if event.at.zone is not None else ""
    return f"at {moment.step}{lit}, after {moment.wait_s:.1f} s"
