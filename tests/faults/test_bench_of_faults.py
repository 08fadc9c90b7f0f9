"""A small run of each part of scripts/bench_faults.py, and that each part would tell what it looks for."""

import os
import random

import pytest

pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")

import faults_kills
import faults_requests
from faults_corruptions import ALWAYS, Kind, missed, table, try_kinds
from faults_forgeries import KINDS
from faults_records import Records, sounded
from faults_requests import HOSTILE, SLOW, Target, try_half_open, try_requests
from review_window import served

from handsfree.record.line_checking import RECORD_FILE


def test_killed_visits_lose_nothing_that_was_called_recorded():
    found = faults_kills.run(1, seed=3, parallel=1)
    assert (found.lost, found.twice, found.wrong) == ([], [], [])
    assert (found.killed, found.finished) == (1, 1)
    assert found.acknowledged > 5


def test_what_is_lost_in_a_kill_is_told(tmp_path, monkeypatch):
    """The file is cut back behind the back of the visit, as by a program that speaks before it writes."""
    killed = faults_kills.killed

    def cut(process, lines, rng):
        process.stdin.write("".join(f"{line}\n" for line in lines))
        process.stdin.flush()
        shown = ""
        while shown.count(faults_kills.RECORDED) < 3:
            shown += process.stdout.readline()
        rest, errors = killed(process, [], random.Random(0))
        path = tmp_path / "r" / RECORD_FILE
        written = path.read_bytes().splitlines(keepends=True)
        at = next(seq for seq, line in enumerate(written) if b'"kind":"reading_confirmed"' in line)
        lead = max(seq for seq in range(at) if b'"kind":"event"' in written[seq])
        path.write_bytes(b"".join(written[:lead]))
        return shown + rest, errors

    monkeypatch.setattr(faults_kills, "killed", cut)
    found = faults_kills.one_visit("light-output-check", tmp_path / "r", random.Random(1), most=1)
    assert any(line.startswith("light-output-check: reading ") for line in found.lost)


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        return Records.make(tmp_path_factory.mktemp("records"))


def test_every_kind_of_corruption_is_found_as_the_guide_says(records, tmp_path):
    found = try_kinds(KINDS, records, tmp_path, count=1, seed=5)
    assert missed(KINDS, found) == []
    assert all(one.tried == 1 for one in found.values())
    assert len(found) == len(KINDS) == 45
    assert len(table(KINDS, found)) == 46


def test_what_the_guide_says_is_found_and_was_not_is_told(records, tmp_path):
    harmless = Kind("a file beside it", lambda folder, *_: (folder / "beside").write_bytes(b"x"), ALWAYS)
    found = try_kinds([harmless], records, tmp_path, count=1, seed=5)
    assert missed([harmless], found) == [
        f"a file beside it: {by} found 0 of 1" for by in ("verify", "verify --key", "verify --head")
    ]


@pytest.fixture
def reviewed(tmp_path):
    folder = sounded(tmp_path / "r")
    with served(folder, tmp_path / "key") as server:
        yield Target(server.server_address[1], server.token, folder)


def test_hostile_requests_are_refused_and_change_nothing(reviewed, monkeypatch):
    monkeypatch.setattr("handsfree.serving.closed_server.ClosedHandler.timeout", 0.5)
    assert len(HOSTILE) + len(SLOW) + 1 == 52
    found = try_requests(reviewed)
    assert found.wrong == []
    assert found.requests == 52


def test_half_open_connections_keep_nobody_from_the_page(reviewed):
    found = try_half_open(reviewed, 40)
    assert (found.sockets, found.wrong) == (40, [])


def test_a_request_that_is_answered_otherwise_is_told(reviewed, monkeypatch):
    honest = faults_requests.Hostile("an honest one", lambda at: at.get(), (403,))
    monkeypatch.setattr(faults_requests, "HOSTILE", (honest,))
    found = try_requests(reviewed, slow=False)
    assert found.wrong[0] == "an honest one: answered with 200, not (403,)"
