"""The screen for the room beside a visit: where it is served, and what of the visit it shows."""

import os
import re
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from handsfree.clock import SystemClock
from handsfree.definition.loader import Bundle
from handsfree.display.room.room_page import RoomPage
from handsfree.display.room.room_screen import RoomScreen
from handsfree.display.room.room_server import RoomServer, ScreenPlace, served
from handsfree.errors import UsageError
from handsfree.record.private_files import open_to_others
from handsfree.regular_files import read_named, reason_of
from handsfree.room_settings import Screen
from handsfree.serving.closed_server import LOOPBACK

_TOKEN = re.compile(r"[A-Za-z0-9_-]{32,200}")


@dataclass(frozen=True, slots=True)
class WantedScreen:
    """A screen that was asked for.

    Attributes:
        settings: Where it is served.
        announce: Told its address, as soon as it is served.
    """

    settings: Screen
    announce: Callable[[str], None]


@contextmanager
def room_screen(wanted: WantedScreen | None, bundle: Bundle) -> Iterator[RoomScreen | None]:
    """Serve a screen for a visit until the block ends; nothing where none is wanted.

    Raises:
        UsageError: It cannot be served as it is configured; nothing was recorded yet.
    """
    if wanted is None:
        yield None
        return
    visit = secrets.token_urlsafe(8)
    lights = any(step.kind == "expose" for step in bundle.procedure.steps)
    page = RoomPage(bundle.procedure.title, bundle.device if lights else None, visit)
    screen = RoomScreen(SystemClock(), visit)
    with served(RoomServer(screen, page, _place(wanted.settings))) as server:
        wanted.announce(server.address)
        yield screen


def _place(settings: Screen) -> ScreenPlace:
    return ScreenPlace(
        bound=settings.address or LOOPBACK,
        port=settings.port,
        name=settings.name,
        certificate=_file(settings.certificate),
        key=_file(settings.key),
        token=_token(_file(settings.token_file)),
    )


def _file(name: str | None) -> Path | None:
    return Path(name).expanduser() if name is not None else None


def _token(file: Path | None) -> str | None:
    """The secret that the site chose.

    Raises:
        UsageError: It is not there, too short, or open to others.
    """
    if file is None:
        return None
    try:
        text = read_named(file).decode("ascii", errors="replace").strip()
        open_ = open_to_others(file)
    except OSError as error:
        raise UsageError(f"screen.token_file: {file} cannot be read: {reason_of(error)}") from error
    if open_:
        raise UsageError(f"screen.token_file: others may read {file}; let only its owner (chmod 600 {os.fspath(file)})")
    if _TOKEN.fullmatch(text) is None:
        raise UsageError(f"screen.token_file: {file} holds no secret of 32 to 200 letters, digits, - and _ in one line")
    return text
