"""The session runner of practice: what was asked for too early is written down and refused; nothing else changes."""

from dataclasses import dataclass, field
from datetime import UTC, datetime

import pytest

from handsfree.application.opening import open_session
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.model.commands import Control
from handsfree.model.facts import LightTurnedOn, PracticeAttempted, ReadingConfirmed
from handsfree.model.readings import Option
from handsfree.practice.practice_runner import PracticeRunner
from handsfree.record.verify import verify
from handsfree.understanding.interpreter import typed


@dataclass
class Outputs:
    """Notes what becomes of utterances."""

    outcomes: list[str] = field(default_factory=list)

    def say(self, text, priority, heard_out=0):
        pass

    def earcon(self, earcon):
        pass

    def heard(self, hypothesis, outcome, probability):
        self.outcomes.append(outcome)

    def show(self, snapshot):
        pass


@pytest.fixture
def at_first_step(tmp_path):
    clock, outputs = ManualClock(datetime(2026, 11, 25, 9, tzinfo=UTC)), Outputs()
    runner, journal = open_session(
        load_bundle("light-output-check"),
        tmp_path,
        clock,
        outputs,
        practice=True,
        engine="typed",
        keep_clips=False,
        kind=PracticeRunner,
    )
    with journal:
        yield runner, outputs, tmp_path


def facts(folder, kind):
    return [one.fact for one in verify(folder).record.of(kind)]


def test_light_on_at_a_step_without_light_is_written_down_and_refused(at_first_step):
    runner, outputs, folder = at_first_step
    assert Control.LIGHT_ON in runner.wanted.controls
    assert Control.LIGHT_ON not in runner.session.wanted.controls
    runner.type("light on")
    assert outputs.outcomes[-1] == "not taken"
    assert [one.stage for one in facts(folder, PracticeAttempted)] == ["session_kind"]
    assert facts(folder, LightTurnedOn) == []


def test_what_was_heard_while_listening_wider_is_an_answer_all_the_same(at_first_step):
    runner, outputs, folder = at_first_step
    answer = typed("practice session", runner.session.wanted, 0.0)
    runner.hear(answer, listened_for=runner.wanted)
    assert outputs.outcomes == ["accepted"]
    assert [one.value for one in facts(folder, ReadingConfirmed)] == [Option("practice")]


def test_an_answer_to_the_question_before_is_still_no_answer(at_first_step):
    runner, outputs, folder = at_first_step
    before = runner.wanted
    runner.type("practice session")
    runner.hear(typed("practice session", before, 0.0), listened_for=before)
    assert outputs.outcomes == ["accepted", "not taken"]
    assert len(facts(folder, ReadingConfirmed)) == 1


def test_talk_is_no_attempt(at_first_step):
    runner, _, folder = at_first_step
    runner.type("shall I fetch the other trolley")
    assert facts(folder, PracticeAttempted) == []


def test_time_reaches_whoever_plays_the_events(at_first_step):
    runner, _, _ = at_first_step
    ticks = []
    runner.on_tick = lambda: ticks.append(1)
    runner.tick()
    assert ticks == [1]
