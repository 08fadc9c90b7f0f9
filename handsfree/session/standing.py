"""What stands unless somebody objects: when it is confirmed, what an objection takes back (`may_stand` says which may).

A finding that was heard well is kept at once and said back inside the next prompt, or in the list at a gate. It is put
on record as confirmed when people have gone on after that. Nothing passes a gate before, and no light is permitted.
"""

from dataclasses import replace

from handsfree.model.commands import Control, ControlCommand, GiveValues
from handsfree.model.events import CommandSpoken
from handsfree.model.facts import AnyFact, ReadBackDisputed, ReadingConfirmed
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
    goes_on = isinstance(command, GiveValues) or (isinstance(command, ControlCommand) and command.control in _GOING_ON)
    if not goes_on:
        return []
    if now.said.control is Control.AFFIRM:
        return [replace(fact, read_back="affirmed") for fact in confirm_standing(state)]
    return [*confirm_standing(state)]


def confirm_standing(state: SessionState) -> list[ReadingConfirmed]:
    """Everything that stands, as confirmed, taken out of what only stands."""
    facts = [*state.standing.values()]
    state.standing.clear()
    return facts


def withdraw(now: EventContext, names: frozenset[str] | None = None) -> list[AnyFact]:
    """Take back what stands, as if it had not been said.

    Args:
        now: The context.
        names: "stage.field" of what is taken back; all where None.

    Returns:
        What that puts on record, for each stage.
    """
    state = now.state
    taken: dict[str, dict[str, ReadingConfirmed]] = {}
    for name in [name for name in state.standing if names is None or name in names]:
        stage_id, _, field_id = name.rpartition(".")
        taken.setdefault(stage_id, {})[field_id] = state.standing.pop(name)
        state.answers[stage_id].pop(field_id, None)
        state.done.pop(stage_id, None)
    return [
        ReadBackDisputed(
            stage=next(iter(facts.values())).stage, values={name: fact.value for name, fact in facts.items()}
        )
        for facts in taken.values()
    ]
