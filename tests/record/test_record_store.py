"""The store: listed, filtered, and the index rebuilt from the files at any time."""

import contextlib
import json
import os
import shutil
import sqlite3
from dataclasses import replace

import pytest
from click.testing import CliRunner
from record_samples import CLOSING, HEADER, affirms, confirmed, started, write_visit

from handsfree.commands.records import records as records_command
from handsfree.errors import RecordError
from handsfree.model.effects import Append
from handsfree.model.facts import OperatorDeclared
from handsfree.model.readings import SpelledText
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.store import Filter, list_records
from handsfree.record.store_index import INDEX_FILE


def write(folder, day, *, procedure="ulnar-splint-fitting", operator="AB12", practice=False):
    stamp = f"{day}T10:00:00.000Z"
    header = replace(HEADER, procedure=procedure, practice=practice, started=stamp)
    with Journal.create(folder, header) as journal:
        journal.append(
            started(wall=stamp),
            [
                confirmed("who", "works", SpelledText(operator)),
                Append(OperatorDeclared(operator=operator)),
            ],
        )
        journal.append(affirms(50.0), [CLOSING])


@pytest.fixture
def root(tmp_path):
    write(tmp_path / "b", "2026-11-20")
    write(tmp_path / "a", "2026-11-21", operator="CD34", practice=True)
    write(tmp_path / "c", "2026-11-22", procedure="splint-removal")
    write_visit(tmp_path / "d", close=False)
    (tmp_path / "not-a-record").mkdir()
    (tmp_path / "file").write_text("")
    return tmp_path


def names(root, **wanted):
    return [item.name for item in list_records(root, Filter(**wanted))]


def test_records_are_listed_the_oldest_first(root):
    found = list_records(root)
    assert [item.name for item in found] == ["b", "a", "c", "d"]
    assert [item.state for item in found] == ["complete", "complete", "complete", "interrupted"]
    assert [item.practice for item in found] == [False, True, False, False]


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        ({"since": "2026-11-21"}, ["a", "c", "d"]),
        ({"until": "2026-11-21"}, ["b", "a"]),
        ({"since": "2026-11-21", "until": "2026-11-21"}, ["a"]),
        ({"state": "interrupted"}, ["d"]),
        ({"procedure": "splint-removal"}, ["c"]),
        ({"operator": "cd34"}, ["a"]),
        ({"operator": "ZZ"}, []),
    ],
)
def test_filters(root, wanted, expected):
    assert names(root, **wanted) == expected
    assert names(root, **wanted) == expected  # from the index


def test_the_index_follows_the_files(root):
    before = list_records(root)
    (root / INDEX_FILE).unlink()
    assert list_records(root) == before
    path = root / "b" / RECORD_FILE
    path.write_bytes(path.read_bytes().replace(b"AB12", b"AB13"))
    assert {item.name: item.state for item in list_records(root)}["b"] == "broken"
    path.unlink()
    assert names(root) == ["a", "c", "d"]
    write(root / "e", "2026-11-23")
    assert names(root) == ["a", "c", "e", "d"]


@pytest.mark.parametrize("content", [b"", b"no database", b"SQLite format 3\x00" + b"\xff" * 500])
def test_a_damaged_index_is_made_anew(root, content):
    before = list_records(root)
    (root / INDEX_FILE).write_bytes(content)
    assert list_records(root) == before
    assert (root / INDEX_FILE).read_bytes()[:15] == b"SQLite format 3"
    assert list_records(root) == before


def told_in_index(root, **members):
    """Let the index say something else of every record."""
    with contextlib.closing(sqlite3.connect(root / INDEX_FILE)) as index, index:
        for name, summary in index.execute("select name, learnt from seen").fetchall():
            said = json.dumps(json.loads(summary) | members)
            index.execute("update seen set learnt = ? where name = ?", (said, name))


def test_an_index_that_came_with_a_folder_from_elsewhere_is_not_believed(root, tmp_path):
    """Size and time of a file can be brought along; its number and when it last changed here cannot (stat(2))."""
    path = root / "b" / RECORD_FILE
    path.write_bytes(path.read_bytes().replace(b"AB12", b"AB13"))
    before = list_records(root)
    told_in_index(root, state="complete", operator="ZZ")
    brought = shutil.copytree(root, tmp_path / "brought" / "store", copy_function=shutil.copy2)
    assert (brought / "b" / RECORD_FILE).stat().st_mtime_ns == path.stat().st_mtime_ns
    assert list_records(brought) == before
    assert list_records(brought) == before  # and made anew


def test_a_file_that_was_changed_and_given_its_old_time_is_read_again(root):
    list_records(root)
    path = root / "b" / RECORD_FILE
    was = path.stat()
    path.write_bytes(path.read_bytes().replace(b"AB12", b"AB13"))
    os.utime(path, ns=(was.st_atime_ns, was.st_mtime_ns))
    assert names(root, state="broken") == ["b"]


@pytest.mark.parametrize(
    "members",
    [{"state": "certified"}, {"name": "other"}, {"lines": "x"}, {"started": None}, {"operator": 5}, {"practice": "no"}],
)
def test_rows_of_the_index_that_no_listing_wrote_are_not_believed(root, members):
    before = list_records(root)
    told_in_index(root, **members)
    assert list_records(root) == before


def test_an_index_of_another_user_is_not_believed(root, monkeypatch):
    before = list_records(root)
    told_in_index(root, state="broken")
    monkeypatch.setattr(os, "geteuid", lambda: 4711)
    assert list_records(root) == before


def test_the_index_is_private(root):
    list_records(root)
    assert (root / INDEX_FILE).stat().st_mode & 0o077 == 0


def test_a_record_that_is_written_is_open(root):
    with Journal.create(root / "now", HEADER) as journal:
        journal.append(started(), [])
        assert "now" in names(root, state="open")
    assert "now" in names(root, state="interrupted")


def test_what_has_not_changed_is_listed_from_the_index(root, monkeypatch):
    # How long ten thousand take is measured by scripts/bench_records.py.
    before = list_records(root)
    monkeypatch.setattr("handsfree.record.store.verify", lambda path: pytest.fail(f"{path} was read again"))
    assert list_records(root) == before


def test_the_index_is_used_whatever_the_folder_is_called(tmp_path, monkeypatch):
    # "?", "#" and "%41" mean something else in a URI, by which SQLite is told to read only (RFC 3986, section 2.2).
    root = tmp_path / "room 3? #50%41"
    write(root / "a", "2026-11-21")
    before = list_records(root)
    monkeypatch.setattr("handsfree.record.store.verify", lambda path: pytest.fail(f"{path} was read again"))
    assert list_records(root) == before


def test_what_cannot_be_read_is_listed_as_broken(root):
    list_records(root)
    (root / "no-file" / RECORD_FILE).mkdir(parents=True)
    (root / "pipe").mkdir()
    os.mkfifo(root / "pipe" / RECORD_FILE)
    (root / "text").mkdir()
    (root / "text" / RECORD_FILE).write_text("hello\n")
    for _ in range(2):
        assert names(root, state="broken") == ["no-file", "pipe", "text"]
    assert names(root)[3:] == ["b", "a", "c", "d"]


def test_the_command_lists_and_filters(root):
    done = CliRunner().invoke(records_command, [str(root), "--since", "2026-11-21", "--json"])
    assert done.exit_code == 0, done.output
    assert [item["name"] for item in json.loads(done.stdout)] == ["a", "c", "d"]
    done = CliRunner().invoke(records_command, [str(root), "--state", "interrupted"])
    assert done.stdout.split("  ") == [
        *("2026-11-25T10:00:00.000Z", "interrupted", "ulnar-splint-fitting", "DEMO-0001", "1 over target", "d\n"),
    ]


def test_no_folder_is_told(tmp_path):
    with pytest.raises(RecordError, match="give a folder of records"):
        list_records(tmp_path / "nothing")
