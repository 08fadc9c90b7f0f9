"""Moving through the procedure: entering stages, going on, back, skipping, status, closing."""

from handsfree.definition.plan import CLOSED, Mode, Stage
from handsfree.definition.verbalization import cardinal, group_words, value_words
from handsfree.model.effects import Close, Earcon, Json, Priority
from handsfree.model.readings import Absent
from handsfree.session.event_context import Turn
from handsfree.session.holds import held_for, hold
from handsfree.session.zones import choose_zone, zone_text, zones_of_stage


def applies(turn: Turn, stage: Stage) -> bool:
    """Whether a stage is part of this visit, by its `when`."""
    when = stage.step.when
    if when is None:
        return True
    step_id, _, field_id = when.step.partition(".")
    held = turn.state.answers.get(step_id, {}).get(field_id)
    return held is not None and getattr(held.value, "value", None) in when.is_


def enter(turn: Turn, stage: Stage, *, again: bool = False) -> None:
    """Stand at a stage and ask for what it wants."""
    state = turn.state
    state.pending.clear()
    state.digit_by_digit.clear()
    state.reviewing = False
    turn.to(Mode.ASKING)
    turn.record("step_entered", stage=turn.name_of(stage), step=stage.step.id, phase=stage.step.phase, again=again)
    keep_for_repeat(turn, stage)
    state.pending.update(state.scanned.pop(stage.id, {}))
    if state.pending and all(field.id in state.pending for field in stage.step.fields):
        turn.to(Mode.READING_BACK)
        read_back(turn)
    else:
        ask(turn)


def keep_for_repeat(turn: Turn, stage: Stage) -> None:
    """Where flagged values are to be taken once more, all others of the stage stand as they were confirmed."""
    names = {field.id for field in turn.to_repeat(stage)}
    if names:
        kept = turn.state.answers[stage.id]
        turn.state.pending.update({name: held for name, held in kept.items() if name not in names})


def ask(turn: Turn) -> None:
    """Say what the stage wants now."""
    stage = turn.stage
    text = turn.prompt_of(stage)
    if stage.step.kind == "teach":
        text = f"{text} {_item_text(turn, stage)}" if not _taught(turn, stage) else _item_text(turn, stage)
    elif stage.step.kind == "expose":
        # The whole prompt says how to begin; once there was light, the zone is what counts.
        begun = turn.ledger is not None and any(run.zone_id in zones_of_stage(turn, stage) for run in turn.ledger.runs)
        text = f"{zone_text(turn)} Say light on." if begun else f"{text} {zone_text(turn)}"
    missing = [field for field in stage.step.fields if field.id not in turn.state.pending]
    repeated = [field.again.say for field in turn.to_repeat(stage) if field.again is not None and field in missing]
    if repeated:
        text = " ".join(dict.fromkeys(repeated))
    elif turn.state.pending and missing:
        text = f"Still missing: {', '.join(field.label for field in missing)}."
    turn.say(text)


def read_back(turn: Turn) -> None:
    """Say all unconfirmed values of the stage in another form, and ask."""
    stage = turn.stage
    values = [
        (field, turn.state.pending[field.id].value, turn.band_of(field))
        for field in stage.step.fields
        if field.id in turn.unconfirmed
    ]
    side = turn.side_of(stage)
    text = f"{side.value.capitalize() + ': ' if side else ''}{group_words(values, short=turn.expert)}"
    turn.say(f"{text[:1].upper()}{text[1:]}?" if turn.expert else f"{text}. Correct?")


def _taught(turn: Turn, stage: Stage) -> int:
    return turn.state.taught.get(stage.id, 0)


def _item_text(turn: Turn, stage: Stage) -> str:
    item = stage.step.items[min(_taught(turn, stage), len(stage.step.items) - 1)]
    if turn.expert and item.expert is not None:
        return item.expert
    return f"{item.say} {'Said back?' if item.teach_back else 'Told?'}"


def advance(turn: Turn) -> None:
    """Go to the first stage that is not done; close when there is none."""
    state = turn.state
    if turn.red:
        hold(turn)
        return
    if state.latches:
        move_to(turn, turn.plan.stages[turn.plan.index(state.latches[-1].stage_id)])
        hold(turn)
        return
    owed = [stage for stage in turn.plan.stages if stage.id not in state.done and applies(turn, stage)]
    # What was said already is read back before anything else is asked for.
    target = next((stage for stage in owed if stage.id in state.scanned), owed[0] if owed else None)
    if target is None:
        close(turn)
        return
    missing = next(
        (s for name in target.step.requires for s in turn.plan.stages_of(name) if state.done.get(s.id) == "skipped"),
        None,
    )
    if missing is not None:
        del state.done[missing.id]
        target = missing
    move_to(turn, target)
    if target.step.kind == "expose":
        choose_zone(turn)
    enter(turn, target)


def move_to(turn: Turn, target: Stage) -> None:
    """Move the machine of stages by whichever row of the table leads there."""
    if target.id == turn.place.state:
        return
    for name in ("advance", "return", "review"):
        if turn.place.can(f"{name}:{target.id}"):
            turn.place.move(f"{name}:{target.id}")
            return
    raise ValueError(f"no way from {turn.place.state} to {target.id}")


def go_back(turn: Turn) -> None:
    """Look at the step before, without changing anything."""
    index = turn.plan.index(turn.stage.id)
    earlier = next((stage for stage in reversed(turn.plan.stages[:index]) if applies(turn, stage)), None)
    if earlier is None:
        turn.refuse("This is the first step.")
        return
    move_to(turn, earlier)
    enter_review(turn, earlier)


def enter_review(turn: Turn, stage: Stage) -> None:
    """Stand at a stage that is done, to hear what is recorded, correct it, or give more light."""
    state = turn.state
    if stage.id not in state.done:
        enter(turn, stage, again=True)
        return
    state.pending.clear()
    state.reviewing = True
    if stage.step.kind == "expose":
        choose_zone(turn)
    turn.to(Mode.ASKING)
    turn.record("step_reviewed", stage=turn.name_of(stage))
    turn.say(f"Earlier step. {recorded_words(turn, stage)} Say next step, or correction.")


def recorded_words(turn: Turn, stage: Stage) -> str:
    """What is recorded for a stage, in words."""
    held = turn.state.answers.get(stage.id, {})
    if not held:
        return f"{turn.prompt_of(stage)} Recorded: {turn.state.done.get(stage.id, 'nothing')}."
    parts = [
        f"{field.label} {value_words(field, held[field.id].value, turn.band_of(field))}"
        for field in stage.step.fields
        if field.id in held
    ]
    side = turn.side_of(stage)
    return f"{side.value.capitalize() + ': ' if side else ''}{'; '.join(parts)}."


def go_on(turn: Turn) -> None:
    """Take "next step": from a review back to the work, from a told step ahead; never past what is owed."""
    stage = turn.stage
    if turn.state.reviewing or stage.step.kind == "tell":
        if stage.step.kind == "tell" and not turn.state.reviewing:
            turn.state.done[stage.id] = "told"
            turn.record("step_told", stage=turn.name_of(stage))
        turn.state.reviewing = False
        advance(turn)
    elif stage.step.hard:
        turn.refuse("This step needs an answer first.")
    else:
        turn.refuse("Answer first, or say skip this step.")


def ask_skip(turn: Turn) -> None:
    """Take "skip this step": soft steps only, with a reason."""
    if turn.stage.step.hard or turn.stage.step.kind == "expose":
        turn.refuse("This step cannot be skipped.")
        return
    turn.to(Mode.SKIP_REASON)
    reasons = ", ".join(phrases[0] for phrases in turn.procedure.skip_reasons.values())
    turn.say(f"Reason? {reasons}?")


def skip(turn: Turn, reason: str) -> None:
    """Leave a soft step out."""
    stage = turn.stage
    turn.state.done[stage.id] = "skipped"
    turn.state.pending.clear()
    turn.record("step_skipped", stage=turn.name_of(stage), step=stage.step.id, reason=reason)
    turn.to(Mode.ASKING)
    advance(turn)


def gaps(turn: Turn) -> tuple[str, ...]:
    """Readings of hard steps that are recorded as absent and that nobody has answered for."""
    return tuple(
        f"{turn.name_of(stage)}.{field_id}"
        for stage in turn.plan.stages
        if stage.step.hard
        for field_id, held in turn.state.answers.get(stage.id, {}).items()
        if isinstance(held.value, Absent) and f"{stage.id}.{field_id}" not in turn.state.accepted_gaps
    )


def open_items(turn: Turn) -> tuple[str, ...]:
    """Everything that keeps the record from being closed, in words."""
    state = turn.state
    items = [f"latch: {latch.reason}" for latch in state.latches]
    items += [f"no value: {gap}" for gap in gaps(turn)]
    items += [
        f"step: {turn.name_of(stage)}"
        for stage in turn.plan.stages
        if stage.id not in state.done and applies(turn, stage)
    ]
    if turn.ledger is not None and any(stage.step.kind == "expose" for stage in turn.plan.stages):
        items += [f"zone: {zone.label}" for zone in turn.ledger.zones if turn.ledger.short_s(zone.id) > 0]
    if state.late_window_s is not None:
        items.append("late heat question")
    return tuple(items)


def close(turn: Turn) -> None:
    """Close the record if nothing is open; else say what is."""
    state = turn.state
    items = open_items(turn)
    if not items:
        finish(turn, "completed")
        return
    turn.to(Mode.OPEN_ITEMS)
    if state.late_window_s is not None and len(items) == 1:
        wait_s = max(0, round(state.late_window_s[0] - state.now_s))
        turn.say(f"One question is left, about heat, in {cardinal(wait_s)} seconds.")
        return
    turn.record("close_refused", open_items=list(items))
    turn.earcon(Earcon.REFUSED)
    turn.say(f"Open: {items[0]}. Say override, or previous step.")


def finish(turn: Turn, outcome: str) -> None:
    """End the session for good."""
    zones: list[Json] = zone_facts(turn)
    turn.record(
        "session_closed",
        outcome=outcome,
        open_items=list(open_items(turn)),
        zones=zones,
        practice=turn.state.practice,
        stages_done=len(turn.state.done),
        notes=turn.state.notes,
    )
    turn.to(Mode.CLOSED)
    turn.place.move(f"advance:{CLOSED}" if turn.place.can(f"advance:{CLOSED}") else f"leave:{CLOSED}")
    turn.closing = Close(outcome)
    text = "The record is complete and closed." if outcome == "completed" else "The visit was ended early. Recorded."
    turn.say(text)


def zone_facts(turn: Turn) -> list[Json]:
    """Every zone with its credited seconds and dose."""
    if turn.ledger is None or not any(stage.step.kind == "expose" for stage in turn.plan.stages):
        return []
    return [
        {
            "zone": zone.id,
            "label": zone.label,
            "lit_s": round(turn.ledger.lit_s(zone.id), 3),
            "possible_s": round(turn.ledger.possible_s(zone.id), 3),
            "target_s": round(turn.ledger.target_s(zone.id), 3),
            "dose_j_cm2": round(turn.ledger.dose_j_cm2(zone.id), 4),
            "runs": sum(run.zone_id == zone.id for run in turn.ledger.runs),
            "strap_shadowed": zone.strap_shadowed,
        }
        for zone in turn.ledger.zones
    ]


def status(turn: Turn) -> None:
    """Say where things stand."""
    stages = [stage for stage in turn.plan.stages if applies(turn, stage)]
    done = sum(stage.id in turn.state.done for stage in stages)
    text = f"{cardinal(done)} of {cardinal(len(stages))} steps done.".capitalize()
    if turn.ledger is not None and turn.ledger.runs:
        parts = [
            f"{zone.label} {turn.ledger.lit_s(zone.id):.1f} of {turn.ledger.target_s(zone.id):g} seconds"
            for zone in turn.ledger.zones
            if turn.ledger.possible_s(zone.id) > 0
        ]
        text += f" Light: {'; '.join(parts)}."
    if turn.state.latches:
        text += f" Held: {'; '.join(held_for(turn.state.latches))}."
    turn.record("status_told", stages_done=done)
    turn.say(text, Priority.INFORMATION)


def late_question_due(turn: Turn) -> bool:
    """Whether the late heat question is to be asked now."""
    window = turn.state.late_window_s
    return window is not None and not turn.lit and turn.state.now_s >= window[0]
