"""Screens that a session is shown on, one or two at a time."""

from typing import Protocol

from handsfree.model.effects import Earcon, Priority
from handsfree.session.snapshot import Snapshot


class View(Protocol):
    """A screen. `display.LiveScreen` draws it anew, `ConversationView` adds lines, `RoomScreen` tells browsers."""

    def tool(self, at_s: float, text: str, priority: Priority) -> None:
        """The tool said something."""

    def heard(self, at_s: float, text: str, outcome: str, probability: float) -> None:
        """Something was heard; what became of it."""

    def sound(self, at_s: float, earcon: Earcon) -> None:
        """A short sound was played."""

    def notice(self, at_s: float, text: str) -> None:
        """Something about the devices or the room."""

    def show(self, at_s: float, snapshot: Snapshot) -> None:
        """Where the procedure stands."""

    def levels(self, at_s: float, level_dbfs: float, floor_dbfs: float, *, deaf: bool) -> None:
        """How loud it is now, and whether the tool hears at this moment. Called several times a second."""


class BothViews:
    """Two screens that show the same. See `View`.

    Args:
        first: Told first.
        second: Told then.
    """

    def __init__(self, first: View, second: View) -> None:
        self._views = first, second

    def tool(self, at_s: float, text: str, priority: Priority) -> None:
        """See `View.tool`."""
        for view in self._views:
            view.tool(at_s, text, priority)

    def heard(self, at_s: float, text: str, outcome: str, probability: float) -> None:
        """See `View.heard`."""
        for view in self._views:
            view.heard(at_s, text, outcome, probability)

    def sound(self, at_s: float, earcon: Earcon) -> None:
        """See `View.sound`."""
        for view in self._views:
            view.sound(at_s, earcon)

    def notice(self, at_s: float, text: str) -> None:
        """See `View.notice`."""
        for view in self._views:
            view.notice(at_s, text)

    def show(self, at_s: float, snapshot: Snapshot) -> None:
        """See `View.show`."""
        for view in self._views:
            view.show(at_s, snapshot)

    def levels(self, at_s: float, level_dbfs: float, floor_dbfs: float, *, deaf: bool) -> None:
        """See `View.levels`."""
        for view in self._views:
            view.levels(at_s, level_dbfs, floor_dbfs, deaf=deaf)
