"""Speech over the tool's voice: who is let through, what is broken off, and which answers count.

Rooms are simulated, people are noise that swells like speech, and the detector of speech is told who they are. Rules of
our own, no source; the figures are those of the rooms.
"""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")
pytest.importorskip("pywebrtc_audio", reason="pywebrtc-audio is not installed: pip install 'handsfree[speech]'")

from live_stand_ins import Visit  # noqa: E402
from slow_disk import TypedVisit  # noqa: E402

from handsfree.application.echo_check import test_sound as sound_of_check  # noqa: E402
from handsfree.audio.echo_canceller import EchoCanceller  # noqa: E402
from handsfree.clock import ManualClock  # noqa: E402
from handsfree.model.audio import Heard  # noqa: E402
from handsfree.model.commands import Control, Wanted  # noqa: E402
from handsfree.model.effects import Priority  # noqa: E402
from handsfree.model.events import RejectionReason  # noqa: E402
from handsfree.model.hypotheses import Hypothesis  # noqa: E402
from handsfree.recognition.speech_nearby import SpeechNearby  # noqa: E402
from handsfree.runner.listening_thread import LiveEars, TalkedOver, UtteranceHeard  # noqa: E402
from handsfree.runner.talk_watch import Canceller  # noqa: E402
from handsfree.simulation.echo_room import EchoPath, EchoRoom  # noqa: E402
from handsfree.understanding.interpreter import typed  # noqa: E402

RATE_HZ = 16_000
BLOCK_S = 0.02
YES_OR_NO = Wanted(frozenset({Control.AFFIRM, Control.NEGATE}))


class Detector:
    """Takes whatever is loud for speech, while the test says that it is."""

    def __init__(self):
        self.speech = True

    def __call__(self, audio):
        loud = np.abs(np.frombuffer(audio, "<i2").astype(int)).max() > 1500
        return 1.0 if self.speech and loud else 0.0

    def reset(self):
        pass


class Recognizer:
    """Keeps what it is given; hears a word in the block that the test names."""

    goes_on = speaking = False

    def __init__(self):
        self.blocks = []
        self.word = None

    def listen_for(self, graph, is_unfinished):
        pass

    def accept(self, block):
        self.blocks.append(block)
        word, self.word = self.word, None
        return (Hypothesis(("affirmative",), ("control:affirm",), *word, "fake"),) if word else ()

    def reset(self):
        pass

    def loud_between(self, from_s, to_s):
        """Share of the blocks of a span that are no silence."""
        inside = [block for block in self.blocks if from_s <= block.start_s < to_s]
        return sum(any(block.pcm) for block in inside) / len(inside)


class There:
    """A room in which a prompt plays after the canceller has learned the room."""

    def __init__(self, path=None, *, reference=True, learn_s=4.0):
        self.room = EchoRoom(ManualClock(datetime(2026, 11, 25, tzinfo=UTC)), path or EchoPath(gain_db=-6.0))
        if not reference:
            self.room.played = lambda start_s, count: np.zeros(count, np.int16)
        self.detector, self.recognizer, self.posted = Detector(), Recognizer(), []
        canceller = Canceller(EchoCanceller(self.room.played), SpeechNearby(self.detector))
        self.ears = LiveEars(self.room, lambda: self.recognizer, self.posted.append, canceller=canceller)
        self.ears.attend(YES_OR_NO, 1)
        self.ears.load()
        sound = sound_of_check()
        self.pass_s(0.5)
        self.room.play(sound, Priority.PROMPT, heard_out=True)
        self.pass_s(learn_s)
        self.room.stop()
        self.pass_s(1.0)
        self.learned = len(self.posted)

    def pass_s(self, seconds):
        for _ in range(round(seconds / BLOCK_S)):
            self.ears.hear(self.room.next_block())

    def prompt(self, *, heard_out=False, priority=Priority.PROMPT):
        """A prompt of six seconds, one of which is over."""
        self.room.play(sound_of_check(), priority, heard_out=heard_out)
        self.pass_s(1.0)

    def somebody(self, seconds=0.5, level=0.15):
        """Somebody makes a sound now; when."""
        random = np.random.default_rng(7)
        swell = np.sin(np.pi * np.arange(round(seconds * RATE_HZ)) / (seconds * RATE_HZ)) ** 0.5
        self.room.speak(random.standard_normal(len(swell)) * swell * level)
        return self.room.now_s

    @property
    def cut(self):
        return [one for one in self.posted[self.learned :] if isinstance(one, TalkedOver)]

    @property
    def heard(self):
        return [one for one in self.posted if isinstance(one, UtteranceHeard)]


def test_somebody_who_speaks_over_a_question_breaks_it_off_and_is_heard_from_the_first_sound():
    there = There()
    there.prompt()
    begun_s = there.somebody()
    there.pass_s(0.25)
    assert len(there.cut) == 1
    assert not there.room.speaking
    assert there.room.silent_s - begun_s < 0.25
    there.pass_s(1.0)
    assert there.recognizer.loud_between(begun_s + 0.04, begun_s + 0.44) == 1.0
    assert there.recognizer.loud_between(begun_s - 0.9, begun_s - 0.6) == 0.0


def test_a_cough_or_a_beep_lets_the_voice_pause_for_a_moment_and_breaks_nothing_off():
    there = There()
    there.detector.speech = False
    there.prompt()
    begun_s = there.somebody(0.3)
    there.pass_s(0.5)
    assert there.room.silent_s - begun_s < 0.2, "its way to the loudspeaker included"
    there.pass_s(0.9)
    assert there.room.now_s - there.room.silent_s < 0.03, "it goes on"
    assert there.room.speaking
    assert there.cut == []
    # It may have been "hot": the recogniser gets it, and says whether it was a word.
    assert there.recognizer.loud_between(begun_s + 0.04, begun_s + 0.26) == 1.0


@pytest.mark.parametrize(("heard_out", "priority"), [(True, Priority.PROMPT), (False, Priority.ATTENTION)])
def test_what_must_be_heard_out_goes_on_and_who_speaks_over_it_is_heard_beside_it(heard_out, priority):
    there = There()
    there.prompt(heard_out=heard_out, priority=priority)
    begun_s = there.somebody()
    there.pass_s(0.7)
    there.recognizer.word = begun_s, begun_s + 0.5
    there.pass_s(0.1)
    assert there.cut == []
    assert there.room.speaking
    assert there.recognizer.loud_between(begun_s + 0.04, begun_s + 0.44) == 1.0
    (heard,) = there.heard
    assert (heard.spoilt, heard.answers) == (None, Heard.TOO_LITTLE)


def test_a_word_that_is_late_known_for_speech_finds_the_prompt_silent_and_breaks_it_off():
    """Soft beginnings of words ("warm", "unchanged") are something long before they are speech."""
    there = There(learn_s=6.0)
    there.detector.speech = False
    there.prompt()
    begun_s = there.somebody(0.8)
    there.pass_s(0.4)
    assert there.cut == []
    there.detector.speech = True
    there.pass_s(0.2)
    assert len(there.cut) == 1
    assert there.room.silent_s - begun_s < 0.25
    there.pass_s(0.3)
    assert there.recognizer.loud_between(begun_s + 0.04, begun_s + 0.74) == 1.0


def test_whoever_has_spoken_over_prompts_before_need_not_speak_louder_now():
    there = There()
    there.prompt(heard_out=True)
    for _ in range(4):
        there.somebody(1.0)
        there.pass_s(1.2)
    there.pass_s(1.5)
    there.prompt()
    there.somebody()
    there.pass_s(0.25)
    assert len(there.cut) == 1


def test_how_much_of_a_question_was_heard_goes_with_what_was_said():
    there = There()
    there.prompt()
    begun_s = there.somebody()
    there.pass_s(0.7)
    there.recognizer.word = begun_s, begun_s + 0.5
    there.pass_s(0.1)
    (heard,) = there.heard
    assert (heard.spoilt, heard.answers) == (None, Heard.ENOUGH)


def test_words_of_which_a_part_was_silenced_are_not_trusted():
    there = There()
    there.prompt()
    begun_s = there.somebody(0.7)
    there.pass_s(0.8)
    there.recognizer.word = begun_s - 0.9, begun_s + 0.7
    there.pass_s(0.1)
    assert [one.spoilt for one in there.heard] == [RejectionReason.NOT_UNDERSTOOD]


def test_words_found_in_the_tools_own_voice_are_nobodys():
    there = There()
    there.prompt()
    there.recognizer.word = there.room.now_s - 0.9, there.room.now_s - 0.2
    there.pass_s(1.0)
    assert there.heard == []


@pytest.mark.parametrize("word_s", [0.3, 0.6])
def test_a_short_word_beside_the_tools_own_voice_is_somebodys(word_s):
    there = There()
    there.prompt(heard_out=True)
    begun_s = there.somebody(word_s)
    there.pass_s(word_s + 0.4)
    there.recognizer.word = begun_s, begun_s + word_s
    there.pass_s(0.1)
    (heard,) = there.heard
    assert heard.spoilt is None


def test_nothing_is_understood_over_the_voice_until_the_room_is_learnt_and_somebody_loud_still_cuts_it():
    there = There(learn_s=0.0)
    assert not there.ears.is_full
    there.room.play(sound_of_check(), Priority.PROMPT, heard_out=True)
    begun_s = there.room.now_s
    there.pass_s(0.9)
    assert not there.ears.is_full
    assert there.recognizer.loud_between(begun_s, begun_s + 0.7) == 0.0
    there.pass_s(3.1)
    assert there.ears.is_full
    there.room.stop()
    there.pass_s(1.0)
    there.ears._watch.forget()
    there.prompt()
    assert not there.ears.is_full, "another device may be in another place"


def test_where_the_voice_is_not_heard_at_all_there_is_nothing_to_learn():
    there = There(EchoPath(gain_db=-80.0), learn_s=1.6)
    assert there.ears.is_full


def test_after_a_delay_that_jumps_words_in_the_tools_own_voice_are_nobodys_and_a_stop_word_is_still_heard():
    there = There(learn_s=6.0)
    there.room.path = replace(EchoPath(gain_db=-6.0), delay_s=0.22)
    there.room.play(sound_of_check(), Priority.PROMPT, heard_out=True)
    there.pass_s(1.2)
    there.recognizer.word = there.room.now_s - 0.8, there.room.now_s - 0.1
    there.pass_s(0.2)
    assert there.heard == []
    begun_s = there.somebody(0.6)
    there.pass_s(0.8)
    assert there.ears.is_full, "a word that is being said must not be lost to learning"
    there.recognizer.word = begun_s, begun_s + 0.6
    there.pass_s(0.1)
    assert [one.spoilt for one in there.heard] == [None]


@pytest.mark.parametrize(
    "path",
    [
        EchoPath(gain_db=-6.0, drift_ppm=50.0),
        EchoPath(gain_db=16.0),
        EchoPath(gain_db=6.0, tail_s=0.4, drive=2.0),
    ],
    ids=["clocks apart", "microphone clips", "loud, echoing, bent"],
)
def test_the_tools_own_voice_breaks_nothing_off_and_is_not_let_through(path):
    there = There(path, learn_s=6.0)
    there.room.play(sound_of_check(), Priority.PROMPT)
    begun_s = there.room.now_s
    there.pass_s(7.0)
    assert [one for one in there.posted if isinstance(one, TalkedOver)] == []
    assert there.recognizer.loud_between(begun_s, begun_s + 6.0) == 0.0


def test_an_echo_that_cannot_be_taken_out_is_nobody():
    there = There(reference=False, learn_s=6.0)
    there.room.play(sound_of_check(), Priority.PROMPT)
    there.pass_s(7.0)
    assert there.cut == []


@pytest.mark.parametrize("change", [{"delay_s": 0.22}, {"gain_db": 6.0}], ids=["delay jumps", "turned up"])
def test_an_echo_that_changes_is_nobody_while_the_canceller_learns(change):
    path = EchoPath(gain_db=-6.0)
    there = There(path, learn_s=6.0)
    there.room.path = replace(path, **change)
    there.room.play(sound_of_check(), Priority.PROMPT)
    begun_s = there.room.now_s
    there.pass_s(7.0)
    assert there.cut == []
    assert there.recognizer.loud_between(begun_s, begun_s + 6.0) == 0.0


@pytest.fixture
def visit(tmp_path):
    visit = TypedVisit(tmp_path)
    with visit.journal:
        visit.runner.type("practice session")
        visit.runner.finish()
        yield visit
        visit.runner.release()


def hear(visit, words, answers):
    heard = typed(words, visit.runner.wanted, 1.0)
    assert heard is not None, words
    visit.runner.hear(heard, answers=answers)
    visit.runner.finish()
    return visit.runner.session.snapshot


@pytest.mark.parametrize(("answers", "mode"), [(Heard.ENOUGH, "reading_back"), (Heard.TOO_LITTLE, "asking")])
def test_a_value_answers_a_question_of_which_enough_was_heard(visit, answers, mode):
    assert hear(visit, "five", answers).mode == mode


@pytest.mark.parametrize(("answers", "step"), [(Heard.ALL, "eyewear"), (Heard.ENOUGH, "distance")])
def test_a_bare_yes_answers_only_what_was_said_to_its_end(visit, answers, step):
    hear(visit, "five", Heard.ALL)
    assert hear(visit, "affirmative", answers).step_id == step


@pytest.mark.parametrize("answers", list(Heard))
def test_a_stop_word_counts_whatever_was_heard(visit, answers):
    assert hear(visit, "stop", answers).mode == "paused"


def test_light_on_before_its_question_was_said_is_asked_about(visit):
    hear(visit, "five", Heard.ALL)
    hear(visit, "affirmative", Heard.ALL)
    hear(visit, "affirmative", Heard.ALL)
    assert hear(visit, "light on", Heard.TOO_LITTLE).mode == "doubting"
    assert visit.lines("light_turned_on") == []


def over(visit, words):
    """Words that began while the tool was still saying what they answer."""
    wanted = visit.runner.wanted
    heard = typed(words, wanted, 1.0)
    assert heard is not None
    visit.inbox.put(UtteranceHeard(heard, wanted, answers=Heard.TOO_LITTLE))
    while not visit.inbox.empty() or not visit.runner.settled:
        yield


def test_a_wrong_read_back_is_taken_back_before_its_end_and_is_silent_then(tmp_path):
    visit = Visit(tmp_path)

    def steps(visit):
        yield from visit.say("practice session")
        yield from visit.say("five")
        yield from over(visit, "affirmative")
        assert visit.runner.session.snapshot.mode == "reading_back", "nobody has heard the value"
        cuts = visit.sound.cuts
        yield from over(visit, "negative")
        assert visit.sound.cuts == cuts + 1
        assert visit.runner.session.snapshot.mode == "asking"

    visit.run(steps)
    assert [one["value"]["value"] for one in visit.facts("reading_confirmed")] == ["practice"]


def test_a_question_that_was_broken_off_for_nothing_is_said_once_more(tmp_path, monkeypatch):
    monkeypatch.setattr("handsfree.runner.live_session.NOBODY_S", 0.0)
    visit = Visit(tmp_path)

    def steps(visit):
        yield from visit.say("practice session")
        before = len(visit.sound.played)
        visit.inbox.put(TalkedOver(0.5))
        while len(visit.sound.played) == before:
            yield
        assert visit.sound.played[before:] == [("Distance in centimeters?", Priority.PROMPT)]
        yield from to_the_light_from_distance(visit)

    def to_the_light_from_distance(visit):
        yield from visit.say("five")

    visit.run(steps)
    assert [one["by"] for one in visit.facts("prompt_cut_short")] == ["voice"]
