"""A scanned label: what it carries is proposed for every step that asks for it, and read back step by step."""

from handsfree.definition.plan import Mode, Stage
from handsfree.model.commands import ScanLabel
from handsfree.model.effects import Earcon, Json, Priority
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import SpelledText, SpokenDate, SpokenValue, value_text
from handsfree.session.event_context import Held, Turn, heard_facts
from handsfree.session.holds import hold, set_latch
from handsfree.session.navigation import applies
from handsfree.session.prompts.catalogue import words
from handsfree.session.read_back import go_on, reading_facts, value_problem


def take(turn: Turn, label: ScanLabel, heard: Hypothesis, probability: float) -> None:
    """Take a label at a step that asks for something on it; a label that cannot be trusted is a hard stop."""
    stage, state = turn.stage, turn.state
    if turn.mode is not Mode.ASKING or state.reviewing or stage.step.kind != "identify":
        turn.refuse("No label is asked for now.", **heard_facts(heard, probability))
        return
    turn.record("label_scanned", stage=turn.name_of(stage), **_facts(label), **heard_facts(heard, probability))
    if label.faults:
        state.pending.clear()
        state.scanned.clear()
        fault = label.faults[0]
        set_latch(turn, "stop", words(f"scan_fault.{fault.code}", fault.argument), "Do not go on.")
        hold(turn)
        return
    fields = {field.id: field for field in stage.step.fields}
    here = _carried(stage, label)
    problem = next(filter(None, (value_problem(turn, fields[name], value) for name, value in here.items())), "")
    if not here:
        problem = f"The label does not tell the {' or the '.join(field.label for field in fields.values())}."
    if problem:
        turn.record("reading_refused", stage=turn.name_of(stage), field=next(iter(here), ""), reason=problem)
        turn.earcon(Earcon.REFUSED)
        turn.say(problem)
        return
    for one in _package(turn, stage):
        _propose(turn, one, {name: Held(value, heard, probability) for name, value in _carried(one, label).items()})
    state.pending.update(state.scanned.pop(stage.id))
    go_on(turn)


def _facts(label: ScanLabel) -> dict[str, Json]:
    return {
        "gtin": label.gtin,
        "lot": label.lot,
        "serial": label.serial,
        "produced": label.produced.isoformat() if label.produced is not None else None,
        "expiry": label.expiry.isoformat() if label.expiry is not None else None,
        "faults": [words(f"scan_fault.{fault.code}", fault.argument) for fault in label.faults],
    }


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


def _package(turn: Turn, stage: Stage) -> list[Stage]:
    """The steps around this one that ask for codes and dates without anything in between: one package in the hand."""
    stages = [one for one in turn.plan.stages if applies(turn, one)]
    first = last = stages.index(stage)
    while first > 0 and stages[first - 1].step.kind == "identify":
        first -= 1
    while last + 1 < len(stages) and stages[last + 1].step.kind == "identify":
        last += 1
    return stages[first : last + 1]


def _propose(turn: Turn, stage: Stage, held: dict[str, Held]) -> None:
    """Keep what a label tells of a step until that step is read back; a step that tells otherwise is opened again."""
    if not held:
        return
    state = turn.state
    known = state.answers.get(stage.id, {}) if stage.id in state.done else {}
    fields = [field for field in stage.step.fields if field.id in held]
    other = [field for field in fields if field.id in known and not _same(known[field.id], held[field.id])]
    if known and not other:
        return
    if other:
        del state.done[stage.id]
        turn.say(f"The label tells another {other[0].label} than the record.", Priority.ATTENTION)
    state.scanned[stage.id] = held
    for field in fields:
        turn.record("reading_proposed", **reading_facts(turn, stage, field, held[field.id]))


def _same(one: Held, two: Held) -> bool:
    return value_text(one.value) == value_text(two.value)
