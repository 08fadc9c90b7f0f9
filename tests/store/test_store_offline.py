"""A store is reached where the user says that it is; besides, as with every command, nothing leaves the machine."""

import pytest
from watched import why_not
from watched_place import PROCEDURE, Place

from handsfree.errors import StoreError

TYPED = "ward\naffirmative\naffirmative\n"


@pytest.fixture
def place(tmp_path):
    reason = why_not()
    if reason is not None:
        pytest.skip(reason)
    found = Place(tmp_path.resolve())
    for folder in (found.home, found.work, found.base / "temporary", found.base / "elsewhere"):
        folder.mkdir()
    (found.work / "shelf.yaml").write_text(PROCEDURE)
    return found


def kept_to_itself(found, place):
    assert (found.sent, found.bound, found.sockets) == ([], [], set())
    assert found.outside(place.allowed) == []


def test_a_store_is_reached_where_it_is_said_to_be_and_nowhere_else(place):
    pytest.importorskip("psycopg", reason="psycopg is not installed: pip install 'handsfree[store]'")
    record = place.work / "typed"
    found = place.handsfree("run", place.work / "shelf.yaml", "--typed", "--record", record, said=TYPED)
    assert found.code == 0, found.err
    nowhere = place.work / "no-socket-here"
    nowhere.mkdir()
    asked = ("store", "push", record, "--to", f"postgresql://room@/store?host={nowhere}")
    found = place.handsfree(*asked)
    assert (found.code, "cannot reach the store" in found.err) == (StoreError.exit_code, True), found.err
    kept_to_itself(found, place)
    found = place.handsfree("store", "status", place.work, "--to", asked[-1])
    assert (found.code, "cannot reach the store" in found.out) == (0, True), found.err
    kept_to_itself(found, place)
    found = place.handsfree(*asked[:4], "postgresql://room@127.0.0.1:9/store")
    assert found.code == StoreError.exit_code, found.err
    assert [line for line in found.sent if 'inet_addr("127.0.0.1")' not in line] == []
    assert found.outside(place.allowed) == []
