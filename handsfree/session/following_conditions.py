"""After a correction: steps that a condition now calls for, and those that it leaves out though they were asked for.

Whoever was asked is told, with the reason. What was answered at a step that is left out stays on record and counts no
more: it flags nothing, is compared with nothing, and a stop that it had set goes with it. A red hold stays: it is
lifted by role and reason alone.
"""

from collections.abc import Collection, Iterator

from handsfree.definition.plan import Plan, Stage
from handsfree.definition.verbalization import value_words
from handsfree.model.facts import HoldLifted, StepCalledFor, StepWithdrawn
from handsfree.session.conditions import Truth, truth_of
from handsfree.session.context import EventContext, Reply
from handsfree.session.holds import WITHDRAWN, lifted_with_cause
from handsfree.session.prompts.following_sentences import AlsoLeftOut, AnswerIs, NowLeftOut
from handsfree.session.questions import prompt_text
from handsfree.session.stages import applies
from handsfree.session.state import SessionState
from handsfree.session.timers import drop_timers
from handsfree.session.visit import name_of


def conditional_stages(plan: Plan, state: SessionState) -> frozenset[str]:
    """The stages with a condition that are part of the visit now."""
    return frozenset(stage.id for stage in plan.stages if stage.step.when is not None and applies(stage, state))


def follow_conditions(now: EventContext, reply: Reply, before: Collection[str], *, corrected: bool) -> None:
    """Let what a corrected value decides follow, step after step: one that is left out may have decided others.

    Args:
        now: The context; the value is kept.
        reply: Takes facts and what is said.
        before: What `conditional_stages` was before.
        corrected: Whether the value took the place of another: then what it calls for is put on record.
    """
    state, plan = now.state, now.visit.plan
    for stage in plan.stages:
        # In the order of the file: a step that is left out may have decided later ones.
        begun = stage.id in state.asked_for or _was_answered(stage, state)
        if stage.step.when is not None and begun and _is_left_out(plan, stage, state):
            _withdraw(now, reply, stage)
    called = conditional_stages(plan, state) - frozenset(before) if corrected else frozenset()
    reply.facts += [
        StepCalledFor(stage=name_of(stage, state.side), step=stage.step.id)
        for stage in plan.stages
        if stage.id in called
    ]


def _is_left_out(plan: Plan, stage: Stage, state: SessionState) -> bool:
    """Whether a condition fails for good: nothing that it hangs on is still to be answered."""
    when = stage.step.when
    if when is None or applies(stage, state):
        return False
    names = {(one.step or "").partition(".")[0] for one in when.alone()}
    return all(
        one.id in state.answers or one.id in state.done or not applies(one, state)
        for name in names
        for one in plan.stages_of(name)
    )


def _was_answered(stage: Stage, state: SessionState) -> bool:
    return stage.id in state.done or stage.id in state.answers or state.held_at(stage.id)


def _withdraw(now: EventContext, reply: Reply, stage: Stage) -> None:
    state = now.state
    for hold in lifted_with_cause(state.holds, stage.id):
        state.holds.remove(hold)
        reply.facts.append(
            HoldLifted(hold=hold.kind, grounds=hold.grounds, role=None, reason=WITHDRAWN, code=None, heard=None)
        )
    if _was_answered(stage, state):
        reply.facts.append(StepWithdrawn(stage=name_of(stage, state.side), step=stage.step.id))
    reply.say(NowLeftOut(tuple(_why(now, stage)), prompt_text(now.visit, stage, state)))
    drop_timers(now, reply, stage.id)
    names = {f"{stage.id}.{field.id}" for field in stage.step.fields} | {f"{stage.id}."}
    for known in (state.done, state.answers, state.ahead, state.waiting, state.breath, state.corrected, state.taught):
        known.pop(stage.id, None)
    for name in names:
        state.standing.pop(name, None)
        state.refused.pop(name, None)
    state.told.discard(stage.id)
    state.asked_for.discard(stage.id)
    for listed in (state.accepted_gaps, state.again, state.repeated):
        listed -= names


def _why(now: EventContext, stage: Stage) -> Iterator[AnswerIs | AlsoLeftOut]:
    """The answers by which the condition of a stage fails, in the words of their fields."""
    state = now.state
    steps = {step.id: step for step in now.visit.procedure.steps}
    for one in stage.step.when.alone() if stage.step.when is not None else ():
        if truth_of(one, state) in {Truth.HOLDS, Truth.UNDECIDED}:
            continue
        step_id, _, field_id = (one.step or "").partition(".")
        field = next(field for field in steps[step_id].fields if field.id == field_id)
        taken = state.answers.get(step_id, {}).get(field_id)
        if taken is None:
            yield AlsoLeftOut(field.label)
        else:
            yield AnswerIs(field.label, value_words(field, taken.value, now.visit.band_of(field), short=True))
