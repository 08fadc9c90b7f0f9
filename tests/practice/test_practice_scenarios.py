"""The form of practice scenarios: every fault at its line."""

from decimal import Decimal

import pytest

from handsfree.definition.loader import load_bundle
from handsfree.errors import ScriptError
from handsfree.model.commands import GiveValues
from handsfree.model.events import CommandSpoken, SessionStarted
from handsfree.practice.event_kinds import bundled_kinds
from handsfree.practice.practice_plan import plan_of
from handsfree.practice.scenario_loader import bundled_scenarios, load_scenario
from handsfree.session.session import Session
from handsfree.simulation.spoken_answers import answer_words, as_recorded, hoped_for, value_fault
from handsfree.understanding.interpreter import interpret, typed

GOOD = """\
form: 1
id: mine
title: Mine
version: "0.1.0"
approved_by: null
procedure: light-output-check
briefing: [Check the light.]
voices:
  learner: {engine: neural}
  patient: {engine: espeak-ng}
case:
  output.first: "48"
events:
  - id: dirty
    kind: flat_battery
    at: {steps: [condition]}
    who: patient
    say: It blinks.
    shows: {condition.battery: low}
    remedy: {condition.battery: charged}
    answer: record
    within_s: 30
    settle: {ways: [answered_again]}
    why: Because.
    source: invented for practice
"""


def written(tmp_path, text):
    path = tmp_path / "mine.yaml"
    path.write_text(text)
    return str(path)


def test_a_scenario_is_read(tmp_path):
    case = load_scenario(written(tmp_path, GOOD), "light-output-check")
    assert case.scenario.events[0].shows == {"condition.battery": "low"}
    assert case.bundle.procedure.id == "light-output-check"


@pytest.mark.parametrize(
    ("old", "new", "line", "part"),
    [
        ("kind: flat_battery", "kind: quake", 15, "events.0.kind: there is no kind quake"),
        ("who: patient", "who: nobody", 17, "nobody has no voice"),
        ("steps: [condition]", "steps: [nowhere]", 16, "no step nowhere"),
        ("steps: [condition]", "steps: [condition@left]", 16, "not done for each side"),
        ("battery: low}", "battery: flat}", 19, "'flat' is no option of it (there are: charged, low)"),
        ('first: "48"', 'first: "4800"', 12, "4800 is not from 1 to 500"),
        ('first: "48"', 'first: "48.5"', 12, "48.5 has more than 0 decimals"),
        ("output.first", "output.third", 12, "output has no field third (there are: first, second)"),
        ("within_s: 30", "within_s: 0", 22, "events.0.within_s"),
        ("ways: [answered_again]", "ways: [overridden]", 23, "reasons belong to the way overridden"),
        ("ways: [answered_again]", "ways: [answered_again, overridden], reasons: [luck]", 23, "no luck"),
        ("at: {steps: [condition]}", "at: {cue: true}", 16, "needs a key"),
        ("at: {steps: [condition]}", "at: {}", 16, "exactly one of steps, between_s, cue"),
        ("at: {steps: [condition]}", "at: {steps: [condition], zone: outer_edge}", 16, "condition lights nothing"),
        ("who: patient\n    say: It blinks.", "who: patient", 14, "who and say go together"),
        ("  learner: {engine: neural}\n", "", 8, "voice of the learner is missing"),
        ("title: Mine", "title: Mine\nhurry: true", 4, "hurry"),
    ],
)
def test_faults_are_named_with_their_line(tmp_path, old, new, line, part):
    assert old in GOOD
    path = written(tmp_path, GOOD.replace(old, new))
    with pytest.raises(ScriptError) as refused:
        load_scenario(path)
    assert part in str(refused.value)
    assert f"{path}:{line}:" in str(refused.value)


def test_all_faults_are_told_at_once(tmp_path):
    text = GOOD.replace("who: patient", "who: nobody").replace('first: "48"', 'first: "0"')
    with pytest.raises(ScriptError) as refused:
        load_scenario(written(tmp_path, text))
    assert len(str(refused.value).splitlines()) == 2


def test_a_scenario_is_about_one_procedure(tmp_path):
    with pytest.raises(ScriptError, match="about light-output-check, not splint-removal"):
        load_scenario(written(tmp_path, GOOD), "splint-removal")


def test_an_unknown_scenario_names_the_bundled_ones():
    with pytest.raises(ScriptError, match="hot-zone"):
        load_scenario("nothing-there")


def test_the_bundled_scenarios_hold_every_kind_of_event():
    kinds = {event.kind for name in bundled_scenarios() for event in load_scenario(name).scenario.events}
    assert kinds | {"finding"} == set(bundled_kinds())


@pytest.mark.parametrize("procedure", ["ulnar-splint-fitting", "wrist-splint-fitting", "thumb-splint-fitting"])
def test_what_is_hoped_for_fits_its_field(procedure):
    from datetime import date

    bundle = load_bundle(procedure)
    for step in bundle.procedure.steps:
        for field in step.fields:
            value = hoped_for(field, bundle, date(2026, 11, 25), step)
            assert value_fault(step, field, value) is None, (step.id, field.id, value)


@pytest.mark.parametrize(
    ("step_id", "values"),
    [
        ("output", {"first": "48", "second": "51"}),
        ("condition", {"window": "clean", "battery": "low", "cable": "intact"}),
        ("light_code", {"code": "X3K9"}),
    ],
)
def test_what_people_say_means_what_they_meant(step_id, values):
    # Round trip through the tool's own grammar: words made from values are understood as these values.
    bundle = load_bundle("light-output-check")
    session = Session(bundle)
    wall = "2026-11-25T10:00:00.000Z"
    session.handle(SessionStarted(at_s=0, wall=wall, local_offset_minutes=0, today="2026-11-25", record_id="r"))
    answers = {step.id: step for step in bundle.procedure.steps}
    for step in bundle.procedure.steps:
        given = values if step.id == step_id else None
        chosen = given or {f.id: hoped_for(f, bundle, _day(), step) for f in step.fields}
        heard = typed(answer_words(step, chosen), session.wanted, 0)
        command = interpret(heard, session.wanted)
        assert isinstance(command, GiveValues)
        if given is not None:
            found = {one.slot: one.value for one in command.values}
            for name, text in given.items():
                field = next(f for f in answers[step_id].fields if f.id == name)
                value = found[name]
                said = getattr(value, "value", None) or getattr(value, "text", None)
                assert str(said) == as_recorded(field, text)
            return
        session.handle(CommandSpoken(at_s=0, wall=wall, command=command, heard=heard, probability=1))
        if session.snapshot.read_back:
            yes = typed("affirmative", session.wanted, 0)
            session.handle(
                CommandSpoken(at_s=0, wall=wall, command=interpret(yes, session.wanted), heard=yes, probability=1)
            )
    raise AssertionError(step_id)


def _day():
    from datetime import date

    return date(2026, 11, 25)


def test_numbers_are_compared_as_the_record_writes_them():
    field = next(
        field
        for step in load_bundle("ulnar-splint-fitting").procedure.steps
        for field in step.fields
        if field.id == "refill"
    )
    assert as_recorded(field, "4.0") == "4"
    assert Decimal(as_recorded(field, "1.5")) == Decimal("1.5")


@pytest.mark.parametrize("name", bundled_scenarios())
def test_what_practice_never_asks_is_not_part_of_its_plan(name):
    case = load_scenario(name)
    planned = [step.step for step in plan_of(case, None, None).steps]
    asked = [stage.step.id for stage in case.bundle.plan.stages if not stage.names_patient]
    assert planned == list(dict.fromkeys(asked))
