"""What a loudspeaker plays next: queued speech with priorities, short sounds laid over it. No device, no clock."""

import threading
from collections import deque
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from handsfree.audio.levels import SILENCE_DBFS, level_dbfs, sounding
from handsfree.audio.played_sound import PlayedSound
from handsfree.audio.resample import to_rate
from handsfree.model.audio import Heard, Speech
from handsfree.model.effects import Priority

FADE_S = 0.005
"""Speech that is cut short fades this fast, against a click."""
HELD_AT_MOST_S = 2.5
"""So long speech is held back, and no longer: in noise nobody may ever seem to be silent."""
SPANS_KEPT = 256
"""How many spans of own sound are remembered; at 1 s each, over four minutes."""
LEVELS_KEPT = 100
"""For how many fills the level is remembered; at 20 ms each, 2 s."""
STANDINGS_KEPT = 1500
"""For how many fills it is remembered whether what was said may be answered; at 20 ms each, 30 s: a long breath."""
HEARD_S = 0.5
"""Nobody answers a prompt of which less was heard: whoever speaks sooner answers something else. Two and a half times
the gap of 0.2 s between turns that people leave (Stivers et al. 2009, from memory)."""
ENDING_S = 0.3
"""A question is as good as asked so long before its end: people overlap by as much."""
PAUSED_AT_MOST_S = 1.5
"""For so long in all a prompt waits for what may be somebody, and then for speech alone: a lamp may beep all along."""
PAUSE_S = 0.02
"""How fast it fades to silence and back."""
AFTER_S = 0.08
"""What follows the last sound is left out after so long, where nothing waits behind it: nobody need wait for silence to
be said. As long as sound takes to leave the loudspeaker, so that nothing counts as heard that is still on its way."""

Wave = npt.NDArray[np.int16]


@dataclass(slots=True)
class _Voice:
    wave: Wave
    priority: Priority
    spoken: bool = True
    heard_out: bool = False
    at: int = 0
    sounds_from: int = 0
    sounds_to: int = 0
    paused_s: float = 0.0

    def take(self, frames: int) -> npt.NDArray[np.int32]:
        part = self.wave[self.at : self.at + frames].astype(np.int32)
        self.at += len(part)
        return part

    @property
    def done(self) -> bool:
        return self.at >= len(self.wave)


class Mixer:
    """Shared by the thread that asks for sound and the device's callback.

    Args:
        sample_rate_hz: Rate of the device.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate_hz = sample_rate_hz
        self._speech: deque[_Voice] = deque()
        self._over: list[_Voice] = []
        self._spans: deque[tuple[float, float]] = deque(maxlen=SPANS_KEPT)
        self._levels: deque[tuple[float, float, float]] = deque(maxlen=LEVELS_KEPT)
        self._standings: deque[tuple[float, Heard]] = deque(maxlen=STANDINGS_KEPT)
        self._is_held = False
        self._held_s = 0.0
        self._is_paused = False
        self._gain = 1.0
        self._played = PlayedSound(sample_rate_hz)
        self._lock = threading.Lock()

    def play(self, speech: Speech, priority: Priority, *, heard_out: bool = False) -> None:
        """See `Player.play`."""
        voice = _Voice(self._wave(speech), priority, heard_out=heard_out)
        voice.sounds_from, ends = sounding(voice.wave)
        voice.sounds_to = min(len(voice.wave), ends + round(AFTER_S * self._rate_hz))
        with self._lock:
            # What is lower gives way wherever it stands; what is equal or higher is heard out first, and so is what
            # must be, unless something urgent comes.
            kept = [held for held in self._speech if not self._gives_way(held, priority)]
            if self._speech and self._gives_way(self._speech[0], priority):
                self._fade(self._speech[0])
            self._speech = deque([*kept, voice])

    def mix(self, sound: Speech) -> None:
        """See `Player.mix`."""
        voice = _Voice(self._wave(sound), Priority.INFORMATION, spoken=False)
        with self._lock:
            self._over.append(voice)

    def stop(self) -> None:
        """See `Player.stop`."""
        with self._lock:
            cut = [*list(self._speech)[:1], *self._over]
            self._speech.clear()
            self._over.clear()
            for voice in cut:
                self._fade(voice)

    def cut(self, below: Priority) -> bool:
        """See `Player.cut`."""
        with self._lock:
            if not self._speech or self._speech[0].priority >= below:
                return False
            self._fade(self._speech[0])
            # Nothing higher waits behind it: that would have dropped it.
            self._speech.clear()
            return True

    def break_off(self) -> bool:
        """See `Player.break_off`."""
        with self._lock:
            if len(self._speech) != 1 or self._speech[0].heard_out or self._speech[0].priority >= Priority.ATTENTION:
                return False
            self._fade(self._speech.popleft())
            return True

    def pause(self, *, paused: bool) -> None:
        """See `Player.pause`."""
        with self._lock:
            self._is_paused = paused

    def heard_at(self, at_s: float) -> Heard:
        """See `Player.heard_at`."""
        with self._lock:
            return next((heard for start_s, heard in reversed(self._standings) if start_s <= at_s), Heard.ALL)

    def played(self, start_s: float, count: int) -> Wave:
        """See `Player.played`."""
        return self._played.take(start_s, count)

    def hold_back(self, *, held: bool) -> None:
        """See `Player.hold_back`."""
        with self._lock:
            self._is_held = held
            if not held:
                self._held_s = 0.0

    @property
    def busy(self) -> bool:
        """See `Player.busy`."""
        with self._lock:
            return bool(self._speech or self._over)

    @property
    def speaking(self) -> bool:
        """See `Player.speaking`."""
        with self._lock:
            return bool(self._speech)

    def sounded(self, from_s: float, to_s: float) -> bool:
        """See `Player.sounded`."""
        with self._lock:
            return any(start < to_s and end > from_s for start, end in self._spans)

    def played_dbfs(self, from_s: float, to_s: float) -> float:
        """See `Player.played_dbfs`."""
        with self._lock:
            played = [level for start_s, end_s, level in self._levels if start_s < to_s and end_s > from_s]
        return max(played, default=SILENCE_DBFS)

    def fill(self, frames: int, at_s: float, latency_s: float = 0.0) -> bytes:
        """The next samples; for the device's callback.

        Args:
            frames: How many samples.
            at_s: Session time now.
            latency_s: How long until the last of them has left the loudspeaker, beyond their own length.
        """
        total = np.zeros(frames, dtype=np.int32)
        with self._lock:
            filled = 0
            self._standings.append((at_s, self._heard()))
            while self._speech and filled < frames and not self._waits(self._speech[0], frames):
                part = self._speech[0].take(frames - filled)
                total[filled : filled + len(part)] += part
                filled += len(part)
                if self._is_said(self._speech[0]):
                    self._speech.popleft()
            self._fade_for_pause(total)
            fading = False
            for voice in self._over:
                part = voice.take(frames)
                total[: len(part)] += part
                fading = fading or voice.spoken
            self._over = [voice for voice in self._over if not voice.done]
            end_s = at_s + frames / self._rate_hz + latency_s
            if filled or fading:
                self._remember(at_s, end_s)
            self._levels.append((at_s, end_s, level_dbfs(total)))
        pcm = np.clip(total, -32768, 32767).astype("<i2").tobytes()
        self._played.put(pcm, at_s)
        return pcm

    @staticmethod
    def _gives_way(voice: _Voice, priority: Priority) -> bool:
        return voice.priority < priority and not (voice.heard_out and priority < Priority.ATTENTION)

    def _heard(self) -> Heard:
        """How much of what is to be said was heard until now."""
        if not self._speech:
            return Heard.ALL
        voice = self._speech[0]
        heard = voice.at - voice.sounds_from
        if len(self._speech) > 1 or voice.heard_out or voice.priority >= Priority.ATTENTION or heard <= 0:
            return Heard.TOO_LITTLE
        if voice.sounds_to - voice.at <= ENDING_S * self._rate_hz:
            return Heard.ALL
        return Heard.ENOUGH if heard >= HEARD_S * self._rate_hz else Heard.TOO_LITTLE

    def _is_said(self, voice: _Voice) -> bool:
        """Whether nothing is left to be heard of it; before another the silence at its end is a pause."""
        return voice.done or (len(self._speech) == 1 and voice.at >= voice.sounds_to)

    def _pauses(self, voice: _Voice) -> bool:
        """Whether speech waits for what may be somebody; what must be heard out goes on."""
        may = not voice.heard_out and voice.priority < Priority.ATTENTION
        return self._is_paused and may and voice.paused_s < PAUSED_AT_MOST_S

    def _fade_for_pause(self, speech: npt.NDArray[np.int32]) -> None:
        """Let speech fade away where it pauses, and come back."""
        aim = 0.0 if self._speech and self._pauses(self._speech[0]) else 1.0
        if self._gain == aim == 1.0:
            return
        step = 1.0 / (PAUSE_S * self._rate_hz)
        course = self._gain + np.sign(aim - self._gain) * step * np.arange(1, len(speech) + 1)
        gains = np.clip(course, min(aim, self._gain), max(aim, self._gain))
        speech[:] = (speech * gains).astype(np.int32)
        self._gain = float(gains[-1]) if len(gains) else self._gain

    def _waits(self, voice: _Voice, frames: int) -> bool:
        """Whether speech is held back before it begins, or pauses and has faded away, for this fill."""
        if self._pauses(voice) and self._gain == 0.0:
            voice.paused_s += frames / self._rate_hz
            return True
        if not self._is_held or voice.at or voice.priority >= Priority.ATTENTION or self._held_s >= HELD_AT_MOST_S:
            return False
        self._held_s += frames / self._rate_hz
        return True

    def _remember(self, start_s: float, end_s: float) -> None:
        if self._spans and start_s <= self._spans[-1][1]:
            start_s = self._spans.pop()[0]
        self._spans.append((start_s, end_s))

    def _fade(self, voice: _Voice) -> None:
        gain = self._gain if voice.spoken else 1.0
        if not gain:
            return  # it pauses: nothing is to be heard
        rest = voice.wave[voice.at : voice.at + round(FADE_S * self._rate_hz)] * gain
        faded = (rest * np.linspace(1, 0, len(rest))).astype(np.int16)
        if len(faded):
            self._over.append(_Voice(faded, voice.priority, voice.spoken))

    def _wave(self, speech: Speech) -> Wave:
        return to_rate(np.frombuffer(speech.pcm, dtype="<i2"), speech.sample_rate_hz, self._rate_hz)
