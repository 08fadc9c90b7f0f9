"""A review served on loopback to one browser window.

Who may talk to it: a request must come to the loopback address by number (no name that could be rebound), carry the
secret of this review in its path, and, to change something, come from the page itself (Origin) as JSON. Nothing is
stored by the browser. It ends when the window is closed or has been silent for long.

The page holds one connection open (server-sent events, of which none is ever sent). Its end is the sign that the window
is gone, however it went: what a page says as it closes may be lost, or be overtaken by a sign of life sent before.
"""

import hmac
import json
import logging
import secrets
import select
import sys
import threading
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from socketserver import TCPServer

from handsfree.clock import Clock
from handsfree.errors import HandsfreeError
from handsfree.review.service import NewsError, Review

_LOG = logging.getLogger(__name__)
HOST = "127.0.0.1"
LARGEST_BODY = 65_536
"""Bytes of a request. Chosen here, no source: a note of ten thousand words fits."""
CLOSED_GRACE_S = 3.0
"""How long after a window has gone another may still come: a reload looks the same. Chosen here, no source."""
IDLE_S = 300.0
"""Silence after which the review ends. Browsers let hidden pages speak only once a minute."""
_SOCKET_S = 10.0
_LOOK_S = 0.5
"""How often a held connection looks whether the review is over."""
_AGAIN_MS = 500
"""When a window tries again whose connection broke though it is still there; well within the grace."""
_DRAINED = 1_048_576
_NOTHING = "default-src 'none'"
"""Content security policy of whatever is no page."""
_LONGEST_LENGTH = 18
"""Digits of a length. Chosen here, no source: more than any file has, and few enough for a number."""


class ReviewServer(ThreadingHTTPServer):
    """Serves one review until it is over.

    Args:
        review: What is reviewed.
        clock: Tells how long nothing was heard.
        port: Port on loopback; 0 lets the system choose.
        idle_s: Seconds of silence after which it ends.

    Attributes:
        review: What is reviewed.
        address: Where the page is; contains the secret.
        origin: Scheme, host and port.
    """

    daemon_threads = True

    def __init__(self, review: Review, clock: Clock, *, port: int = 0, idle_s: float = IDLE_S) -> None:
        super().__init__((HOST, port), _Handler)
        self.review = review
        self.token = secrets.token_urlsafe(32)
        self.host = f"{HOST}:{self.server_address[1]}"
        self.origin = f"http://{self.host}"
        self.address = f"{self.origin}/{self.token}/"
        self._clock = clock
        self._idle_s = idle_s
        self._heard_s = clock.monotonic_s()
        self._gone_s: float | None = None
        self._held = 0
        self._lock = threading.Lock()
        self.timeout = 0.5

    def handle_error(self, request: object, client_address: object) -> None:  # noqa: ARG002 - as the base has it
        """A client that hangs up is no news; anything else is for the developer's log, and the client is left."""
        if not isinstance(sys.exception(), OSError):
            _LOG.error("request_failed", exc_info=True)

    def server_bind(self) -> None:
        """Take the port. The server that this one is made of would also look up a name for the address."""
        TCPServer.server_bind(self)
        self.server_name, self.server_port = HOST, int(self.server_address[1])

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


class _Handler(BaseHTTPRequestHandler):
    server: ReviewServer
    timeout = _SOCKET_S
    server_version = "handsfree"
    sys_version = ""

    def do_GET(self) -> None:
        """The page, the sound of an utterance, or the connection that a window holds."""
        place = self._place()
        if place is None:
            return
        self.server.heard(loading=place == "")
        if place == "window":
            self._hold()
            return
        try:
            if place == "":
                page = self.server.review.page()
                self._answer(HTTPStatus.OK, "text/html; charset=utf-8", page.html.encode(), policy=page.policy)
                return
            folder, _, name = place.partition("/")
            sound = self.server.review.clip(name) if folder == "clip" else None
        except HandsfreeError as error:
            self._refuse(HTTPStatus.CONFLICT, str(error))
            return
        if sound is None:
            self._refuse(HTTPStatus.NOT_FOUND, "there is nothing here")
        else:
            self._answer(HTTPStatus.OK, "audio/flac", sound)

    def _hold(self) -> None:
        """Keep the connection until the window, or the review, is gone."""
        self.server.window_held()
        try:
            self._head(HTTPStatus.OK, (("Content-Type", "text/event-stream"),))
            self.wfile.write(f"retry: {_AGAIN_MS}\n\n".encode())
            while not self.server.over:
                if select.select([self.connection], [], [], _LOOK_S)[0] and not self.connection.recv(1):
                    return
        finally:
            self.server.window_let_go()

    def do_POST(self) -> None:
        """An action, or a sign of life."""
        place = self._place()
        if place is None:
            return
        if self.headers.get("Origin") != self.server.origin:
            self._refuse(HTTPStatus.FORBIDDEN, "only the page of this review may do that")
            return
        self.server.heard()
        if place == "alive":
            self._answer(HTTPStatus.OK, "application/json", b"{}")
            return
        if self.headers.get_content_type() != "application/json":
            self._refuse(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "actions are sent as application/json")
            return
        body = self._body()
        if body is None:
            return
        if place not in self.server.review.actions:
            self._refuse(HTTPStatus.NOT_FOUND, "there is nothing here")
            return
        try:
            done = self.server.review.act(place, body)
        except NewsError as error:
            told = {"refused": str(error), "news": error.news}
            self._answer(HTTPStatus.CONFLICT, "application/json", json.dumps(told).encode())
            return
        except HandsfreeError as error:
            self._refuse(HTTPStatus.BAD_REQUEST, str(error))
            return
        self._answer(HTTPStatus.OK, "application/json", json.dumps({"done": done}).encode())

    def _place(self) -> str | None:
        """What is asked for, behind the secret; None where the request was refused."""
        if self.headers.get("Host") != self.server.host:
            self._refuse(HTTPStatus.FORBIDDEN, "this review answers to its loopback address only")
            return None
        _, _, rest = self.path.partition("/")
        token, slash, place = rest.partition("/")
        if not slash or not hmac.compare_digest(token.encode(), self.server.token.encode()):
            self._refuse(HTTPStatus.FORBIDDEN, "the address is not that of this review; use the one that was printed")
            return None
        return place

    def _body(self) -> bytes | None:
        length = self.headers.get("Content-Length", "")
        if not length.isascii() or not length.isdigit() or len(length) > _LONGEST_LENGTH:
            self._refuse(HTTPStatus.LENGTH_REQUIRED, "the request does not say how long it is")
            return None
        if int(length) > LARGEST_BODY:
            self.rfile.read(min(int(length), _DRAINED))  # or the answer may be lost with the connection
            self._refuse(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"a request may have {LARGEST_BODY} bytes")
            return None
        return self.rfile.read(int(length))

    def _refuse(self, status: HTTPStatus, why: str) -> None:
        self._answer(status, "application/json", json.dumps({"refused": why}).encode())

    def _answer(self, status: HTTPStatus, kind: str, content: bytes, *, policy: str = _NOTHING) -> None:
        self._head(status, (("Content-Type", kind), ("Content-Length", str(len(content)))), policy)
        self.wfile.write(content)

    def _head(self, status: HTTPStatus, own: tuple[tuple[str, str], ...], policy: str = _NOTHING) -> None:
        self.send_response(status)
        for name, value in (
            *own,
            ("Cache-Control", "no-store"),
            ("Content-Security-Policy", f"{policy}; frame-ancestors 'none'"),
            ("Cross-Origin-Opener-Policy", "same-origin"),
            ("Cross-Origin-Resource-Policy", "same-origin"),
            ("Referrer-Policy", "no-referrer"),
            ("X-Content-Type-Options", "nosniff"),
            ("Connection", "close"),
        ):
            self.send_header(name, value)
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Keep quiet: addresses hold the secret."""
