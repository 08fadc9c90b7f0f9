"""What taking a value leads to, said or scanned: does it fit, its class, what is read back, how it is stated."""

from collections.abc import Mapping
from datetime import date
from typing import TypedDict

from handsfree.definition.form import StepField
from handsfree.definition.plan import SideRole, Stage
from handsfree.definition.value_checking import FitFault, misfit_of
from handsfree.model.baseline import place
from handsfree.model.commands import GiveValues, SlotValue
from handsfree.model.effects import Earcon
from handsfree.model.facts import AnyFact, KeptValue, Phase, ReadingProposed, ReadingRefused, Utterance
from handsfree.model.patient_reference import reference_fault
from handsfree.model.readings import (
    Absent,
    Ambiguous,
    Between,
    Beyond,
    Exact,
    HowToSay,
    NeedsAsking,
    Option,
    Refused,
    Side,
    SpelledText,
    SpokenDate,
    SpokenValue,
    Timing,
)
from handsfree.model.reasons import Grounds, Severity
from handsfree.model.refusals import (
    DateTooEarly,
    DateTooLate,
    Decimals,
    DoesNotFit,
    FitCode,
    NoReference,
    OutOfRange,
    Refusal,
    RefusalCode,
    RefusalReason,
    SayItSo,
    TooFarApart,
)
from handsfree.session.baseline_fit import compared_with
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.field_slots import number_words
from handsfree.session.group_read_back import is_grave, is_shared, next_of_group, values_of
from handsfree.session.limits import Classification, HeldAgainst, apart, judge
from handsfree.session.modes import Mode
from handsfree.session.prompts.sentence_codes import RefusedBecause
from handsfree.session.read_back import must_be_confirmed, read_back
from handsfree.session.second_person import code_problem
from handsfree.session.state import SessionState, TakenValue
from handsfree.session.visit import name_of, side_of

_CODES = {
    FitFault.NEEDS_ONE_NUMBER: FitCode.ONE_NUMBER,
    FitFault.NEEDS_ANSWER: FitCode.AN_ANSWER,
    FitFault.NOT_LISTED: FitCode.NOT_ON_THE_LIST,
    FitFault.LENGTH: FitCode.CODE_LENGTH,
}


def refusal_of(stage: Stage, field: StepField, value: SpokenValue, today: str) -> RefusalReason | None:
    """Why a value does not fit its field; None if it does.

    Args:
        stage: The stage that asks.
        field: The field of it.
        value: What was said.
        today: Local date of the visit, ISO 8601.
    """
    match value:
        case Ambiguous():
            return SayItSo(field.label, HowToSay.DIGIT_BY_DIGIT)
        case NeedsAsking(code=code, arguments=arguments) | Refused(code=code, arguments=arguments):
            return SayItSo(field.label, code, arguments)
    misfit = misfit_of(stage.step, field, value, date.fromisoformat(today))
    if misfit is None:
        return None
    limits = misfit.number
    match misfit.fault:
        case FitFault.TOO_MANY_DECIMALS if limits is not None:
            return Decimals(field.label, limits.decimals)
        case FitFault.OUT_OF_RANGE if limits is not None:
            return OutOfRange(field.label, limits.low, limits.high)
        case FitFault.TOO_EARLY if misfit.earliest is not None:
            return DateTooEarly(field.label, misfit.earliest)
        case FitFault.TOO_LATE if misfit.latest is not None:
            return DateTooLate(field.label, misfit.latest)
        case FitFault.OTHER_KIND:
            return DoesNotFit(field.label, _other_kind(value))
        case fault:
            return DoesNotFit(field.label, _CODES[fault])


def _other_kind(value: SpokenValue) -> FitCode:
    """What a value that is of another kind than its field was said to be."""
    match value:
        case SpokenDate():
            return FitCode.NO_DATE
        case SpelledText():
            return FitCode.CODE_LENGTH
        case _:
            return FitCode.NO_NUMBER


def proposed(now: EventContext, stage: Stage, field: StepField, taken: TakenValue) -> AnyFact:
    """That a value was taken and waits to be confirmed."""
    return ReadingProposed(**stated(stage, field, taken, now.state.side))


def complete(now: EventContext, reply: Reply) -> None:
    """After values were taken: ask for what is missing, or read all back; what is of a list may stand without.

    What holds the visit by itself waits for nothing else of its question.
    """
    stage, state = now.stage, now.state
    grave, whole = holds_by_itself(now, stage), all(field.id in state.pending for field in stage.step.fields)
    if not whole and not grave:
        reply.talk.append(Earcon.HEARD)
        reply.then = Then.ASK
        return
    too_far = too_far_apart(stage, state.pending) if whole else None
    if too_far is not None:
        reply.facts.append(ReadingRefused(stage=now.stage_name, field="", reason=too_far, heard=None))
        state.pending.clear()
        reply.talk.append(Earcon.REFUSED)
        reply.say(RefusedBecause(too_far))
    elif (mate := next_of_group(now.visit.plan, stage, state)) is not None and not (grave or is_grave(stage, state)):
        state.ahead[stage.id] = dict(state.unconfirmed)
        reply.talk.append(Earcon.HEARD)
        reply.then, reply.stage = Then.ENTER, mate
    elif must_be_confirmed(stage.step) and _may_go_on(now, stage):
        reply.keep = "going_on"
    elif must_be_confirmed(stage.step) or state.held_at(stage.id):
        # What may lift a hold is read back and affirmed, whatever the file says of the step.
        state.modes.push(Mode.READING_BACK)
        reply.talk.append(read_back(now.visit, state))
    else:
        reply.keep = "echo"


def _may_go_on(now: EventContext, stage: Stage) -> bool:
    """Whether its findings may stand where they were heard well, and are not read back with others."""
    return now.visit.going_on and not is_shared(stage) and all(field.options for field in stage.step.fields)


def value_problem(now: EventContext, stage: Stage, field: StepField, given: SlotValue) -> RefusalReason | None:
    """Why a value does not fit its field or this record; None if it does. An ambiguous one is asked for by digits."""
    if isinstance(given.value, Ambiguous):
        now.state.digit_by_digit.add(field.id)
    reason = refusal_of(stage, field, given.value, now.state.today)
    if reason is None and isinstance(given.value, SpelledText) and stage.names_patient:
        fault = reference_fault(given.value.text, now.visit.reference_pattern, date.fromisoformat(now.state.today))
        return NoReference(field.label, fault) if fault is not None else None
    if reason is None and isinstance(given.value, SpelledText):
        return code_problem(now, stage, field, given.value)
    if reason is None and isinstance(given.value, Option):
        return _kind_problem(now, stage, field, given.value.value)
    return reason


def _kind_problem(now: EventContext, stage: Stage, field: StepField, chosen: str) -> RefusalReason | None:
    """Why this is no answer to the question whether the visit is live or practice."""
    if f"{stage.step.id}.{field.id}" != now.visit.procedure.kind_from:
        return None
    if now.state.practice_only and chosen == "live":
        return Refusal(RefusalCode.ONLY_PRACTICE)
    answered = now.state.answers.get(stage.id, {}).get(field.id)
    if answered is not None and answered.value != Option(chosen):
        return Refusal(RefusalCode.KIND_IS_FIXED)
    return None


def too_far_apart(stage: Stage, values: Mapping[str, TakenValue]) -> TooFarApart | None:
    """By how much two measurements of one thing differ, where that is too much; both must be among the values."""
    rule = stage.step.repeat_within
    if rule is None:
        return None
    amount = apart([values[name].value for name in rule.fields])
    return TooFarApart(amount) if amount is not None and amount > rule.tolerance else None


class Stated(TypedDict):
    """The members of a `StatedReading`."""

    stage: str
    step: str
    phase: Phase
    field: str
    label: str
    side: Side | None
    timing: Timing | None
    value: KeptValue
    unit: str | None
    severity: Severity
    grounds: Grounds | None
    asked: bool
    heard: Utterance


def stated(stage: Stage, field: StepField, taken: TakenValue, injured: Side | None) -> Stated:
    """A value with everything that is known of it."""
    return Stated(
        stage=name_of(stage, injured),
        step=stage.step.id,
        phase=stage.step.phase,
        field=field.id,
        label=field.label,
        side=side_of(stage, injured),
        timing=stage.step.timing,
        value=kept(taken.value),
        unit=field.number.unit if field.number is not None else None,
        severity=taken.severity,
        grounds=taken.grounds,
        asked=taken.asked,
        heard=taken.heard,
    )


def kept(value: SpokenValue) -> KeptValue:
    """A value that may stand in the record.

    Raises:
        TypeError: It is none: it should have been refused before.
    """
    if isinstance(value, Exact | Between | Beyond | Absent | Option | SpelledText | SpokenDate):
        return value
    raise TypeError(f"{type(value).__name__} is no value to be kept")


def goes_on(now: EventContext) -> bool:
    """Whether values are those of words that were taken, or asked about, before they were at their end."""
    said, doubt = now.said, now.state.doubt
    if said is None or not isinstance(said.command, GiveValues):
        return False
    if now.mode is Mode.DOUBTING:
        return doubt is not None and doubt.heard.spoken_from_s == said.heard.spoken_from_s
    short, names = begun_with(now), {given.slot for given in said.command.values}
    return now.mode in {Mode.ASKING, Mode.READING_BACK} and not names.isdisjoint(short)


def begun_with(now: EventContext) -> dict[str, KeptValue]:
    """Unconfirmed values of words that began when those of now did."""
    begun_s = now.heard.spoken_from_s
    return {
        name: kept(taken.value) for name, taken in now.state.unconfirmed.items() if taken.heard.spoken_from_s == begun_s
    }


def keep_half(state: SessionState) -> None:
    """Keep what was said of an answer and is not whole yet, until the visit is back at its stage."""
    if state.unconfirmed:
        state.ahead.setdefault(state.place, {}).update(state.unconfirmed)


def drop_unconfirmed(state: SessionState) -> dict[str, KeptValue]:
    """Forget what is not confirmed; what that was."""
    unconfirmed = state.unconfirmed
    for name in unconfirmed:
        del state.pending[name]
    return {name: kept(taken.value) for name, taken in unconfirmed.items()}


def holds_by_itself(now: EventContext, stage: Stage) -> bool:
    """Whether a value that waits to be confirmed would hold the visit, whatever is said of the other fields."""
    values = values_of(stage, now.state)
    return any(
        judged_now(now, stage, field, values[field.id].value).severity in {Severity.RED, Severity.STOP}
        for field in stage.step.fields
        if field.id in values
    )


def judged_now(now: EventContext, stage: Stage, field: StepField, value: SpokenValue) -> Classification:
    """The class of a value, with everything that it is held against."""
    against = HeldAgainst(
        baseline=_baseline(now, stage, field),
        sides=_both_sides(now, stage, field, value),
        band=now.visit.band_of(field),
        today=now.state.today,
        recalled=now.visit.recalled,
        repeated=f"{stage.id}.{field.id}" in now.state.repeated,
        which=number_words(stage),
    )
    return judge(field, value, against)


def _baseline(now: EventContext, stage: Stage, field: StepField) -> SpokenValue | None:
    if field.compare is None:
        return None
    if field.compare.with_ is not None:
        suffix = f"@{stage.role.value}" if stage.role is not None else ""
        before = now.state.answers.get(field.compare.with_ + suffix, {}).get(field.id)
        return before.value if before is not None else None
    earlier = compared_with(now.visit, now.state)
    if earlier is None:
        return None
    known, side = earlier.values, side_of(stage, now.state.side)
    places = (place(step, field.id, side) for step in field.compare.earlier)
    return next((known[name] for name in places if name in known), None)


def _both_sides(
    now: EventContext, stage: Stage, field: StepField, value: SpokenValue
) -> tuple[SpokenValue, SpokenValue] | None:
    """What the sides are compared by; with the answer of the other side only, so that it is told once."""
    if field.sides is None or stage.role is not SideRole.OTHER:
        return None
    injured = now.state.answers.get(f"{stage.step.id}@{SideRole.INJURED.value}", {}).get(field.id)
    return (injured.value, value) if injured is not None else None
