import itertools
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
for folder in (HERE, HERE.parent / "record", HERE.parents[1] / "scripts"):
    sys.path.insert(0, str(folder))

from postgres_server import PostgresServer, why_not  # noqa: E402

_NUMBERS = itertools.count(1)


@pytest.fixture(scope="session")
def server():
    """A real PostgreSQL on a socket in a temporary folder."""
    pytest.importorskip("psycopg", reason="psycopg is not installed: pip install 'handsfree[store]'")
    pytest.importorskip("yoyo", reason="yoyo-migrations is not installed: pip install 'handsfree[store]'")
    reason = why_not()
    if reason is not None:
        pytest.skip(reason)
    server = PostgresServer()
    yield server
    server.remove()


@pytest.fixture(scope="session")
def template(server):
    """A database with the schema and the people of a department, copied for each test."""
    from store_rooms import make_people

    from handsfree.store.schema_steps import make_schema

    with owner(server, "postgres") as connection:
        connection.execute("create database made_once")
    make_schema(server.address("made_once"))
    with owner(server, "made_once") as connection:
        make_people(connection)
    return "made_once"


@pytest.fixture
def store(server, template):
    """A store of its own for one test."""
    from store_rooms import Department

    name = f"store_{next(_NUMBERS)}"
    with owner(server, "postgres") as connection:
        connection.execute(f"create database {name} template {template}")
    yield Department(server, name)
    with owner(server, "postgres") as connection:
        connection.execute(f"drop database if exists {name} with (force)")


@pytest.fixture
def room(tmp_path):
    """A room with twelve visits; identifier to the bytes of the file."""
    from store_rooms import visit_in

    from handsfree.record.line_checking import RECORD_FILE

    made = {}
    for number in range(12):
        record_id = visit_in(tmp_path / "room" / f"{number:02}")
        made[record_id] = (tmp_path / "room" / f"{number:02}" / RECORD_FILE).read_bytes()
    return tmp_path / "room", made


def owner(server, database):
    import psycopg

    return psycopg.connect(server.address(database), autocommit=True)
