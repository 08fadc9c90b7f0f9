"""The microphone as a source of blocks."""

import queue
from collections import deque
from collections.abc import Iterator
from contextlib import suppress
from types import TracebackType
from typing import Any, Self

from handsfree.audio.devices import find_device, portaudio, start_stream
from handsfree.clock import Clock
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock

LATENCY_S = 0.1
START_S = 5.0
"""How long the first block may take."""
STALL_S = 0.5
"""How long any later block may take before the device counts as lost."""
QUEUE_BLOCKS = 1_500
"""Blocks held for a slow listener, 30 s; what comes on top is dropped and counted."""
DRIFT_S = 0.1
"""Counted samples may differ this far from the clock before they are set to it at once."""
SETTLE_BLOCKS = 25
"""Half a second: late deliveries are told from lost sound by the earliest delivery among so many."""
SLEW_S = 0.001
"""Smaller differences are worn off by at most this much a block: nothing is torn, and time never goes back."""


class SampleTime:
    """Session times of blocks: counted in samples, held to the clock.

    A block can be delivered late, never early, so the earliest of the last deliveries tells how far the count is off:
    by a sound card whose second is not the clock's, or by sound that was lost.
    """

    def __init__(self) -> None:
        self._next_s: float | None = None
        self._late_s: deque[float] = deque(maxlen=SETTLE_BLOCKS)

    def start_of(self, duration_s: float, delivered_s: float) -> float:
        """When the next block began.

        Args:
            duration_s: Its length.
            delivered_s: Session time at which it was delivered.
        """
        captured_s = delivered_s - duration_s
        if self._next_s is None:
            self._next_s = captured_s
        self._late_s.append(captured_s - self._next_s)
        off_s = min(self._late_s)
        # Ahead of the clock is certain at once; behind it may be a late delivery until all of them are.
        step_s = max(off_s, -SLEW_S) if off_s < 0 else 0.0
        if len(self._late_s) == SETTLE_BLOCKS and off_s > 0:
            step_s = off_s if off_s > DRIFT_S else min(off_s, SLEW_S)
        self._late_s = deque((late_s - step_s for late_s in self._late_s), maxlen=SETTLE_BLOCKS)
        start_s = self._next_s + step_s
        self._next_s = start_s + duration_s
        return start_s


class Microphone:
    """A live source; use it as a context manager. See `Source`.

    Session time is counted in samples and held to the clock, see `SampleTime`. What was captured before somebody
    iterates is dropped: it was said before anything was asked.

    Args:
        clock: Gives the session time of the first sample.
        name: Device name or a part of it, or None for the system's default.
        stall_s: How long a block may take before the device counts as lost.

    Raises:
        AudioDeviceError: PortAudio or the device is missing, or it cannot record.
    """

    def __init__(self, clock: Clock, name: str | None = None, stall_s: float = STALL_S) -> None:
        sounddevice = portaudio()
        self._clock = clock
        self._stall_s = stall_s
        self._label = name or "the default microphone"
        self._blocks: queue.Queue[tuple[bytes, float]] = queue.Queue(QUEUE_BLOCKS)
        self._overflows = 0
        try:
            self._stream = sounddevice.RawInputStream(
                samplerate=SAMPLE_RATE_HZ,
                blocksize=BLOCK_SAMPLES,
                device=find_device("input", name),
                channels=1,
                dtype="int16",
                latency=LATENCY_S,
                callback=self._captured,
            )
        except (sounddevice.PortAudioError, ValueError) as error:
            raise AudioDeviceError(f"{self._label} cannot record: {error}") from error

    @property
    def overflows(self) -> int:
        """How often sound was lost since the start, because this machine was too slow to take it."""
        return self._overflows

    def __enter__(self) -> Self:
        """Start to record.

        Raises:
            AudioDeviceError: It cannot be started.
        """
        start_stream(self._stream, self._label)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop and free the device."""
        self._stream.close()

    def _captured(self, data: Any, _frames: int, _time: object, status: Any) -> None:  # noqa: ANN401
        """In the device's own thread: copy and post, nothing else."""
        if status.input_overflow:
            self._overflows += 1
        try:
            self._blocks.put_nowait((bytes(data), self._clock.monotonic_s()))
        except queue.Full:
            self._overflows += 1

    def __iter__(self) -> Iterator[AudioBlock]:
        """See `Source`. Ends only with an error or when the caller stops asking.

        Raises:
            AudioDeviceError: No frames for `stall_s`.
        """
        wait_s = START_S
        time = SampleTime()
        with suppress(queue.Empty):
            while True:
                self._blocks.get_nowait()
        while True:
            try:
                pcm, posted_s = self._blocks.get(timeout=wait_s)
            except queue.Empty as error:
                raise AudioDeviceError(
                    f"no frames for {wait_s * 1000:.0f} ms from {self._label} (is it unplugged or switched off?)"
                ) from error
            wait_s = self._stall_s
            yield AudioBlock(pcm, time.start_of(len(pcm) / 2 / SAMPLE_RATE_HZ, posted_s))
