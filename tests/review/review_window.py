"""A review that is being served, and a browser that looks at it."""

import contextlib
import http.client
import json
import shutil
import threading
from datetime import UTC, datetime

from handsfree.clock import ManualClock
from handsfree.record.verify import verify
from handsfree.review.server import ReviewServer
from handsfree.review.service import Review

JSON = {"Content-Type": "application/json"}
ACTIONS = ("amend", "verify", "attest")
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@contextlib.contextmanager
def served(folder, key_file, **how):
    """A server that runs until the block ends."""
    clock = ManualClock(NOW)
    server = ReviewServer(Review(folder, key_file, clock), clock, **how)
    server.timeout = 0.05
    server.clock = clock
    thread = threading.Thread(target=server.serve, daemon=True)
    thread.start()
    server.thread = thread
    try:
        with server:
            yield server
            _end(clock, thread)
            assert not thread.is_alive()
    finally:
        _end(clock, thread)


def _end(clock, thread):
    """Let hours pass without a word, again and again: a window that is still open may ask once more in between."""
    for _ in range(100):
        clock.sleep_until(clock.monotonic_s() + 1e9)
        thread.join(0.1)
        if not thread.is_alive():
            return


def copied(folder, to):
    shutil.copytree(folder, to)
    return to


def ask(server, method, path, body=None, **headers):
    connection = http.client.HTTPConnection(*server.server_address[:2], timeout=10)
    try:
        connection.request(method, path, body, {name.replace("_", "-"): value for name, value in headers.items()})
        answer = connection.getresponse()
        return answer.status, dict(answer.getheaders()), answer.read()
    finally:
        connection.close()


def act(server, name, given, **headers):
    """An action with what the record is now, as a page that was just loaded would send it."""
    if isinstance(given, dict) and name in ACTIONS:
        given = {"head": verify(server.folder).head_hash, **given}
    body = given if isinstance(given, bytes) else json.dumps(given).encode()
    chosen = {"Origin": server.origin, **JSON, **headers}
    chosen = {name: value for name, value in chosen.items() if value is not None}
    status, _, answer = ask(server, "POST", f"/{server.token}/{name}", body, **chosen)
    return status, json.loads(answer)


class Window:
    """A page of a real browser that takes down what it complains about and what it asks the network for."""

    def __init__(self, page):
        self.page = page
        self.complaints = []
        self.requests = []
        page.on("console", lambda message: self.complaints.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: self.complaints.append(f"error: {error}"))
        page.on("request", lambda request: self.requests.append(request.url))
