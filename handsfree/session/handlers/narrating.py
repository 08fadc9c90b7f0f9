"""A narrated visit: what is said in any order is taken, what is missing is told, and who leads is changed."""

from dataclasses import replace

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.commands import GiveValues, SlotValue
from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import (
    DoubtSettled,
    MissingTold,
    ReadBackDisputed,
    ReadingRefused,
    ValuesDropped,
    WorkingChanged,
)
from handsfree.model.readings import Absent, AbsentReason, HowToSay, NeedsAsking, Option
from handsfree.model.refusals import OtherSide, Refusal, RefusalCode, RefusalReason
from handsfree.model.working import Working
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.insisting import insisted_on
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import InsistedOn, NoneRecorded, RefusedBecause
from handsfree.session.questions import said_missing
from handsfree.session.section import in_reach, missing, section_of, to_be_narrated
from handsfree.session.stages import why_not_correctable
from handsfree.session.state import TakenValue
from handsfree.session.value_intake import kept, proposed, too_far_apart, value_problem
from handsfree.session.visit import name_of, side_of
from handsfree.understanding.narration import asks_for_side, is_side_alone

_UNCLEAR = frozenset({HowToSay.WHICH_ONE, HowToSay.WHICH_SIDE})


def take_narrated(now: EventContext) -> Reply:
    """Take whatever was said of the phase: what must be affirmed is read back, the rest stands until the gate."""
    state, reply = now.state, Reply()
    command, said = _command(now), now.said
    assert said is not None  # noqa: S101 - dispatch calls it for commands
    if command.lead == "affirm" and now.mode is Mode.READING_BACK:
        rest = GiveValues(command.values)
        return Reply(keep_breath="affirmed", redo=replace(said, command=rest))
    _drop_what_goes_on(now, reply)
    if any(map(asks_for_side, command.values)):
        # A side alone that did not answer it ("both" of a measure) leaves the question as it was.
        state.unsided = said.tags if not is_side_alone(said.tags) else state.unsided
    else:
        state.unsided = ()
    before = {stage_id: dict(values) for stage_id, values in state.breath.items()}
    problems = _take(now, reply, command)
    if problems:
        reply.talk.append(Earcon.REFUSED)
        reply.say(RefusedBecause(problems[0]), passing=now.mode is Mode.READING_BACK)
    if now.mode is Mode.READING_BACK and state.breath == before:
        return reply  # nothing new: the read-back goes on waiting
    if not state.breath:
        if not problems:
            reply.talk.append(Earcon.HEARD)
        return reply
    state.modes.drop(frozenset({Mode.CHECKING}))
    reply.keep_breath = "going_on"
    return reply


def _command(now: EventContext) -> GiveValues:
    command = now.said.command if now.said is not None else None
    assert isinstance(command, GiveValues)  # noqa: S101 - dispatch calls it for these
    return command


def _drop_what_goes_on(now: EventContext, reply: Reply) -> None:
    """What the same words gave before they were heard to their end gives way."""
    state, begun_s = now.state, now.heard.spoken_from_s
    if now.mode is Mode.DOUBTING:
        doubt, state.doubt = state.doubt, None
        state.modes.pop(Mode.DOUBTING)
        if doubt is not None:
            reply.facts.append(DoubtSettled(right=False, words=doubt.heard.text, heard=now.heard))
    for stage_id, values in [*state.breath.items(), *state.waiting.items()]:
        short = {name: taken for name, taken in values.items() if taken.heard.spoken_from_s == begun_s}
        if short and now.heard.engine != "typed":
            stage = now.visit.plan.stage(stage_id)
            stated = {name: kept(taken.value) for name, taken in short.items()}
            reply.facts.append(ValuesDropped(stage=name_of(stage, state.side), values=stated))
            for name in short:
                del values[name]
    _sweep(now)


def _sweep(now: EventContext) -> None:
    for held in (now.state.breath, now.state.waiting):
        for stage_id in [stage_id for stage_id, values in held.items() if not values]:
            del held[stage_id]


def _take(now: EventContext, reply: Reply, command: GiveValues) -> list[RefusalReason]:
    """Put each value to the others of the breath; why some are not taken."""
    state = now.state
    unclear = any(isinstance(one.value, NeedsAsking) and one.value.code in _UNCLEAR for one in command.values)
    problems: list[RefusalReason] = []
    for given in command.values:
        found = _place(now, given)
        if found is None:
            problems.append(Refusal(RefusalCode.NOT_ASKED_FOR))
            continue
        stage, field = found
        known = field is not None and _is_known(now, stage, field, given)
        problem = _problem(now, stage, field, given) if not known else None
        if problem is None and unclear and stage.role is not None:
            continue  # whose side it was is in doubt for all that were said with it
        value = given.value
        if problem is not None:
            name = name_of(stage, state.side)
            field_id = field.id if field is not None else ""
            reply.facts.append(ReadingRefused(stage=name, field=field_id, reason=problem, heard=now.heard))
            amount = insisted_on(now, stage, field, given, problem) if field is not None else None
            if amount is None or field is None:
                problems.append(problem)
                continue
            value = Absent(AbsentReason.ERROR, amount)
            reply.say(InsistedOn(field.label, amount), priority=Priority.ATTENTION)
        if known:
            continue
        asked = now.said is not None and now.said.asked
        taken = TakenValue(value, now.heard, asked, of_the_rest=given.of_the_rest)
        state.breath.setdefault(stage.id, {})[field.id if field is not None else ""] = taken
        state.spoken_of = stage.id
        if field is not None:
            reply.facts.append(proposed(now, stage, field, taken))
    problems += _put_together(now, reply)
    return problems


def _is_known(now: EventContext, stage: Stage, field: StepField, given: SlotValue) -> bool:
    """Whether a value says again what was taken already: whoever repeats a whole sentence changes nothing by it."""
    state = now.state
    opened = (
        stage.id in state.corrected
        or f"{stage.id}.{field.id}" in state.again
        or field.id in state.breath.get(stage.id, {})
    )
    known = state.answers.get(stage.id, {}).get(field.id)
    return known is not None and not opened and not state.held_at(stage.id) and known.value == given.value


def _place(now: EventContext, given: SlotValue) -> tuple[Stage, StepField | None] | None:
    """Stage and field of a value; no field where a step was reported as done."""
    step_id, _, field_id = given.slot.partition(".")
    stages = [stage for stage in in_reach(now.visit, now.state) if stage.step.id == step_id]
    if not stages:
        return None
    sided = [stage for stage in stages if side_of(stage, now.state.side) is given.side]
    stage = sided[0] if sided else stages[0]
    field = next((one for one in stage.step.fields if one.id == field_id), None)
    return (stage, field) if field is not None or (stage.step.reported and not field_id) else None


def _problem(now: EventContext, stage: Stage, field: StepField | None, given: SlotValue) -> RefusalReason | None:
    if field is None:
        return None if isinstance(given.value, Option) else Refusal(RefusalCode.NOT_ASKED_FOR)
    side = side_of(stage, now.state.side)
    unclear = isinstance(given.value, NeedsAsking) and given.value.code in _UNCLEAR
    if given.side is not side and not unclear:
        return OtherSide(side) if side is not None else Refusal(RefusalCode.WITHOUT_A_SIDE)
    if stage.step.light_must_be_off and now.state.lit:
        return Refusal(RefusalCode.LIGHT_OFF_FIRST)
    if field.id in now.state.answers.get(stage.id, {}) and (fixed := why_not_correctable(now.visit, stage, now.state)):
        return Refusal(fixed)
    return value_problem(now, stage, field, given)


def _put_together(now: EventContext, reply: Reply) -> list[RefusalReason]:
    """Values that can be judged only beside one another wait until all are said; then they belong to the breath."""
    state = now.state
    problems: list[RefusalReason] = []
    for stage_id in [*state.breath]:
        stage = now.visit.plan.stage(stage_id)
        rule = stage.step.repeat_within
        if rule is None:
            continue
        values = state.waiting.pop(stage_id, {}) | state.breath.pop(stage_id)
        if stage_id in state.done and not set(rule.fields) <= values.keys():
            values = {name: state.answers[stage_id][name] for name in rule.fields} | values
        if not set(rule.fields) <= values.keys():
            state.waiting[stage_id] = values
            continue
        problem = too_far_apart(stage, values)
        if problem is None:
            state.breath[stage_id] = values
            continue
        name = name_of(stage, state.side)
        reply.facts.append(ReadingRefused(stage=name, field="", reason=problem, heard=None))
        problems.append(problem)
    return problems


def affirm_breath(_: EventContext) -> Reply:
    """Take "affirmative" to the read-back of a breath: all of it is kept."""
    return Reply(keep_breath="affirmed")


def dispute_breath(now: EventContext) -> Reply:
    """Take "negative" or "correction" to the read-back of a breath: nothing of it is kept."""
    state, plan = now.state, now.visit.plan
    facts = [
        ReadBackDisputed(
            stage=name_of(plan.stage(stage_id), state.side),
            values={name: kept(taken.value) for name, taken in values.items() if name},
        )
        for stage_id, values in state.breath.items()
    ]
    told = _names_of_breath(now)
    state.breath.clear()
    state.gate_told = False
    state.modes.pop(Mode.READING_BACK)
    reply = Reply([*facts], [Earcon.REFUSED])
    reply.say(NoneRecorded(told) if told else Fixed.NOT_RECORDED)
    return reply


def _names_of_breath(now: EventContext) -> tuple[str, ...]:
    """What is dropped, by name, where it was said in several breaths: only the last of them was read back just now."""
    state = now.state
    names: list[str] = []
    for stage_id, values in state.breath.items():
        stage = now.visit.plan.stage(stage_id)
        side, topic = side_of(stage, state.side), stage.step.topic or ""
        for field in stage.step.fields:
            if field.id in values:
                about = topic if field.label not in topic else ""
                names.append(" ".join(filter(None, (side.value if side is not None else "", about, field.label))))
        names += stage.step.reported[:1] if "" in values else []
    breaths = {taken.heard.spoken_from_s for values in state.breath.values() for taken in values.values()}
    return tuple(names) if len(breaths) > 1 else ()


def go_to_gate(now: EventContext) -> Reply:
    """Take "next step": through the gate if nothing is missing; else what is, and the gate stays shut."""
    items = missing(now.visit, now.state)
    if not items:
        return Reply(then=Then.GO_ON)
    fact = MissingTold(stage=now.stage_name, items=tuple(one.name for one in items), because="gate")
    reply = Reply([fact], [Earcon.REFUSED])
    reply.say(said_missing(items))
    return reply


def narrate(now: EventContext) -> Reply:
    """From now on people say what there is to say as it comes."""
    return _change(now, Working.NARRATED)


def guide(now: EventContext) -> Reply:
    """From now on the tool asks step by step."""
    return _change(now, Working.GUIDED)


def _change(now: EventContext, working: Working) -> Reply:
    state = now.state
    if state.working is working:
        return Reply(talk=[Earcon.HEARD])
    state.working = working
    reply = Reply([WorkingChanged(working=working, stage=now.stage_name)], [Earcon.HEARD], Then.ASK)
    plan = now.visit.plan
    # One of many is asked for by its number, whoever leads, once everything else of the phase was said.
    by_number = bool(now.stage.number) and not to_be_narrated(plan, state, state.place)
    state.asked = by_number or len(section_of(plan, state.place)) == 1
    if now.mode is Mode.ASKING and now.stage.step.kind != "expose" and not state.reviewing:
        if state.unconfirmed:
            state.breath[now.stage.id] = state.unconfirmed
            state.pending.clear()
            state.modes.push(Mode.READING_BACK)
        elif working is Working.GUIDED:
            state.ahead.update(state.waiting)
            state.waiting.clear()
            reply.then = Then.GO_ON
    return reply
