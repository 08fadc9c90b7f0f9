"""Values said anew where both hands are read back at once: each is of the hand that is said with it."""

from collections.abc import Sequence

from handsfree.definition.plan import Stage
from handsfree.model.commands import SlotValue
from handsfree.model.effects import Earcon
from handsfree.model.facts import ReadingRefused, ValuesDropped
from handsfree.model.readings import HowToSay
from handsfree.model.refusals import RefusalReason, SayItSo
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.modes import Mode
from handsfree.session.prompts.sentence_codes import RefusedBecause
from handsfree.session.state import TakenValue
from handsfree.session.value_intake import keep_half, kept, proposed, value_problem
from handsfree.session.visit import name_of, side_of


def say_anew_of_a_side(now: EventContext, values: Sequence[SlotValue], together: Sequence[Stage]) -> Reply:
    """Take values in place of those of one hand; which hand must be said. Then both are read back once more.

    What is said anew may not stand where the new value is not taken: then it is asked for.

    Args:
        now: The context.
        values: What was said, named as `both_sides.slots_of_both_sides` names it.
        together: The stages that are read back.
    """
    state, reply = now.state, Reply()
    told: list[tuple[Stage, str, SlotValue]] = []
    for given in values:
        step_id, _, field_id = given.slot.rpartition(".")
        of_step = [one for one in together if one.step.id == (step_id or now.stage.step.id)]
        stages = [one for one in of_step if given.side is side_of(one, state.side)]
        if not stages:
            label = next(field.label for field in of_step[0].step.fields if field.id == field_id)
            return now.refuse(SayItSo(label, HowToSay.SIDE_FIRST))
        told.append((stages[0], field_id, given))
    state.modes.pop(Mode.READING_BACK)
    keep_half(state)
    state.pending.clear()
    problems: list[tuple[Stage, RefusalReason]] = []
    for stage, field_id, given in told:
        name, field = name_of(stage, state.side), next(one for one in stage.step.fields if one.id == field_id)
        before = state.ahead[stage.id].pop(field_id, None)
        if before is not None:
            reply.facts.append(ValuesDropped(stage=name, values={field_id: kept(before.value)}))
        problem = value_problem(now, stage, field, given)
        if problem is not None:
            reply.facts.append(ReadingRefused(stage=name, field=field_id, reason=problem, heard=now.heard))
            problems.append((stage, problem))
            continue
        taken = TakenValue(given.value, now.heard, asked=now.said is not None and now.said.asked)
        state.ahead[stage.id][field_id] = taken
        reply.facts.append(proposed(now, stage, field, taken))
    if problems:
        reply.talk.append(Earcon.REFUSED)
        reply.say(RefusedBecause(problems[0][1]))
    reply.then, reply.stage = Then.ENTER, problems[0][0] if problems else told[-1][0]
    return reply
