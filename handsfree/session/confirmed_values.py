"""Confirmed values: judged by the limits, put on record, and what they lead to. Part of `settle`."""

from collections.abc import Container, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Literal

from handsfree.definition.form import DUE_UNITS, StepField
from handsfree.definition.plan import SideRole, Stage
from handsfree.definition.verbalization import value_words
from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import (
    DueSet,
    HoldLifted,
    KindDeclared,
    OperatorDeclared,
    PatientReferenceDeclared,
    ReadingAmended,
    ReadingClassedAgain,
    ReadingConfirmed,
    RepeatAsked,
    RoleDeclared,
    SideDeclared,
    SizeChosen,
)
from handsfree.model.reading_facts import ReadBackWay
from handsfree.model.readings import Absent, Exact, Option, Side, SpelledText, plain, value_text
from handsfree.model.reasons import Severity
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.field_slots import number_words
from handsfree.session.following_conditions import conditional_stages, follow_conditions
from handsfree.session.holds import (
    ANSWERED_AGAIN,
    HELD_AGAINST_ANOTHER_VALUE,
    hold_for_differing_answers,
    hold_for_size,
    hold_of,
    lifted_with_cause,
)
from handsfree.session.limits import Classification
from handsfree.session.modes import Mode
from handsfree.session.prompts.sentence_codes import DueAt, DueAtOn, Echo, Flagged, Prompt, SizeIs
from handsfree.session.question_baseline import question_baseline
from handsfree.session.questions import keep_for_repeat
from handsfree.session.second_person import note_second_person
from handsfree.session.set_hold import set_hold
from handsfree.session.sizing import size_for
from handsfree.session.state import Done, Hold, Misheard, TakenValue
from handsfree.session.value_intake import judged_now, kept, stated
from handsfree.session.visit import name_of
from handsfree.stamps import stamp


def keep_values(now: EventContext, reply: Reply, how: ReadBackWay) -> None:
    """Keep the pending values of the stage as confirmed, class them, and say where the visit goes on.

    Args:
        now: The context; the stage is where it stands.
        reply: Takes the facts and what is said; its `then` is set.
        how: "affirmed" after an explicit read-back, "echo" where the value is only said, "going_on" where it stands
            unless somebody objects.
    """
    stage, state = now.stage, now.state
    given = set(state.unconfirmed)
    answers = state.answers.setdefault(stage.id, {})
    earlier = {field_id: answers[field_id] for field_id in given & answers.keys()}
    conditional = conditional_stages(now.visit.plan, state)
    for field in stage.step.fields:
        if field.id in state.pending:
            _keep(now, reply, field, how)
    state.pending.clear()
    state.digit_by_digit.clear()
    whole = all(field.id in answers for field in stage.step.fields)
    if whole:
        state.done[stage.id] = Done.ANSWERED
        state.corrected.pop(stage.id, None)
    state.last_answered = stage.id
    state.modes.rest(Mode.ASKING)
    reply.talk.append(Earcon.HEARD if how == "going_on" else Earcon.RECORDED)
    if how == "echo":
        words = "; ".join(
            value_words(field, answers[field.id].value) for field in stage.step.fields if field.id in answers
        )
        reply.say(Echo(words), priority=Priority.INFORMATION)
    _take_effect(now, reply, given, whole=whole)
    follow_conditions(now, reply, conditional, corrected=bool(earlier))
    if state.red or state.held_at(stage.id):
        state.misheard = _misheard(now, earlier)
        if state.misheard is None:
            _tell_flags_last(reply)
        reply.then = Then.HOLD
    elif not (whole and _take_again(now, reply)):
        reply.then = Then.GO_ON


def _tell_flags_last(reply: Reply) -> None:
    """Where the visit is held, what is to be done is said before what is only flagged."""
    for told in [one for one in reply.talk if isinstance(one, Prompt) and isinstance(one.sentences[0], Flagged)]:
        reply.talk.remove(told)
        reply.told_last.append(told)


def _misheard(now: EventContext, earlier: Mapping[str, TakenValue]) -> Misheard | None:
    """The question whether a value that set a red hold was misheard, where another one took its place in time.

    Once anything else was done at the hold, the first value was acted upon: then it stands beside the new one.
    """
    state = now.state
    for hold in state.holds:
        before = earlier.get(hold.field_id or "") if hold.stage_id == now.stage.id and hold.kind == "red" else None
        if before is None or before.severity is not Severity.RED:
            continue
        field = next(field for field in now.stage.step.fields if field.id == hold.field_id)
        taken = state.answers[now.stage.id][field.id]
        if taken.severity is Severity.RED:
            continue
        was, is_now = (value_words(field, one.value, now.visit.band_of(field), short=True) for one in (before, taken))
        return Misheard(hold, " ".join(filter(None, (number_words(now.stage), field.label))), was, is_now)
    return None


def _keep(now: EventContext, reply: Reply, field: StepField, how: ReadBackWay) -> None:
    stage, state = now.stage, now.state
    taken, before = state.pending[field.id], state.answers[stage.id].get(field.id)
    if before is taken:
        return
    name = f"{stage.id}.{field.id}"
    if state.standing.pop(name, None) is not None:
        before = None  # never confirmed, so nothing on record is amended
    repeating = name in state.again
    if repeating:
        state.again.discard(name)
        state.repeated.add(name)
    judgement = judged_now(now, stage, field, taken.value)
    judged = replace(taken, severity=judgement.severity, grounds=judgement.grounds)
    members = stated(stage, field, judged, state.side)
    if before is None and how == "going_on":
        state.standing[name] = ReadingConfirmed(**members, read_back=how)
    elif before is None:
        reply.facts.append(ReadingConfirmed(**members, read_back=how))
    else:
        why: Literal["repeated", "corrected"] = "repeated" if repeating else "corrected"
        reply.facts.append(ReadingAmended(**members, read_back=how, old_value=kept(before.value), why=why))
    state.answers[stage.id][field.id] = judged
    state.accepted_gaps.discard(name)
    state.refused.pop(name, None)


def _take_effect(now: EventContext, reply: Reply, given: set[str], *, whole: bool) -> None:
    """What confirmed values lead to: the kind of visit, the side, the size, holds; a flag is told once."""
    stage, state = now.stage, now.state
    answers = state.answers[stage.id]
    # A new answer that stops nothing replaces the stop of the old one; a red hold stays.
    lift_holds(now, reply, lifted_with_cause(state.holds, stage.id), ANSWERED_AGAIN)
    _declare(now, reply, given)
    question_baseline(now, reply)
    if stage.step.agree and len({value_text(taken.value) for taken in answers.values()}) > 1:
        set_hold(now, reply, hold_for_differing_answers(stage))
    if stage.step.size_from is not None and whole:
        _choose_size(now, reply)
    _tell_due(now, reply)
    if whole:
        note_second_person(now, reply)
    for field in stage.step.fields:
        taken = answers.get(field.id)
        if taken is not None and (field.id in given or taken.severity is not Severity.AMBER):
            act_on(now, reply, stage, field, taken)
    _judge_others_again(now, reply)
    if state.held_at(stage.id):
        state.done.pop(stage.id, None)


def lift_holds(now: EventContext, reply: Reply, holds: list[Hold], because: str) -> None:
    """Lift holds whose cause went away, on record."""
    for hold in holds:
        now.state.holds.remove(hold)
        reply.facts.append(
            HoldLifted(hold=hold.kind, grounds=hold.grounds, role=None, reason=because, code=None, heard=None)
        )


def act_on(now: EventContext, reply: Reply, stage: Stage, field: StepField, taken: TakenValue) -> None:
    """What the class of one value leads to."""
    hold = hold_of(stage, field.id, taken.severity, taken.grounds)
    if hold is not None:
        set_hold(now, reply, hold)
    elif taken.severity is Severity.AMBER and taken.grounds is not None:
        reply.talk.append(Earcon.ATTENTION)
        reply.say(Flagged(taken.grounds), priority=Priority.INFORMATION)


def _judge_others_again(now: EventContext, reply: Reply) -> None:
    """A corrected baseline, or a corrected injured side, changes what other readings were held against."""
    changed, state = now.stage, now.state
    for stage in now.visit.plan.stages:
        for field in stage.step.fields:
            taken = state.answers.get(stage.id, {}).get(field.id)
            before = field.compare is not None and field.compare.with_ == changed.step.id and stage.role is changed.role
            beside = field.sides is not None and stage.step.id == changed.step.id and stage.role is not changed.role
            if taken is not None and (before or beside):
                _judge_again(now, reply, stage, field, taken)
    judge_compared_again(now, reply)


def judge_compared_again(now: EventContext, reply: Reply) -> None:
    """Class anew what is compared with an earlier record: that may be left out now, or taken in."""
    for stage in now.visit.plan.stages:
        for field in stage.step.fields:
            taken = now.state.answers.get(stage.id, {}).get(field.id)
            if taken is not None and field.compare is not None and field.compare.earlier:
                _judge_again(now, reply, stage, field, taken)


def _judge_again(now: EventContext, reply: Reply, stage: Stage, field: StepField, taken: TakenValue) -> None:
    """Class one value anew, because what it is held against has changed; nothing where the class stays."""
    state, judgement = now.state, judged_now(now, stage, field, taken.value)
    if judgement == Classification(taken.severity, taken.grounds):
        return
    again = replace(taken, severity=judgement.severity, grounds=judgement.grounds)
    state.answers[stage.id][field.id] = again
    reply.facts.append(
        ReadingClassedAgain(
            stage=name_of(stage, state.side),
            step=stage.step.id,
            field=field.id,
            severity=judgement.severity,
            grounds=judgement.grounds,
        )
    )
    if taken.severity is Severity.STOP:
        lift_holds(now, reply, lifted_with_cause(state.holds, stage.id, taken.grounds), HELD_AGAINST_ANOTHER_VALUE)
        if not state.held_at(stage.id):
            state.done.setdefault(stage.id, Done.ANSWERED)
    act_on(now, reply, stage, field, again)
    if judgement.severity is Severity.STOP:
        # Held where the value stands: it is owed again, and answered for there.
        state.done.pop(stage.id, None)


def _declare(now: EventContext, reply: Reply, given: Container[str]) -> None:
    """What the file says that an answer declares of the whole visit."""
    stage, state, procedure = now.stage, now.state, now.visit.procedure
    for field_id, taken in state.answers[stage.id].items():
        if state.narrated and field_id not in given:
            continue
        name, value = f"{stage.step.id}.{field_id}", taken.value
        if isinstance(value, Option) and name == procedure.kind_from:
            state.practice = value.value == "practice"
            reply.facts.append(KindDeclared(declared="practice" if state.practice else "live"))
        elif isinstance(value, Option) and name == procedure.side_from:
            state.side = Side(value.value)
            reply.facts.append(SideDeclared(side=state.side))
        elif isinstance(value, SpelledText) and name == procedure.patient_from:
            state.patient_reference = value.text
            reply.facts.append(PatientReferenceDeclared(reference=value.text))
        elif isinstance(value, Option | SpelledText) and name == procedure.operator_from:
            state.operator = value_text(value)
            reply.facts.append(OperatorDeclared(operator=state.operator))
        elif isinstance(value, Option) and name == procedure.role_from:
            state.operator_role = value.value
            reply.facts.append(RoleDeclared(role=value.value))


def _choose_size(now: EventContext, reply: Reply) -> None:
    stage = now.stage
    chart = now.visit.device.size_chart if now.visit.device is not None else None
    sizing = size_for(chart, [taken.value for taken in now.state.answers[stage.id].values()])
    if sizing.mean is not None and chart is not None:
        now.state.size = sizing.size
        mean = Decimal(plain(sizing.mean))
        reply.facts.append(SizeChosen(size=sizing.size, mean=mean, unit=chart.unit, landmark=chart.landmark))
        if sizing.size is not None:
            reply.say(SizeIs(sizing.size, mean), priority=Priority.INFORMATION)
    if sizing.ground is not None:
        set_hold(now, reply, hold_for_size(stage, sizing.ground))


def _tell_due(now: EventContext, reply: Reply) -> None:
    """Say and record when what was put off is due, by the local clock."""
    stage = now.stage
    for field in stage.step.fields:
        taken = now.state.answers[stage.id].get(field.id)
        if field.number is None or not field.number.due or taken is None or not isinstance(taken.value, Exact):
            continue
        moment = datetime.fromisoformat(now.event.wall)
        unit = DUE_UNITS[field.number.unit]
        due = moment + float(taken.value.value) * unit
        reply.facts.append(
            DueSet(
                stage=name_of(stage, now.state.side),
                step=stage.step.id,
                field=field.id,
                due=stamp(due.astimezone(UTC)),
                value=taken.value,
                unit_s=unit.total_seconds(),
            )
        )
        zone = timezone(timedelta(minutes=now.state.local_offset_minutes))
        there, here = due.astimezone(zone), moment.astimezone(zone)
        clock = f"{there:%H%M}"
        told = DueAtOn(clock, there.date()) if there.date() != here.date() else DueAt(clock)
        reply.say(told, priority=Priority.INFORMATION)


def _take_again(now: EventContext, reply: Reply) -> bool:
    """Ask once more for flagged values where the file says so; what else was answered stands."""
    stage, state = now.stage, now.state
    if stage.role is SideRole.OTHER:
        return False
    answers = state.answers[stage.id]
    flagged = tuple(
        field.id
        for field in stage.step.fields
        if field.again is not None
        and answers[field.id].severity is Severity.AMBER
        and not isinstance(answers[field.id].value, Absent)
        and f"{stage.id}.{field.id}" not in state.repeated
    )
    if not flagged:
        return False
    state.again.update(f"{stage.id}.{field_id}" for field_id in flagged)
    state.done.pop(stage.id, None)
    keep_for_repeat(stage, state)
    reply.facts.append(RepeatAsked(stage=now.stage_name, fields=flagged))
    reply.then = Then.ASK
    return True
