"""Values: taken, held against their fields, read back, affirmed or denied, corrected."""

from dataclasses import replace

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.commands import GiveValues, SlotValue
from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import (
    CorrectionOpened,
    DoubtSettled,
    HoldKept,
    HoldLifted,
    ReadBackDisputed,
    ReadingRefused,
    ValuesDropped,
)
from handsfree.model.readings import Absent, AbsentReason, HowToSay, NeedsAsking
from handsfree.model.refusals import OtherSide, Refusal, RefusalCode, RefusalReason, SayItSo
from handsfree.session.computed_inputs import stage_behind
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.field_slots import mate_slot_name
from handsfree.session.group_read_back import has_both_sides, read_together, values_of
from handsfree.session.handlers.anew_of_a_side import say_anew_of_a_side
from handsfree.session.holds import MISHEARD
from handsfree.session.insisting import insisted_on
from handsfree.session.listening_context import said_again
from handsfree.session.modes import Mode
from handsfree.session.navigation import ahead_of, open_mates
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.hold_sentences import WasNowIs
from handsfree.session.prompts.sentence_codes import Correcting, InsistedOn, RefusedBecause
from handsfree.session.questions import prompt_text
from handsfree.session.read_back import read_back
from handsfree.session.section import in_reach
from handsfree.session.stages import is_computed, why_not_correctable
from handsfree.session.state import Corrected, Done, Hold, TakenValue
from handsfree.session.value_intake import (
    begun_with,
    complete,
    drop_unconfirmed,
    holds_by_itself,
    keep_half,
    kept,
    proposed,
    value_problem,
)
from handsfree.session.visit import name_of, side_of
from handsfree.session.ways import stage_to_correct

_UNCLEAR = {HowToSay.WHICH_SIDE: HowToSay.SIDE_FIRST, HowToSay.WHICH_ONE: HowToSay.WHICH_ONE}
"""What cannot be told of an earlier step, and how to say it: the whole correction once more."""


def take_values(now: EventContext) -> Reply:
    """Take one or more values; what is wrong with one does not touch the others, one said anew replaces it."""
    return _taken(now, _replaced(now))


def say_anew(now: EventContext) -> Reply:
    """Take values in place of those that are read back: all of the stage is read back once more."""
    command = now.said.command if now.said is not None else None
    again = {slot.slot for slot in said_again(now.visit, now.state)}
    if not isinstance(command, GiveValues) or not {given.slot for given in command.values} <= again:
        return now.refuse(RefusalCode.NO_VALUE_ASKED)
    together = read_together(now.visit.plan, now.stage, now.state)
    if has_both_sides(together):
        return say_anew_of_a_side(now, command.values, together)
    now.state.modes.pop(Mode.READING_BACK)
    reply = _taken(now, _replaced(now))
    if reply.keep == "going_on":
        # What waited for "affirmative" gives way to nothing that stands without.
        reply.keep = None
        now.state.modes.push(Mode.READING_BACK)
        reply.talk.append(read_back(now.visit, now.state))
    return reply


def _replaced(now: EventContext) -> Reply:
    """Drop what is said anew: it may not stand where the new value is not taken."""
    state, command = now.state, now.said.command if now.said is not None else None
    given = {given.slot for given in command.values} if isinstance(command, GiveValues) else set()
    reply = Reply()
    # What was said of the other hand is no answer to this one.
    same_hand = (one for one in read_together(now.visit.plan, now.stage, state) if one.role is now.stage.role)
    for stage in same_hand:
        here = stage.id == state.place
        values = state.pending if here else state.ahead[stage.id]
        names = given if here else {name.partition(".")[2] for name in given if name.startswith(f"{stage.step.id}.")}
        dropped = {name: kept(taken.value) for name, taken in values_of(stage, state).items() if name in names}
        for name in dropped:
            del values[name]
        if dropped:
            reply.facts.append(ValuesDropped(stage=name_of(stage, state.side), values=dropped))
    return reply


def hear_further(now: EventContext) -> Reply:
    """Words that went on after a pause, heard again as a whole: what was taken for them before gives way."""
    state, reply = now.state, Reply()
    if now.mode is Mode.DOUBTING:
        doubt, state.doubt = state.doubt, None
        state.modes.pop(Mode.DOUBTING)
        if doubt is not None:
            reply.facts.append(DoubtSettled(right=False, words=doubt.heard.text, heard=now.heard))
    short = begun_with(now)
    if now.mode is Mode.READING_BACK:
        state.modes.pop(Mode.READING_BACK)
    if short:
        reply.facts.append(ValuesDropped(stage=now.stage_name, values=short))
    for name in short:
        del state.pending[name]
    return _taken(now, reply)


def _taken(now: EventContext, reply: Reply) -> Reply:
    state = now.state
    command = now.said.command if now.said is not None else None
    assert isinstance(command, GiveValues)  # noqa: S101 - dispatch calls it for these
    wanted = {field.id: (now.stage, field) for field in now.stage.step.fields}
    for mate in open_mates(now.visit.plan, now.stage, state):
        wanted |= {mate_slot_name(mate, field): (mate, field) for field in mate.step.fields}
    problems: list[RefusalReason] = []
    for given in command.values:
        stage, field = wanted.get(given.slot, (now.stage, None))
        problem = Refusal(RefusalCode.NOT_ASKED_FOR) if field is None else _problem(now, stage, field, given)
        value = given.value
        if problem is not None or field is None:
            reason = problem or Refusal(RefusalCode.NOT_ASKED_FOR)
            reply.facts.append(
                ReadingRefused(
                    stage=name_of(stage, state.side),
                    field=field.id if field is not None else given.slot,
                    reason=reason,
                    heard=now.heard,
                )
            )
            amount = insisted_on(now, stage, field, given, reason) if field is not None else None
            if amount is None or field is None:
                problems.append(reason)
                continue
            value = Absent(AbsentReason.ERROR, amount)
            reply.say(InsistedOn(field.label, amount), priority=Priority.ATTENTION)
        taken = TakenValue(value, now.heard, asked=now.said is not None and now.said.asked)
        (state.pending if stage is now.stage else state.ahead.setdefault(stage.id, {}))[field.id] = taken
        reply.facts.append(proposed(now, stage, field, taken))
    if problems:
        reply.talk.append(Earcon.REFUSED)
        reply.say(RefusedBecause(problems[0]))
        return reply
    ahead = _read_back_first(now) or ahead_of(now.visit.plan, now.stage, state)
    if ahead is not None:
        reply.then, reply.stage = Then.ENTER, ahead
        return reply
    complete(now, reply)
    return reply


def _read_back_first(now: EventContext) -> Stage | None:
    """Another step of the group, where what was said for it holds the visit: what is half said here waits for it."""
    if holds_by_itself(now, now.stage):
        return None
    mates = open_mates(now.visit.plan, now.stage, now.state)
    grave = next((mate for mate in mates if holds_by_itself(now, mate)), None)
    if grave is not None:
        keep_half(now.state)
    return grave


def _problem(now: EventContext, stage: Stage, field: StepField, given: SlotValue) -> RefusalReason | None:
    """Why a value cannot be taken; None if it can."""
    side = side_of(now.stage, now.state.side)
    if given.side is not None and given.side is not side:
        return OtherSide(side) if side is not None else Refusal(RefusalCode.WITHOUT_A_SIDE)
    if now.stage.step.light_must_be_off and now.state.lit:
        return Refusal(RefusalCode.LIGHT_OFF_FIRST)
    return value_problem(now, stage, field, given)


def affirm_read_back(now: EventContext) -> Reply:
    """Take "affirmative" to a read-back: the values are kept."""
    return Reply(keep="affirmed" if now.mode is Mode.READING_BACK else None)


def dispute(now: EventContext) -> Reply:
    """Take "negative" to a read-back: nothing is kept as confirmed; all of the stage may be said again."""
    state = now.state
    together = read_together(now.visit.plan, now.stage, state)
    reply = Reply(
        [
            ReadBackDisputed(
                stage=name_of(stage, state.side),
                values={name: kept(taken.value) for name, taken in values_of(stage, state).items()},
            )
            for stage in together
        ]
    )
    drop_unconfirmed(state)
    state.ahead.clear()
    state.modes.pop(Mode.READING_BACK)
    reply.say(Fixed.NOT_RECORDED)
    if len(together) > 1:
        reply.then, reply.stage = Then.ENTER, together[0]
    return reply


def correct(now: EventContext) -> Reply:
    """Take "correction": drop what is unconfirmed, or open the last answered stage to be said again."""
    reply = _opened(now)
    if reply.then is Then.REOPEN and reply.stage is not None:
        reply.say(Correcting(prompt_text(now.visit, reply.stage, now.state)))
    return reply


def correct_to(now: EventContext) -> Reply:
    """Take "correction" with what is right, at a hold: its stage is opened, and that is said anew; the rest stands."""
    state, said = now.state, now.said
    assert said is not None and isinstance(said.command, GiveValues)  # noqa: S101, PT018 - dispatch calls it for these
    reply, given = _opened(now), said.command.values
    if reply.then is not Then.REOPEN or reply.stage is None:
        return reply
    stage = reply.stage
    if state.narrated and not stage.number:
        side = side_of(stage, state.side)
        given = tuple(SlotValue(f"{stage.step.id}.{one.slot}", one.value, one.side or side) for one in given)
        reply.redo = replace(said, command=GiveValues(given))
        return reply
    return _say_anew_in(now, reply, stage, given)


def correct_earlier(now: EventContext) -> Reply:
    """Take "correction" with what is right of an earlier step of the phase: that is said anew, its rest stands."""
    state, command = now.state, now.said.command if now.said is not None else None
    assert isinstance(command, GiveValues)  # noqa: S101 - dispatch calls it for these
    targets: dict[str, Stage] = {}
    for given in command.values:
        step_id, _, field_id = given.slot.partition(".")
        stages = [stage for stage in in_reach(now.visit, state) if stage.step.id == step_id]
        label = next(field.label for field in stages[0].step.fields if field.id == field_id)
        if isinstance(given.value, NeedsAsking) and given.value.code in _UNCLEAR:
            return now.refuse(SayItSo(label, _UNCLEAR[given.value.code], given.value.arguments))
        target = next((stage for stage in stages if side_of(stage, state.side) is given.side), None)
        if target is None:
            side = side_of(stages[0], state.side)
            return now.refuse(OtherSide(side) if side is not None else RefusalCode.WITHOUT_A_SIDE)
        targets[target.id] = target
    if len(targets) > 1:
        return now.refuse(RefusalCode.ONE_STEP_AT_A_TIME)
    target = next(iter(targets.values()))
    if target.id not in state.answers:
        return now.refuse(RefusalCode.NOTHING_RECORDED_OF_IT)
    reply = _reopen(now, target)
    values = tuple(replace(one, slot=one.slot.partition(".")[2]) for one in command.values)
    return _say_anew_in(now, reply, target, values) if reply.then is Then.REOPEN else reply


def _say_anew_in(now: EventContext, reply: Reply, stage: Stage, given: tuple[SlotValue, ...]) -> Reply:
    """Take values for a stage that was opened; what else was answered there stands."""
    named, said = {one.slot for one in given}, now.said
    assert said is not None  # noqa: S101 - they were said
    answered = now.state.answers.get(stage.id, {})
    now.state.pending.update({name: taken for name, taken in answered.items() if name not in named})
    reply.redo = replace(said, command=GiveValues(given))
    return reply


def _opened(now: EventContext) -> Reply:
    """What is unconfirmed is dropped; where nothing is, a stage is opened to be answered anew."""
    state, plan = now.state, now.visit.plan
    waiting = [] if state.reviewing else _waiting(now)
    if not state.reviewing:
        # What was said of the other hand stays, unless it was said last.
        said_here = bool(state.unconfirmed) or (bool(waiting) and waiting[0].role is now.stage.role)
        other = {stage.id for stage in read_together(plan, now.stage, state) if stage.role is not now.stage.role}
        left = {name: values for name, values in state.ahead.items() if said_here and name in other}
        dropped = [_dropped(now, stage) for stage in waiting if stage.id not in left]
        state.ahead = left
    if state.unconfirmed:
        here = ValuesDropped(stage=now.stage_name, values=drop_unconfirmed(state))
        return Reply([here, *dropped], then=Then.ASK)
    if waiting:
        return Reply([*dropped], then=Then.ENTER, stage=waiting[-1] if said_here else waiting[0])
    target_id = now.stage.id if state.reviewing else state.last_answered
    target = plan.stage(target_id) if target_id is not None else None
    if now.mode is Mode.HELD:
        target = stage_to_correct(plan, state)
    elif target is not None and is_computed(target):
        target = stage_behind(plan, target, state)
    if target is None:
        return now.refuse(RefusalCode.NOTHING_TO_CORRECT)
    return _reopen(now, target)


def _waiting(now: EventContext) -> list[Stage]:
    """What was said before and waits for the same read-back: of the hand of now, else of the other."""
    together = read_together(now.visit.plan, now.stage, now.state)
    waiting = [stage for stage in together if stage.id in now.state.ahead]
    return [stage for stage in waiting if stage.role is now.stage.role] or waiting


def _dropped(now: EventContext, stage: Stage) -> ValuesDropped:
    values = {name: kept(taken.value) for name, taken in now.state.ahead[stage.id].items()}
    return ValuesDropped(stage=name_of(stage, now.state.side), values=values)


def _reopen(now: EventContext, target: Stage) -> Reply:
    """Open a stage to be answered anew."""
    state = now.state
    refusal = why_not_correctable(now.visit, target, state)
    if refusal is not None:
        return now.refuse(refusal)
    again = state.again & {f"{target.id}.{field.id}" for field in target.step.fields}
    before = Corrected(
        state.done.pop(target.id, None), state.taught.pop(target.id, 0), frozenset(again), state.done_s.get(target.id)
    )
    state.corrected.setdefault(target.id, before)
    state.told.discard(target.id)
    state.pending.clear()
    # A first value that was misheard was not measured; one that was taken again stays the second.
    state.again -= again
    return Reply([CorrectionOpened(stage=name_of(target, state.side))], then=Then.REOPEN, stage=target)


def affirm_misheard(now: EventContext) -> Reply:
    """The first value was misheard: both stay on record, and its hold goes."""
    state = now.state
    hold = _misheard(now)
    reply = Reply(
        [HoldLifted(hold=hold.kind, grounds=hold.grounds, role=None, reason=MISHEARD, code=None, heard=now.heard)],
        [Earcon.RECORDED],
    )
    state.holds.remove(hold)
    if not state.held_at(hold.stage_id):
        state.done[hold.stage_id] = Done.ANSWERED
    reply.then = Then.HOLD if state.red or state.held_at(state.place) else Then.GO_ON
    return reply


def deny_misheard(now: EventContext) -> Reply:
    """The first value was right when it was said: its hold stays, with both values told."""
    misheard = now.state.misheard
    assert misheard is not None  # noqa: S101 - the mode is entered with one
    hold = _misheard(now)
    reply = Reply([HoldKept(grounds=hold.grounds, heard=now.heard)], then=Then.HOLD)
    reply.say(WasNowIs(misheard.label, misheard.was, misheard.now), priority=Priority.ATTENTION)
    return reply


def _misheard(now: EventContext) -> Hold:
    misheard = now.state.misheard
    assert misheard is not None  # noqa: S101 - the mode is entered with one
    now.state.misheard = None
    now.state.modes.pop(Mode.MISHEARD)
    return misheard.hold
