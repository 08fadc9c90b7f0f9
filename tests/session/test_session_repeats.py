"""A step that is done again and again: how often is decided in the visit, until "that was the last"."""

from decimal import Decimal

import pytest
from own_procedures import begin, number, step, type_line, write

from handsfree.authoring.chart import nodes
from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.readings import Exact

# Numbers, and how many are enough, are invented.


def bolts(least=2, most=5, more="", name="wheel bolt"):
    return step(f"""
id: bolt
kind: measure
phase: during
prompt: "Bolt {{number}}: what torque?"
hard: true
source: common
timing: during
repeat: {{least: {least}, most: {most}, name: {name}}}
fields: [{{id: torque, label: torque, number: {{unit: cm, low: 0, high: 300{more}}}}}]
""")


def torque(talk, value):
    type_line(talk, " ".join(str(value)))
    talk.affirm()


def torques(talk):
    return {one.stage: one.value.value for one in talk.facts("reading_confirmed") if one.step == "bolt"}


def test_it_goes_on_until_the_last_is_said(tmp_path):
    talk = begin(tmp_path, bolts(), number("room"))
    assert talk.said.endswith("Bolt one: what torque?")
    for value in (110, 111, 112):
        torque(talk, value)
    assert talk.at == "bolt@4"
    assert "Bolt four: what torque?" in talk.said
    talk.say("last")
    assert talk.at == "room"
    assert (talk.facts("repeat_ended")[-1].step, talk.facts("repeat_ended")[-1].count) == ("bolt", 3)
    talk.give(room=20)
    talk.affirm()
    assert talk.outcome == "completed"
    assert torques(talk) == {"bolt@1": 110, "bolt@2": 111, "bolt@3": 112}


def test_too_few_are_refused_and_the_most_end_it(tmp_path):
    talk = begin(tmp_path, bolts(least=2, most=3), number("room"))
    torque(talk, 110)
    talk.say("last")
    assert "Only one of at least two: wheel bolt." in talk.said
    assert talk.at == "bolt@2"
    torque(talk, 110)
    torque(talk, 110)
    assert talk.at == "room"


def test_the_read_back_says_which_one(tmp_path):
    talk = begin(tmp_path, bolts())
    torque(talk, 110)
    talk.give(torque=Decimal(120))
    assert talk.said.startswith("Wheel bolt two: torque")


def test_by_its_number_out_of_order(tmp_path):
    talk = begin(tmp_path, bolts(least=4, most=5), number("room"))
    type_line(talk, "wheel bolt three one one five")
    assert talk.said.startswith("Wheel bolt three: torque")
    talk.affirm()
    assert torques(talk) == {"bolt@3": 115}
    assert talk.at == "bolt@1"
    type_line(talk, "go to wheel bolt two")
    assert talk.at == "bolt@2"
    type_line(talk, "wheel bolt two one two zero")
    talk.affirm()
    assert torques(talk) == {"bolt@3": 115, "bolt@2": 120}
    for value in (110, 140):
        torque(talk, value)
    assert talk.at == "bolt@5"
    type_line(talk, "that was the last")
    assert talk.at == "room"


def test_one_that_was_left_between_is_still_owed(tmp_path):
    talk = begin(tmp_path, bolts(least=3, most=5), number("room"))
    for place, value in (("one", "one one zero"), ("three", "one one two")):
        type_line(talk, f"wheel bolt {place} {value}")
        talk.affirm()
    talk.say("last")
    assert talk.at == "bolt@2"
    torque(talk, 111)
    assert talk.at == "room"


def test_one_more_after_the_last(tmp_path):
    talk = begin(tmp_path, bolts(), number("room"))
    torque(talk, 110)
    torque(talk, 111)
    talk.say("last")
    type_line(talk, "go to wheel bolt three")
    assert [one.stage for one in talk.facts("repeat_reopened")] == ["bolt@3"]
    torque(talk, 112)
    talk.say("last")
    assert talk.at == "room"
    assert len(torques(talk)) == 3


def test_each_is_judged_and_corrected_by_itself(tmp_path):
    talk = begin(tmp_path, bolts(more=", flag_above: {amber: 120, stop: 130}"), number("room"))
    torque(talk, 110)
    torque(talk, 140)
    assert (talk.mode, talk.at) == ("held", "bolt@2")
    talk.say("correction")
    torque(talk, 112)
    amended = talk.facts("reading_amended")[-1]
    assert (amended.stage, amended.value.value) == ("bolt@2", 112)
    assert talk.at == "bolt@3"


def test_the_mean_of_all_is_computed_once_the_last_is_said_and_anew(tmp_path):
    mean = step("""
id: middle
kind: compute
phase: during
prompt: What is the mean torque?
hard: true
source: common
timing: during
fields:
  - id: mean
    label: mean torque
    computed: {mean: [bolt.torque]}
    number: {unit: cm, low: 0, high: 300, decimals: 1}
""")
    talk = begin(tmp_path, bolts(), mean, number("room"))
    for value in (110, 111, 112):
        torque(talk, value)
    assert not [one for one in talk.facts("reading_confirmed") if one.field == "mean"]
    talk.say("last")
    fact = talk.facts("reading_confirmed")[-1]
    assert (fact.value, len(fact.computed.inputs)) == (Exact(Decimal("111.0"), 1), 3)
    type_line(talk, "go to wheel bolt three")
    talk.say("correction")
    torque(talk, 118)
    assert talk.facts("reading_amended")[-1].value == Exact(Decimal("113.0"), 1)


def test_nothing_else_is_the_last(tmp_path):
    talk = begin(tmp_path, number("room"), bolts())
    talk.say("last")
    assert "Not now." in talk.said
    talk.give(room=20)
    talk.say("last")
    assert talk.facts("repeat_ended") == []


def test_a_later_step_that_requires_it_waits_for_the_last(tmp_path):
    needs = number("room", keys="timing: during\nrequires: [bolt]")
    talk = begin(tmp_path, bolts(), needs)
    torque(talk, 110)
    torque(talk, 110)
    talk.say("last")
    assert talk.at == "room"


def test_a_narrated_visit_asks_for_each_after_what_is_narrated(tmp_path):
    talk = begin(tmp_path, bolts(), number("room"), number("skin"))
    talk.say("narrate")
    talk.give(**{"room.room": Decimal(20), "skin.skin": Decimal(30)})
    talk.affirm()
    assert talk.said.endswith("Bolt one: what torque?")
    for _ in range(2):
        torque(talk, 110)
    talk.say("last")
    assert talk.outcome == "completed"


def test_who_begins_to_narrate_at_one_of_many_is_told_at_once_what_is_awaited(tmp_path):
    talk = begin(tmp_path, bolts(), number("room"), number("skin"))
    talk.say("narrate")
    awaited = "Listening. Still missing: wheel bolt one, wheel bolt two, “Measure the room”, “Measure the skin”."
    # The work itself is no inspection where no light comes before it.
    assert talk.said == f"During. {awaited}"
    talk.say("wait")
    talk.say("resume")
    assert talk.said.endswith(awaited)
    type_line(talk, "go to wheel bolt one")
    assert talk.said.endswith("Bolt one: what torque?")
    torque(talk, 110)
    # The others may be narrated again, and nobody is told twice.
    talk.give(**{"room.room": Decimal(20)})
    talk.affirm()
    assert "Still missing" not in talk.said


def test_a_narrated_visit_asks_for_one_of_many_that_somebody_goes_to(tmp_path):
    talk = begin(tmp_path, number("room"), bolts(), number("skin"))
    talk.say("narrate")
    type_line(talk, "go to wheel bolt one")
    assert talk.said == "Bolt one: what torque?"
    torque(talk, 110)
    assert torques(talk) == {"bolt@1": 110}


def test_paper_and_check_know_one_step(tmp_path):
    path = write(tmp_path, bolts(least=12, most=20))
    assert [one for one in check(str(path)) if one.level is FindingLevel.ERROR] == []
    plan = load_bundle(str(path)).plan
    assert [node.step.id for node in nodes(plan) if node.step is not None] == ["operator", "bolt"]
    assert len(plan.stages_of("bolt")) == 20


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("least: 2, most: 5", "least: 6, most: 5", "least 6 must not be over most 5"),
        ("least: 2, most: 5", "least: 2, most: 50", "most: 50 is out of range (at most 20)"),
        ("timing: during\n", "timing: during\n    group: hand\n", "repeat does not go with group"),
        ("repeat: {least: 2, most: 5, name: wheel bolt}", "requires: []", "{number} needs repeat"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(tmp_path, old, new, said):
    text = bolts().replace(old, new)
    assert text != bolts()
    with pytest.raises(ProcedureFileError) as found:
        load_bundle(str(write(tmp_path, text)))
    (line,) = str(found.value).splitlines()
    assert said in line


def test_a_condition_on_one_of_many_is_refused(tmp_path):
    hangs = number("room", keys="when: {step: bolt.torque, above: 3, unit: cm}")
    with pytest.raises(ProcedureFileError, match="bolt is repeated, so its answer is not one"):
        load_bundle(str(write(tmp_path, bolts(), hangs)))
