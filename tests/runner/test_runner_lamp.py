"""The lamp's beep on its way from a microphone to the thread that owns the session: made-up sound, known times."""

from array import array
from math import pi, sin

import pytest

from handsfree.exposure.profiles import ToneProfile
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock
from handsfree.model.commands import Wanted
from handsfree.runner.listening_thread import BeepHeard, EarsFailed, LiveEars

TONE = ToneProfile(2700, 0.2, tolerance_hz=25, tolerance_s=0.07)


class Sound:
    """A microphone that gives two seconds with a beep at 0.5 s, while the tool itself speaks all the time."""

    notice = None
    overflows = 0

    def __iter__(self):
        wave = [2000 * sin(2 * pi * 2700 * n / SAMPLE_RATE_HZ) for n in range(SAMPLE_RATE_HZ * 2)]
        pcm = array("h", (round(v) if 0.5 <= n / SAMPLE_RATE_HZ < 0.7 else 0 for n, v in enumerate(wave))).tobytes()
        for at in range(0, len(pcm), 640):
            yield AudioBlock(pcm[at : at + 640], 10.0 + at / 2 / SAMPLE_RATE_HZ)

    def sounded(self, from_s, to_s):
        return to_s > from_s

    def hold_back(self, *, held):
        assert not held

    def close(self):
        pass


class Deaf:
    """A recogniser that must hear nothing but silence."""

    def __init__(self):
        self.levels = set()

    goes_on = speaking = False

    def listen_for(self, graph, is_unfinished):
        pass

    def accept(self, block):
        self.levels.add(max(array("h", block.pcm), default=0))
        return ()

    def reset(self):
        pass


@pytest.mark.parametrize("tone", [TONE, None])
def test_a_beep_under_the_tools_own_voice_is_posted(tone):
    posted = []
    recognizer = Deaf()
    ears = LiveEars(Sound(), lambda: recognizer, posted.append, talk_over=False, lamp_tone=tone)
    ears.start(Wanted())
    ears.stop(patience_s=60.0)
    assert not [message for message in posted if isinstance(message, EarsFailed)]
    beeps = [message.beep for message in posted if isinstance(message, BeepHeard)]
    assert [beep.from_s for beep in beeps] == ([pytest.approx(10.5, abs=0.02)] if tone is not None else [])
    assert recognizer.levels == {0}
