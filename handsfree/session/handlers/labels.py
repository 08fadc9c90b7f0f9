"""A scanned label: what it carries is proposed for every step that asks for it, and read back step by step."""

from collections.abc import Iterator, Mapping, Sequence

from handsfree.definition.plan import Stage
from handsfree.model.commands import ScanLabel, SlotValue
from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import LabelScanned, ReadingRefused
from handsfree.model.readings import SpelledText, SpokenDate, SpokenValue, value_text
from handsfree.model.reasons import Grounds
from handsfree.model.refusals import LabelTellsNot, RefusalCode, RefusalReason
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.field_slots import number_words
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import HoldAction
from handsfree.session.prompts.sentence_codes import LabelDiffers, RefusedBecause
from handsfree.session.section import in_reach
from handsfree.session.stages import stages_of_visit
from handsfree.session.state import Hold, TakenValue
from handsfree.session.value_intake import complete, proposed, value_problem
from handsfree.session.visit import name_of


def take_label(now: EventContext) -> Reply:
    """Take a label at a step that asks for something on it; a label that cannot be trusted is a hard stop."""
    state = now.state
    label = now.said.command if now.said is not None else None
    assert isinstance(label, ScanLabel)  # noqa: S101 - dispatch calls it for these
    if state.narrated and now.mode is Mode.ASKING and not state.reviewing:
        told_of = (one for one in in_reach(now.visit, state) if one.id not in state.done and _carried(one, label))
        state.place = next(told_of, now.stage).id
    stage = now.stage
    if now.mode is not Mode.ASKING or state.reviewing or stage.step.kind != "identify":
        return now.refuse(RefusalCode.NO_LABEL_ASKED)
    reply = Reply(
        [
            LabelScanned(
                stage=now.stage_name,
                gtin=label.gtin,
                lot=label.lot,
                serial=label.serial,
                produced=label.produced,
                expiry=label.expiry,
                faults=label.faults,
                heard=now.heard,
            )
        ]
    )
    if label.faults:
        state.pending.clear()
        state.ahead.clear()
        grounds = Grounds(label.faults[0], which=number_words(stage))
        reply.holds.append(Hold("stop", stage.id, grounds, HoldAction.DO_NOT_GO_ON))
        reply.then = Then.HOLD
        return reply
    told = [(one, _carried(one, label)) for one in _package(now)]
    fault = next(_faults(now, told), None)
    if not any(carried for one, carried in told if one is stage):
        fault = (stage, "", LabelTellsNot(tuple(field.label for field in stage.step.fields)))
    if fault is not None:
        at, name, problem = fault
        refused = ReadingRefused(stage=name_of(at, state.side), field=name, reason=problem, heard=None)
        reply.facts.append(refused)
        reply.talk.append(Earcon.REFUSED)
        reply.say(RefusedBecause(problem))
        return reply
    for one, carried in told:
        _propose(now, reply, one, carried)
    state.pending.update(state.ahead.pop(stage.id))
    complete(now, reply)
    return reply


def _faults(
    now: EventContext, told: Sequence[tuple[Stage, Mapping[str, SpokenValue]]]
) -> Iterator[tuple[Stage, str, RefusalReason]]:
    """What of a label does not fit the steps of its package: stage, field, why."""
    for stage, carried in told:
        for field in stage.step.fields:
            if field.id in carried:
                problem = value_problem(now, stage, field, SlotValue(field.id, carried[field.id]))
                if problem is not None:
                    yield stage, field.id, problem


def _carried(stage: Stage, label: ScanLabel) -> dict[str, SpokenValue]:
    """What the label tells of a step: fields go by their own name or label (lot, serial, gtin, expiry)."""
    codes = {"lot": label.lot, "serial": label.serial, "gtin": label.gtin}
    found: dict[str, SpokenValue] = {}
    for field in stage.step.fields:
        names = {field.id, *field.label.split()}
        if field.date is not None and "expiry" in names and label.expiry is not None:
            found[field.id] = SpokenDate(label.expiry)
        elif field.identifier is not None:
            text = next((codes[name] for name in codes if name in names), None)
            found |= {field.id: SpelledText(text)} if text is not None else {}
    return found


def _package(now: EventContext) -> tuple[Stage, ...]:
    """The steps around this one that ask for codes and dates without anything in between: one package in the hand."""
    stages = stages_of_visit(now.visit.plan, now.state)
    first = last = stages.index(now.stage)
    while first > 0 and stages[first - 1].step.kind == "identify":
        first -= 1
    while last + 1 < len(stages) and stages[last + 1].step.kind == "identify":
        last += 1
    return stages[first : last + 1]


def _propose(now: EventContext, reply: Reply, stage: Stage, carried: dict[str, SpokenValue]) -> None:
    """Keep what a label tells of a step until that step is read back; a step that tells otherwise is opened again."""
    if not carried:
        return
    state = now.state
    known = state.answers.get(stage.id, {}) if stage.id in state.done else {}
    fields = [field for field in stage.step.fields if field.id in carried]
    other = [
        field
        for field in fields
        if field.id in known and value_text(known[field.id].value) != value_text(carried[field.id])
    ]
    if known and not other:
        return
    if other:
        del state.done[stage.id]
        reply.say(LabelDiffers(other[0].label), priority=Priority.ATTENTION)
    state.ahead[stage.id] = {name: TakenValue(value, now.heard) for name, value in carried.items()}
    reply.facts += [proposed(now, stage, field, state.ahead[stage.id][field.id]) for field in fields]
