"""Values: taken, held against their limits, read back, confirmed, classed."""

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal

from handsfree.definition.form import Number, StepField
from handsfree.definition.plan import Mode, SideRole, Stage, mates_of
from handsfree.definition.verbalization import digits, number, value_words
from handsfree.model.commands import GiveValues, SlotValue
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
    SpelledText,
    SpokenDate,
    SpokenValue,
    value_text,
)
from handsfree.session.consequences import judgement_of, take_effect
from handsfree.session.event_context import Held, Turn, heard_facts
from handsfree.session.holds import hold
from handsfree.session.limits import Severity
from handsfree.session.navigation import advance, ask, enter, keep_for_repeat, move_to, read_back
from handsfree.session.prompts.catalogue import words


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
        case NeedsAsking(code=code, arguments=arguments) | Refused(code=code, arguments=arguments):
            return f"{field.label.capitalize()}: {words(f'say.{code}', *arguments)}."
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
        judged = replace(held, judgement=judgement_of(turn, stage, field, held.value))
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
    take_effect(turn, stage, given)
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
        and kept[field.id].judgement.grade is Severity.AMBER
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
