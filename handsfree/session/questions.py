"""What is asked and said back at a stage: the words of the file, what is missing, what was taken. Reads only."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage, mates_of
from handsfree.definition.side_words import NUMBER_PLACEHOLDER, with_side, with_visit
from handsfree.definition.verbalization import cardinal, spelled, time_left_words, value_words
from handsfree.exposure.light_cues import GuidanceProfile
from handsfree.model.effects import Priority
from handsfree.model.open_items import OpenLightOff, OpenReading, OpenStep, OpenZone
from handsfree.model.reasons import Grounds
from handsfree.session.holds import in_order
from handsfree.session.modes import Mode
from handsfree.session.navigation import open_items
from handsfree.session.prompts.approval_words import not_approved
from handsfree.session.prompts.fixed import Fixed, HoldAction
from handsfree.session.prompts.hold_sentences import (
    FlaggedSoFar,
    GapsLeft,
    HeldAtZone,
    HeldFor,
    HeldInStatus,
    HeldOnSide,
    LeftOpen,
    OverriddenSoFar,
    OverTarget,
    StepsLeft,
    UnderTarget,
    WasMisheard,
    WaysOn,
    WhichReason,
)
from handsfree.session.prompts.sentence_codes import (
    AnySentence,
    EarlierStep,
    FileText,
    LightSoFar,
    MoreMissing,
    NoHeatReport,
    NothingButDone,
    NowListening,
    Prompt,
    ReadBack,
    ReferenceIs,
    SaidBack,
    SideIs,
    SizeChosenIs,
    StepsDone,
    StillMissing,
    TimerLeft,
    ZoneIs,
    ZoneSoFar,
)
from handsfree.session.prompts.wording import Wording
from handsfree.session.read_back import on_side, read_back, read_back_breath, standing_words
from handsfree.session.section import Missing, missing
from handsfree.session.stages import stages_done
from handsfree.session.state import SessionState, answered_first
from handsfree.session.visit import Visit, side_of
from handsfree.session.ways import ways_from
from handsfree.session.zones import how_to_light, label_of, zones_of, zones_over_target, zones_under_target

MOST_NAMED = 6
"""Missing items that are named, the others are counted. Chosen here; common practice, no source."""


def prompt_text(visit: Visit, stage: Stage, state: SessionState) -> str:
    """The prompt of a stage with the side filled in; its labels where only it is left of the group that it asks for."""
    if stage.step.together and stage.step.fields and _is_partly_told(visit, stage, state):
        return f"{', '.join(field.label for field in stage.step.fields).capitalize()}?"
    text = (stage.step.expert if visit.is_short(narrated=state.narrated) else None) or stage.step.prompt
    device = visit.device.title if visit.device is not None else None
    text = text.replace(NUMBER_PLACEHOLDER, cardinal(stage.number))
    text = with_visit(text, side=state.side, size=state.size, device=device)
    return with_side(text, side_of(stage, state.side))


def _is_partly_told(visit: Visit, stage: Stage, state: SessionState) -> bool:
    """Whether anything was said for another step of the group."""
    return any(mate.id in state.done or mate.id in state.ahead for mate in mates_of(visit.plan, stage))


def question(visit: Visit, state: SessionState) -> Prompt:
    """What the stage wants now, after what was taken before and stands unless somebody objects."""
    if listens(visit, state):
        listening = NowListening(visit.plan.phase_name(visit.plan.phases[state.place]))
        # One of many is not narrated: who stands there must not wait for a silence to hear what is awaited.
        awaited = visit.plan.stage(state.place).number and missing(visit, state)
        return Prompt((listening, said_missing(awaited)) if awaited else (listening,))
    asked = _asked(visit, state)
    if not state.was_said_back:
        return asked
    return replace(asked, sentences=(SaidBack(standing_words(visit, state)), *asked.sentences))


def said_missing(items: Sequence[Missing]) -> AnySentence:
    """What is missing, as far as anybody listens to a list."""
    words = tuple(item.words for item in items)
    more = len(words) - MOST_NAMED
    return MoreMissing(words[:MOST_NAMED], more) if more > 1 else StillMissing(words)


def listens(visit: Visit, state: SessionState) -> bool:
    """Whether people say what there is to say, and nothing is asked: so it is in a narrated visit outside the light."""
    stage = visit.plan.stage(state.place)
    return state.narrated and not state.asked and not state.reviewing and stage.step.kind != "expose"


def what_stands(visit: Visit, state: SessionState) -> Prompt:
    """Everything that only stands, with the question whether it is right."""
    return Prompt((ReadBack(standing_words(visit, state)),))


def _asked(visit: Visit, state: SessionState) -> Prompt:
    """The question alone."""
    stage = visit.plan.stage(state.place)
    missing = [field for field in stage.step.fields if field.id not in state.pending]
    once_more = [field.again.say for field in to_repeat(stage, state) if field.again is not None and field in missing]
    if once_more:
        return Prompt(tuple(FileText(text) for text in dict.fromkeys(once_more)))
    if state.pending and missing:
        return Prompt((StillMissing(tuple(field.label for field in missing)),))
    prompt = FileText(prompt_text(visit, stage, state))
    match stage.step.kind:
        case "teach" if stage.step.together:
            return Prompt(_items(visit, stage, state, prompt))
        case "teach":
            item = _item(visit, stage, state)
            return Prompt((prompt, *item) if not state.taught.get(stage.id) else item)
        case "expose":
            return Prompt(_zone_question(stage, state, prompt))
        case _:
            return Prompt((prompt,))


def to_repeat(stage: Stage, state: SessionState) -> list[StepField]:
    """Fields of a stage that are flagged and to be taken once more; the others stand."""
    return [field for field in stage.step.fields if f"{stage.id}.{field.id}" in state.again]


def keep_for_repeat(stage: Stage, state: SessionState) -> None:
    """Where flagged values are to be taken once more, all others of the stage stand as they were confirmed."""
    names = {field.id for field in to_repeat(stage, state)}
    if names:
        taken = state.answers[stage.id]
        state.pending.update({name: value for name, value in taken.items() if name not in names})


def keep_partly_told(stage: Stage, state: SessionState) -> None:
    """Where people narrated a part of a stage, that stands as it was confirmed: only the rest is asked for."""
    told = state.answers.get(stage.id, {})
    opened = stage.id in state.done or stage.id in state.corrected or state.held_at(stage.id)
    if told and not opened and len(told) < len(stage.step.fields):
        state.pending.update(told)


def _item(visit: Visit, stage: Stage, state: SessionState) -> tuple[AnySentence, ...]:
    """The item that is taught next, with the question whether it was."""
    item = stage.step.items[min(state.taught.get(stage.id, 0), len(stage.step.items) - 1)]
    if visit.is_short(narrated=state.narrated) and item.expert is not None:
        return (FileText(item.expert),)
    return FileText(item.say), Fixed.SAID_BACK if item.teach_back else Fixed.TOLD


def _items(visit: Visit, stage: Stage, state: SessionState, prompt: FileText) -> tuple[AnySentence, ...]:
    """All items in one go with the question whether they were told; then whether they were said back."""
    if stage.id in state.told:
        return (Fixed.ALL_SAID_BACK,)
    short = visit.is_short(narrated=state.narrated)
    said = (FileText((item.expert if short else None) or item.say) for item in stage.step.items)
    return (prompt, *said, Fixed.ALL_TOLD)


def _zone_question(stage: Stage, state: SessionState, prompt: FileText) -> tuple[AnySentence, ...]:
    """The whole prompt says how to begin; once there was light, the zone is what counts."""
    ledger = state.ledger
    if ledger is None or state.zone_id is None:
        return (prompt,)
    zone = ZoneIs(label_of(ledger, state.zone_id))
    begun = any(run.zone_id in zones_of(stage, ledger) for run in ledger.runs)
    return (zone, how_to_light(ledger, state.zone_id)) if begun else (prompt, zone)


def recorded_words(visit: Visit, wording: Wording, stage: Stage, state: SessionState) -> str:
    """What is recorded for a stage, in words."""
    taken = state.answers.get(stage.id, {})
    if not taken:
        done = state.done.get(stage.id)
        return wording.sentence(NothingButDone(prompt_text(visit, stage, state), done.value if done else "nothing"))
    parts = [
        f"{field.label} {value_words(field, taken[field.id].value, visit.band_of(field))}"
        for field in stage.step.fields
        if field.id in taken
    ]
    return f"{on_side(stage, state)}{'; '.join(parts)}."


def review(visit: Visit, wording: Wording, state: SessionState) -> Prompt:
    """An earlier stage, with what is recorded for it."""
    stage = visit.plan.stage(state.place)
    return Prompt((EarlierStep(recorded_words(visit, wording, stage, state)),))


def held(visit: Visit, state: SessionState) -> Prompt:
    """What is to be done, every reason why, where, and every way on."""
    hold = answered_first(state.holds)
    action = hold.action if isinstance(hold.action, HoldAction) else FileText(hold.action)
    return Prompt((action, *_reasons_of(visit, state), WaysOn(ways_from(visit, state, hold))), Priority.ATTENTION)


def _reasons_of(visit: Visit, state: SessionState) -> Iterator[AnySentence]:
    """Every reason why the visit is held, those of one place together."""
    places: dict[tuple[str, str], list[Grounds]] = {}
    for hold in in_order(state.holds):
        side = side_of(visit.plan.stage(hold.stage_id), state.side)
        places.setdefault((side.value if side is not None else "", hold.zone), []).append(hold.grounds)
    for (hand, zone), grounds in places.items():
        if hand:
            yield HeldOnSide(hand, tuple(grounds))
        elif zone:
            yield HeldAtZone(zone, tuple(grounds))
        else:
            yield HeldFor(tuple(grounds))


def before_closing(visit: Visit, state: SessionState, *, early: bool = False) -> tuple[AnySentence, ...]:
    """What was lifted, flagged, over or under its seconds, left open or not approved, said before the visit is closed.

    The steps that an early end leaves out are counted: nobody listens to the names of fifty.
    """
    found: list[AnySentence] = [Fixed.LIGHT_OFF_UNCONFIRMED] if state.off_owed is not None else []
    if state.lifted:
        found.append(OverriddenSoFar(tuple(hold.grounds for hold in state.lifted)))
    if state.accepted_gaps:
        found.append(GapsLeft(len(state.accepted_gaps)))
    flagged = flags_of(state)
    if flagged:
        found.append(FlaggedSoFar(flagged))
    over = zones_over_target(state.ledger)
    if over:
        found.append(OverTarget(over))
    under = zones_under_target(state.ledger)
    if under:
        found.append(UnderTarget(under))
    items = open_items(visit.plan, state)
    begun = state.ledger is not None and bool(state.ledger.runs)
    left = tuple(
        item
        for item in items
        if not isinstance(item, OpenLightOff)
        and not (isinstance(item, OpenStep) and early)
        and not (isinstance(item, OpenZone) and (item.label in under or not begun))
    )
    if left:
        found.append(LeftOpen(left))
    steps = sum(isinstance(item, OpenStep) for item in items)
    if steps and early:
        found.append(StepsLeft(steps))
    if visit.approval is not None and not visit.approval.counts:
        found.append(not_approved(visit.approval))
    return tuple(found)


def warmth(guidance: GuidanceProfile) -> AnySentence:
    """The question about warmth, put to the patient, or to the clinician where the patient cannot report heat."""
    if guidance.patient_reports_heat:
        return Fixed.ASK_WARMTH
    return NoHeatReport(guidance.silent_sign) if guidance.silent_sign else Fixed.NO_HEAT_REPORT


def late_warmth(guidance: GuidanceProfile) -> Prompt:
    """The question about late heat, a while after the last light."""
    if guidance.patient_reports_heat:
        return Prompt((Fixed.HEAT_CAN_COME_LATE, Fixed.ASK_WARMTH_WHOLE), Priority.ATTENTION)
    return Prompt((Fixed.TOUCH_EVERY_ZONE,), Priority.ATTENTION)


def why_skipped(visit: Visit) -> AnySentence:
    """The question why a step is left out."""
    return WhichReason(tuple(phrases[0] for phrases in visit.procedure.skip_reasons.values()))


def status(visit: Visit, state: SessionState) -> Prompt:
    """Where things stand: whose visit, which side, how far, what is flagged, lit, held and open; short while lit."""
    ledger = state.ledger
    if ledger is not None and ledger.lit_zone is not None:
        lit = ledger.lit_zone
        zone = ZoneSoFar(label_of(ledger, lit), ledger.lit_s(lit, state.now_s), ledger.target_s(lit))
        return Prompt((LightSoFar((zone,)),), Priority.INFORMATION)
    sentences: list[AnySentence] = []
    if state.patient_reference:
        sentences.append(ReferenceIs(spelled(state.patient_reference)))
    if state.side is not None:
        sentences.append(SideIs(state.side.value))
    if state.size is not None:
        sentences.append(SizeChosenIs(state.size))
    sentences.append(StepsDone(*stages_done(visit.plan, state)))
    if state.lifted:
        sentences.append(OverriddenSoFar(tuple(hold.grounds for hold in state.lifted)))
    flagged = flags_of(state)
    if flagged:
        sentences.append(FlaggedSoFar(flagged))
    if ledger is not None and ledger.runs:
        zones = tuple(
            ZoneSoFar(zone.label, ledger.lit_s(zone.id), ledger.target_s(zone.id))
            for zone in ledger.zones
            if ledger.possible_s(zone.id) > 0
        )
        sentences += [LightSoFar(zones)] if zones else []
    sentences += timers_left(state)
    if state.holds:
        sentences.append(HeldInStatus(tuple(hold.grounds for hold in in_order(state.holds))))
    open_ = tuple(item for item in open_items(visit.plan, state) if isinstance(item, OpenReading | OpenLightOff))
    if open_:
        sentences.append(LeftOpen(open_))
    return Prompt(tuple(sentences), Priority.INFORMATION)


def timers_left(state: SessionState) -> tuple[TimerLeft, ...]:
    """How long each timer runs on."""
    running = sorted(state.timers.values(), key=lambda timer: timer.due_s)
    return tuple(TimerLeft(timer.label, time_left_words(timer.due_s - state.now_s)) for timer in running)


def flags_of(state: SessionState) -> tuple[Grounds, ...]:
    """Why values are flagged, but for what an override lifted, at the stage where it did."""
    lifted = {(hold.stage_id, hold.grounds) for hold in state.lifted}
    return tuple(
        taken.grounds
        for stage_id, values in state.answers.items()
        for taken in values.values()
        if taken.grounds is not None and (stage_id, taken.grounds) not in lifted
    )


def again(visit: Visit, wording: Wording, guidance: GuidanceProfile, state: SessionState) -> Prompt | None:
    """The question of the mode that the session is in, for who comes back to it; None where its last words stand."""
    match state.modes.top:
        case Mode.READING_BACK:
            return read_back_breath(visit, state) if state.breath else read_back(visit, state)
        case Mode.CHECKING:
            return what_stands(visit, state)
        case Mode.HELD:
            return held(visit, state)
        case Mode.ASKING:
            return review(visit, wording, state) if state.reviewing else question(visit, state)
        case Mode.WARMTH:
            return Prompt((warmth(guidance),))
        case Mode.STRAY:
            return Prompt((Fixed.STRAY_LIGHT,), Priority.ATTENTION)
        case Mode.CRIED:
            return Prompt((Fixed.WAS_IT_HEAT,), Priority.ATTENTION)
        case Mode.LATE_HEAT:
            return late_warmth(guidance)
        case Mode.MISHEARD if state.misheard is not None:
            return Prompt((WasMisheard(state.misheard.label, state.misheard.was, state.misheard.now),))
        case Mode.PAUSED:
            return Prompt((Fixed.STILL_STOPPED if state.stopped else Fixed.WAITING,))
        case Mode.RECONFIRM:
            return Prompt((Fixed.CHECK_POSITION,))
        case Mode.SKIP_REASON:
            return Prompt((why_skipped(visit),))
        case _:
            return None
