"""A breath of a narrated visit kept: stage by stage, and where the visit goes on. Part of `settle`."""

from math import inf

from handsfree.definition.plan import Stage
from handsfree.model.effects import Earcon
from handsfree.model.facts import StepConfirmed, StepEntered
from handsfree.model.reading_facts import ReadBackWay
from handsfree.session.confirmed_values import keep_values
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.may_stand import may_be_echoed, needs_affirming
from handsfree.session.modes import Mode
from handsfree.session.questions import keep_for_repeat, to_repeat
from handsfree.session.read_back import read_back_breath
from handsfree.session.section import missing
from handsfree.session.standing import confirm_standing
from handsfree.session.state import Done, TakenValue
from handsfree.session.visit import name_of


def settle_breath(now: EventContext, reply: Reply) -> None:
    """Keep what was said in a narrated visit, or read it back first, as the handler asked for."""
    if reply.keep_breath == "going_on" and may_be_echoed(now):
        reply.keep_breath = "echo"
    elif reply.keep_breath == "going_on" and (now.mode is Mode.READING_BACK or needs_affirming(now)):
        reply.keep_breath = None
        ask_breath(now, reply)
    if reply.keep_breath is not None:
        keep_breath(now, reply, reply.keep_breath)


def keep_breath(now: EventContext, reply: Reply, how: ReadBackWay) -> None:
    """Keep everything of the breath: values with all that they lead to, and steps that were reported as done.

    Args:
        now: The context.
        reply: Takes the facts and what is said; its `then` is set.
        how: How the breath was confirmed; "going_on" where it stands until the gate.
    """
    state = now.state
    breath = {stage_id: dict(values) for stage_id, values in state.breath.items()}
    state.breath.clear()
    gate_told, state.gate_told = state.gate_told, False
    state.modes.rest(Mode.ASKING)
    for stage in now.visit.plan.stages:
        if stage.id in breath:
            _keep_stage(now, reply, stage, breath[stage.id], how)
    if gate_told and how == "affirmed":
        # After the breath: what that replaces was never confirmed.
        reply.facts += confirm_standing(state)
    talk = [one for one in reply.talk if one not in (Earcon.HEARD, Earcon.RECORDED)]
    reply.talk = [Earcon.HEARD if how == "going_on" else Earcon.RECORDED, *talk]
    again = [stage for stage in now.visit.plan.stages if stage.id in breath and to_repeat(stage, state)]
    if again and not state.holds:
        state.place, state.asked = again[0].id, True
        state.pending.clear()
        keep_for_repeat(again[0], state)
        reply.then = Then.ASK
    else:
        reply.then = Then.GO_ON


def ask_breath(now: EventContext, reply: Reply) -> None:
    """Read the breath back, with what stands where nothing else of the phase is open: one answer closes both."""
    state = now.state
    told, state.gate_told = state.gate_told, not missing(now.visit, state) and bool(state.standing)
    further = state.modes.top is Mode.READING_BACK and told == state.gate_told
    if state.modes.top is not Mode.READING_BACK:
        state.modes.push(Mode.READING_BACK)
    since_s = round(now.from_s, 3) if further else -inf
    asked = read_back_breath(now.visit, state, since_s=since_s)
    reply.talk.append(asked)


def _keep_stage(now: EventContext, reply: Reply, stage: Stage, values: dict[str, TakenValue], how: ReadBackWay) -> None:
    state = now.state
    if state.place != stage.id:
        state.place = stage.id
        state.asked = False
        name = name_of(stage, state.side)
        reply.facts.append(
            StepEntered(stage=name, step=stage.step.id, phase=stage.step.phase, again=stage.id in state.done)
        )
    if "" in values:
        fact = StepConfirmed(stage=now.stage_name, step=stage.step.id, heard=values[""].heard)
        state.done[stage.id] = Done.CONFIRMED
        state.corrected.pop(stage.id, None)
        state.last_answered = stage.id
        if how == "going_on":
            state.standing[f"{stage.id}."] = fact
        else:
            state.standing.pop(f"{stage.id}.", None)
            reply.facts.append(fact)
        return
    state.pending.clear()
    state.pending.update(values)
    keep_values(now, reply, how)
    if stage.id in state.done:
        state.asked = False
