"""What confirmed values lead to: their class, the kind of visit, the side, the size, times that are due, latches."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

from handsfree.definition.form import DUE_UNITS, StepField
from handsfree.definition.plan import SideRole, Stage
from handsfree.definition.verbalization import digits, number, spoken_date
from handsfree.model.baseline import place
from handsfree.model.effects import Earcon, Priority
from handsfree.model.readings import Absent, Exact, Option, Side, SpokenValue, plain, value_text
from handsfree.session.event_context import Turn
from handsfree.session.holds import lift_stops, set_latch
from handsfree.session.limits import BY_NAME, Judgement, Severity, judge

RED_ACTION = "Stop. Call the senior clinician now."


def judgement_of(turn: Turn, stage: Stage, field: StepField, value: SpokenValue) -> Judgement:
    """The class of a value, with everything that it is held against."""
    baseline = None
    if field.compare is not None and field.compare.with_ is not None:
        suffix = f"@{stage.role.value}" if stage.role is not None else ""
        before = turn.state.answers.get(field.compare.with_ + suffix, {}).get(field.id)
        baseline = before.value if before is not None else None
    elif field.compare is not None and turn.earlier is not None:
        known, side = turn.earlier.values, turn.side_of(stage)
        places = (place(step, field.id, side) for step in field.compare.earlier)
        baseline = next((known[name] for name in places if name in known), None)
    judged = judge(
        field,
        value,
        baseline=baseline,
        sides=_both_sides(turn, stage, field, value),
        band=turn.band_of(field),
        today=turn.state.today,
        recalled=turn.recalled,
    )
    repeated = field.again is not None and f"{stage.id}.{field.id}" in turn.state.repeated
    if field.again is None or not repeated or judged.grade is not Severity.AMBER or isinstance(value, Absent):
        return judged
    return Judgement(BY_NAME[field.again.class_], f"{judged.reason}, repeated")


def _both_sides(
    turn: Turn, stage: Stage, field: StepField, value: SpokenValue
) -> tuple[SpokenValue, SpokenValue] | None:
    """What the sides are compared by; with the answer of the other side only, so that it is told once."""
    if field.sides is None or stage.role is not SideRole.OTHER:
        return None
    injured = turn.state.answers.get(f"{stage.step.id}@{SideRole.INJURED.value}", {}).get(field.id)
    return (injured.value, value) if injured is not None else None


def take_effect(turn: Turn, stage: Stage, given: set[str]) -> None:
    """What confirmed values lead to: the kind of session, the side, the size, latches; a flag is told once."""
    state, kept = turn.state, turn.state.answers[stage.id]
    # A new answer that stops nothing replaces the stop of the old one; a red latch stays.
    lift_stops(turn, stage, "answered again")
    _fix_kind_and_side(turn, stage)
    if stage.step.agree and len({value_text(held.value) for held in kept.values()}) > 1:
        set_latch(turn, "stop", "the answers do not agree", "Find out which is right.")
    if stage.step.size_from is not None:
        _choose_size(turn, stage)
    _tell_due(turn, stage)
    for name, held in kept.items():
        if name in given or held.judgement.grade is not Severity.AMBER:
            _act_on(turn, stage, held.judgement)
    _compare_again(turn, stage)
    if any(latch.stage_id == stage.id for latch in state.latches):
        state.done.pop(stage.id, None)


def _compare_again(turn: Turn, changed: Stage) -> None:
    """A corrected baseline, or a corrected injured side, changes what other readings were held against."""
    for stage in turn.plan.stages:
        for field in stage.step.fields:
            held = turn.state.answers.get(stage.id, {}).get(field.id)
            before = field.compare is not None and field.compare.with_ == changed.step.id and stage.role is changed.role
            beside = field.sides is not None and stage.step.id == changed.step.id and stage.role is not changed.role
            if held is None or not (before or beside):
                continue
            judgement = judgement_of(turn, stage, field, held.value)
            if judgement == held.judgement:
                continue
            turn.state.answers[stage.id][field.id] = replace(held, judgement=judgement)
            turn.record(
                "reading_classed_again",
                stage=turn.name_of(stage),
                step=stage.step.id,
                field=field.id,
                **{"class": judgement.grade.name.lower(), "class_reason": judgement.reason},
            )
            if held.judgement.grade is Severity.STOP:
                lift_stops(turn, stage, "held against another value", held.judgement.reason)
                if not any(latch.stage_id == stage.id for latch in turn.state.latches):
                    turn.state.done.setdefault(stage.id, "answered")
            _act_on(turn, stage, judgement)
            if judgement.grade is Severity.STOP:
                # Held where the value stands: it is owed again, and answered for there.
                turn.state.done.pop(stage.id, None)


def _act_on(turn: Turn, stage: Stage, judgement: Judgement) -> None:
    """What the class of one value leads to."""
    match judgement.grade:
        case Severity.RED:
            set_latch(turn, "red", judgement.reason, stage.step.red_action or RED_ACTION, stage)
        case Severity.STOP:
            set_latch(turn, "stop", judgement.reason, "Do not go on.", stage)
        case Severity.AMBER:
            turn.earcon(Earcon.ATTENTION)
            turn.say(f"Flagged: {judgement.reason}.", Priority.INFORMATION)


def _fix_kind_and_side(turn: Turn, stage: Stage) -> None:
    for field_id, held in turn.state.answers[stage.id].items():
        name = f"{stage.step.id}.{field_id}"
        if not isinstance(held.value, Option):
            continue
        if name == turn.procedure.kind_from:
            turn.state.practice = held.value.value == "practice"
            turn.record("kind_declared", kind=held.value.value)
        elif name == turn.procedure.side_from:
            turn.state.side = Side(held.value.value)
            turn.record("side_declared", side=held.value.value)


def _tell_due(turn: Turn, stage: Stage) -> None:
    """Say and record when what was put off is due, by the local clock."""
    for field in stage.step.fields:
        held = turn.state.answers[stage.id].get(field.id)
        if field.number is None or not field.number.due or held is None or not isinstance(held.value, Exact):
            continue
        now = datetime.fromisoformat(turn.event.wall)
        unit = DUE_UNITS[field.number.unit]
        due = now + float(held.value.value) * unit
        zone = timezone(timedelta(minutes=turn.state.local_offset_minutes))
        turn.record(
            "due_set",
            stage=turn.name_of(stage),
            step=stage.step.id,
            field=field.id,
            due=_stamp(due),
            value=value_text(held.value),
            unit_s=unit.total_seconds(),
        )
        there, here = due.astimezone(zone), now.astimezone(zone)
        day = f" on {spoken_date(there.date())}" if there.date() != here.date() else ""
        turn.say(f"Due at {digits(f'{there:%H%M}')}{day}.", Priority.INFORMATION)


def _stamp(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _choose_size(turn: Turn, stage: Stage) -> None:
    chart = turn.device.size_chart if turn.device is not None else None
    values = [held.value for held in turn.state.answers[stage.id].values()]
    amounts = [value.value for value in values if isinstance(value, Exact)]
    if chart is None or not amounts or len(amounts) != len(values):
        set_latch(turn, "stop", "no size can be chosen", "Do not go on.")
        return
    mean = sum(amounts, Decimal(0)) / len(amounts)
    size = chart.size_of(mean)
    turn.state.size = size
    turn.record("size_chosen", size=size, mean=plain(mean), unit=chart.unit, landmark=chart.landmark)
    if size is not None:
        turn.say(f"Size {size}, for {number(mean)}.", Priority.INFORMATION)
    elif chart.rows[0].from_ <= mean <= chart.rows[-1].to:
        set_latch(turn, "stop", f"{number(mean)} lies between two sizes", "Ask which size to take.")
    else:
        set_latch(turn, "stop", f"{number(mean)} is off the size chart", "Do not go on.")
