"""A server of pages that answers nobody but who has its address.

Who may talk to it: a request must come to the address that was printed (no name that could be rebound) and carry the
secret in its path. Nothing is stored by the browser, and nothing may put the page into a page of its own.
"""

import hmac
import json
import logging
import secrets
import socket
import ssl
import sys
import threading
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from socketserver import TCPServer
from typing import ClassVar

_LOG = logging.getLogger(__name__)
LOOPBACK = "127.0.0.1"
SOCKET_S = 10.0
"""How long a client may take to say or take something, seconds."""
MOST_CONNECTIONS = 64
"""Connections at a time, each with a thread of its own. Chosen here, no source: some browsers open six at once."""


class ClosedServer(ThreadingHTTPServer):
    """Serves whoever has the address.

    Args:
        handler: Answers requests.
        bound: Address that it listens at, by number.
        port: Port; 0 lets the system choose.
        name: Name by which browsers call it, where that is not `bound`.
        tls: What encrypts connections, or None.
        token: The secret; a new one where None.

    Attributes:
        token: The secret.
        host: Name or number, and port.
        origin: Scheme and host.
        address: Where the page is; contains the secret.
    """

    daemon_threads = True

    def __init__(
        self,
        handler: type["ClosedHandler"],
        *,
        bound: str = LOOPBACK,
        port: int = 0,
        name: str | None = None,
        tls: ssl.SSLContext | None = None,
        token: str | None = None,
    ) -> None:
        super().__init__((bound, port), handler)
        self.token = token or secrets.token_urlsafe(32)
        self.host = f"{name or bound}:{self.server_address[1]}"
        self.origin = f"{'http' if tls is None else 'https'}://{self.host}"
        self.address = f"{self.origin}/{self.token}/"
        self.timeout = 0.5
        self._tls = tls
        self._connections = threading.BoundedSemaphore(MOST_CONNECTIONS)

    def verify_request(self, request: object, client_address: object) -> bool:  # noqa: ARG002 - as the base has it
        """Whether there is room for one more connection; one beyond is closed, whoever it is from."""
        return self._connections.acquire(blocking=False)

    def process_request_thread(
        self, request: socket.socket | tuple[bytes, socket.socket], client_address: object
    ) -> None:
        """Answer in a thread of its own, and make room for another."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._connections.release()

    def get_request(self) -> tuple[socket.socket, object]:
        """Take a connection. Nothing is waited for here: it is the client's own thread that greets it."""
        connection, address = super().get_request()
        if self._tls is not None:
            connection = self._tls.wrap_socket(connection, server_side=True, do_handshake_on_connect=False)
        return connection, address

    def handle_error(self, request: object, client_address: object) -> None:  # noqa: ARG002 - as the base has it
        """A client that hangs up is no news; anything else is for the developer's log, and the client is left."""
        if not isinstance(sys.exception(), OSError):
            _LOG.error("request_failed", exc_info=True)

    def server_bind(self) -> None:
        """Take the port. The server that this one is made of would also look up a name for the address."""
        TCPServer.server_bind(self)
        self.server_name, self.server_port = str(self.server_address[0]), int(self.server_address[1])


class ClosedHandler(BaseHTTPRequestHandler):
    """Answers one request; what it answers to what place is for those that derive from it.

    Attributes:
        what: What is served, as a refusal calls it.
        policy: Content security policy of the page, for a header.
    """

    server: ClosedServer
    timeout = SOCKET_S
    server_version = "handsfree"
    sys_version = ""
    what: ClassVar[str]
    policy: ClassVar[str]

    def do_GET(self) -> None:
        """Give what is asked for to who may have it."""
        place = self._place()
        if place is not None:
            self.give(place)

    def do_POST(self) -> None:
        """Do what is asked for, for the page itself alone."""
        place = self._place()
        if place is None:
            return
        if self.headers.get("Origin") != self.server.origin:
            self.refuse(HTTPStatus.FORBIDDEN, f"only the page of this {self.what} may do that")
            return
        self.take(place)

    def give(self, place: str) -> None:
        """Answer a request for a place behind the secret."""
        raise NotImplementedError

    def take(self, place: str) -> None:  # noqa: ARG002 - those that derive from it know places
        """Do what the page asks for. Nothing is done unless a handler says otherwise."""
        self.refuse(HTTPStatus.METHOD_NOT_ALLOWED, f"this {self.what} takes nothing")

    def _place(self) -> str | None:
        """What is asked for, behind the secret; None where the request was refused."""
        if self.headers.get("Host") != self.server.host:
            where = "its loopback address" if self.server.host.startswith(LOOPBACK) else "the address that was printed"
            self.refuse(HTTPStatus.FORBIDDEN, f"this {self.what} answers to {where} only")
            return None
        _, _, rest = self.path.partition("/")
        token, slash, place = rest.partition("/")
        if not slash or not hmac.compare_digest(token.encode(), self.server.token.encode()):
            self.refuse(
                HTTPStatus.FORBIDDEN, f"the address is not that of this {self.what}; use the one that was printed"
            )
            return None
        return place

    def refuse(self, status: HTTPStatus, why: str) -> None:
        """Answer with the reason why nothing is given or done."""
        self.answer(status, "application/json", json.dumps({"refused": why}).encode())

    def answer(self, status: HTTPStatus, kind: str, content: bytes) -> None:
        """Answer with a whole content."""
        self.head(status, (("Content-Type", kind), ("Content-Length", str(len(content)))))
        self.wfile.write(content)

    def head(self, status: HTTPStatus, own: tuple[tuple[str, str], ...]) -> None:
        """Begin an answer, with the rules that hold for every one of them."""
        self.send_response(status)
        for name, value in (
            *own,
            ("Cache-Control", "no-store"),
            ("Content-Security-Policy", f"{self.policy}; frame-ancestors 'none'"),
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
