"""Timers: they speak by themselves when due, never over light, a dictation or a hold, also after a crash."""

import pytest
from own_procedures import begin, number, step, write
from procedure_files import DEVICE, LIGHT, PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.definition.verbalization import time_left_words
from handsfree.errors import ProcedureFileError
from handsfree.model.open_items import OpenTimer
from handsfree.record.codec import decode_fact, encode_fact
from handsfree.session.held_over import RunningTimer

# When a prompt may be said, and that the question is said again after it: common practice, no source.


def rest(after="2", unit="min", say="The blade has rested.", more=""):
    return step(f"""
id: down
kind: confirm
phase: during
prompt: Is the blade down?
hard: true
source: common
{more}
timers: [{{id: blade_rest, after: {after}, unit: {unit}, say: {say}}}]
""")


def test_it_speaks_by_itself_and_asks_again_what_was_asked(tmp_path):
    talk = begin(tmp_path, rest(), number("room"))
    assert talk.session.timers_end_s == 0
    talk.affirm()
    assert talk.session.timers_end_s == talk.now_s + 120
    started = talk.facts("timer_started")[-1]
    assert (started.timer, started.stage, started.seconds) == ("blade_rest", "down", 120.0)
    # Confirmed three seconds after nine o'clock.
    assert started.due == "2026-11-25T09:02:03.000Z"
    talk.wait(119)
    assert talk.facts("timer_ran_out") == []
    talk.wait(2)
    assert talk.said == "The blade has rested. Measure the room."
    assert talk.facts("timer_ran_out")[-1].late_s == 0
    talk.say("say_again")
    assert talk.said == "Measure the room."
    talk.wait(500)
    assert len(talk.facts("timer_ran_out")) == 1
    assert talk.session.timers_end_s == 0
    for fact in (started, talk.facts("timer_ran_out")[-1]):
        assert decode_fact(*encode_fact(fact)) == fact


def test_status_says_how_long_is_left(tmp_path):
    talk = begin(tmp_path, rest(), number("room"))
    talk.affirm()
    talk.wait(49)
    talk.say("status")
    assert "Blade rest: one minute ten seconds left." in talk.said


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "one second"), (60, "one minute"), (119.2, "two minutes"), (3725, "one hour two minutes"), (0, "nothing")],
)
def test_time_left_in_words(seconds, words):
    assert time_left_words(seconds) == words


def test_an_affirmative_after_it_still_answers_what_was_read_back(tmp_path):
    talk = begin(tmp_path, rest(after="10", unit="s"), number("room"))
    talk.affirm()
    talk.give(room=20)
    talk.wait(20)
    assert "The blade has rested. room twenty" in talk.said
    talk.affirm()
    assert talk.outcome == "completed"


def test_it_waits_for_a_note_and_is_told_late(tmp_path):
    talk = begin(tmp_path, rest(after="10", unit="s"), number("room"))
    talk.affirm()
    talk.say("take_note")
    talk.wait(30)
    assert talk.facts("timer_ran_out") == []
    talk.say("end_note")
    talk.wait(0.1)
    assert talk.facts("timer_ran_out")[-1].late_s > 20


def test_a_hold_is_said_again_after_it(tmp_path):
    talk = begin(tmp_path, rest(after="10", unit="s"), number("room", more=", flag_above: {red: 40}"), number("skin"))
    talk.affirm()
    talk.give(room=50)
    talk.affirm()
    assert talk.mode == "held"
    talk.wait(20)
    assert talk.said.startswith("The blade has rested. Stop. Call the senior clinician now. Room is over forty.")
    assert talk.mode == "held"


def test_a_stop_stays_told_while_it_speaks(tmp_path):
    talk = begin(tmp_path, rest(after="10", unit="s"), number("room"))
    talk.affirm()
    talk.say("stop")
    talk.wait(20)
    assert "The blade has rested. Still stopped." in talk.said
    assert talk.mode == "paused"


def test_it_survives_a_crash_by_the_clock_on_the_wall(tmp_path):
    talk = begin(tmp_path, rest(), number("room"))
    talk.affirm()
    talk.wait(30)
    talk.crash(gap_s=60)
    talk.wait(29)
    assert len(talk.facts("timer_ran_out")) == 0
    talk.wait(2)
    assert len(talk.facts("timer_ran_out")) == 1


def test_what_has_not_run_out_is_told_at_the_end_and_keeps_nobody(tmp_path):
    talk = begin(tmp_path, rest(after="30"), number("room"))
    talk.affirm()
    talk.give(room=20)
    talk.affirm()
    assert talk.outcome == "completed"
    assert "Left open: timer: blade rest." in talk.said
    assert talk.facts("visit_closed")[-1].open_items == (OpenTimer("blade rest"),)


def test_a_step_that_is_left_out_takes_its_timer_with_it(tmp_path):
    when = "when: {step: room.room, above: 30, unit: Cel}"
    talk = begin(tmp_path, number("room"), rest(more=when), number("skin"))
    talk.give(room=40)
    talk.affirm()
    talk.affirm()
    talk.say("previous_step")
    talk.say("previous_step")
    talk.say("correction")
    talk.give(room=20)
    talk.affirm()
    assert [fact.timer for fact in talk.facts("timer_dropped")] == ["blade_rest"]
    talk.wait(300)
    assert talk.facts("timer_ran_out") == []


def test_a_skipped_step_starts_none_and_done_again_it_begins_anew(tmp_path):
    soft = rest().replace("hard: true", "hard: false")
    talk = begin(tmp_path, soft, number("room"))
    talk.say("skip")
    talk.give(reason="unavailable")
    assert talk.facts("timer_started") == []
    talk = begin(tmp_path, rest(), number("room"))
    talk.affirm()
    talk.wait(60)
    talk.say("correction")
    talk.affirm()
    talk.wait(100)
    assert talk.facts("timer_ran_out") == []
    talk.wait(30)
    assert len(talk.facts("timer_ran_out")) == 1


def test_a_correction_that_is_taken_back_changes_no_timer(tmp_path):
    talk = begin(tmp_path, rest(), number("room"))
    talk.affirm()
    talk.wait(60)
    talk.say("correction")
    talk.say("next_step")
    assert talk.at == "room"
    talk.wait(59)
    assert len(talk.facts("timer_started")) == 1
    assert len(talk.facts("timer_ran_out")) == 1


def test_it_waits_while_light_is_on(tmp_path):
    talk = Talk(load_bundle(str(write_files(tmp_path, procedure=PROCEDURE, device=DEVICE, light=LIGHT))))
    for _ in range(200):
        if talk.step().kind == "expose" and talk.mode == "asking":
            break
        talk.answer()
    # As if a step before had started it, so that it runs out in the light.
    talk.session._state.timers["eyewear.look"] = RunningTimer("eyewear", "look", "look", "Look again.", talk.now_s + 2)
    talk.say("light_on")
    talk.wait(5)
    assert talk.facts("timer_ran_out") == []
    talk.say("light_off")
    talk.give(warmth="cool")
    talk.wait(0.1)
    (told,) = talk.facts("timer_ran_out")
    assert told.late_s > 3


@pytest.mark.parametrize(
    ("timer", "said"),
    [
        ("{id: rest, after: 0, unit: min, say: Over.}", "timers.0.after"),
        ("{id: rest, after: 2, unit: days, say: Over.}", "timers.0.unit"),
        ("{id: rest, after: 2, unit: min}", "timers.0.say: is missing"),
        ("{id: rest, after: 2, unit: min, say: Over.}, {id: rest, after: 3, unit: min, say: Over.}", "two timers are called rest"),  # noqa: E501
        ("{id: rest, after: 2, unit: min, say: 'Over {here}.'}", "{here} is not known"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_in_one_line(tmp_path, timer, said):
    path = write(tmp_path, rest().replace("{id: blade_rest, after: 2, unit: min, say: The blade has rested.}", timer))
    with pytest.raises(ProcedureFileError) as found:
        load_bundle(str(path))
    (line,) = str(found.value).splitlines()
    assert said in line
    assert f"{path}:28: steps.1.timers" in line
