"""Keeps one picture of a session from what a view is told; a screen that derives from it draws it."""

from handsfree.display.screen_layout import ScreenPicture
from handsfree.model.effects import Earcon, Priority
from handsfree.session.snapshot import Snapshot

FRAME_S = 0.2
"""Level and clock are drawn this often; everything else at once."""
NOTICE_S = 8.0
"""How long a notice stays."""


class PictureKeeper:
    """What a session shows, as it stands now. See `runner.live_outputs.View`."""

    def __init__(self) -> None:
        self._picture = ScreenPicture()
        self._notice_until_s = 0.0
        self._lasting: dict[str, str] = {}

    def tool(self, at_s: float, text: str, priority: Priority) -> None:
        """The tool said something."""
        self._picture.take_prompt(text, priority)
        self._draw(at_s)

    def heard(self, at_s: float, text: str, outcome: str, probability: float) -> None:
        """Something was heard; what became of it."""
        picture = self._picture
        picture.heard, picture.outcome, picture.probability = text, outcome, probability
        self._draw(at_s)

    def sound(self, at_s: float, earcon: Earcon) -> None:
        """Short sounds are not shown: what they tell is on the screen in words."""

    def notice(self, at_s: float, text: str) -> None:
        """Something about the devices or the room. A loss stays until it is over."""
        what, _, state = text.partition(" ")
        if state.startswith("lost"):
            self._lasting[what] = text
        elif state.startswith("is back"):
            self._lasting.pop(what, None)
        self._picture.notice = text
        self._notice_until_s = at_s + NOTICE_S
        self._draw(at_s)

    def show(self, at_s: float, snapshot: Snapshot) -> None:
        """Where the procedure stands."""
        self._picture.snapshot = snapshot
        self._picture.shown_s = at_s
        self._draw(at_s)

    def levels(self, at_s: float, level_dbfs: float, floor_dbfs: float, *, deaf: bool) -> None:
        """How loud it is now, and whether the tool hears at this moment."""
        picture = self._picture
        picture.level_dbfs, picture.floor_dbfs, picture.deaf = level_dbfs, floor_dbfs, deaf
        if picture.notice and at_s >= self._notice_until_s:
            picture.notice = next(iter(self._lasting.values()), "")
        if at_s - picture.now_s >= FRAME_S:
            self._draw(at_s)

    def _draw(self, at_s: float) -> None:
        raise NotImplementedError
