"""Microphone and loudspeaker held open together, and opened again after a loss."""

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from types import TracebackType
from typing import Self

import numpy as np
import numpy.typing as npt

from handsfree.audio.devices import refresh_devices
from handsfree.audio.levels import SILENCE_DBFS
from handsfree.audio.loudspeaker import Loudspeaker
from handsfree.audio.microphone import Microphone
from handsfree.clock import Clock
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import AudioBlock, Heard, Speech
from handsfree.model.effects import Priority

_LOG = logging.getLogger(__name__)
MICROPHONE = "microphone"
LOUDSPEAKER = "loudspeaker"
RETRY_S = 1.0
"""How long to wait between two tries to open what is missing."""
RELIST_S = (3.0, 60.0)
"""With the microphone well and the loudspeaker missing, the list of devices is read again after so many seconds, then
after twice as many, up to the second figure: each time the microphone pauses for about 0.2 s, which may cost a word."""

PATIENCE_TRIES = 10
"""How many tries wait for the tool to finish speaking before the loudspeaker is closed all the same."""

Notice = Callable[[str, bool], None]
"""What came or went ("microphone", "loudspeaker"), and whether it is there now."""


class AudioLink:
    """A source that never ends by itself and a player that may be mute for a while. See `Source`, `Player`.

    One thread iterates over it and thereby does all opening and closing while the session lasts; any thread may play.
    Use it as a context manager.

    Args:
        clock: Session time.
        microphone: Device name or a part of it, or None for the system's default.
        loudspeaker: As `microphone`.

    Raises:
        AudioDeviceError: PortAudio is missing, or a device is, or cannot be used. Only at the start; later losses are
            told to `notice`.
    """

    def __init__(self, clock: Clock, microphone: str | None = None, loudspeaker: str | None = None) -> None:
        self._clock = clock
        self._names = (microphone, loudspeaker)
        self._closed = threading.Event()
        self._lost_frames = 0
        self._relist_after_s, self._relist_s = RELIST_S[0], 0.0
        self._microphone: Microphone | None = Microphone(clock, microphone)
        try:
            self._loudspeaker: Loudspeaker | None = Loudspeaker(clock, loudspeaker)
            self._microphone.__enter__()
            self._loudspeaker.__enter__()
        except AudioDeviceError:
            self._microphone.__exit__(None, None, None)
            raise
        _LOG.info("devices_opened")
        self.notice: Notice = lambda _what, _there: None
        """Called in the iterating thread when a device goes or comes back."""

    @property
    def overflows(self) -> int:
        """How often sound of the microphone was lost, because this machine was too slow to take it."""
        microphone = self._microphone
        return self._lost_frames + (microphone.overflows if microphone is not None else 0)

    @property
    def missing(self) -> tuple[str, ...]:
        """Which devices are not there now."""
        pairs = ((MICROPHONE, self._microphone), (LOUDSPEAKER, self._loudspeaker))
        return tuple(what for what, device in pairs if device is None)

    def close(self) -> None:
        """Let the iteration end, which frees the devices."""
        self._closed.set()

    def __enter__(self) -> Self:
        """The devices are open since it was made."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Free the devices, whether somebody has iterated or not: no callback may come once the program is ending."""
        self.close()
        _LOG.info("devices_closed overflows=%d", self.overflows)
        self._shut_microphone()
        self._shut_loudspeaker()

    def __iter__(self) -> Iterator[AudioBlock]:
        """See `Source`. Waits through losses; ends after `close`."""
        tries = 0
        try:
            while not self._closed.is_set():
                if self._microphone is None:
                    tries += 1
                    self._closed.wait(RETRY_S)
                    self._mind_loudspeaker()
                    # Reading the list anew would cut short the words that tell of the loss.
                    self._open_again(relist=not self.speaking or tries % PATIENCE_TRIES == 0)
                else:
                    tries = 0
                    yield from self._listen(self._microphone)
        finally:
            self._shut_microphone()
            self._shut_loudspeaker()

    def _listen(self, microphone: Microphone) -> Iterator[AudioBlock]:
        """Blocks until the microphone is lost or must pause."""
        retry_s = 0.0
        try:
            for block in microphone:
                if self._closed.is_set():
                    return
                if self._mind_loudspeaker():
                    retry_s = block.end_s + RETRY_S
                    self._relist_after_s = RELIST_S[0]
                    self._relist_s = block.end_s + self._relist_after_s
                if self._loudspeaker is None and block.end_s >= self._relist_s:
                    self._relist_after_s = min(2 * self._relist_after_s, RELIST_S[1])
                    self._relist_s = block.end_s + self._relist_after_s
                    self._open_again(relist=True)
                    return
                if self._loudspeaker is None and block.end_s >= retry_s:
                    retry_s = block.end_s + RETRY_S
                    self._open_again(relist=False)
                yield block
        except AudioDeviceError:
            self._shut_microphone()
            self.notice(MICROPHONE, False)

    def _mind_loudspeaker(self) -> bool:
        """Let go of a loudspeaker that takes no sound any more; whether that was so."""
        if self._loudspeaker is None or self._loudspeaker.alive:
            return False
        self._shut_loudspeaker()
        self.notice(LOUDSPEAKER, False)
        return True

    def _open_again(self, *, relist: bool) -> None:
        was_missing = self.missing
        if relist:
            # The one that still works is closed for a moment: nothing else shows devices that came since.
            self._shut_microphone()
            self._shut_loudspeaker()
            with suppress(AudioDeviceError):
                refresh_devices()
        microphone, loudspeaker = self._names
        if self._microphone is None:
            with suppress(AudioDeviceError):
                self._microphone = Microphone(self._clock, microphone).__enter__()
        if self._loudspeaker is None:
            with suppress(AudioDeviceError):
                self._loudspeaker = Loudspeaker(self._clock, loudspeaker).__enter__()
        for what in (MICROPHONE, LOUDSPEAKER):
            if (what in was_missing) != (what in self.missing):
                self.notice(what, what in was_missing)

    def _shut_microphone(self) -> None:
        microphone, self._microphone = self._microphone, None
        if microphone is not None:
            self._lost_frames += microphone.overflows
            microphone.__exit__(None, None, None)

    def _shut_loudspeaker(self) -> None:
        loudspeaker, self._loudspeaker = self._loudspeaker, None
        if loudspeaker is not None:
            loudspeaker.__exit__(None, None, None)

    def play(self, speech: Speech, priority: Priority, *, heard_out: bool = False) -> None:
        """See `Player.play`. Without a loudspeaker nothing happens."""
        loudspeaker = self._loudspeaker
        if loudspeaker is not None:
            loudspeaker.play(speech, priority, heard_out=heard_out)

    def mix(self, sound: Speech) -> None:
        """See `Player.mix`. Without a loudspeaker nothing happens."""
        loudspeaker = self._loudspeaker
        if loudspeaker is not None:
            loudspeaker.mix(sound)

    def stop(self) -> None:
        """See `Player.stop`."""
        loudspeaker = self._loudspeaker
        if loudspeaker is not None:
            loudspeaker.stop()

    def cut(self, below: Priority) -> bool:
        """See `Player.cut`."""
        loudspeaker = self._loudspeaker
        return loudspeaker is not None and loudspeaker.cut(below)

    def break_off(self) -> bool:
        """See `Player.break_off`."""
        loudspeaker = self._loudspeaker
        return loudspeaker is not None and loudspeaker.break_off()

    def pause(self, *, paused: bool) -> None:
        """See `Player.pause`."""
        loudspeaker = self._loudspeaker
        if loudspeaker is not None:
            loudspeaker.pause(paused=paused)

    def heard_at(self, at_s: float) -> Heard:
        """See `Player.heard_at`."""
        loudspeaker = self._loudspeaker
        return Heard.ALL if loudspeaker is None else loudspeaker.heard_at(at_s)

    def played(self, start_s: float, count: int) -> npt.NDArray[np.int16]:
        """See `Player.played`. Without a loudspeaker nothing is played."""
        loudspeaker = self._loudspeaker
        return np.zeros(count, dtype=np.int16) if loudspeaker is None else loudspeaker.played(start_s, count)

    def hold_back(self, *, held: bool) -> None:
        """See `Player.hold_back`."""
        loudspeaker = self._loudspeaker
        if loudspeaker is not None:
            loudspeaker.hold_back(held=held)

    @property
    def busy(self) -> bool:
        """See `Player.busy`."""
        loudspeaker = self._loudspeaker
        return loudspeaker is not None and loudspeaker.busy

    @property
    def speaking(self) -> bool:
        """See `Player.speaking`."""
        loudspeaker = self._loudspeaker
        return loudspeaker is not None and loudspeaker.speaking

    def sounded(self, from_s: float, to_s: float) -> bool:
        """See `Player.sounded`."""
        loudspeaker = self._loudspeaker
        return loudspeaker is not None and loudspeaker.sounded(from_s, to_s)

    def played_dbfs(self, from_s: float, to_s: float) -> float:
        """See `Player.played_dbfs`."""
        loudspeaker = self._loudspeaker
        return SILENCE_DBFS if loudspeaker is None else loudspeaker.played_dbfs(from_s, to_s)
