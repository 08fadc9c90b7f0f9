"""Steps: confirmed, denied, told, taught, looked at again, left out."""

from handsfree.model.effects import Earcon
from handsfree.model.facts import (
    AnyFact,
    CorrectionDropped,
    ItemTaught,
    RepeatEnded,
    RepeatReopened,
    SkipDropped,
    StepConfirmed,
    StepDenied,
    StepSkipped,
    StepTold,
    ValuesDropped,
)
from handsfree.model.refusals import RefusalCode, TooFew
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.modes import Mode
from handsfree.session.named_steps import stage_named
from handsfree.session.navigation import earlier
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import FileText
from handsfree.session.question_baseline import question_baseline
from handsfree.session.questions import recorded_words, why_skipped
from handsfree.session.stages import applies, times_done
from handsfree.session.state import Done
from handsfree.session.value_intake import drop_unconfirmed, keep_half
from handsfree.session.visit import name_of
from handsfree.session.ways import may_leave_zone
from handsfree.session.zones import is_owed


def confirm_step(now: EventContext) -> Reply:
    """Take "affirmative" to a step that is done by hand, told, or taught."""
    stage, state = now.stage, now.state
    if stage.step.kind == "teach":
        return _item_taught(now)
    state.done[stage.id] = Done.TOLD if stage.step.kind == "tell" else Done.CONFIRMED
    state.corrected.pop(stage.id, None)
    state.last_answered = stage.id
    fact = StepConfirmed(stage=now.stage_name, step=stage.step.id, heard=now.heard)
    return Reply([fact], [Earcon.RECORDED], Then.GO_ON)


def _item_taught(now: EventContext) -> Reply:
    """The next item was taught; where all are said in one go, those that were told, then those that were said back."""
    stage, state = now.stage, now.state
    items = stage.step.items
    taught = items[state.taught.get(stage.id, 0) :][:1]
    if stage.step.together:
        taught = tuple(item for item in items if item.teach_back is (stage.id in state.told))
        state.told.add(stage.id)
    facts: list[AnyFact] = [
        ItemTaught(stage=now.stage_name, item=item.id, said=item.say, teach_back=item.teach_back) for item in taught
    ]
    state.taught[stage.id] = state.taught.get(stage.id, 0) + len(taught)
    if state.taught[stage.id] < len(items):
        return Reply(facts, [Earcon.RECORDED if facts else Earcon.HEARD], Then.ASK)
    state.told.discard(stage.id)
    state.done[stage.id] = Done.TAUGHT
    state.corrected.pop(stage.id, None)
    state.last_answered = stage.id
    return Reply(facts, [Earcon.RECORDED], Then.GO_ON)


def deny_step(now: EventContext) -> Reply:
    """Take "negative" to a step: it is not done."""
    reply = Reply([StepDenied(stage=now.stage_name, step=now.stage.step.id)], [Earcon.REFUSED])
    reply.say(Fixed.NOT_DONE)
    return reply


def next_step(now: EventContext) -> Reply:
    """Take "next step": from a review back to the work, from a told step ahead; never past what is owed."""
    stage, state = now.stage, now.state
    if now.mode is Mode.OPEN_ITEMS or state.reviewing:
        state.reviewing = False
        return Reply(then=Then.GO_ON)
    if stage.id in state.corrected:
        return _take_back(now)
    if stage.step.kind == "tell":
        state.done[stage.id] = Done.TOLD
        return Reply([StepTold(stage=now.stage_name)], then=Then.GO_ON)
    reply = now.refuse(RefusalCode.ANSWER_NEEDED if stage.step.hard else RefusalCode.ANSWER_OR_SKIP)
    if _owes_light(now):
        reply.say(Fixed.LIGHT_OR_LEAVE, passing=True)
    return reply


def _owes_light(now: EventContext) -> bool:
    """Whether the visit stands at a zone that is short of its seconds, and that can be left so."""
    state = now.state
    return may_leave_zone(now.stage, state) and state.zone_id is not None and is_owed(state.zone_id, state)


def _take_back(now: EventContext) -> Reply:
    """A correction that nobody meant: what stood before stands again, and is said."""
    stage, state = now.stage, now.state
    before = state.corrected.pop(stage.id)
    reply = Reply(then=Then.GO_ON)
    if state.unconfirmed:
        reply.facts.append(ValuesDropped(stage=now.stage_name, values=drop_unconfirmed(state)))
    state.pending.clear()
    if before.done is not None:
        state.done[stage.id] = before.done
    if before.done is not None and before.done_s is not None:
        state.done_s[stage.id] = before.done_s
    if before.taught:
        state.taught[stage.id] = before.taught
    state.again |= before.again
    reply.facts.append(CorrectionDropped(stage=now.stage_name))
    reply.say(Fixed.NOTHING_CHANGED, FileText(recorded_words(now.visit, now.wording, stage, state)))
    return reply


def previous_step(now: EventContext) -> Reply:
    """Look at the step before, without changing anything."""
    before = earlier(now.visit.plan, now.state)
    if before is None:
        return now.refuse(RefusalCode.FIRST_STEP)
    keep_half(now.state)
    return Reply(then=Then.REVIEW, stage=before)


def go_to(now: EventContext) -> Reply:
    """Go to a step by its name: to look at it where it is done, else to answer it now."""
    stage = stage_named(now.visit.plan, now.chosen, now.state)
    if stage is None:
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    keep_half(now.state)
    reply = Reply(then=Then.REVIEW if stage.id in now.state.done else Then.ENTER, stage=stage)
    if stage.number and not applies(stage, now.state):
        del now.state.ended[stage.step.id]
        reply.facts.append(RepeatReopened(step=stage.step.id, stage=name_of(stage, now.state.side)))
    return reply


def end_repeat(now: EventContext) -> Reply:
    """Take "that was the last": a repeated step is done as often as it was, if that is often enough."""
    stage, state = now.stage, now.state
    repeat, done = stage.step.repeat, times_done(stage.step, state)
    if repeat is None or state.unconfirmed:
        return now.refuse(RefusalCode.NOT_NOW if repeat is None else RefusalCode.ANSWER_NEEDED)
    if done < repeat.least:
        return now.refuse(TooFew(repeat.name, done, repeat.least))
    state.ended[stage.step.id] = done
    return Reply([RepeatEnded(step=stage.step.id, count=done, heard=now.heard)], [Earcon.RECORDED], Then.GO_ON)


def ask_skip(now: EventContext) -> Reply:
    """Take "skip this step": soft steps only, with a reason."""
    if now.stage.step.hard or now.stage.step.kind == "expose":
        return now.refuse(RefusalCode.CANNOT_BE_SKIPPED)
    now.state.modes.push(Mode.SKIP_REASON)
    reply = Reply()
    reply.say(why_skipped(now.visit))
    return reply


def take_skip_reason(now: EventContext) -> Reply:
    """Leave a soft step out, for the reason that was said."""
    reason = now.chosen
    if reason not in now.visit.procedure.skip_reasons:
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    stage, state = now.stage, now.state
    state.modes.pop(Mode.SKIP_REASON)
    state.done[stage.id] = Done.SKIPPED
    state.corrected.pop(stage.id, None)
    state.pending.clear()
    reply = Reply([StepSkipped(stage=now.stage_name, step=stage.step.id, reason=reason)], then=Then.GO_ON)
    if stage.names_patient:
        question_baseline(now, reply)
    return reply


def drop_skip(now: EventContext) -> Reply:
    """Take "negative" or "correction" to the reason of a skip: nothing is left out."""
    now.state.modes.pop(Mode.SKIP_REASON)
    return Reply([SkipDropped(stage=now.stage_name)], then=Then.ASK)
