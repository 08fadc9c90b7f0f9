"""Timers that steps start: they speak by themselves when they have run out, never over light or what may hurt somebody.

What is asked, read back or held when one speaks is said again after it: nobody's "affirmative" answers a timer.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from math import inf

from handsfree.definition.side_words import with_side
from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import TimerDropped, TimerRanOut, TimerStarted
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.heat_report import warmth_is_open
from handsfree.session.held_over import RunningTimer
from handsfree.session.modes import Mode
from handsfree.session.prompts.sentence_codes import FileText
from handsfree.session.questions import listens
from handsfree.session.state import Done, SessionState
from handsfree.session.urgency import light_may_be_on
from handsfree.session.visit import name_of, side_of
from handsfree.stamps import stamp

_WAITS_FOR = frozenset({Mode.LIT, Mode.STRAY, Mode.CRIED, Mode.WARMTH, Mode.LATE_HEAT, Mode.NOTING, Mode.DOUBTING})
"""Where a timer that has run out waits: light, heat, words that are being dictated or asked about."""


def start_timers(now: EventContext, reply: Reply, done: Iterable[str]) -> None:
    """Start the timers of stages that have come to be done; one that runs already begins anew."""
    state = now.state
    for stage in now.visit.plan.stages:
        if stage.id not in done or not stage.step.timers or state.done.get(stage.id) is Done.SKIPPED:
            continue
        for timer in stage.step.timers:
            side = side_of(stage, state.side)
            label = " ".join([*([side.value] if side is not None else []), timer.id.replace("_", " ")])
            running = RunningTimer(stage.id, timer.id, label, with_side(timer.say, side), state.now_s + timer.seconds)
            state.timers[f"{stage.id}.{timer.id}"] = running
            due = datetime.fromisoformat(now.event.wall) + timedelta(seconds=timer.seconds)
            reply.facts.append(
                TimerStarted(
                    timer=timer.id,
                    stage=name_of(stage, state.side),
                    seconds=timer.seconds,
                    due=stamp(due.astimezone(UTC)),
                )
            )


def drop_timers(now: EventContext, reply: Reply, stage_id: str) -> None:
    """A step is left out: its timers say nothing any more."""
    state = now.state
    for name, timer in [*state.timers.items()]:
        if timer.stage_id == stage_id:
            del state.timers[name]
            stage = now.visit.plan.stage(stage_id)
            reply.facts.append(TimerDropped(timer=timer.timer_id, stage=name_of(stage, state.side)))


def timer_due_s(state: SessionState) -> float:
    """Session time at which the next timer speaks, seconds; infinite where none runs, or it has to wait."""
    if not state.timers or state.modes.top in _WAITS_FOR or light_may_be_on(state) or warmth_is_open(state):
        return inf
    return min(timer.due_s for timer in state.timers.values())


def tell_timers(now: EventContext) -> Reply:
    """Say what has run out, then what was asked, or holds the visit, once more."""
    state, reply = now.state, Reply(talk=[Earcon.ATTENTION])
    for name, timer in sorted(state.timers.items(), key=lambda item: item[1].due_s):
        if timer.due_s > state.now_s:
            continue
        del state.timers[name]
        stage = now.visit.plan.stage(timer.stage_id)
        late_s = round(state.now_s - timer.due_s, 3)
        reply.facts.append(TimerRanOut(timer=timer.timer_id, stage=name_of(stage, state.side), late_s=late_s))
        reply.say(FileText(timer.say), priority=Priority.ATTENTION, passing=True)
    if now.mode is Mode.HELD:
        reply.then = Then.HOLD
    elif not (now.mode is Mode.ASKING and listens(now.visit, state)):
        reply.then = Then.ASK
    return reply
