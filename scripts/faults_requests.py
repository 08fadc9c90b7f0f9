"""Requests that nobody with the page would send to a review, and connections that never come to a request.

What must become of each: a refusal of a kind, or the end of the connection; the record stays as it was, nothing of this
machine or of the secret stands in an answer, and whoever has the address is still answered. After RFC 9110 (methods,
status codes), RFC 9112 (framing) and the OWASP Cross-Site Request Forgery Prevention Cheat Sheet (Host and Origin).
"""

import contextlib
import json
import socket
import struct
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from handsfree.record.verify import verify

PATIENCE_S = 60
"""Longest wait for an answer; the server itself ends a connection that says nothing after ten seconds."""
CLOSED = 0
"""In place of a status: the connection ends without an answer."""


@dataclass(frozen=True)
class Target:
    """A review that is served.

    Attributes:
        port: Port on loopback.
        token: The secret in its address.
        folder: Folder of the record.
    """

    port: int
    token: str
    folder: Path

    @property
    def host(self) -> str:
        """Host and port."""
        return f"127.0.0.1:{self.port}"

    @property
    def head(self) -> str:
        """Head hash of the record, as a page that was just loaded has it."""
        return verify(self.folder).head_hash

    def get(self, path: str = "", *, host: str | None = None, method: str = "GET", more: str = "") -> bytes:
        """A request without a body."""
        host = self.host if host is None else host
        return f"{method} {path or f'/{self.token}/'} HTTP/1.1\r\nHost: {host}\r\n{more}\r\n".encode("latin-1")

    def post(
        self,
        body: bytes | None = None,
        *,
        place: str = "attest",
        origin: str | None = "",
        kind: str = "application/json",
        length: str | None = "",
        more: str = "",
    ) -> bytes:
        """An attestation as the page sends it, but for what is given otherwise; None leaves a header out."""
        if body is None:
            body = json.dumps({"by": "surgeon", "head": self.head}).encode()
        origin = f"http://{self.host}" if origin == "" else origin
        length = str(len(body)) if length == "" else length
        lines = [f"POST /{self.token}/{place} HTTP/1.1", f"Host: {self.host}", f"Content-Type: {kind}"]
        lines += [f"Origin: {origin}"] if origin is not None else []
        lines += [f"Content-Length: {length}"] if length is not None else []
        return ("\r\n".join(lines) + f"\r\n{more}\r\n").encode("latin-1") + body


@dataclass(frozen=True)
class Hostile:
    """A request.

    Attributes:
        name: What is wrong with it.
        made: The bytes for a review.
        expected: Statuses that are right; `CLOSED` for none.
    """

    name: str
    made: Callable[[Target], bytes]
    expected: tuple[int, ...]


@dataclass
class Answers:
    """What became of them: how many were tried, and what was not as it must be."""

    requests: int = 0
    sockets: int = 0
    wrong: list[str] = field(default_factory=list)


def _object(**members: object) -> Callable[[Target], bytes]:
    return lambda at: at.post(json.dumps({"by": "surgeon", "head": at.head, **members}).encode())


HOSTILE = (
    Hostile("host by a name", lambda at: at.get(host=f"localhost:{at.port}"), (403,)),
    Hostile("host of another site", lambda at: at.get(host="evil.invalid"), (403,)),
    Hostile("host without a port", lambda at: at.get(host="127.0.0.1"), (403,)),
    Hostile("host with another port", lambda at: at.get(host="127.0.0.1:1"), (403,)),
    Hostile("no host", lambda at: f"GET /{at.token}/ HTTP/1.1\r\n\r\n".encode(), (403,)),
    Hostile("two hosts", lambda at: at.get(host="evil.invalid", more=f"Host: {at.host}\r\n"), (403,)),
    Hostile("host with a user", lambda at: at.get(host=f"x@{at.host}"), (403,)),
    Hostile("a whole address as the path", lambda at: at.get(f"http://evil.invalid/{at.token}/"), (403,)),
    Hostile("no secret", lambda at: at.get("/"), (403,)),
    Hostile("another secret", lambda at: at.get("/" + "A" * len(at.token) + "/"), (403,)),
    Hostile("the secret without its last letter", lambda at: at.get(f"/{at.token[:-1]}/"), (403,)),
    Hostile("the secret and one letter more", lambda at: at.get(f"/{at.token}A/"), (403,)),
    Hostile("the secret in other letters", lambda at: at.get(f"/{at.token.swapcase()}/"), (403,)),
    Hostile("the secret encoded", lambda at: at.get("/" + "".join(f"%{ord(c):02X}" for c in at.token) + "/"), (403,)),
    Hostile("a secret of other bytes", lambda at: at.get("/\xff\xfe\xe4/"), (403,)),
    Hostile("no origin", lambda at: at.post(origin=None), (403,)),
    Hostile("origin null", lambda at: at.post(origin="null"), (403,)),
    Hostile("origin of another site", lambda at: at.post(origin="https://evil.invalid"), (403,)),
    Hostile("origin with another port", lambda at: at.post(origin="http://127.0.0.1:1"), (403,)),
    Hostile("origin with another scheme", lambda at: at.post(origin=f"https://{at.host}"), (403,)),
    Hostile("PUT", lambda at: at.get(method="PUT"), (501,)),
    Hostile("DELETE", lambda at: at.get(method="DELETE"), (501,)),
    Hostile(
        "OPTIONS of another site", lambda at: at.get(method="OPTIONS", more="Origin: https://x.invalid\r\n"), (501,)
    ),
    Hostile("TRACE", lambda at: at.get(method="TRACE"), (501,)),
    Hostile("a method that is none", lambda at: at.get(method="GET\x00"), (400, 501)),
    Hostile("up to a file of the machine", lambda at: at.get(f"/{at.token}/../../../../etc/passwd"), (404,)),
    Hostile("from sound to the record", lambda at: at.get(f"/{at.token}/clip/../record.jsonl"), (404,)),
    Hostile("the same, encoded", lambda at: at.get(f"/{at.token}/clip/%2e%2e%2frecord.jsonl"), (404,)),
    Hostile("sound by a whole path", lambda at: at.get(f"/{at.token}/clip//etc/passwd"), (404,)),
    Hostile("sound that no line names", lambda at: at.get(f"/{at.token}/clip/{'0' * 64}"), (404,)),
    Hostile("plain text", lambda at: at.post(kind="text/plain"), (415,)),
    Hostile("a form", lambda at: at.post(kind="application/x-www-form-urlencoded"), (415,)),
    Hostile("in chunks", lambda at: at.post(length=None, more="Transfer-Encoding: chunked\r\n"), (411,)),
    Hostile("a length below nothing", lambda at: at.post(length="-1"), (411,)),
    Hostile("a length of five thousand digits", lambda at: at.post(b"{", length="9" * 5000), (411,)),
    Hostile("a length in other digits", lambda at: at.post(length="²"), (411,)),
    Hostile("a body that is too long", lambda at: at.post(b"{" * 65_537), (413,)),
    Hostile("a header line that is too long", lambda at: at.get(more=f"X: {'y' * 70_000}\r\n"), (431,)),
    Hostile("too many headers", lambda at: at.get(more="X: y\r\n" * 200), (431,)),
    Hostile("a path that is too long", lambda at: at.get(f"/{at.token}/{'y' * 70_000}"), (414,)),
    Hostile(
        "a packed body", lambda at: at.post(b"\x1f\x8b\x08\x00" + bytes(40), more="Content-Encoding: gzip\r\n"), (400,)
    ),
    Hostile("a body of other letters", lambda at: at.post('{"by":"é"}'.encode("latin-1")), (400,)),
    Hostile("a body without end", lambda at: at.post(b"[" * 60_000), (400,)),
    Hostile("an action that is none", lambda at: at.post(place="delete"), (404,)),
    Hostile("a head that is of nothing", _object(head="0" * 64), (409,)),
    Hostile("members of other kinds", _object(by=["surgeon"], head={"of": 1}), (400,)),
)
"""Each leaves the record as it is; the action that is sent twice comes after them."""
SLOW = (
    Hostile("a length and never a body", lambda at: at.post(b"", length="60000"), (CLOSED, 408)),
    Hostile("a length beyond all measure", lambda at: at.post(b"{", length="9" * 12), (CLOSED, 413)),
    Hostile("half a head", lambda at: at.get()[:-4], (CLOSED, 408)),
    Hostile("an old protocol and silence", lambda _: b"GET /", (CLOSED, 400, 408)),
    Hostile(
        "a handshake of another protocol", lambda _: b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", (CLOSED, 400)
    ),
)
"""The server waits for the rest of these until it ends the connection itself."""


def answer(at: Target, request: bytes) -> bytes:
    """What comes back until the connection ends; nothing where it was reset."""
    with socket.create_connection(("127.0.0.1", at.port), timeout=PATIENCE_S) as connection:
        with contextlib.suppress(ConnectionError):  # a refusal may come before all was sent
            connection.sendall(request)
        pieces = []
        with contextlib.suppress(ConnectionError):
            while piece := connection.recv(1 << 16):
                pieces.append(piece)
    return b"".join(pieces)


def status_of(answered: bytes) -> int:
    """The status, `CLOSED` without an answer."""
    words = answered.split(b"\r\n", 1)[0].split()
    return int(words[1]) if len(words) > 1 and words[1].isdigit() else CLOSED


def _content(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def try_requests(at: Target, *, slow: bool = True) -> Answers:
    """Send every request, each slow one meanwhile, then an action twice.

    Args:
        at: A review of a record that is not attested.
        slow: Whether also those that the server must end by itself.
    """
    found = Answers()
    before = _content(at.folder)
    with ThreadPoolExecutor(len(SLOW)) as pool:
        waiting = [(one, pool.submit(answer, at, one.made(at))) for one in SLOW if slow]
        for one in HOSTILE:
            _judge(found, at, one, answer(at, one.made(at)))
            if status_of(answer(at, at.get())) != 200:
                found.wrong.append(f"after {one.name}: the page is not answered")
        for one, done in waiting:
            _judge(found, at, one, done.result())
    if _content(at.folder) != before:
        found.wrong.append("something was changed in the record")
    _try_twice(found, at)
    return found


def _judge(found: Answers, at: Target, one: Hostile, answered: bytes) -> None:
    found.requests += 1
    if status_of(answered) not in one.expected:
        found.wrong.append(f"{one.name}: answered with {status_of(answered)}, not {one.expected}")
    if at.token.encode() in answered or b"root:" in answered or b'"prev"' in answered:
        found.wrong.append(f"{one.name}: the answer tells what it must not")


def _try_twice(found: Answers, at: Target) -> None:
    """An attestation that somebody sends again as it was: the record has moved on."""
    found.requests += 1
    request = at.post()
    statuses = [status_of(answer(at, request)) for _ in range(2)]
    if statuses != [200, 409]:
        found.wrong.append(f"an action sent twice: {statuses}, not [200, 409]")


def _half_open(at: Target, count: int) -> Iterator[socket.socket]:
    """Connections that say nothing, half a line, half a head or half a body."""
    whole = at.post()
    parts = (b"", b"GE", whole[:40], whole[:-5])
    for number in range(count):
        connection = socket.create_connection(("127.0.0.1", at.port), timeout=PATIENCE_S)
        connection.sendall(parts[number % len(parts)])
        yield connection


def try_half_open(at: Target, count: int) -> Answers:
    """Open so many connections that come to no request, and ask for the page meanwhile and after they are reset."""
    found = Answers()
    before = _content(at.folder)
    with contextlib.ExitStack() as stack:
        open_ones = [stack.enter_context(one) for one in _half_open(at, count)]
        found.sockets = len(open_ones)
        if status_of(answer(at, at.get())) != 200:
            found.wrong.append(f"the page is not answered while {count} connections are half open")
        for one in open_ones:  # close sends RST (RFC 9293 3.6)
            one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    if status_of(answer(at, at.get())) != 200:
        found.wrong.append("the page is not answered after half-open connections were reset")
    if _content(at.folder) != before:
        found.wrong.append("something was changed in the record")
    return found
