"""The loudspeaker as a player: one stream that stays open and mixes speech and short sounds."""

from types import TracebackType
from typing import Any, Self

import numpy as np
import numpy.typing as npt

from handsfree.audio.devices import find_device, portaudio, start_stream
from handsfree.audio.mixer import Mixer
from handsfree.clock import Clock
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import Heard, Speech
from handsfree.model.effects import Priority

STALL_S = 0.5
"""A device that asks for no sound for this long counts as lost."""
LATENCY_S = 0.06
"""Of the device, seconds. With it the first sound after speech came 545 ms after its end on the virtual sound card."""
BLOCK_S = 0.02


class Loudspeaker:
    """A live player; use it as a context manager. See `Player`.

    Args:
        clock: Session time, for `sounded`.
        name: Device name or a part of it, or None for the system's default.

    Raises:
        AudioDeviceError: PortAudio or the device is missing, or it cannot play.
    """

    def __init__(self, clock: Clock, name: str | None = None) -> None:
        sounddevice = portaudio()
        self._clock = clock
        self._underflows = 0
        self._asked_s = clock.monotonic_s()
        self._label = name or "the default loudspeaker"
        device = find_device("output", name)
        try:
            rate_hz = int(sounddevice.query_devices(device, "output")["default_samplerate"])
            self._mixer = Mixer(rate_hz)
            self._stream = sounddevice.RawOutputStream(
                samplerate=rate_hz,
                blocksize=round(rate_hz * BLOCK_S),
                device=device,
                channels=1,
                dtype="int16",
                latency=LATENCY_S,
                callback=self._wanted,
            )
        except (sounddevice.PortAudioError, ValueError) as error:
            raise AudioDeviceError(f"{self._label} cannot play: {error}") from error

    @property
    def underflows(self) -> int:
        """How often the sound had a hole since the start, because this machine was too slow to make it."""
        return self._underflows

    @property
    def alive(self) -> bool:
        """Whether the device still takes sound; False after it was unplugged."""
        return bool(self._stream.active) and self._clock.monotonic_s() - self._asked_s < STALL_S

    def __enter__(self) -> Self:
        """Start the stream; it plays silence until it is given sound.

        Raises:
            AudioDeviceError: It cannot be started.
        """
        self._asked_s = self._clock.monotonic_s()
        start_stream(self._stream, self._label)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop and free the device."""
        self._stream.close()

    def _wanted(self, out: Any, frames: int, _time: object, status: Any) -> None:  # noqa: ANN401
        """In the device's own thread."""
        if status.output_underflow:
            self._underflows += 1
        self._asked_s = self._clock.monotonic_s()
        out[:] = self._mixer.fill(frames, self._asked_s, LATENCY_S)

    def play(self, speech: Speech, priority: Priority, *, heard_out: bool = False) -> None:
        """See `Player.play`."""
        self._mixer.play(speech, priority, heard_out=heard_out)

    def mix(self, sound: Speech) -> None:
        """See `Player.mix`."""
        self._mixer.mix(sound)

    def stop(self) -> None:
        """See `Player.stop`."""
        self._mixer.stop()

    def cut(self, below: Priority) -> bool:
        """See `Player.cut`."""
        return self._mixer.cut(below)

    def break_off(self) -> bool:
        """See `Player.break_off`."""
        return self._mixer.break_off()

    def pause(self, *, paused: bool) -> None:
        """See `Player.pause`."""
        self._mixer.pause(paused=paused)

    def heard_at(self, at_s: float) -> Heard:
        """See `Player.heard_at`."""
        return self._mixer.heard_at(at_s)

    def played(self, start_s: float, count: int) -> npt.NDArray[np.int16]:
        """See `Player.played`."""
        return self._mixer.played(start_s, count)

    def hold_back(self, *, held: bool) -> None:
        """See `Player.hold_back`."""
        self._mixer.hold_back(held=held)

    @property
    def busy(self) -> bool:
        """See `Player.busy`."""
        return self._mixer.busy

    @property
    def speaking(self) -> bool:
        """See `Player.speaking`."""
        return self._mixer.speaking

    def sounded(self, from_s: float, to_s: float) -> bool:
        """See `Player.sounded`."""
        return self._mixer.sounded(from_s, to_s)

    def played_dbfs(self, from_s: float, to_s: float) -> float:
        """See `Player.played_dbfs`."""
        return self._mixer.played_dbfs(from_s, to_s)
