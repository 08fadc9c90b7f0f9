"""Keeps what the screen for the room shows, for any number of browsers. Nobody who reads it can delay the session.

The session's thread leaves its picture here and goes on; each browser is served by a thread of its own, which takes the
latest picture when it is ready for it. There is no queue: what nobody took is replaced by what is newer.
"""

import json
import threading
from dataclasses import replace

from handsfree.clock import Clock
from handsfree.display.picture_keeper import PictureKeeper
from handsfree.display.room.room_state import room_state
from handsfree.display.screen_layout import ScreenPicture
from handsfree.model.effects import Json, Priority
from handsfree.session.snapshot import Snapshot

BEAT_S = 1.0
"""A browser hears this often that the screen is live, though nothing has changed."""
LIT_BEAT_S = 0.1
"""The same while light is on: seconds are counted in tenths."""


class RoomScreen(PictureKeeper):
    """One screen of one session. See `runner.live_outputs.View`.

    Args:
        clock: Tells how long ago the session gave a sign of life.
        visit: Identifies this run to browsers, so that none shows one visit in the frame of another.
    """

    def __init__(self, clock: Clock, visit: str) -> None:
        super().__init__()
        self._clock = clock
        self._visit = visit
        self._news = threading.Condition()
        self._latest = ScreenPicture()
        self._version = 0
        self._drawn_s = clock.monotonic_s()
        self._alive_s: float | None = None
        self._ended = False
        self._answered = False

    def levels(self, at_s: float, level_dbfs: float, floor_dbfs: float, *, deaf: bool) -> None:
        """A sign of life; the picture is sent anew only where something of it has changed."""
        picture = self._picture
        before = picture.deaf, picture.notice
        with self._news:
            self._alive_s = self._clock.monotonic_s()
        super().levels(at_s, level_dbfs, floor_dbfs, deaf=deaf)
        if before != (picture.deaf, picture.notice):
            self._leave(at_s)

    def tool(self, at_s: float, text: str, priority: Priority) -> None:
        """The tool said something."""
        super().tool(at_s, text, priority)
        self._answered = True
        self._leave(at_s)

    def heard(self, at_s: float, text: str, outcome: str, probability: float) -> None:
        """Something was heard; what became of it."""
        super().heard(at_s, text, outcome, probability)
        self._answered = False
        self._leave(at_s)

    def notice(self, at_s: float, text: str) -> None:
        """Something about the devices or the room."""
        super().notice(at_s, text)
        self._leave(at_s)

    def show(self, at_s: float, snapshot: Snapshot) -> None:
        """Where the procedure stands. Once light is on, nobody is still told to put it on."""
        before = self._picture.snapshot
        if snapshot.is_lit and not (before is not None and before.is_lit) and not self._answered:
            self._picture.said, self._picture.urgent = "", False
        super().show(at_s, snapshot)
        self._leave(at_s)

    def end(self) -> None:
        """The run is over: browsers are told, and none waits any longer."""
        with self._news:
            self._ended = True
            self._version += 1
            self._news.notify_all()

    @property
    def ended(self) -> bool:
        """Whether the run is over."""
        return self._ended

    @property
    def version(self) -> int:
        """Number of the picture that was left last."""
        return self._version

    def wait(self, seen: int) -> tuple[int, str]:
        """Wait for something newer than what was seen, or for the next beat.

        Args:
            seen: Number of what was taken last; -1 at first.

        Returns:
            Its number, and the state as JSON.
        """
        with self._news:
            if seen == self._version and not self._ended:
                snapshot = self._latest.snapshot
                self._news.wait(LIT_BEAT_S if snapshot is not None and snapshot.is_lit else BEAT_S)
            version, latest, drawn_s = self._version, self._latest, self._drawn_s
            alive_s, ended = self._alive_s, self._ended
        # Put into words without the lock: the session's thread waits for nothing but a handful of assignments.
        now_s = self._clock.monotonic_s()
        # After its last step a session only lets its last words be heard.
        is_over = ended or (latest.snapshot is not None and latest.snapshot.mode == "closed")
        state: dict[str, Json] = {
            **room_state(replace(latest, now_s=latest.now_s + (0.0 if ended else now_s - drawn_s))),
            "visit": self._visit,
            "version": version,
            "silent_s": now_s - alive_s if alive_s is not None and not is_over else 0.0,
            "ended": ended,
        }
        return version, json.dumps(state)

    def _draw(self, at_s: float) -> None:
        """Drawn by browsers."""
        self._picture.now_s = at_s

    def _leave(self, at_s: float) -> None:
        """Leave the picture for whoever is ready to take it."""
        with self._news:
            self._latest = replace(self._picture, now_s=at_s)
            self._drawn_s = self._clock.monotonic_s()
            self._version += 1
            self._news.notify_all()
