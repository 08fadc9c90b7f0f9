"""A transaction sent to the FHIR R4 server of a site, and what it answers in one line."""

import json
import ssl
import urllib.error
import urllib.request
from collections import Counter
from dataclasses import dataclass
from http.client import HTTPException, HTTPMessage
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit

from handsfree.errors import StoreError, UsageError
from handsfree.record.display_text import one_line
from handsfree.regular_files import read_named, reason_of

WAIT_S = 60.0
"""How long a server may take. Chosen here, no source."""
_LARGEST_ANSWER = 8_000_000
_LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
_FHIR_JSON = "application/fhir+json"
"""FHIR R4, http.html#mime-type."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What a server did with a transaction.

    Attributes:
        created: Resources that it made.
        there: Resources that it had already, or updated.
    """

    created: int
    there: int


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """What is sent goes where the user said, and nowhere else."""

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: HTTPMessage,
        newurl: str,
    ) -> None:
        """Follow none."""


def checked_server(url: str) -> str:
    """The base address of a server, without a slash at its end.

    Raises:
        UsageError: It is none, holds a password, or would carry what is sent in plain text over a network.
    """
    right = "https://HOST/BASE would be right"
    try:
        parts = urlsplit(url)
        host = parts.hostname
    except ValueError as error:
        raise UsageError(f"{url} is no address of a server: {error}; {right}") from error
    if parts.scheme not in ("http", "https") or not host or parts.query or parts.fragment:
        raise UsageError(f"{url} is no address of a server; {right}")
    if parts.username is not None or parts.password is not None:
        raise UsageError(f"the address of the server holds no name and no password; give --token-file, and {right}")
    if parts.scheme == "http" and host not in _LOOPBACK:
        raise UsageError(f"{url}: anybody in the network could read what is sent; {right}")
    return url.rstrip("/")


def read_token(file: Path) -> str:
    """The bearer token (RFC 6750) in a file.

    Raises:
        UsageError: It cannot be read, or is none.
    """
    try:
        token = read_named(file).decode("ascii").strip()
    except OSError as error:
        raise UsageError(f"{file}: cannot be read: {reason_of(error)}") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{file}: is no token of plain signs") from error
    if not token or any(sign.isspace() for sign in token):
        raise UsageError(f"{file}: holds no token; one line of plain signs would be right")
    return token


def send_transaction(server: str, transaction: str, token: str | None = None) -> Taken:
    """Send a transaction.

    Args:
        server: Base address, checked.
        transaction: JSON text of `to_transaction`.
        token: Bearer token, or None.

    Raises:
        StoreError: It was not reached, refuses it, or answers otherwise than the specification says.
    """
    headers = {"Content-Type": f"{_FHIR_JSON}; charset=utf-8", "Accept": _FHIR_JSON}
    if token is not None:
        headers["Authorization"] = f"Bearer {token}"
    asked = urllib.request.Request(server, transaction.encode(), headers, method="POST")  # noqa: S310 - checked
    opener = urllib.request.build_opener(
        urllib.request.ProxyHandler({}),
        _NoRedirect(),
        urllib.request.HTTPSHandler(context=ssl.create_default_context()),
    )
    try:
        with opener.open(asked, timeout=WAIT_S) as answer:
            said = answer.read(_LARGEST_ANSWER)
    except urllib.error.HTTPError as error:
        with error:
            raise StoreError(_refused(server, error.code, error.read(_LARGEST_ANSWER))) from error
    except (OSError, HTTPException) as error:
        why = getattr(error, "reason", None) or getattr(error, "strerror", None) or str(error) or type(error).__name__
        raise StoreError(
            f"the server {server} was not reached, or lost before it answered: {one_line(str(why))};"
            " send it again: what is there is not doubled"
        ) from error
    return _taken(server, said, transaction)


def _refused(server: str, status: int, said: bytes) -> str:
    why = _diagnostics(said)
    if 300 <= status < 400:
        why = "it wants it sent to another address; give that one"
    return one_line(f"the server {server} refuses it ({status}){': ' if why else ''}{why}; nothing of it was taken")


def _diagnostics(said: bytes) -> str:
    """The first issue of an OperationOutcome; "" where it is none."""
    try:
        issue = json.loads(said)["issue"][0]
        return str(issue.get("diagnostics") or issue.get("details", {}).get("text") or issue.get("code", ""))
    except (ValueError, TypeError, LookupError, AttributeError):
        return ""


def _taken(server: str, said: bytes, transaction: str) -> Taken:
    """Hold the answer against what was asked: an entry for each, in order, each done."""
    try:
        answer: Any = json.loads(said)
        if (answer["resourceType"], answer["type"]) != ("Bundle", "transaction-response"):
            raise ValueError("another kind of answer")  # noqa: TRY301
        codes = [str(entry["response"]["status"])[:3] for entry in answer["entry"]]
    except (ValueError, TypeError, LookupError) as error:
        raise StoreError(
            f"the server {server} answers with no transaction-response of FHIR R4; look there whether it took it"
        ) from error
    wanted = len(json.loads(transaction)["entry"])
    counts = Counter(codes)
    if len(codes) != wanted or set(counts) - {"200", "201", "204"}:
        raise StoreError(
            f"the server {server} answers for {len(codes)} of {wanted} resources ({', '.join(sorted(counts))});"
            " look there what it took"
        )
    return Taken(counts["201"], wanted - counts["201"])
