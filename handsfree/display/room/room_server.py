"""Serves the screen for the room: the page, and what it shows as server-sent events. It takes nothing.

Keys that are pressed in the page are not sent: a command counts from where the clinician is, and the page may be open
on several devices, whose address was printed and may have been handed on.
"""

import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path

from handsfree.display.room.room_page import RoomPage, room_policy
from handsfree.display.room.room_screen import RoomScreen
from handsfree.errors import UsageError
from handsfree.regular_files import reason_of
from handsfree.serving.closed_server import LOOPBACK, ClosedHandler, ClosedServer

MOST_BROWSERS = 8
"""Screens of one room. Chosen here, no source: each has a thread of its own."""
_AGAIN_MS = 500
"""When a page tries again whose connection broke."""
_LAST_WORDS_S = 1.5
"""How long the end waits for browsers to be told of it."""


@dataclass(frozen=True, slots=True)
class ScreenPlace:
    """Where the screen is served.

    Attributes:
        bound: Address that it listens at, by number.
        port: Port; 0 for any free one.
        name: Name by which browsers of the site call it; None for the number.
        certificate: File of the site with its certificate chain (PEM); None on loopback alone.
        key: File with its private key (PEM).
        token: The secret that the site chose; None for a new one.
    """

    bound: str = LOOPBACK
    port: int = 0
    name: str | None = None
    certificate: Path | None = None
    key: Path | None = None
    token: str | None = None


class RoomServer(ClosedServer):
    """Serves one screen until it is closed.

    Args:
        screen: What is shown.
        page: What frames it.
        place: Where it is served.

    Raises:
        UsageError: The certificate or its key is none, or the address cannot be listened at.
    """

    def __init__(self, screen: RoomScreen, page: RoomPage, place: ScreenPlace) -> None:
        tls = _encrypting(place)
        try:
            super().__init__(
                _ScreenRequest, bound=place.bound, port=place.port, name=place.name, tls=tls, token=place.token
            )
        except OSError as error:
            raise UsageError(
                f"screen: cannot listen at {place.bound}, port {place.port}: {error.strerror} "
                "(leave out port for a free one)"
            ) from error
        self.screen = screen
        self.page = page.text().encode()
        self._places = threading.BoundedSemaphore(MOST_BROWSERS)

    @contextmanager
    def browser(self) -> Iterator[bool]:
        """One more browser, where there is still a place for it."""
        taken = self._places.acquire(blocking=False)
        try:
            yield taken
        finally:
            if taken:
                self._places.release()

    def let_go(self) -> None:
        """Tell browsers that it is over, and wait a moment until they have heard it."""
        self.screen.end()
        for _ in range(MOST_BROWSERS):
            self._places.acquire(timeout=_LAST_WORDS_S / MOST_BROWSERS)


class _ScreenRequest(ClosedHandler):
    server: RoomServer
    what = "screen"
    policy = room_policy()

    def give(self, place: str) -> None:
        """The page, or what it shows."""
        match place:
            case "":
                self.answer(HTTPStatus.OK, "text/html; charset=utf-8", self.server.page)
            case "events":
                with self.server.browser() as taken:
                    if taken:
                        self._tell()
                    else:
                        self.refuse(
                            HTTPStatus.SERVICE_UNAVAILABLE, f"{MOST_BROWSERS} browsers show this screen already"
                        )
            case _:
                self.refuse(HTTPStatus.NOT_FOUND, "there is nothing here")

    def _tell(self) -> None:
        """Send each state that this browser is ready for, until it or the run is gone."""
        self.head(HTTPStatus.OK, (("Content-Type", "text/event-stream"),))
        self.wfile.write(f"retry: {_AGAIN_MS}\n\n".encode())
        seen = -1
        while True:
            ended = self.server.screen.ended
            seen, state = self.server.screen.wait(seen)
            self.wfile.write(f"data: {state}\n\n".encode())
            if ended:
                return


def _encrypting(place: ScreenPlace) -> ssl.SSLContext | None:
    if place.certificate is None:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(place.certificate, place.key, password="")
    except ssl.SSLError as error:
        raise UsageError(
            f"screen: {place.certificate} and {place.key} are no certificate and key that belong together, in PEM "
            f"without a passphrase ({error.reason or 'not readable'})"
        ) from error
    except OSError as error:
        raise UsageError(f"screen: {place.certificate} or {place.key} cannot be read: {reason_of(error)}") from error
    return context


@contextmanager
def served(server: RoomServer) -> Iterator[RoomServer]:
    """Serve in a thread of its own until the block ends."""
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.2}, name="screen", daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.let_go()
        server.shutdown()
        server.server_close()
