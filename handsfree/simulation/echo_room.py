"""A room in which the microphone hears the loudspeaker: the real mixer, an echo and people, block by block.

Time is counted, so that gate, canceller and session run as at real devices, faster and the same way each time.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from handsfree.audio.mixer import Mixer
from handsfree.clock import ManualClock
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock, Heard, Speech
from handsfree.model.effects import Priority
from handsfree.simulation.mixing import Signal, reverberate, samples_of

BLOCK_S = BLOCK_SAMPLES / SAMPLE_RATE_HZ
LATENCY_S = 0.06
"""As the loudspeaker is opened with."""
LINE_S = 4.0
"""Longest echo and delay together."""


@dataclass(frozen=True, slots=True)
class EchoPath:
    """From the loudspeaker to the microphone.

    Attributes:
        gain_db: Level at the microphone over the level played, dB.
        delay_s: From the moment at which the sound is handed to the device, its buffers and the air included.
        tail_s: Time in which the room's echo falls by 60 dB.
        drive: How hard the loudspeaker is driven: 0 plays what it is given, 1 and more bend its peaks (tanh).
        drift_ppm: How much faster the clock of the loudspeaker runs than that of the microphone, parts in a million.
        seed: The same seed gives the same room.
    """

    gain_db: float = -10.0
    delay_s: float = 0.12
    tail_s: float = 0.12
    drive: float = 0.0
    drift_ppm: float = 0.0
    seed: int = 1


class EchoRoom:
    """A microphone and a loudspeaker in one room. See `runner.listening_thread.SoundHeard`.

    Args:
        clock: Counted; it goes on by a block with each.
        path: The echo.
        noise_dbfs: Level of the room's own steady noise, dB below full scale.
        seed: Of the noise.

    Attributes:
        mixer: Plays the tool's voice.
        loudest: Highest sample at the microphone so far, before it clips, of full scale.
        silent_s: Session time at which the loudspeaker last played speech.
        spoken_s: How long it has played speech, seconds.
        pauses: How often speech was let pause.
    """

    def __init__(
        self, clock: ManualClock, path: EchoPath | None = None, noise_dbfs: float = -70.0, seed: int = 0
    ) -> None:
        self.mixer = Mixer(SAMPLE_RATE_HZ)
        self.notice: Callable[[str, bool], None] = lambda _what, _there: None
        self.overflows = 0
        self.loudest = 0.0
        self.silent_s = 0.0
        self.spoken_s = 0.0
        self.pauses = 0
        self._last_s = (0.0, 0.0)
        self._clock = clock
        self._random = np.random.default_rng(seed)
        self._noise = 10 ** (noise_dbfs / 20)
        self._people: Signal = np.zeros(0)
        self._line: Signal = np.zeros(round(LINE_S * SAMPLE_RATE_HZ))
        self._late: Signal = np.zeros(2 * SAMPLE_RATE_HZ)
        self._drifted = 0.0
        self.path = path or EchoPath()

    @property
    def path(self) -> EchoPath:
        """The echo; it may be changed at any time, as by somebody who moves the loudspeaker."""
        return self._path

    @path.setter
    def path(self, path: EchoPath) -> None:
        self._path = path
        click = np.zeros(1)
        click[0] = 1.0
        self._response = reverberate(click, path.tail_s, path.seed) * 10 ** (path.gain_db / 20)

    @property
    def now_s(self) -> float:
        """Session time."""
        return self._clock.monotonic_s()

    def __iter__(self) -> Iterator[AudioBlock]:
        """Blocks without end."""
        while True:
            yield self.next_block()

    def close(self) -> None:
        """Nothing is open."""

    @property
    def share_played(self) -> float:
        """How much was played of the last thing that the tool is saying; 1 while it is silent."""
        begins_s, lasts_s = self._last_s
        share = (self.now_s - begins_s) / lasts_s if self.mixer.speaking and lasts_s else 1.0
        return min(1.0, max(0.0, share))

    def speak(self, signal: Signal) -> None:
        """Let a person be heard at the microphone from now on, beside whoever speaks already."""
        waiting = np.zeros(max(len(signal), len(self._people)))
        waiting[: len(self._people)] += self._people
        waiting[: len(signal)] += signal
        self._people = waiting

    def next_block(self) -> AudioBlock:
        """Let 20 ms pass: what the loudspeaker is given goes out, what the microphone hears comes in."""
        start_s = self.now_s
        played = np.frombuffer(self.mixer.fill(BLOCK_SAMPLES, start_s, LATENCY_S), "<i2").astype(np.float64) / 32768.0
        if self.mixer.sounded(start_s, start_s + 1e-3):
            self.silent_s = start_s + BLOCK_S
            self.spoken_s += BLOCK_S
        heard = self._echo_of(played) + self._random.standard_normal(BLOCK_SAMPLES) * self._noise
        said, self._people = self._people[:BLOCK_SAMPLES], self._people[BLOCK_SAMPLES:]
        heard[: len(said)] += said
        self.loudest = max(self.loudest, float(np.abs(heard).max()))
        self._clock.sleep_until(start_s + BLOCK_S)
        return AudioBlock(samples_of(heard).astype("<i2").tobytes(), start_s)

    def _echo_of(self, played: npt.NDArray[np.float64]) -> Signal:
        if self._path.drive:
            played = np.tanh(played * self._path.drive) / np.tanh(self._path.drive)
        whole = np.convolve(played, self._response) if played.any() else np.zeros(0)
        self._line[: len(whole)] += whole
        # A delay that is no whole number of samples, and grows or shrinks where two clocks differ.
        self._drifted += self._path.drift_ppm * 1e-6 * BLOCK_SAMPLES
        out = self._delayed(self._line[:BLOCK_SAMPLES])
        self._line = np.concatenate([self._line[BLOCK_SAMPLES:], np.zeros(BLOCK_SAMPLES)])
        return out

    def _delayed(self, block: Signal) -> Signal:
        self._late = np.concatenate([self._late, block])[-2 * SAMPLE_RATE_HZ :]
        lag = self._path.delay_s * SAMPLE_RATE_HZ - self._drifted
        places = len(self._late) - len(block) + np.arange(len(block)) - lag
        return np.asarray(np.interp(places, np.arange(len(self._late)), self._late), dtype=np.float64)

    def play(self, speech: Speech, priority: Priority, *, heard_out: bool = False) -> None:
        """See `Player.play`."""
        begins_s, lasts_s = self._last_s if self.mixer.speaking else (self.now_s, 0.0)
        self._last_s = (begins_s + lasts_s, speech.duration_s)
        self.mixer.play(speech, priority, heard_out=heard_out)

    def mix(self, sound: Speech) -> None:
        """See `Player.mix`."""
        self.mixer.mix(sound)

    def stop(self) -> None:
        """See `Player.stop`."""
        self.mixer.stop()

    def cut(self, below: Priority) -> bool:
        """See `Player.cut`."""
        return self.mixer.cut(below)

    def break_off(self) -> bool:
        """See `Player.break_off`."""
        return self.mixer.break_off()

    def pause(self, *, paused: bool) -> None:
        """See `Player.pause`."""
        self.pauses += paused
        self.mixer.pause(paused=paused)

    def heard_at(self, at_s: float) -> Heard:
        """See `Player.heard_at`."""
        return self.mixer.heard_at(at_s)

    def played(self, start_s: float, count: int) -> npt.NDArray[np.int16]:
        """See `Player.played`."""
        return self.mixer.played(start_s, count)

    def hold_back(self, *, held: bool) -> None:
        """See `Player.hold_back`."""
        self.mixer.hold_back(held=held)

    @property
    def busy(self) -> bool:
        """See `Player.busy`."""
        return self.mixer.busy

    @property
    def speaking(self) -> bool:
        """See `Player.speaking`."""
        return self.mixer.speaking

    def sounded(self, from_s: float, to_s: float) -> bool:
        """See `Player.sounded`."""
        return self.mixer.sounded(from_s, to_s)

    def played_dbfs(self, from_s: float, to_s: float) -> float:
        """See `Player.played_dbfs`."""
        return self.mixer.played_dbfs(from_s, to_s)
