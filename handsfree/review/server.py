"""A review served on loopback to one browser window.

Who may talk to it: a request must come to the loopback address by number (no name that could be rebound), carry the
secret of this review in its path, and, to change something, come from the page itself (Origin) as JSON. Nothing is
stored by the browser. It ends when the window is closed or has been silent for long.
"""

import hmac
import json
import logging
import secrets
import sys
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from socketserver import TCPServer

from handsfree.clock import Clock
from handsfree.errors import HandsfreeError
from handsfree.report.page import review_policy
from handsfree.review.service import NewsError, Review

_LOG = logging.getLogger(__name__)
HOST = "127.0.0.1"
LARGEST_BODY = 65_536
"""Bytes of a request. Chosen here, no source: a note of ten thousand words fits."""
CLOSED_GRACE_S = 3.0
"""How long after a window said that it closes another request may still come: a reload says so as well."""
IDLE_S = 300.0
"""Silence after which the review ends. Browsers let hidden pages speak only once a minute."""
_SOCKET_S = 10.0
_DRAINED = 1_048_576
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
        self._closed_s: float | None = None
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
    def window_closing(self) -> bool:
        """Whether the window said goodbye and was not heard since."""
        return self._closed_s is not None

    @property
    def over(self) -> bool:
        """Whether the window has closed, or nothing was heard for long."""
        now_s = self._clock.monotonic_s()
        closed = self._closed_s is not None and now_s - self._closed_s > CLOSED_GRACE_S
        return closed or now_s - self._heard_s > self._idle_s

    def heard(self) -> None:
        """The window is there."""
        self._heard_s = self._clock.monotonic_s()
        self._closed_s = None

    def said_goodbye(self) -> None:
        """The window closes, or is loaded anew."""
        self._closed_s = self._clock.monotonic_s()

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
        """The page, or the sound of an utterance."""
        place = self._place()
        if place is None:
            return
        self.server.heard()
        try:
            if place == "":
                self._answer(HTTPStatus.OK, "text/html; charset=utf-8", self.server.review.page().encode())
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

    def do_POST(self) -> None:
        """An action, or a sign of life."""
        place = self._place()
        if place is None:
            return
        if self.headers.get("Origin") != self.server.origin:
            self._refuse(HTTPStatus.FORBIDDEN, "only the page of this review may do that")
            return
        if place == "closed":
            self.server.said_goodbye()
            self._answer(HTTPStatus.OK, "application/json", b"{}")
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

    def _answer(self, status: HTTPStatus, kind: str, content: bytes) -> None:
        self.send_response(status)
        for name, value in (
            ("Content-Type", kind),
            ("Content-Length", str(len(content))),
            ("Cache-Control", "no-store"),
            ("Content-Security-Policy", f"{review_policy()}; frame-ancestors 'none'"),
            ("Cross-Origin-Opener-Policy", "same-origin"),
            ("Cross-Origin-Resource-Policy", "same-origin"),
            ("Referrer-Policy", "no-referrer"),
            ("X-Content-Type-Options", "nosniff"),
            ("Connection", "close"),
        ):
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, format: str, *args: object) -> None:
        """Keep quiet: addresses hold the secret."""
