"""Conditions on numbers and on several answers: what holds, what is undecided, and what a correction changes."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from own_procedures import begin, number, step, write

from handsfree.authoring.chart import mermaid
from handsfree.authoring.checks import check
from handsfree.definition.condition_form import When
from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.readings import Absent, AbsentReason, Between, Beyond
from handsfree.session.conditions import Truth, truth_of
from handsfree.session.modes import ModeStack
from handsfree.session.state import Done, SessionState

# That a step is asked where nobody knows whether it is needed, rather than left out: common practice, no source.
PLACE = step("""
id: place
kind: choose
phase: during
prompt: Which place is it?
hard: true
source: common
timing: during
fields: [{id: place, label: place, options: {ward: [ward], home: [home]}}]
""")
BLADE = number("blade", keys="timing: during")


def rest(when, name="rest", hard="true"):
    return step(f"""
id: {name}
kind: confirm
phase: during
prompt: Let the blade {name}.
hard: {hard}
source: common
when: {when}
""")


def answer(talk, **values):
    talk.give(**values)
    if talk.mode == "reading_back":
        talk.affirm()


HOT = "{step: blade.blade, above: 40, unit: Cel}"


@pytest.mark.parametrize(
    ("when", "blade", "asked"),
    [
        (HOT, Decimal("40.1"), True),
        (HOT, Decimal("40"), False),
        (HOT.replace("above", "at_least"), Decimal("40"), True),
        (HOT.replace("above", "below"), Decimal("40"), False),
        (HOT.replace("above", "at_most"), Decimal("40"), True),
        (HOT.replace("above: 40", "above: 40, at_most: 50"), Decimal(50), True),
        (HOT.replace("above: 40", "above: 40, at_most: 50"), Decimal(51), False),
        # Nobody knows: it is asked.
        (HOT, Absent(AbsentReason.NOT_PERFORMED), True),
        (HOT, Between(Decimal(38), Decimal(42)), True),
        (HOT, Between(Decimal(30), Decimal(38)), False),
        (HOT, Beyond("<", Decimal(40)), False),
        (HOT, Beyond("<", Decimal(41)), True),
        (HOT, Beyond(">", Decimal(40)), True),
        (HOT.replace("above", "at_most"), Beyond(">", Decimal(40)), False),
        (HOT.replace("above: 40", "at_least: 20, at_most: 30"), Between(Decimal(10), Decimal(50)), True),
    ],
)
def test_a_number_decides(tmp_path, when, blade, asked):
    talk = begin(tmp_path, BLADE, rest(when))
    answer(talk, blade=blade)
    assert (talk.at == "rest" and talk.outcome is None and talk.mode == "asking") is asked


@pytest.mark.parametrize(
    ("kind", "place", "blade", "asked"),
    [
        ("all", "ward", 50, True),
        ("all", "home", 50, False),
        ("all", "ward", 30, False),
        ("any", "home", 50, True),
        ("any", "ward", 30, True),
        ("any", "home", 30, False),
        ("all", Absent(AbsentReason.NOT_PERFORMED), 50, True),
        ("all", Absent(AbsentReason.NOT_PERFORMED), 30, False),
        ("any", Absent(AbsentReason.NOT_PERFORMED), 30, True),
    ],
)
def test_several_answers_decide(tmp_path, kind, place, blade, asked):
    when = f"{{{kind}: [{{step: place.place, is: [ward]}}, {HOT}]}}"
    talk = begin(tmp_path, PLACE, BLADE, rest(when))
    answer(talk, place=place)
    answer(talk, blade=Decimal(blade))
    assert (talk.at == "rest" and talk.mode == "asking") is asked


def test_a_skipped_answer_leaves_the_step_open(tmp_path):
    talk = begin(tmp_path, BLADE.replace("hard: true", "hard: false"), rest(HOT, hard="false"))
    talk.say("skip")
    talk.give(reason="unavailable")
    assert talk.at == "rest"
    assert talk.outcome is None


def test_at_an_early_end_what_hangs_on_an_unanswered_step_is_open_too(tmp_path):
    chain = PLACE.replace("timing: during", f"timing: during\n    when: {HOT}")
    talk = begin(tmp_path, BLADE, chain, rest("{step: place.place, is: [ward]}"), number("room"))
    talk.say("end_visit")
    talk.give(role="supervisor")
    talk.give(reason="reviewed")
    talk.affirm()
    left = [item.stage for item in talk.facts("visit_closed")[-1].open_items]
    assert left == ["blade", "place", "rest", "room"]
    talk = begin(tmp_path, BLADE, chain, rest("{step: place.place, is: [ward]}"), number("room"))
    answer(talk, blade=Decimal(20))
    talk.say("end_visit")
    talk.give(role="supervisor")
    talk.give(reason="reviewed")
    talk.affirm()
    assert [item.stage for item in talk.facts("visit_closed")[-1].open_items] == ["room"]


def test_a_correction_calls_for_a_step_and_withdraws_it_on_record(tmp_path):
    talk = begin(tmp_path, BLADE, rest(HOT), number("room"))
    answer(talk, blade=Decimal(30))
    assert talk.at == "room"
    talk.say("correction")
    answer(talk, blade=Decimal(45))
    assert (talk.at, talk.mode) == ("rest", "asking")
    assert [fact.step for fact in talk.facts("step_called_for")] == ["rest"]
    talk.affirm()
    assert talk.at == "room"
    talk.say("previous_step")
    talk.say("previous_step")
    talk.say("correction")
    answer(talk, blade=Decimal(35))
    assert [fact.step for fact in talk.facts("step_withdrawn")] == ["rest"]
    assert "Left out, because blade is three five: Let the blade rest." in talk.said
    answer(talk, room=Decimal(20))
    assert talk.outcome == "completed"


def held_by_what_hangs_on(tmp_path, flag):
    """A hot blade calls for a look at the skin; that holds the visit, or is flagged."""
    skin = number("skin", keys=f"timing: during\nwhen: {HOT}", more=f", flag_above: {{{flag}: 38}}")
    talk = begin(tmp_path, BLADE, skin, number("room"))
    answer(talk, blade=Decimal(45))
    answer(talk, skin=Decimal(39))
    while talk.at != "blade":
        talk.say("previous_step")
    talk.say("correction")
    return talk


def test_a_stop_goes_with_the_step_that_set_it(tmp_path):
    talk = held_by_what_hangs_on(tmp_path, "stop")
    answer(talk, blade=Decimal(35))
    lifted = talk.facts("hold_lifted")[-1]
    assert (lifted.reason, lifted.role) == ("step_left_out", None)
    assert talk.at == "room"


def test_what_was_flagged_there_is_flagged_no_more(tmp_path):
    talk = held_by_what_hangs_on(tmp_path, "amber")
    answer(talk, blade=Decimal(35))
    answer(talk, room=Decimal(20))
    assert talk.outcome == "completed"
    assert "skin" not in talk.said


def test_a_chain_is_left_out_to_its_end(tmp_path):
    ask = PLACE.replace("timing: during", f"timing: during\n    when: {HOT}")
    talk = begin(tmp_path, BLADE, ask, rest("{step: place.place, is: [ward]}", hard="false"), number("room"))
    answer(talk, blade=Decimal(45))
    answer(talk, place="ward")
    talk.affirm()
    assert talk.at == "room"
    for _ in range(3):
        talk.say("previous_step")
    talk.say("correction")
    answer(talk, blade=Decimal(35))
    assert [fact.step for fact in talk.facts("step_withdrawn")] == ["place", "rest"]
    assert talk.at == "room"


@pytest.mark.parametrize(
    ("when", "said"),
    [
        (
            "{step: blade.blade, is: [warm]}",
            "blade.blade is a number: compare it with above, at_least, below or at_most",
        ),
        ("{step: place.place, above: 4, unit: Cel}", "place.place is no number: write is: [ward, home]"),
        ("{step: place.place, is: [hotel]}", "hotel is no option of place.place (there are: ward, home)"),
        ("{step: blade.blade, above: 40, unit: K}", "blade.blade is in Cel, and K is another unit"),
        ("{step: blade.blade, above: 40}", "a comparison needs its unit"),
        ("{step: blade.blade}", "is one of: {step: …, is: [option]}"),
        ("{all: [{step: place.place, is: [ward]}]}", "all needs two conditions or more"),
        (f"{{all: [{HOT}, {HOT}], any: [{HOT}, {HOT}]}}", "is one of:"),
        (f"{{any: [{HOT}, {{step: blade.bladder, is: [x]}}]}}", "did you mean blade.blade?"),
        ("{step: blade.blade, above: 40, below: 30, unit: Cel}", "no number is over 40 and under 30"),
        ("{step: blade.blade, above: 40, at_least: 30, unit: Cel}", "one from below and one from above"),
    ],
)
def test_what_is_wrong_is_said_in_one_line_with_its_place(tmp_path, when, said):
    path = write(tmp_path, PLACE, BLADE, rest(when))
    with pytest.raises(ProcedureFileError) as found:
        load_bundle(str(path))
    (line,) = str(found.value).splitlines()
    assert said in line
    assert line.startswith(f"{path}:43: steps.3.when")


def test_a_hard_step_hangs_on_hard_ones(tmp_path):
    path = write(tmp_path, PLACE, BLADE.replace("hard: true", "hard: false"), rest(f"{{any: [{HOT}, {HOT}]}}"))
    with pytest.raises(ProcedureFileError, match="nobody knows whether this hard step is needed"):
        load_bundle(str(path))


def test_what_no_number_can_meet_is_said_and_the_chart_says_the_condition(tmp_path):
    path = write(tmp_path, BLADE, rest(HOT.replace("40", "300")))
    assert any("rest is never done" in one.text for one in check(str(path)))
    when = f"{{any: [{HOT}, {{step: place.place, is: [ward]}}]}}"
    plan = load_bundle(str(write(tmp_path, PLACE, BLADE, rest(when)))).plan
    assert "blade over 40 Cel or place: ward" in mermaid(plan)


@given(st.decimals(0, 100, places=1), st.decimals(0, 100, places=1), st.integers(0, 100))
def test_a_range_decides_only_where_all_of_it_does(one, other, bound):
    low, high = sorted((one, other))
    for key in ("above", "at_least", "below", "at_most"):
        when = When.model_validate({"step": "a.b", key: Decimal(bound), "unit": "1"})
        said = {when.holds_for(value, value) for value in (low, high)}
        assert when.holds_for(low, high) is (said.pop() if len(said) == 1 else None)


def test_what_is_not_asked_yet_is_open():
    state = SessionState("a", ModeStack())
    when = When.model_validate({"step": "a.b", "above": Decimal(1), "unit": "1"})
    assert truth_of(when, state) is Truth.OPEN
    state.done["a"] = Done.SKIPPED
    assert truth_of(when, state) is Truth.UNDECIDED
