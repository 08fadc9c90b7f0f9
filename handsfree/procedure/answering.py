"""Values: taken, held against their limits, read back, confirmed, classed."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

from handsfree.model.commands import GiveValues, SlotValue
from handsfree.model.earlier import place
from handsfree.model.effects import Earcon, Json, Priority
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import (
    REPEATED,
    Absent,
    Ambiguous,
    Between,
    Beyond,
    Exact,
    NeedsAsking,
    Option,
    Refused,
    Side,
    SpelledText,
    SpokenDate,
    SpokenValue,
)
from handsfree.procedure.compiler import Mode, SideRole, Stage, mates_of
from handsfree.procedure.form import DUE_UNITS, Number, StepField
from handsfree.procedure.judging import BY_NAME, Class, Judgement, judge
from handsfree.procedure.latches import hold, lift_stops, set_latch
from handsfree.procedure.turn import Held, Turn, heard_facts
from handsfree.procedure.walking import advance, ask, enter, keep_for_repeat, move_to, read_back
from handsfree.procedure.wording import digits, number, plain, spoken_date, value_text, value_words

RED_ACTION = "Stop. Call the senior clinician now."


def take_values(turn: Turn, command: GiveValues, heard: Hypothesis, probability: float) -> None:
    """Take one or more values; what is wrong with one does not touch the others."""
    state = turn.state
    wanted = {field.id: (turn.stage, field) for field in turn.stage.step.fields}
    mates = [mate for mate in mates_of(turn.plan, turn.stage) if mate.id not in state.done]
    wanted |= {f"{mate.step.id}.{field.id}": (mate, field) for mate in mates for field in mate.step.fields}
    problems: list[str] = []
    for given in command.values:
        stage, field = wanted.get(given.slot, (turn.stage, None))
        problem = "That was not asked for." if field is None else _problem(turn, field, given)
        if problem or field is None:
            problems.append(problem)
            turn.record(
                "reading_refused",
                stage=turn.name_of(stage),
                field=field.id if field is not None else given.slot,
                reason=problem,
                **heard_facts(heard, probability),
            )
            continue
        held = Held(given.value, heard, probability, asked=turn.asked)
        (state.pending if stage is turn.stage else state.scanned.setdefault(stage.id, {}))[field.id] = held
        turn.record("reading_proposed", **reading_facts(turn, stage, field, held))
    if problems:
        turn.earcon(Earcon.REFUSED)
        turn.say(problems[0])
        return
    ahead = next((mate for mate in mates if mate.id in state.scanned), None)
    if ahead is not None and not state.pending:
        move_to(turn, ahead)
        enter(turn, ahead)
        return
    go_on(turn)


def go_on(turn: Turn) -> None:
    """After values were taken: ask for what is missing, or read all back."""
    stage = turn.stage
    if any(field.id not in turn.state.pending for field in stage.step.fields):
        turn.earcon(Earcon.HEARD)
        ask(turn)
        return
    apart = _too_far_apart(turn, stage)
    if apart is not None:
        turn.record("reading_refused", stage=turn.name_of(stage), field="", reason=apart)
        turn.state.pending.clear()
        turn.earcon(Earcon.REFUSED)
        turn.say(apart)
        return
    if stage.step.explicit_read_back:
        turn.to(Mode.READING_BACK)
        read_back(turn)
    else:
        confirm(turn, "echo")


def _problem(turn: Turn, field: StepField, given: SlotValue) -> str:
    """Why a value cannot be taken, fit to be spoken; empty if it can."""
    side = turn.side_of(turn.stage)
    if given.side is not None and given.side is not side:
        return f"This is about the {side.value} side." if side is not None else "Say it without a side."
    if turn.stage.step.light_must_be_off and turn.lit:
        return "Light off first."
    return value_problem(turn, field, given.value)


def value_problem(turn: Turn, field: StepField, value: SpokenValue) -> str:
    """Why a value does not fit its field, fit to be spoken; empty if it does."""
    match value:
        case Ambiguous():
            turn.state.digit_by_digit.add(field.id)
            return f"{field.label.capitalize()}: say it digit by digit."
        case NeedsAsking(reason=reason) | Refused(reason=reason):
            return f"{field.label.capitalize()}: {reason}."
        case Absent() | Between() | Beyond() if _needs_one_number(turn.stage, field):
            return f"{field.label.capitalize()} needs one number."
        case Absent():
            if turn.stage.step.timing is None:
                return f"{field.label.capitalize()} needs an answer."
            return ""
        case Exact(value=amount, decimals=decimals):
            return _number_problem(field, (amount,), decimals)
        case Between(low=low, high=high):
            return _number_problem(field, (low, high), 0)
        case Beyond(limit=limit):
            return _number_problem(field, (limit,), 0)
        case Option(value=chosen):
            return _option_problem(turn, field, chosen)
        case SpelledText(text=text):
            if field.identifier is None or not 0 < len(text) <= field.identifier.max_length:
                return f"{field.label.capitalize()}: the code does not fit."
        case SpokenDate():
            if field.date is None:
                return f"{field.label.capitalize()} is no date."
    return ""


def _needs_one_number(stage: Stage, field: StepField) -> bool:
    """Whether something is computed from the field, so that a range or a gap would be read as a number."""
    counted = stage.step.size_from is not None or stage.step.repeat_within is not None
    return field.number is not None and (counted or field.number.due)


def _number_problem(field: StepField, amounts: Iterable[Decimal], decimals: int) -> str:
    limits: Number | None = field.number
    if limits is None:
        return f"{field.label.capitalize()} is no number."
    if decimals > limits.decimals:
        whole = "whole number" if limits.decimals == 0 else f"number with {digits(str(limits.decimals))} decimals"
        return f"{field.label.capitalize()} is a {whole}."
    if any(not limits.low <= amount <= limits.high for amount in amounts):
        return f"{field.label.capitalize()} is from {number(limits.low)} to {number(limits.high)}. Say it again."
    return ""


def _option_problem(turn: Turn, field: StepField, chosen: str) -> str:
    if chosen not in (field.options or {}):
        return f"{field.label.capitalize()}: that is not on the list."
    if f"{turn.stage.step.id}.{field.id}" == turn.procedure.kind_from:
        if turn.state.practice_only and chosen == "live":
            return "This record can only be practice."
        answered = turn.state.answers.get(turn.stage.id, {}).get(field.id)
        if answered is not None and answered.value != Option(chosen):
            return "The kind of session cannot be changed."
    return ""


def _too_far_apart(turn: Turn, stage: Stage) -> str | None:
    rule = stage.step.repeat_within
    if rule is None:
        return None
    values = [turn.state.pending[name].value for name in rule.fields]
    amounts = [value.value for value in values if isinstance(value, Exact)]
    if len(amounts) == 2 and abs(amounts[0] - amounts[1]) > rule.tolerance:
        return f"They differ by {number(abs(amounts[0] - amounts[1]))}. Measure both again."
    return None


def dispute(turn: Turn) -> None:
    """Take "negative" to a read-back: nothing is kept as confirmed; all of the stage may be said again."""
    values = _drop(turn)
    turn.record("read_back_disputed", stage=turn.name_of(turn.stage), fields=list(values), values=values)
    turn.state.scanned.clear()
    turn.to(Mode.ASKING)
    turn.say("Not recorded. Say it again.")


def _drop(turn: Turn) -> dict[str, Json]:
    """Forget what is not confirmed."""
    unconfirmed = turn.unconfirmed
    for name in unconfirmed:
        del turn.state.pending[name]
    return {name: value_text(held.value) for name, held in unconfirmed.items()}


def confirm(turn: Turn, how: str) -> None:
    """Keep the unconfirmed values of the stage, class them, and go on or stop.

    Args:
        turn: The turn.
        how: "affirmed" after an explicit read-back, "echo" where the value is only said.
    """
    stage, state = turn.stage, turn.state
    fields = {field.id: field for field in stage.step.fields}
    kept = state.answers.setdefault(stage.id, {})
    given = set(turn.unconfirmed)
    for field_id, held in list(state.pending.items()):
        field = fields[field_id]
        before = kept.get(field_id)
        if before is held:
            continue
        place = f"{stage.id}.{field_id}"
        repeating = place in state.again
        if repeating:
            state.again.discard(place)
            state.repeated.add(place)
        judged = replace(held, judgement=_judgement(turn, stage, field, held.value))
        kind = "reading_confirmed" if before is None else "reading_amended"
        facts = reading_facts(turn, stage, field, judged)
        if before is not None:
            facts |= {"old_value": value_text(before.value), "reason": REPEATED if repeating else "corrected by voice"}
        turn.record(kind, read_back=how, **facts)
        kept[field_id] = judged
        state.accepted_gaps.discard(place)
    state.pending.clear()
    state.digit_by_digit.clear()
    state.done[stage.id] = "answered"
    state.last_answered = stage.id
    turn.to(Mode.ASKING)
    turn.earcon(Earcon.RECORDED)
    if how == "echo":
        words = "; ".join(value_words(field, kept[name].value) for name, field in fields.items() if name in kept)
        turn.say(f"{words.capitalize()}.", Priority.INFORMATION)
    _take_effect(turn, stage, given)
    if turn.red or any(latch.stage_id == stage.id for latch in state.latches):
        hold(turn)
    elif not _take_again(turn, stage):
        advance(turn)


def _take_again(turn: Turn, stage: Stage) -> bool:
    """Ask once more for flagged values where the file says so; what else was answered stands."""
    state = turn.state
    if stage.role is SideRole.OTHER:
        return False
    kept = state.answers[stage.id]
    flagged = [
        field
        for field in stage.step.fields
        if field.again is not None
        and kept[field.id].judgement.grade is Class.AMBER
        and not isinstance(kept[field.id].value, Absent)
        and f"{stage.id}.{field.id}" not in state.repeated
    ]
    if not flagged:
        return False
    state.again.update(f"{stage.id}.{field.id}" for field in flagged)
    state.done.pop(stage.id, None)
    keep_for_repeat(turn, stage)
    turn.record("repeat_asked", stage=turn.name_of(stage), fields=[field.id for field in flagged])
    ask(turn)
    return True


def _judgement(turn: Turn, stage: Stage, field: StepField, value: SpokenValue) -> Judgement:
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
    if field.again is None or not repeated or judged.grade is not Class.AMBER or isinstance(value, Absent):
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


def _take_effect(turn: Turn, stage: Stage, given: set[str]) -> None:
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
        if name in given or held.judgement.grade is not Class.AMBER:
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
            judgement = _judgement(turn, stage, field, held.value)
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
            if held.judgement.grade is Class.STOP:
                lift_stops(turn, stage, "held against another value", held.judgement.reason)
                if not any(latch.stage_id == stage.id for latch in turn.state.latches):
                    turn.state.done.setdefault(stage.id, "answered")
            _act_on(turn, stage, judgement)
            if judgement.grade is Class.STOP:
                # Held where the value stands: it is owed again, and answered for there.
                turn.state.done.pop(stage.id, None)


def _act_on(turn: Turn, stage: Stage, judgement: Judgement) -> None:
    """What the class of one value leads to."""
    match judgement.grade:
        case Class.RED:
            set_latch(turn, "red", judgement.reason, stage.step.red_action or RED_ACTION, stage)
        case Class.STOP:
            set_latch(turn, "stop", judgement.reason, "Do not go on.", stage)
        case Class.AMBER:
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


def reading_facts(turn: Turn, stage: Stage, field: StepField, held: Held) -> dict[str, Json]:
    """Everything that the record keeps of a value."""
    side = turn.side_of(stage)
    value = held.value
    return {
        "stage": turn.name_of(stage),
        "step": stage.step.id,
        "phase": stage.step.phase,
        "field": field.id,
        "label": field.label,
        "side": side.value if side is not None else None,
        "timing": stage.step.timing.value if stage.step.timing is not None else None,
        "type": type(value).__name__.lower(),
        "value": value_text(value),
        "unit": field.number.unit if field.number is not None else None,
        "comparator": value.comparator if isinstance(value, Beyond) else None,
        "decimals": value.decimals if isinstance(value, Exact) else None,
        "class": held.judgement.grade.name.lower(),
        "class_reason": held.judgement.reason,
        "asked": held.asked,
        **heard_facts(held.heard, held.probability),
    }


def correct(turn: Turn) -> None:
    """Take "correction": drop what is unconfirmed, or go back to the last answered step to say it again."""
    state = turn.state
    state.scanned.clear()
    if turn.unconfirmed:
        turn.record("values_dropped", stage=turn.name_of(turn.stage), values=_drop(turn))
        turn.to(Mode.ASKING)
        ask(turn)
        return
    target_id = turn.stage.id if state.reviewing or turn.mode is Mode.LATCHED else state.last_answered
    if target_id is None:
        turn.refuse("There is nothing to correct.")
        return
    target = turn.plan.stages[turn.plan.index(target_id)]
    if target.step.kind in {"expose", "tell"}:
        turn.refuse("This step holds no value.")
        return
    names = {f"{target.step.id}.{field.id}" for field in target.step.fields}
    if turn.procedure.kind_from in names:
        turn.refuse("The kind of session cannot be changed.")
        return
    if turn.procedure.side_from in names and _sides_taken(turn):
        turn.refuse("Readings of both sides depend on it. Stop, and start again.")
        return
    move_to(turn, target)
    state.done.pop(target.id, None)
    if target.step.kind == "teach":
        state.taught.pop(target.id, None)
    state.pending.clear()
    # A first value that was misheard was not measured; one that was taken again stays the second.
    state.again -= {f"{target.id}.{field.id}" for field in target.step.fields}
    state.reviewing = False
    turn.to(Mode.ASKING)
    turn.record("correction_opened", stage=turn.name_of(target))
    turn.say(f"Correcting. {turn.prompt_of(target)}")


def _sides_taken(turn: Turn) -> bool:
    return any(stage.role is not None and stage.id in turn.state.answers for stage in turn.plan.stages)
