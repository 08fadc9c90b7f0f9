"""A narrated visit at its turns: gates, holds, silences, breaks, talk that is not for the tool.

What is right comes from the file of the procedure and from this project's own rules; common practice, no source.
"""

import runpy
from datetime import date
from pathlib import Path

import pytest
from narrating import SIDES, WALL, Narrator, sides_checked

from handsfree.definition.loader import load_bundle
from handsfree.model.commands import Control, ControlCommand, ScanLabel
from handsfree.model.events import CommandDoubted, RejectionReason, SpeechRejected
from handsfree.model.facts import MissingTold
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.working import Working
from handsfree.session.questions import what_stands
from handsfree.session.session import Session
from handsfree.understanding.graphs import match
from handsfree.understanding.listening_graph import graph_for

SENTENCES = Path(__file__).resolve().parents[2] / "scripts" / "talk_sentences.py"
GUIDE = Path(__file__).resolve().parents[2] / "handsfree" / "procedures" / "guide"
ORDERS = {"kind", "order", "consent", "image", "patient", "mark"}


@pytest.fixture
def talk(fitting):
    return Narrator(fitting).lines("practice session")


@pytest.fixture
def sided(talk):
    return talk.lines(SIDES, "affirmative")


def test_items_of_several_steps_in_one_breath_stand_until_the_gate(talk):
    talk.lines("bone fifth metacarpal, order present, no wound, jewelry removed, package intact")
    assert talk.mode == "asking"
    assert talk.said == ""
    assert talk.earcons == ["heard"]
    assert len(talk.session._state.standing) == 5
    assert "injury.bone" not in talk.confirmed()


def test_a_correction_by_label_replaces_one_and_leaves_the_rest(talk):
    talk.lines("lot alfa four bravo two, expiry october twenty thirty one", "correction, lot alfa four bravo three")
    assert talk.said == "lot alfa four bravo, three. Correct?"
    talk.lines("affirmative")
    values = {one.field: one.value for one in talk.facts("reading_confirmed")}
    assert values["lot"].text == "A4B3"
    assert values["expiry"].value.isoformat() == "2031-10-31"


def test_a_standing_finding_is_corrected_by_label_and_affirmed(talk):
    talk.lines("hand intact, wrist intact, forearm intact", "correction, hand bruised")
    assert (talk.mode, talk.said) == ("reading_back", "hand bruised. Correct?")
    talk.lines("affirmative")
    hand = [one for one in talk.facts("reading_confirmed") if one.field == "hand"]
    assert [(one.value.value, one.read_back) for one in hand] == [("bruised", "affirmed")]
    assert talk.facts("reading_amended") == []


def test_a_stop_is_lifted_by_another_answer_and_the_tool_listens_on(sided):
    sided.lines("package damaged, sleeve intact, recall absent", "affirmative")
    assert (sided.mode, sided.at) == ("held", "device_condition")
    sided.lines("correction", "package intact", "affirmative")
    assert sided.kinds[-1] != "hold_set"
    assert sided.session.snapshot.hold is None
    assert sided.session.wanted.narration is not None
    assert "device_condition" in sided.session._state.done


def test_a_stop_word_in_a_read_back_leaves_it_waiting(sided):
    sided.lines("lot alfa four bravo two", "stop")
    assert sided.mode == "paused"
    sided.lines("resume")
    assert (sided.mode, sided.said) == ("reading_back", "lot alfa four bravo, two. Correct?")
    assert "device_lot.lot" not in sided.confirmed()


def test_a_break_carries_over_nothing_that_was_not_affirmed(sided):
    sided.lines("package intact", "lot alfa four bravo two")
    sided.crash()
    assert not sided.session._state.breath
    assert "device_lot.lot" not in sided.confirmed()
    assert "device_condition.package" in sided.session._state.standing


def test_what_only_stands_at_an_early_end_is_dropped_and_not_called_done(sided):
    sided.lines("bone fifth metacarpal, mechanism fall", "end the visit", "surgeon", "clinical decision", "affirmative")
    assert sided.outcome == "stopped"
    assert "injury.bone" not in sided.confirmed()
    assert [one.stage for one in sided.facts("values_dropped")] == ["injury"]
    assert "injury" in {getattr(item, "stage", "") for item in sided.facts("visit_closed")[0].open_items}


def test_a_label_is_scanned_wherever_the_narration_is(sided):
    sided.speak(ScanLabel(gtin="06291041500213", lot="A4B2", expiry=date(2031, 10, 31)))
    assert sided.mode == "reading_back"
    sided.lines("affirmative")
    assert sided.confirmed()["device_lot.lot"] == "affirmed"
    assert sided.mode == "reading_back"
    sided.lines("affirmative")
    assert sided.confirmed()["device_expiry.expiry"] == "affirmed"


def test_a_step_that_was_narrated_in_part_is_asked_for_the_rest(sided):
    sided.lines("refill two on the left", "affirmative")
    sided.lines("guide me")
    sided.go_to("circulation_before@right")
    sided.lines("pulse present, refill two, color usual, temperature warm", "all intact")
    assert (sided.at, sided.said) == ("circulation_before@left", "Still missing: pulse, color, temperature.")
    sided.lines("pulse present, color usual, temperature warm")
    if sided.mode == "reading_back":
        sided.lines("affirmative")
    assert sided.facts("reading_amended") == []


def not_taken(now_s):
    heard = Hypothesis(("wrist",), (), now_s, now_s + 1, "test")
    reason = RejectionReason.NOT_UNDERSTOOD
    return SpeechRejected(at_s=now_s, wall=WALL, reason=reason, heard=heard)


def test_talk_that_was_not_taken_is_answered_by_nothing_where_the_tool_listens_and_by_a_sound_elsewhere(sided):
    for _ in range(3):
        sided.send(not_taken(sided.now_s))
        assert (sided.said, sided.earcons, sided.kinds) == ("", [], ["utterance_not_taken"])
    sided.lines("lot alfa four bravo two")
    sided.send(not_taken(sided.now_s))
    assert sided.earcons == ["not_understood"]


def test_what_is_not_taken_while_something_is_read_back_leaves_that_as_it_was(sided):
    sided.lines("lot alfa four bravo two", "refill two")
    assert sided.mode == "reading_back"
    assert sided.said == "Refill: say left or right."
    sided.lines("say again")
    assert sided.said == "lot alfa four bravo, two. Correct?"


@pytest.mark.parametrize(
    ("control", "probability", "is_asked"),
    [(Control.END_VISIT, 0.3, False), (Control.END_VISIT, 0.7, True), (Control.LIGHT_ON, 0.3, True)],
)
def test_words_that_were_hardly_meant_are_asked_about_only_where_light_may_be(sided, control, probability, is_asked):
    heard = Hypothesis(tuple(control.value.split("_")), (), sided.now_s, sided.now_s + 1, "test")
    sided.send(
        CommandDoubted(
            at_s=sided.now_s + 1.0,
            wall=WALL,
            command=ControlCommand(control),
            heard=heard,
            probability=probability,
        )
    )
    assert (sided.mode == "doubting") is is_asked
    assert (sided.said != "") is is_asked


def test_a_gate_lists_what_is_open_and_stays_shut(talk):
    talk.lines("package intact", "next step")
    told = talk.facts("missing_told")[-1]
    assert isinstance(told, MissingTold)
    assert told.because == "gate"
    assert "device_condition.sleeve" in told.items
    assert "device_condition.package" not in told.items
    assert "Still missing: " in talk.said
    assert talk.session.snapshot.section == "in before"


def test_a_silence_asks_once_for_what_is_missing(fitting, talk):
    talk.lines("package intact")
    talk.wait(fitting.procedure.ask_after_s - 1)
    assert talk.facts("missing_told") == []
    talk.wait(300)
    assert [one.because for one in talk.facts("missing_told")] == ["silence"]
    assert talk.session.snapshot.prompt.startswith("Who is fitting")


def at_gate(talk):
    """Come to the gate of the position, with everything standing or affirmed."""
    for _ in range(400):
        if talk.session.snapshot.section == "in position":
            return talk
        talk.answer()
    raise AssertionError("never came there")


def test_at_the_gate_everything_that_stands_is_listed_before_it_opens(talk):
    at_gate(talk)
    talk.lines("seam straight, wrinkles absent, nails parallel, crossing absent", "finger tips visible")
    talk.lines("wrist one eight, ring eight eight, little eight six")
    assert talk.mode == "reading_back"
    assert all(words in talk.said for words in ("one eight", "nothing flagged in sleeve and rotation"))
    assert talk.line("light on") is not None
    assert "light_turned_on" not in talk.kinds
    talk.lines("light off", "affirmative")
    assert talk.at == "expose_open"
    ways = talk.confirmed()
    assert ways["position.wrist"] == "affirmed"
    assert ways["sleeve_on.seam"] == ways["rotation.nails"] == "going_on"


def test_no_light_is_permitted_while_anything_only_stands(talk):
    at_gate(talk)
    talk.lines("wrist one eight, ring eight eight, little eight six", "affirmative", "nails parallel, crossing absent")
    talk.lines("light on")
    assert "light_turned_on" not in talk.kinds
    talk.lines("light off", "seam straight, wrinkles absent, finger tips visible")
    assert talk.mode == "checking"
    talk.lines("light on")
    assert "light_turned_on" not in talk.kinds


def test_negative_at_a_gate_asks_which_and_the_gate_stays_shut(talk):
    at_gate(talk)
    talk.lines("wrist one eight, ring eight eight, little eight six", "affirmative")
    talk.lines("seam straight, wrinkles absent, finger tips visible, nails parallel, crossing absent")
    assert talk.mode == "checking"
    talk.lines("negative")
    assert "Say correction" in talk.said
    assert talk.session.snapshot.section == "in position"
    talk.lines("correction, seam twisted")
    assert "seam twisted" in talk.said
    assert "nothing flagged in rotation" in talk.said  # the gate is asked about with it
    assert "nothing flagged in sleeve" not in talk.said
    talk.lines("affirmative")
    assert talk.at == "expose_open"
    seam = [one for one in talk.facts("reading_confirmed") if one.field == "seam"]
    assert [(one.value.value, one.read_back) for one in seam] == [("twisted", "affirmed")]


def test_who_leads_is_changed_by_voice_and_nothing_is_lost(sided):
    sided.lines("refill two on the left", "affirmative", "package intact")
    sided.lines("guide me")
    assert sided.facts("working_changed")[0].working is Working.GUIDED
    assert sided.said.startswith("package intact. ") or sided.said.startswith("Package intact. ")
    sided.lines("listen to me")
    assert sided.session.wanted.narration is not None
    assert sided.confirmed()["circulation_before@left.refill"] == "affirmed"


def test_a_half_said_step_is_read_back_when_people_begin_to_narrate(fitting):
    talk = Narrator(fitting, working=Working.GUIDED).go_to("circumference")
    talk.lines("first one six point five", "i will narrate")
    assert talk.mode == "reading_back"
    talk.lines("affirmative")
    assert talk.confirmed()["circumference.first"] == "affirmed"


def test_the_same_events_give_the_same_facts(sided):
    sided.lines("package intact, refill two on the left", "affirmative", "what is missing")
    again = Session(sided.bundle, working=Working.NARRATED, going_on=True)
    assert [again.handle(event) for event in sided.events] == sided.history


def test_a_value_stands_in_the_graph_once_for_all_its_labels(fitting):
    talk = sides_checked(fitting)
    graph = graph_for(talk.session.wanted)
    assert len({slot.slot for slot in talk.session.wanted.slots}) >= 70
    # A number alone is thousands of arcs: one for each label would be over a hundred thousand.
    assert len(graph.arcs) < 25_000
    assert match(graph, ["wrist", "intact", "and", "left", "sensation", "median", "intact"]) is not None
    assert match(graph, ["intact"]) is None
    assert match(graph, ["two", "point", "five"]) is None


def test_ten_minutes_of_other_talk_leave_at_most_one_item_which_the_gate_names(sided):
    if not SENTENCES.is_file():
        pytest.skip("the sentences of the bench are not at hand")
    said = runpy.run_path(str(SENTENCES))
    before = dict(sided.session._state.standing)
    for line in (*said["TALK"], *said["NEAR"]):
        sided.line(line)
        assert sided.mode == "asking", line
    taken = sided.session._state.standing.keys() - before.keys()
    assert len(taken) <= 1
    assert sided.facts("reading_confirmed") == [one for one in sided.facts("reading_confirmed") if one.field in ORDERS]
    for name in taken:
        assert name.rpartition(".")[2] in what_stands(sided.session._visit, sided.session._state).sentences[0].values


@pytest.mark.parametrize("working", list(Working))
def test_the_example_of_the_guide_is_worked_through_in_both_ways(working):
    bundle = load_bundle(str(GUIDE / "dressing-change.yaml"))
    talk = Narrator(bundle, working=working).finish()
    assert talk.outcome == "completed"
    assert {one.step for one in talk.facts("step_confirmed")} >= {"gloves"}


def test_prompts_are_short_as_long_as_somebody_narrates_and_whole_while_the_tool_asks(fitting):
    led = Narrator(fitting, expert=None)
    whole, short = fitting.plan.stages[0].step.prompt, fitting.plan.stages[0].step.expert
    assert whole != short
    assert led.said.endswith(short)
    led.lines("practice session", "guide me")
    assert led.at == "operator"
    assert led.said.endswith(fitting.plan.stage("operator").step.prompt)


@pytest.mark.parametrize(("expert", "said"), [(True, "expert"), (False, "prompt")])
def test_whoever_asks_for_short_or_whole_prompts_has_them_in_both_ways(fitting, expert, said):
    for working in Working:
        talk = Narrator(fitting, expert=expert, working=working)
        assert talk.said.endswith(getattr(fitting.plan.stages[0].step, said))


def test_a_step_is_done_in_the_words_of_its_file_where_it_is_asked_about(sided):
    sided.lines("guide me").go_to("padding")
    sided.lines("yes, padding done")
    assert "padding" in {one.stage for one in sided.facts("step_confirmed")}
