"""A connection to a store, by libpq's own ways, and what goes wrong with it in one line."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from handsfree.errors import StoreError
from handsfree.store.address import checked_address, place_of

if TYPE_CHECKING:
    import psycopg

    Connection = psycopg.Connection[tuple[Any, ...]]

INSTALL = "the store needs packages that are not installed: pip install 'handsfree[store]'"
CONNECT_TIMEOUT_S = 10
_QUIET_LIMIT_MS = 20_000
"""How long sent bytes may stay unanswered before the network counts as cut. Chosen here, no source."""
_USUAL = {
    "connect_timeout": str(CONNECT_TIMEOUT_S),
    "application_name": "handsfree",
    "keepalives_idle": "20",
    "keepalives_interval": "5",
    "keepalives_count": "3",
    "tcp_user_timeout": str(_QUIET_LIMIT_MS),
}
_THERE_ALREADY = "23505"
"""SQLSTATE unique_violation: the same lines came from another push at the same moment."""
_RETRIED_CLASSES = ("08", "40", "53", "57", "58")
"""Classes of SQLSTATE after which the same may be asked again: connection, rollback, resources, intervention, system
(PostgreSQL documentation, appendix A)."""


class UnreachableError(StoreError):
    """The store cannot be reached, or was lost on the way; nothing is wrong with what was sent."""


class RefusedLinesError(Exception):
    """The store does not take what it was sent.

    Attributes:
        reason: Why, in the words of the store.
        overtaken: Whether another push came first, so that it may be asked again from where the record stands now.
    """

    def __init__(self, reason: str, *, overtaken: bool) -> None:
        super().__init__(reason)
        self.reason = reason
        self.overtaken = overtaken


def driver() -> Any:  # noqa: ANN401 - a module that may be missing
    """The module psycopg.

    Raises:
        StoreError: It is not installed.
    """
    try:
        import psycopg
    except ImportError as error:
        raise StoreError(INSTALL) from error
    return psycopg


def connection_words(address: str) -> str:
    """The connection string that libpq gets: the address, and how long to wait where it does not say so.

    Raises:
        StoreError: psycopg is not installed.
        UsageError: The address is none, or holds a password.
    """
    psycopg = driver()
    try:
        given = psycopg.conninfo.conninfo_to_dict(checked_address(address))
    except psycopg.ProgrammingError as error:
        raise StoreError(f"the address of the store cannot be read: {_first_line(error)}") from error
    return str(psycopg.conninfo.make_conninfo(**(_USUAL | given)))


@contextmanager
def connected(address: str) -> Iterator["Connection"]:
    """A connection that commits each statement by itself unless a transaction is opened; closed at the end.

    Raises:
        StoreError: It cannot be made, or is lost; `UnreachableError` where it may be tried again.
    """
    words = connection_words(address)
    psycopg = driver()
    try:
        connection = psycopg.connect(words, autocommit=True)
    except psycopg.OperationalError as error:
        raise UnreachableError(f"cannot reach the store ({place_of(address)}): {_connect_words(error)}") from error
    with connection, told(address):
        yield connection


@contextmanager
def told(address: str) -> Iterator[None]:
    """Turn errors of the driver into one line.

    Raises:
        RefusedLinesError: The store does not take lines.
        StoreError: Anything else.
    """
    psycopg = driver()
    try:
        yield
    except psycopg.Error as error:
        raise _meaning(error, place_of(address)) from error


def _meaning(error: Any, place: str) -> Exception:  # noqa: ANN401 - an error of a module that may be missing
    state = error.sqlstate or ""
    said = _first_line(error)
    if state.startswith("HF") or state == _THERE_ALREADY:
        return RefusedLinesError(said, overtaken=state in ("HF001", _THERE_ALREADY))
    if state.startswith("22"):
        return RefusedLinesError(f"cannot be kept as JSON: {said}", overtaken=False)
    if state == "53100":
        return UnreachableError(
            f"the disk of the store ({place}) is full: nothing was taken; push again once it is not"
        )
    if state in ("3F000", "42P01", "42883"):
        return StoreError(f"there is no store at {place}; its owner makes one by `handsfree store init URL`")
    if state == "42501":
        return StoreError(
            f"the store ({place}) does not permit it: {said}; its owner grants a role such as handsfree_room"
        )
    if not state or state.startswith(_RETRIED_CLASSES):
        return UnreachableError(f"the store ({place}) was lost on the way: {said}")
    return StoreError(f"the store ({place}) fails: {said}")


def _first_line(error: BaseException) -> str:
    return next((line.strip() for line in str(error).splitlines() if line.strip()), type(error).__name__)


def _connect_words(error: BaseException) -> str:
    """The last line of what libpq says of all that it tried: the reason, after the place."""
    lines = [line.strip() for line in str(error).splitlines() if line.strip()]
    said = next((line for line in lines if "FATAL" in line), lines[0] if lines else type(error).__name__)
    return said.rpartition("FATAL:")[2].strip() if "FATAL:" in said else said.removeprefix("connection failed: ")
