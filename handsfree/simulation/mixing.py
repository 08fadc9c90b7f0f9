"""Puts clean speech into a room: echo and background noise at a stated level, the same for the same seed."""

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from handsfree.audio.resample import to_rate
from handsfree.model.audio import SAMPLE_RATE_HZ, Speech
from handsfree.simulation.voices import available_voices, render

Noise = Literal["white", "pink", "babble"]
Signal = npt.NDArray[np.float64]
"""Mono samples at `SAMPLE_RATE_HZ`, full scale -1 to 1."""

FRAME_S = 0.02
ACTIVE_RANGE_DB = 30.0
"""A 20 ms frame counts as speech when it is no further below the loudest one: pauses do not lower the speech level."""
BABBLE_TALKERS = 6
"""From four to eight talkers single words are no longer made out; common practice, no source."""
BABBLE_LINES = (
    "The transport team is at the desk and asks which bay they should go to first.",
    "Please bring another chair and a cup of water, and close the door behind you.",
    "She said the bus was late again, so we waited near the corner for a while.",
    "There is a parcel in the office that nobody has opened since the weekend.",
    "I will call them back after lunch and tell them where to leave the trolley.",
    "The lift is out of order, so everybody has to walk around through the garden.",
)


def signal_of(speech: Speech) -> Signal:
    """Sound as samples at `SAMPLE_RATE_HZ`."""
    samples = to_rate(np.frombuffer(speech.pcm, dtype="<i2"), speech.sample_rate_hz, SAMPLE_RATE_HZ)
    return samples.astype(np.float64) / 32768.0


def samples_of(signal: Signal) -> npt.NDArray[np.int16]:
    """As 16-bit samples; what is beyond full scale is clipped."""
    return np.clip(np.rint(signal * 32768.0), -32768, 32767).astype(np.int16)


def active_level(signal: Signal) -> float:
    """Root mean square of the frames that hold speech, by an energy gate after the idea of ITU-T P.56.

    *Unit*: of full scale. 0 for silence.
    """
    size = round(FRAME_S * SAMPLE_RATE_HZ)
    whole = len(signal) - len(signal) % size
    if not whole:
        return float(np.sqrt(np.mean(signal**2))) if len(signal) else 0.0
    power = np.mean(signal[:whole].reshape(-1, size) ** 2, axis=1)
    active = power[power >= power.max() * 10 ** (-ACTIVE_RANGE_DB / 10)]
    return float(np.sqrt(active.mean()))


def noise(kind: Noise, samples: int, seed: int) -> Signal:
    """Noise of root mean square 1.

    Args:
        kind: Flat spectrum, spectrum falling 3 dB an octave, or several people talking.
        samples: Length.
        seed: The same seed gives the same noise.

    Raises:
        VoiceError: Babble is wanted and no engine is there to speak it.
    """
    random = np.random.default_rng(seed)
    if kind == "babble":
        made = _babble(samples, random)
    else:
        made = random.standard_normal(samples)
        if kind == "pink":
            spectrum = np.fft.rfft(made)
            spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 1))
            spectrum[0] = 0
            made = np.fft.irfft(spectrum, samples)
    level = float(np.sqrt(np.mean(made**2))) if samples else 0.0
    return made / level if level else made


def _babble(samples: int, random: np.random.Generator) -> Signal:
    total = np.zeros(samples)
    for talker in _talkers():
        shifted = np.roll(talker, int(random.integers(len(talker))))
        total += np.resize(shifted, samples)
    return total


@dataclass(frozen=True, slots=True)
class _Talker:
    engine: str
    voice: str
    rate: float = 1.0


@cache
def _talkers() -> tuple[Signal, ...]:
    voices = available_voices() or (("espeak-ng", ""),)
    talkers = []
    for number in range(BABBLE_TALKERS):
        lines = BABBLE_LINES[number:] + BABBLE_LINES[:number]
        engine, voice = voices[number * len(voices) // BABBLE_TALKERS]
        said = signal_of(render(_Talker(engine, voice), " ".join(lines[:3])))
        talkers.append(said / max(active_level(said), 1e-9))
    return tuple(talkers)


def add_noise(signal: Signal, kind: Noise, snr_db: float, seed: int) -> Signal:
    """Lay noise under speech.

    Args:
        signal: Clean speech; silence stays as it is, because it has no level to refer to.
        kind: Which noise.
        snr_db: Active speech level over noise level, dB.
        seed: The same seed gives the same noise.
    """
    level = active_level(signal)
    if not level:
        return signal.copy()
    return signal + noise(kind, len(signal), seed) * level * 10 ** (-snr_db / 20)


def reverberate(signal: Signal, decay_s: float, seed: int, direct_to_reverb_db: float = 6.0) -> Signal:
    """Add the tail of a room: exponentially falling noise, as in the statistical model of late reverberation.

    Args:
        signal: Clean speech.
        decay_s: Time to fall by 60 dB (RT60), seconds; 0 leaves the signal as it is.
        seed: The same seed gives the same room.
        direct_to_reverb_db: Energy of the direct sound over that of the tail, dB.

    Returns:
        The signal with its tail, longer by `decay_s`.
    """
    length = round(decay_s * SAMPLE_RATE_HZ)
    if not length:
        return signal.copy()
    random = np.random.default_rng(seed)
    # -60 dB of energy after decay_s: amplitude falls by 10^-3, so exp(-6.91 t / decay_s).
    tail = random.standard_normal(length) * np.exp(-np.log(1000) * np.arange(length) / length)
    tail[0] = 0
    tail *= 10 ** (-direct_to_reverb_db / 20) / np.sqrt(np.sum(tail**2))
    tail[0] = 1
    size = len(signal) + length
    room = np.fft.irfft(np.fft.rfft(signal, size) * np.fft.rfft(tail, size), size)
    return np.asarray(room, dtype=np.float64)


class SimulatedRoom:
    """Background noise that goes on through speech and pauses, at a level that refers to the speech.

    Args:
        kind: Which noise, or None for a quiet room.
        snr_db: Level of the speech over the noise, dB.
        seed: The same seed gives the same noise.
        speech_level: Active level that all speech is brought to, of full scale.
    """

    LOOP_S = 20

    def __init__(
        self, kind: Noise | None = None, snr_db: float = 30.0, seed: int = 0, speech_level: float = 0.1
    ) -> None:
        self._loop: Signal | None = None
        self._at = 0
        self._speech_level = speech_level
        if kind is not None:
            made = noise(kind, self.LOOP_S * SAMPLE_RATE_HZ, seed)
            self._loop = made * speech_level * 10 ** (-snr_db / 20)

    def add_to(self, speech: npt.NDArray[np.int16]) -> npt.NDArray[np.int16]:
        """The next stretch of the room, with a whole utterance in it, brought to the level that the noise refers to.

        Args:
            speech: 16-bit mono at `SAMPLE_RATE_HZ`; zeros for a pause.

        Returns:
            As many samples as came in.
        """
        signal = speech.astype(np.float64) / 32768.0
        level = active_level(signal)
        if level:
            signal *= self._speech_level / level
        if self._loop is not None:
            places = (self._at + np.arange(len(signal))) % len(self._loop)
            signal = signal + self._loop[places]
            self._at = (self._at + len(signal)) % len(self._loop)
        return samples_of(signal)
