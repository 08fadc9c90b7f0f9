"""A disk that takes long: what ends light or pain does not wait for it, and nothing is called recorded before it is.

The disk is opened by the test, never by a clock. Sentences: common practice, no source.
"""

from contextlib import contextmanager

import pytest
from slow_disk import Disk, TypedVisit

from handsfree.application.opening import kept_open
from handsfree.errors import RecordError
from handsfree.model.commands import Control, Wanted
from handsfree.model.facts import SoundOverflowed
from handsfree.record.verify import RecordState, verify

LOOK = "Light off. Lift it away. Look at the skin."
SLOW = "The disk is slow. Answers come late."
FAILED = "Stop. The record cannot be written. Nothing more is recorded. Light off."


@pytest.fixture
def disk(monkeypatch):
    return Disk(monkeypatch)


@pytest.fixture
def visit(tmp_path, disk):
    visit = TypedVisit(tmp_path)
    with visit.journal:
        yield visit
        disk.open()
        visit.runner.release()


def test_hot_is_answered_before_the_disk_has_it(visit, disk):
    visit.type_into_the_light()
    disk.shut()
    before = len(visit.outputs.all)
    visit.runner.type("hot")
    disk.wait_until_reached()
    sounded, said = visit.outputs.said_since(before)
    assert sounded == "*attention"
    assert said.startswith(LOOK)
    assert visit.outputs.snapshot.mode == "held"
    assert not visit.outputs.snapshot.is_lit
    assert not visit.runner.settled
    disk.open()
    visit.runner.finish()
    assert visit.outputs.said_since(before) == [sounded, said]
    assert [one["word"] for one in visit.lines("stop_word_heard")] == ["hot"]


def test_two_stop_words_in_a_row_are_both_answered(visit, disk):
    visit.type_into_the_light()
    disk.shut()
    before = len(visit.outputs.all)
    visit.runner.type("stop")
    disk.wait_until_reached()
    visit.runner.type("hot")
    first, _, second = visit.outputs.said_since(before)
    assert first.startswith("Stopped. Light off")
    assert second.startswith(LOOK)
    assert visit.lines("stop_word_heard")[1:] == [], "the second one waits for the disk that the first one waits for"
    disk.open()
    visit.runner.finish()
    assert [one["word"] for one in visit.lines("stop_word_heard")] == ["stop", "hot"]


@pytest.mark.parametrize(
    ("line", "said"),
    [("it hurts", LOOK), ("take it off", "Light off? Was it hot or painful?"), ("light off", "Front part, ")],
)
def test_cries_and_light_off_are_answered_while_an_earlier_line_waits(visit, disk, line, said):
    visit.type_into_the_light()
    disk.shut()
    visit.pass_s(1.5)
    disk.wait_until_reached()
    before = len(visit.outputs.all)
    visit.runner.type(line)
    assert any(text.startswith(said) for text in visit.outputs.said_since(before))
    assert not visit.outputs.snapshot.is_lit


def test_light_off_sounds_recorded_only_when_it_is(visit, disk):
    visit.type_into_the_light()
    disk.shut()
    visit.runner.type("light off")
    disk.wait_until_reached()
    assert visit.outputs.all[-2].startswith("Front part, ")
    assert visit.outputs.all[-1] == "Again: Zone: front part. Say light on."
    disk.open()
    visit.runner.finish()
    assert visit.outputs.all[-1] == "*recorded"


def test_cues_and_the_stop_after_an_unanswered_cry_keep_their_time(visit, disk):
    visit.type_into_the_light()
    disk.shut()
    visit.pass_s(41)
    assert "Half." in visit.outputs.all
    assert "Light off." in visit.outputs.all
    visit.runner.type("take it off")
    visit.pass_s(6)
    assert visit.outputs.all[-1].startswith("Stopped. Light off, lift it away.")
    visit.runner.type("light off")
    visit.pass_s(1)
    assert SLOW in visit.outputs.all, "not before the light is off"


def test_a_value_is_called_recorded_only_when_it_is_on_the_disk(visit, disk):
    visit.type("practice session", "five")
    shown = visit.outputs.snapshot
    before = len(visit.outputs.all)
    disk.shut()
    visit.runner.type("affirmative")
    disk.wait_until_reached()
    visit.runner.tick()
    assert visit.outputs.said_since(before) == []
    assert visit.outputs.snapshot is shown
    disk.open()
    visit.runner.finish()
    assert visit.outputs.said_since(before) == ["*recorded", "Is eyewear on for everyone?"]
    assert visit.outputs.snapshot.done == shown.done + 1


def test_after_a_stop_no_question_from_before_it_is_asked(visit, disk):
    visit.type("practice session", "five")
    shown = visit.outputs.snapshot
    before = len(visit.outputs.all)
    disk.shut()
    visit.runner.type("affirmative")
    visit.runner.type("stop")
    (stopped,) = visit.outputs.said_since(before)
    assert visit.outputs.snapshot.mode == "paused"
    assert visit.outputs.snapshot.done == shown.done, "what is not on the disk is not shown as done"
    disk.open()
    visit.runner.finish()
    assert visit.outputs.said_since(before) == [stopped, "*recorded"]
    assert visit.outputs.snapshot.mode == "paused"
    assert visit.outputs.snapshot.done == shown.done + 1


def test_a_question_that_light_has_overtaken_is_not_asked_after_it(visit, disk):
    visit.type("practice session", "five", "affirmative")
    before = len(visit.outputs.all)
    disk.shut()
    visit.runner.type("affirmative")
    visit.runner.type("light on")
    assert visit.outputs.snapshot.is_lit
    disk.open()
    visit.runner.finish()
    assert visit.outputs.said_since(before) == ["*heard", "*recorded"]


def test_what_an_event_tells_is_said_in_order_though_light_goes_on_meanwhile(visit, disk):
    visit.type_into_the_light()
    disk.shut()
    before = len(visit.outputs.all)
    visit.runner.type("strap off")
    visit.pass_s(1.5)
    assert visit.outputs.said_since(before) == ["*tick"]
    disk.open()
    visit.runner.finish()
    assert visit.outputs.said_since(before) == ["*tick", "*recorded", "Strap off."]


def test_a_disk_that_gives_out_after_a_stop_was_said_is_told_and_ends_the_session(visit, disk):
    visit.type_into_the_light()
    disk.shut()
    before = len(visit.outputs.all)
    visit.runner.type("light off")
    disk.wait_until_reached()
    visit.runner.type("hot")
    disk.give_out()
    with pytest.raises(RecordError, match="No space left"):
        visit.runner.finish()
    said = visit.outputs.said_since(before)
    assert said[0].startswith("Front part, ")
    assert said[-2].startswith(LOOK)
    assert said[-1] == FAILED
    assert "*recorded" not in said
    with pytest.raises(RecordError):
        visit.runner.type("affirmative")
    assert visit.outputs.said_since(before) == said
    assert visit.lines("light_turned_off") == []
    assert visit.lines("stop_word_heard") == []
    assert not visit.runner.closed


def test_what_reached_the_disk_before_it_gave_out_is_called_recorded(visit, disk):
    visit.type("practice session")
    disk.shut()
    visit.runner.type("five")
    disk.wait_until_reached()
    visit.runner.type("affirmative")
    before = len(visit.outputs.all)
    disk.open()
    assert visit.runner._writer.wait(60)
    disk.give_out()
    visit.runner.note(SoundOverflowed(count=1, at_s=0.0))
    with pytest.raises(RecordError):
        visit.runner.finish()
    assert visit.outputs.said_since(before)[-3:] == ["*recorded", "Is eyewear on for everyone?", FAILED]


def test_leaving_a_visit_tells_that_its_last_lines_cannot_be_written(tmp_path, disk):
    visit = TypedVisit(tmp_path)
    disk.shut()
    visit.runner.type("practice session")
    disk.give_out()
    with pytest.raises(RecordError), kept_open(visit.runner, visit.journal):
        pass
    assert visit.outputs.all[-1] == FAILED
    assert verify(visit.folder).state is RecordState.INTERRUPTED


def test_a_visit_that_is_broken_off_frees_its_record_when_it_is_written(tmp_path, disk, monkeypatch):
    visit = TypedVisit(tmp_path)
    release, freed = visit.runner.release, []

    @contextmanager
    def record():
        try:
            yield
        finally:
            freed.append(visit.runner._writer.wait(0))

    def open_and_release():
        disk.open()
        release()

    monkeypatch.setattr(visit.runner, "release", open_and_release)
    disk.shut()
    visit.runner.type("practice session")
    disk.wait_until_reached()
    with visit.journal, pytest.raises(KeyboardInterrupt), kept_open(visit.runner, record()):
        raise KeyboardInterrupt
    assert freed == [True]
    assert [one["value"]["value"] for one in visit.lines("reading_confirmed")] == ["practice"]


def test_a_slow_disk_is_told_once_and_kept_once(visit, disk, caplog):
    visit.type("practice session")
    for _ in range(2):
        disk.shut()
        visit.runner.type("say again")
        assert visit.runner.patience_s(5.0) == (1.0 if SLOW not in visit.outputs.all else 5.0)
        visit.clock.sleep_until(visit.clock.monotonic_s() + 0.9)
        visit.runner.tick()
        assert visit.outputs.all.count(SLOW) == (1 if visit.runner.is_slow else 0)
        visit.clock.sleep_until(visit.clock.monotonic_s() + 0.2)
        visit.runner.tick()
        assert visit.outputs.all.count(SLOW) == 1
        disk.open()
        visit.runner.finish()
    assert visit.outputs.all.count(SLOW) == 1
    assert [one["waited_s"] for one in visit.lines("disk_found_slow")] == [1.1]
    assert [text for text in caplog.messages if "disk_found_slow" in text] == [
        "disk_found_slow at_s=1.100 waited_s=1.100"
    ]


def test_a_disk_that_was_slow_while_nobody_looked_is_told_too(visit, disk):
    disk.shut()
    visit.runner.type("practice session")
    disk.wait_until_reached()
    visit.clock.sleep_until(3.0)
    disk.open()
    assert visit.runner._writer.wait(60)
    visit.runner.finish()
    assert visit.outputs.all[-2:] == ["Distance in centimeters?", SLOW]


def test_the_end_of_a_visit_is_told_when_it_is_on_the_disk(visit, disk):
    visit.type("stop", "end the visit", "ward nurse", "reviewed by the senior")
    disk.shut()
    before = len(visit.outputs.all)
    visit.runner.type("affirmative")
    disk.wait_until_reached()
    assert visit.runner.ending
    assert not visit.runner.closed
    visit.runner.note(SoundOverflowed(count=1, at_s=0.0))
    visit.runner.type("stop")
    assert visit.outputs.said_since(before) == []
    disk.open()
    visit.runner.finish()
    assert visit.runner.outcome == "stopped"
    assert visit.outputs.all[-1] == "The visit was ended early. Recorded."
    assert verify(visit.folder).state is RecordState.COMPLETE


def test_a_question_that_waits_is_answered_by_nobody(visit, disk):
    visit.type("practice session", "five")
    assert visit.runner.unasked is None
    disk.shut()
    visit.runner.type("affirmative")
    assert visit.runner.unasked == Wanted(frozenset({Control.LIGHT_ON}))
    visit.clock.sleep_until(0.5)
    visit.runner.tick()
    before = len(visit.outputs.all)
    visit.clock.sleep_until(1.5)
    visit.runner.type("affirmative")
    assert visit.outputs.all[before:] == ["=not taken", SLOW]
    asked = visit.runner.asked
    disk.open()
    visit.runner.finish()
    assert visit.runner.asked == asked + 1
    assert visit.outputs.snapshot.step_id == "eyewear", "that eyewear is on was asked, and not affirmed"
    assert visit.runner.unasked is None
    assert [one["step"] for one in visit.lines("step_confirmed")] == []


def test_lines_that_were_typed_ahead_are_taken_one_after_the_other(visit, disk):
    visit.type("practice session")
    before = len(visit.outputs.all)
    disk.shut()
    for line in ("five", "affirmative", "affirmative"):
        visit.runner.type(line, 0.0)
    disk.open()
    visit.runner.finish()
    assert visit.outputs.snapshot.step_id == "cure"
    assert visit.outputs.said_since(before) == [
        "distance five, centimeters. Correct?",
        *("*recorded", "Is eyewear on for everyone?"),
        *("*recorded", "When ready, say light on. Zone: front part."),
    ]


def test_which_lines_wait_for_nothing(visit):
    visit.type("practice session", "five", "affirmative", "affirmative")
    assert [visit.runner.ends_light(line) for line in ("hot", "light off", "take it off", "five", "light on")] == [
        *(True, True, False, False, False)
    ]
    visit.type("light on")
    assert [visit.runner.ends_light(line) for line in ("hot", "take it off", "five")] == [True, True, False]


def test_typed_words_count_from_when_they_were_typed(visit):
    visit.type("practice session", "five", "affirmative", "affirmative")
    visit.clock.sleep_until(20.0)
    visit.runner.type("light on", 10.0)
    visit.runner.finish()
    visit.clock.sleep_until(40.0)
    visit.runner.type("light off", 18.0)
    visit.runner.finish()
    (off,) = visit.lines("light_turned_off")
    assert (off["counted_from_s"], off["counted_to_s"]) == (10.0, 18.0)
    assert off["heard"]["spoken_from_s"] == 18.0
    assert verify(visit.folder).record.events[-1].at_s == 40.0


def test_the_surroundings_are_told_after_what_waits(visit, disk):
    visit.type("practice session")
    disk.shut()
    before = len(visit.outputs.all)
    visit.runner.type("say again")
    visit.runner.tell("The microphone is back.")
    assert visit.outputs.said_since(before) == []
    disk.open()
    visit.runner.finish()
    assert visit.outputs.said_since(before) == ["Distance in centimeters?", "The microphone is back."]


def test_a_key_answers_no_question_that_waits_for_the_disk(visit, disk):
    visit.type("practice session")
    visit.runner.finish()
    disk.shut()
    visit.runner.type("five")
    disk.wait_until_reached()
    assert visit.runner.unasked is not None
    visit.runner.press(Control.AFFIRM, visit.runner.now_s)
    disk.open()
    visit.runner.finish()
    assert visit.outputs.snapshot.mode == "reading_back"
    visit.runner.press(Control.AFFIRM, visit.runner.now_s)
    visit.runner.finish()
    assert visit.outputs.snapshot.mode != "reading_back"
