"""A scripted visit as sound: people and players speak into one room, block by block, to the real recogniser."""

import numpy as np
import numpy.typing as npt

from handsfree.clock import ManualClock
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock
from handsfree.runner import Ears, SessionRunner
from handsfree.simulation.mixing import SimulatedRoom, active_level, samples_of, signal_of
from handsfree.simulation.scene import Scene, SceneOutputs, Voices
from handsfree.simulation.script import NoiseSpec
from handsfree.simulation.simulated_lamp import Lamp
from handsfree.simulation.voices import render

NOISE_SEED = 1
SPEECH_LEVEL = 0.1
"""Active level of everybody's speech, of full scale; what the noise of the room refers to."""


class AcousticScene(Scene):
    """People who speak as sound through detection, recogniser, session and journal.

    Args:
        runner: The session, already started.
        ears: Recognition bound to the runner.
        outputs: The same object that the runner speaks through.
        clock: The sample clock that all of them share.
        room: Background noise.
        voices: Who speaks how.
        lamp: A lamp that beeps, also while the tool speaks; None for a silent one.
    """

    def __init__(
        self,
        runner: SessionRunner,
        ears: Ears,
        outputs: SceneOutputs,
        clock: ManualClock,
        room: SimulatedRoom,
        voices: Voices,
        lamp: Lamp | None = None,
    ) -> None:
        super().__init__(runner, outputs, clock)
        self._ears = ears
        self._room = room
        self._voices = voices
        self._lamp = lamp
        self._aside = np.zeros(0, dtype=np.float64)
        self._noise: SimulatedRoom | None = None
        self._noise_until_s = 0.0

    def _utter(self, who: str, text: str) -> None:
        samples = samples_of(signal_of(render(self._voices[who], text)))
        if self._lamp is not None:
            self._lamp.said(text, self.now_s, self.now_s + len(samples) / SAMPLE_RATE_HZ)
        self._feed(samples)

    def _pass_on(self, *, deaf: bool = False) -> None:
        if deaf:
            self._feed_block(np.zeros(BLOCK_SAMPLES, dtype=np.int16), deaf=True)
        else:
            self._feed(np.zeros(BLOCK_SAMPLES, dtype=np.int16))

    def overhear(self, who: str, text: str) -> float:
        """See `SceneStage.overhear`."""
        signal = signal_of(render(self._voices[who], text))
        signal *= SPEECH_LEVEL / max(active_level(signal), 1e-9)
        waiting = np.zeros(max(len(signal), len(self._aside)))
        waiting[: len(self._aside)] += self._aside
        waiting[: len(signal)] += signal
        self._aside = waiting
        duration_s = len(signal) / SAMPLE_RATE_HZ
        self._players_until_s = self.now_s + duration_s
        self.outputs.view.person(self.now_s, who, text)
        return duration_s

    def make_noise(self, noise: NoiseSpec, seconds: float) -> None:
        """See `SceneStage.make_noise`."""
        self._noise = SimulatedRoom(noise.kind, noise.snr_db, NOISE_SEED, SPEECH_LEVEL)
        self._noise_until_s = self.now_s + seconds
        self.outputs.view.notice(self.now_s, f"{noise.kind} noise for {seconds:g} s, {noise.snr_db:g} dB below speech")

    def _feed(self, speech: npt.NDArray[np.int16]) -> None:
        """Pass sound on block by block, in the room's noise."""
        mixed = self._room.add_to(speech)
        for start in range(0, len(mixed), BLOCK_SAMPLES):
            block = mixed[start : start + BLOCK_SAMPLES]
            if self.closed:
                return
            self._feed_block(np.pad(block, (0, BLOCK_SAMPLES - len(block))))

    def _feed_block(self, samples: npt.NDArray[np.int16], *, deaf: bool = False) -> None:
        aside, self._aside = self._aside[:BLOCK_SAMPLES], self._aside[BLOCK_SAMPLES:]
        if not deaf:
            samples = self._with_players(samples, aside)
        ungated = samples
        if self._lamp is not None:
            beeping = self._lamp.sound(self.now_s, len(samples))
            ungated = samples_of(samples.astype(np.float64) / 32768.0 + beeping)
        block = _block(samples if deaf else ungated, self.now_s, shut=deaf)
        self._clock.sleep_until(block.end_s)
        self._ears.feed(block, _block(ungated, block.start_s))
        self.on_time()

    def _with_players(self, samples: npt.NDArray[np.int16], aside: npt.NDArray[np.float64]) -> npt.NDArray[np.int16]:
        if len(aside):
            signal = samples.astype(np.float64) / 32768.0
            signal[: len(aside)] += aside
            samples = samples_of(signal)
        if self._noise is not None and self.now_s < self._noise_until_s:
            noise = self._noise.add_to(np.zeros(BLOCK_SAMPLES, dtype=np.int16))
            samples = np.clip(samples.astype(np.int32) + noise, -32768, 32767).astype(np.int16)
        return samples


def _block(samples: npt.NDArray[np.int16], start_s: float, *, shut: bool = False) -> AudioBlock:
    return AudioBlock(samples.astype("<i2").tobytes(), start_s, shut)
