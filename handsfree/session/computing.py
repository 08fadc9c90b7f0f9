"""Computed values: computed as soon as all they come from is answered, said, judged, and anew after each correction.

Part of `after_handler`. What they were computed from stands in the fact. A value that is missing makes no guess: the
computed one is missing too, flagged as any gap.
"""

from dataclasses import replace
from decimal import Decimal

from handsfree.definition.computed_form import result_of
from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.definition.verbalization import value_words
from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import ReadingAmended, ReadingConfirmed, Utterance
from handsfree.model.reading_facts import Computation, ComputedFrom
from handsfree.model.readings import Absent, AbsentReason, Exact
from handsfree.model.reasons import Severity
from handsfree.session.computed_inputs import ComputedInput, inputs_of
from handsfree.session.confirmed_values import act_on, judged_now, lift_holds
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.following_conditions import conditional_stages, follow_conditions
from handsfree.session.holds import HELD_AGAINST_ANOTHER_VALUE, lifted_with_cause
from handsfree.session.prompts.following_sentences import ComputedIs, InputMissing, NoSingleNumber, NotComputed
from handsfree.session.stages import applies, is_computed
from handsfree.session.state import Done, Hold, Misheard, SessionState, TakenValue
from handsfree.session.value_intake import kept, stated
from handsfree.session.visit import name_of

_MISSING = Absent(AbsentReason.NOT_PERFORMED)


def compute(now: EventContext, reply: Reply) -> None:
    """Compute what can be computed, and anew what was corrected; in the order of the file, since one feeds another."""
    state, plan = now.state, now.visit.plan
    held = len(state.holds)
    for stage in plan.stages:
        if not is_computed(stage) or not applies(stage, state):
            continue
        inputs = {
            field.id: inputs_of(plan, stage, field.computed, state) for field in stage.step.fields if field.computed
        }
        settled = all(
            one.stage.id in state.done or not applies(one.stage, state) for each in inputs.values() for one in each
        )
        if settled:
            _compute_stage(now, reply, stage, inputs)
    if len(state.holds) > held and reply.then is not Then.HOLD:
        reply.then = Then.GO_ON


def _compute_stage(now: EventContext, reply: Reply, stage: Stage, inputs: dict[str, tuple[ComputedInput, ...]]) -> None:
    state = now.state
    answers = state.answers.setdefault(stage.id, {})
    conditional = conditional_stages(now.visit.plan, state)
    again, changed = bool(answers), False
    for field in stage.step.fields:
        assert field.computed is not None and field.number is not None  # noqa: S101, PT018 - its form says so
        given = tuple(_stated(now, one) for one in inputs[field.id])
        known = [one.value for one in given]
        value = result_of(field.computed.how, known, field.number.decimals, field.number.unit)
        taken = TakenValue(value or _MISSING, _unsaid(state))
        before = answers.get(field.id)
        if before is not None and before.value == taken.value:
            continue
        changed = True
        _keep(now, reply, stage, field, taken, Computation(how=field.computed.how, inputs=given))
    if not changed:
        return
    state.done[stage.id] = Done.ANSWERED
    for field in stage.step.fields:
        act_on(now, reply, stage, field, answers[field.id])
    if state.held_at(stage.id):
        del state.done[stage.id]
    follow_conditions(now, reply, conditional, corrected=again)


def _stated(now: EventContext, one: ComputedInput) -> ComputedFrom:
    """A value that something is computed from; one that is missing has no value."""
    state = now.state
    name = name_of(one.stage, state.side)
    if not one.field_id:
        done_s = state.done_s.get(one.stage.id)
        moment = Exact(Decimal(str(round(done_s, 1))), 1) if done_s is not None else _MISSING
        return ComputedFrom(stage=name, field="", value=moment, unit="s")
    taken = state.answers.get(one.stage.id, {}).get(one.field_id) if applies(one.stage, state) else None
    field = next(field for field in one.stage.step.fields if field.id == one.field_id)
    unit = field.number.unit if field.number is not None else None
    value = kept(taken.value) if taken is not None else _MISSING
    return ComputedFrom(stage=name, field=one.field_id, value=value, unit=unit)


def _unsaid(state: SessionState) -> Utterance:
    return Utterance(
        text="",
        probability=1.0,
        runner_up=None,
        engine="computed",
        spoken_from_s=round(state.now_s, 3),
        spoken_to_s=round(state.now_s, 3),
    )


def _keep(
    now: EventContext, reply: Reply, stage: Stage, field: StepField, taken: TakenValue, computation: Computation
) -> None:
    """Put a computed value on record, say it, and take back a stop that it had set."""
    state = now.state
    before = state.answers[stage.id].get(field.id)
    judgement = judged_now(now, stage, field, taken.value)
    judged = replace(taken, severity=judgement.severity, grounds=judgement.grounds)
    members = stated(stage, field, judged, state.side)
    if before is None:
        reply.facts.append(ReadingConfirmed(**members, read_back="computed", computed=computation))
    else:
        reply.facts.append(
            ReadingAmended(
                **members, read_back="computed", computed=computation, old_value=kept(before.value), why="recomputed"
            )
        )
        if before.severity is Severity.STOP:
            lift_holds(now, reply, lifted_with_cause(state.holds, stage.id, before.grounds), HELD_AGAINST_ANOTHER_VALUE)
        _ask_whether_misheard(now, stage, field, before, judged)
    state.answers[stage.id][field.id] = judged
    state.accepted_gaps.discard(f"{stage.id}.{field.id}")
    reply.talk.append(Earcon.RECORDED)
    reply.say(_told(now, field, judged, computation), priority=Priority.INFORMATION)


def _told(
    now: EventContext, field: StepField, judged: TakenValue, computation: Computation
) -> ComputedIs | NotComputed:
    """A computed value, or what is missing for it."""
    if not isinstance(judged.value, Absent):
        return ComputedIs(field.label, value_words(field, judged.value))
    names = now.visit.plan.names
    lacking: list[InputMissing | NoSingleNumber] = []
    for one in computation.inputs:
        name = names.reading(one.stage, one.field) if one.field else names.stage(one.stage)
        if isinstance(one.value, Absent):
            lacking.append(InputMissing(name))
        elif not isinstance(one.value, Exact):
            lacking.append(NoSingleNumber(name))
    return NotComputed(field.label, tuple(lacking))


def _ask_whether_misheard(
    now: EventContext, stage: Stage, field: StepField, before: TakenValue, judged: TakenValue
) -> None:
    """A red computed value is red no more, because one behind it was corrected: was that misheard?"""
    hold = _red_hold(now.state, stage, field)
    if hold is None or before.severity is not Severity.RED or judged.severity is Severity.RED:
        return
    was, is_now = (value_words(field, one.value, short=True) for one in (before, judged))
    now.state.misheard = Misheard(hold, field.label, was, is_now)


def _red_hold(state: SessionState, stage: Stage, field: StepField) -> Hold | None:
    return next(
        (one for one in state.holds if (one.kind, one.stage_id, one.field_id) == ("red", stage.id, field.id)), None
    )
