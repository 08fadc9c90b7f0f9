"""The live screen: keeps one picture and draws it anew."""

from types import TracebackType
from typing import Self

from rich.console import Console, Group
from rich.live import Live

from handsfree.display.picture_keeper import PictureKeeper
from handsfree.display.screen_layout import draw


class LiveScreen(PictureKeeper):
    """Draws on the terminal's second screen; use it as a context manager.

    Args:
        console: A terminal; its size and colour ability are used as they are.
    """

    def __init__(self, console: Console) -> None:
        super().__init__()
        self._console = console
        self._live = Live(
            console=console, screen=True, auto_refresh=False, redirect_stdout=False, redirect_stderr=False
        )

    def __enter__(self) -> Self:
        """Take the terminal."""
        self._live.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the terminal back as it was."""
        self._live.__exit__(kind, error, trace)

    def _draw(self, at_s: float) -> None:
        self._picture.now_s = at_s
        width, height = self._console.size
        self._live.update(Group(*draw(self._picture, width, height)), refresh=True)
