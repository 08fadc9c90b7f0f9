"""A review served on loopback to one browser window.

Who may talk to it: whoever has the address (`serving.closed_server`), and, to change something, only the page itself
(Origin), as JSON. It ends when the window is closed or has been silent for long.

The page holds one connection open (server-sent events, of which none is ever sent). Its end is the sign that the window
is gone, however it went: what a page says as it closes may be lost, or be overtaken by a sign of life sent before.
"""

import json
import select
import threading
from http import HTTPStatus

from handsfree.clock import Clock
from handsfree.errors import HandsfreeError
from handsfree.review.service import NewsError, Review
from handsfree.serving.closed_server import ClosedHandler, ClosedServer

LARGEST_BODY = 65_536
"""Bytes of a request. Chosen here, no source: a note of ten thousand words fits."""
CLOSED_GRACE_S = 3.0
"""How long after a window has gone another may still come: a reload looks the same. Chosen here, no source."""
IDLE_S = 300.0
"""Silence after which the review ends. Browsers let hidden pages speak only once a minute."""
_LOOK_S = 0.5
"""How often a held connection looks whether the review is over."""
_AGAIN_MS = 500
"""When a window tries again whose connection broke though it is still there; well within the grace."""
_DRAINED = 1_048_576
_LONGEST_LENGTH = 18
"""Digits of a length. Chosen here, no source: more than any file has, and few enough for a number."""


class ReviewServer(ClosedServer):
    """Serves one review until it is over.

    Args:
        review: What is reviewed.
        clock: Tells how long nothing was heard.
        port: Port on loopback; 0 lets the system choose.
        idle_s: Seconds of silence after which it ends.

    Attributes:
        review: What is reviewed.
    """

    def __init__(self, review: Review, clock: Clock, *, port: int = 0, idle_s: float = IDLE_S) -> None:
        super().__init__(_ReviewRequest, port=port)
        self.review = review
        self._clock = clock
        self._idle_s = idle_s
        self._heard_s = clock.monotonic_s()
        self._gone_s: float | None = None
        self._held = 0
        self._lock = threading.Lock()

    @property
    def window_gone(self) -> bool:
        """Whether there was a window, and there is none now."""
        return self._gone_s is not None

    @property
    def over(self) -> bool:
        """Whether the window has closed, or nothing was heard for long."""
        now_s = self._clock.monotonic_s()
        gone_s = self._gone_s
        return (gone_s is not None and now_s - gone_s > CLOSED_GRACE_S) or now_s - self._heard_s > self._idle_s

    def heard(self, *, loading: bool = False) -> None:
        """Something came from the window.

        Args:
            loading: Whether the page is asked for, which takes its time to hold a connection anew. Nothing else brings
                a window back that has gone: it may have been sent before.
        """
        with self._lock:
            self._heard_s = self._clock.monotonic_s()
            if loading and self._gone_s is not None:
                self._gone_s = self._heard_s

    def window_held(self) -> None:
        """A window holds a connection."""
        with self._lock:
            self._held += 1
            self._gone_s = None

    def window_let_go(self) -> None:
        """A held connection ended; with the last of them the window is gone."""
        with self._lock:
            self._held -= 1
            if not self._held:
                self._gone_s = self._clock.monotonic_s()

    def serve(self) -> None:
        """Serve until the review is over."""
        while not self.over:
            self.handle_request()


class _ReviewRequest(ClosedHandler):
    server: ReviewServer
    what = "review"

    def give(self, place: str) -> None:
        """The page, the sound of an utterance, or the connection that a window holds."""
        self.server.heard(loading=place == "")
        if place == "window":
            self._hold()
            return
        try:
            if place == "":
                page = self.server.review.page()
                self.answer(HTTPStatus.OK, "text/html; charset=utf-8", page.html.encode(), policy=page.policy)
                return
            folder, _, name = place.partition("/")
            sound = self.server.review.clip(name) if folder == "clip" else None
        except HandsfreeError as error:
            self.refuse(HTTPStatus.CONFLICT, str(error))
            return
        if sound is None:
            self.refuse(HTTPStatus.NOT_FOUND, "there is nothing here")
        else:
            self.answer(HTTPStatus.OK, "audio/flac", sound)

    def _hold(self) -> None:
        """Keep the connection until the window, or the review, is gone."""
        self.server.window_held()
        try:
            self.head(HTTPStatus.OK, (("Content-Type", "text/event-stream"),))
            self.wfile.write(f"retry: {_AGAIN_MS}\n\n".encode())
            while not self.server.over:
                if select.select([self.connection], [], [], _LOOK_S)[0] and not self.connection.recv(1):
                    return
        finally:
            self.server.window_let_go()

    def take(self, place: str) -> None:
        """An action, or a sign of life."""
        self.server.heard()
        if place == "alive":
            self.answer(HTTPStatus.OK, "application/json", b"{}")
            return
        if self.headers.get_content_type() != "application/json":
            self.refuse(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "actions are sent as application/json")
            return
        body = self._body()
        if body is None:
            return
        if place not in self.server.review.actions:
            self.refuse(HTTPStatus.NOT_FOUND, "there is nothing here")
            return
        try:
            done = self.server.review.act(place, body)
        except NewsError as error:
            told = {"refused": str(error), "news": error.news}
            self.answer(HTTPStatus.CONFLICT, "application/json", json.dumps(told).encode())
            return
        except HandsfreeError as error:
            self.refuse(HTTPStatus.BAD_REQUEST, str(error))
            return
        self.answer(HTTPStatus.OK, "application/json", json.dumps({"done": done}).encode())

    def _body(self) -> bytes | None:
        length = self.headers.get("Content-Length", "")
        if not length.isascii() or not length.isdigit() or len(length) > _LONGEST_LENGTH:
            self.refuse(HTTPStatus.LENGTH_REQUIRED, "the request does not say how long it is")
            return None
        if int(length) > LARGEST_BODY:
            self.rfile.read(min(int(length), _DRAINED))  # or the answer may be lost with the connection
            self.refuse(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"a request may have {LARGEST_BODY} bytes")
            return None
        return self.rfile.read(int(length))
