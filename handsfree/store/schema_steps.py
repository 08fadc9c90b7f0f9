"""The schema of a store: plain SQL in numbered files, applied in order by yoyo, each once and whole.

yoyo-migrations was taken because its steps are plain SQL files, it runs on psycopg 3 and keeps its own list of what was
applied in the database. Alembic wants steps in Python and a second driver layer; tools that bring their own driver know
neither service nor password files of libpq.
"""

import logging
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any

from handsfree.errors import StoreError
from handsfree.store.address import place_of
from handsfree.store.connection import INSTALL, connected, connection_words, told

if TYPE_CHECKING:
    from handsfree.store.connection import Connection

_SQL = files("handsfree.store") / "sql"
_APPLIED = "handsfree_schema_steps"
_ROLES = "handsfree_room, handsfree_reviewer, handsfree_trainer"


def known_steps() -> tuple[str, ...]:
    """The steps that this program knows, in order, such as "0001.records"."""
    return tuple(sorted(one.name.removesuffix(".sql") for one in _SQL.iterdir() if one.name.endswith(".sql")))


def make_schema(address: str) -> tuple[str, ...]:
    """Make the schema of a store, or bring an older one up to date; what is there stays.

    Args:
        address: Of the database, for a role that may make schemas and roles.

    Returns:
        The steps that were applied now.

    Raises:
        StoreError: The database cannot be reached, permits it not, or is of a newer schema than this program knows.
    """
    words = connection_words(address)
    try:
        from yoyo import read_migrations
        from yoyo.connections import parse_uri
    except ImportError as error:
        raise StoreError(INSTALL) from error
    # What yoyo logs names the database; this program's log names nothing.
    logging.getLogger("yoyo").setLevel(logging.CRITICAL)
    with connected(address) as connection:
        refuse_newer(_applied(connection), address)
    with as_file(_SQL) as folder, told(address):
        backend = _backend(words)(parse_uri(address), _APPLIED)
        with backend:
            backend.init_database()
            with backend.lock():
                due = backend.to_apply(read_migrations(str(folder)))
                backend.apply_migrations(due)
                backend.execute(f"grant select on {_APPLIED} to {_ROLES}")
    return tuple(one.id for one in due)


def _backend(words: str) -> type[Any]:
    """The adapter that yoyo has of psycopg 3, connecting by libpq's own words: services, password files."""
    import psycopg
    from yoyo.backends.core.postgresql import PostgresqlPsycopgBackend

    class _ByLibpq(PostgresqlPsycopgBackend):  # type: ignore[misc]
        def connect(self, _: object) -> Any:  # noqa: ANN401 - yoyo's signature
            return psycopg.connect(words, autocommit=True)

    return _ByLibpq


def check_schema(connection: "Connection", address: str) -> None:
    """Refuse a store whose schema is not that of this program.

    Raises:
        StoreError: It has none, an older or a newer one.
    """
    applied = _applied(connection)
    place = place_of(address)
    if not applied:
        raise StoreError(f"there is no store at {place}; its owner makes one by `handsfree store init URL`")
    refuse_newer(applied, address)
    missing = [step for step in known_steps() if step not in applied]
    if missing:
        raise StoreError(
            f"the store ({place}) is of an older schema ({applied[-1]}) than this program ({known_steps()[-1]}):"
            " nothing was done; its owner brings it up to date by `handsfree store init URL`"
        )


def refuse_newer(applied: tuple[str, ...], address: str) -> None:
    """Refuse a schema with steps that this program does not know.

    Raises:
        StoreError: It has some.
    """
    newer = [step for step in applied if step not in known_steps()]
    if newer:
        raise StoreError(
            f"the store ({place_of(address)}) is of a newer schema ({newer[-1]}) than this program"
            f" ({known_steps()[-1]}): nothing was done; update this program"
        )


def _applied(connection: "Connection") -> tuple[str, ...]:
    """Steps that a database has, in order; none where it is no store."""
    known = connection.execute("select to_regclass(%s)::text", (_APPLIED,)).fetchone()
    if known is None or known[0] is None:
        return ()
    rows = connection.execute(f"select migration_id from {_APPLIED} order by migration_id").fetchall()  # noqa: S608 - a constant
    return tuple(str(name) for (name,) in rows)
