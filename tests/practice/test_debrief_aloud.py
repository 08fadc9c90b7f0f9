"""The spoken debriefing: said whole, said again where somebody talked over it, ended by a stop word or Ctrl-C.

Common practice, no source. Devices are stand-ins; `tests/live/test_live_debrief.py` hears it on a sound card.
"""

from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from handsfree.clock import ManualClock
from handsfree.commands import practice as practice_commands
from handsfree.errors import AudioDeviceError, ModelError
from handsfree.model.audio import Speech
from handsfree.model.commands import Wanted
from handsfree.practice.aloud import BREATH_S, OVER_S, Interruptions, say_aloud
from handsfree.runner.listening_thread import EarsFailed, RoomTooLoud, TalkedOver, UtteranceHeard
from handsfree.understanding.interpreter import typed

START = datetime(2026, 11, 25, 9, tzinfo=UTC)


def heard_as(words):
    hypothesis = typed(words, Wanted(), 0.0)
    assert hypothesis is not None, words
    return UtteranceHeard(hypothesis, Wanted())


class Player:
    """Plays in counted time."""

    def __init__(self, clock):
        self.clock = clock
        self.until_s, self.played, self.stopped_s = 0.0, [], None

    @property
    def speaking(self):
        return self.clock.monotonic_s() < self.until_s

    def play(self, speech, priority):
        assert not self.speaking
        self.played.append((round(self.clock.monotonic_s(), 2), speech.duration_s))
        self.until_s = self.clock.monotonic_s() + speech.duration_s

    def stop(self):
        self.until_s, self.stopped_s = self.clock.monotonic_s(), self.clock.monotonic_s()


class Room(ManualClock):
    """Counted time in which things happen at their seconds."""

    def __init__(self, heard, happening):
        super().__init__(START)
        self.heard, self.happening = heard, list(happening)
        self.player = Player(self)

    def sleep_until(self, at_s):
        super().sleep_until(at_s)
        while self.happening and self.happening[0][0] <= at_s:
            message = self.happening.pop(0)[1]
            if isinstance(message, TalkedOver):
                self.player.until_s = at_s
            self.heard.take(message)


def said(*happening):
    heard = Interruptions([].append)
    clock = Room(heard, happening)
    player = clock.player
    whole = say_aloud([Speech(bytes(2000 * seconds), 1000) for seconds in (2, 3)], player, clock, heard)
    return whole, player


def test_each_sentence_is_said_whole_with_a_breath_between_them():
    whole, player = said()
    assert whole
    assert [seconds for _, seconds in player.played] == [2.0, 3.0]
    assert 2.0 + BREATH_S <= player.played[1][0] < 2.0 + BREATH_S + 0.2


@pytest.mark.parametrize("word", ["stop", "light off", "it hurts"])
def test_a_stop_word_ends_it_at_once(word):
    whole, player = said((3.0, TalkedOver(3.0)), (3.1, heard_as(word)))
    assert not whole
    assert len(player.played) == 2
    assert 3.0 <= player.stopped_s < 3.3


def test_a_stop_word_that_the_gate_let_pass_without_breaking_off_ends_it_too():
    whole, player = said((1.0, heard_as("stop")))
    assert (whole, len(player.played)) == (False, 1)
    assert player.stopped_s < 1.2


def test_what_somebody_talked_over_is_said_once_more_and_not_for_ever():
    whole, player = said((1.0, TalkedOver(1.0)))
    assert whole
    assert [seconds for _, seconds in player.played] == [2.0, 2.0, 3.0]
    assert player.played[1][0] >= 1.0 + OVER_S
    whole, player = said((1.0, TalkedOver(1.0)), (4.5, TalkedOver(4.5)))
    assert whole
    assert [seconds for _, seconds in player.played] == [2.0, 2.0, 3.0]


def test_other_words_and_a_loud_room_end_nothing():
    nothing = UtteranceHeard(typed("stop", Wanted(), 0.0).__class__((), (), 0.0, 0.0, "test"), Wanted())
    whole, player = said((0.5, nothing), (0.6, RoomTooLoud()))
    assert whole
    assert len(player.played) == 2


def test_it_is_told_when_somebody_listens_and_when_nobody_does_any_more():
    # Before this was told, a "stop" said while the recogniser was loading was heard by nobody.
    told = []
    heard = Interruptions(told.append)
    heard.ready(hears=True)
    heard.take(EarsFailed(ModelError("no weights")))
    assert told == [
        "(listening: a stop word ends it, too)",
        "(the ears failed: no weights)",
        "(nobody listens: only Ctrl-C ends it)",
    ]


@pytest.fixture
def practised(tmp_path):
    """A practice at a microphone, of which only what comes after it is real."""
    folder, store = tmp_path / "record", tmp_path / "attempts"
    asked = ["light-output-check", "--scenario", "low-battery", "--learner", "good", "--typed", "--quiet"]
    done = CliRunner().invoke(practice_commands.practice, [*asked, "--record", str(folder), "--attempts", str(store)])
    assert done.exit_code == 0, done.output
    return folder


def aloud(monkeypatch, practised, outcome):
    def speak(sentences, settings, clock, tell):
        assert sentences[0].startswith("Practice is over.")
        if isinstance(outcome, BaseException):
            raise outcome
        return outcome

    monkeypatch.setattr("handsfree.practice.debrief_aloud.debrief_aloud", speak)
    return CliRunner().invoke(practice_commands.debrief, [str(practised), "--aloud"])


@pytest.mark.parametrize(
    ("outcome", "told"),
    [
        (True, "(Ctrl-C ends what is said)"),
        (False, "not said to its end; it stands above"),
        (KeyboardInterrupt(), "not said to its end; it stands above"),
        (AudioDeviceError("no loudspeaker"), "not spoken: no loudspeaker"),
    ],
)
def test_whoever_has_heard_enough_ends_the_talk_and_not_the_program(monkeypatch, practised, outcome, told):
    run = aloud(monkeypatch, practised, outcome)
    assert run.exit_code == 0
    assert told in run.output
    assert "Practice is over." in run.stdout


def test_the_attempt_is_in_the_store_before_anything_is_said(monkeypatch, tmp_path):
    # Found by trying it: Ctrl-C at the debriefing lost the attempt.
    stored = []
    monkeypatch.setattr(practice_commands, "practise_at_microphone", lambda case, folder, *_: _play(case, folder))
    monkeypatch.setattr(
        "handsfree.practice.debrief_aloud.debrief_aloud",
        lambda *_: stored.append((tmp_path / "attempts").exists()),
    )
    asked = ["light-output-check", "--scenario", "low-battery", "--record", str(tmp_path / "r"), "--trainee", "L-001"]
    run = CliRunner().invoke(practice_commands.practice, [*asked, "--attempts", str(tmp_path / "attempts"), "--quiet"])
    assert run.exit_code == 0, run.output
    assert stored == [True]


def _play(case, folder):
    from rich.console import Console

    from handsfree.practice.practised_visit import SoundOptions, practise_scripted

    practise_scripted(case, folder, "L-001", "good", START, Console(quiet=True), SoundOptions(), typed=True)
