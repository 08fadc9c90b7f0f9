"""What stands unless somebody objects: when it is confirmed, what an objection takes back (`may_stand` says which may).

A finding that was heard well is kept at once and said back inside the next prompt, or in the list at a gate. It is put
on record as confirmed when people have gone on after that. Nothing passes a gate before, and no light is permitted.
"""

from dataclasses import replace

from handsfree.model.commands import Control, ControlCommand, GiveValues
from handsfree.model.events import CommandSpoken
from handsfree.model.facts import AnyFact, KeptValue, ReadBackDisputed, ReadingConfirmed, StepDenied, ValuesDropped
from handsfree.session.context import EventContext
from handsfree.session.state import SessionState

OBJECTIONS = frozenset({Control.NEGATE, Control.CORRECTION})
"""What takes back what was said back in the last prompt."""
_GOING_ON = frozenset(
    {
        Control.AFFIRM,
        Control.NEXT_STEP,
        Control.PREVIOUS_STEP,
        Control.SKIP,
        Control.OVERRIDE,
        Control.END_VISIT,
        Control.TAKE_NOTE,
    }
)
"""What is said by who has heard the prompt and goes on. Not what anybody says at any time: stop words, cries, "wait",
"say again", questions to the tool."""


def stands_now(now: EventContext) -> list[AnyFact]:
    """What is confirmed because the people who heard it said back go on now, taken out of what only stands."""
    state, event = now.state, now.event
    if now.said is None or not state.was_said_back or not isinstance(event, CommandSpoken):
        return []
    command = now.said.command
    # What is said in place of what stands does not confirm it.
    goes_on = (isinstance(command, GiveValues) and command.lead != "correct") or (
        isinstance(command, ControlCommand) and command.control in _GOING_ON
    )
    return confirm_standing(state, affirmed=now.said.control is Control.AFFIRM) if goes_on else []


def confirm_standing(state: SessionState, *, affirmed: bool = False) -> list[AnyFact]:
    """Everything that stands, as confirmed, taken out of what only stands.

    Args:
        state: The session.
        affirmed: Whether somebody said "affirmative" to it, rather than going on.
    """
    facts: list[AnyFact] = [
        replace(fact, read_back="affirmed") if affirmed and isinstance(fact, ReadingConfirmed) else fact
        for fact in state.standing.values()
    ]
    state.standing.clear()
    return facts


def drop_standing(state: SessionState) -> list[AnyFact]:
    """Take back what stands because the visit ends: nobody affirmed it, and nobody goes on."""
    taken: dict[str, dict[str, KeptValue]] = {}
    for name, fact in state.standing.items():
        stage_id, _, field_id = name.rpartition(".")
        state.done.pop(stage_id, None)
        if isinstance(fact, ReadingConfirmed):
            state.answers[stage_id].pop(field_id, None)
            taken.setdefault(fact.stage, {})[field_id] = fact.value
    state.standing.clear()
    return [ValuesDropped(stage=stage, values=values) for stage, values in taken.items()]


def withdraw(state: SessionState) -> list[AnyFact]:
    """Take back everything that stands, as if it had not been said; what that puts on record, for each stage."""
    taken: dict[str, dict[str, KeptValue]] = {}
    found: list[AnyFact] = []
    for name, fact in state.standing.items():
        stage_id, _, field_id = name.rpartition(".")
        state.done.pop(stage_id, None)
        if isinstance(fact, ReadingConfirmed):
            state.answers[stage_id].pop(field_id, None)
            taken.setdefault(fact.stage, {})[field_id] = fact.value
        else:
            found.append(StepDenied(stage=fact.stage, step=fact.step))
    state.standing.clear()
    return [*(ReadBackDisputed(stage=stage, values=values) for stage, values in taken.items()), *found]
