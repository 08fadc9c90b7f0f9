"""Whose time it is until a browser shows what happened. Expected: the figures put in, by hand."""

import io
from datetime import UTC, datetime

import pytest
from live_screen import Timed, account, timed

from handsfree.clock import ManualClock
from handsfree.display.room.room_screen import RoomScreen


def test_the_way_from_event_to_pixels_is_split_among_tool_connection_and_browser():
    times = Timed({1: 1000.0, 2: 2000.0, 3: 3000.0}, {1: 1002.0, 3: 3001.0})
    shown = {"0": [10.0, 20.0], "1": [1005.0, 1025.0], "3": [3041.0, 3071.0], "4": [1.0, None]}
    found = account(times, shown)
    assert (found["n"], found["of"]) == (2, 3), "one gave way to a newer one, two are not of this run"
    whole = {"whole": 71.0, "until_sent": 1.0, "until_the_page_has_it": 40.0, "until_drawn": 30.0}
    assert found["most_ms"] == whole
    assert found["over_50_ms"] == [whole]


def test_nothing_shown_is_nothing_measured():
    assert account(Timed({1: 1.0}, {1: 2.0}), {}) == {"n": 0}


def test_each_picture_is_timed_once_and_written_down(monkeypatch, tmp_path):
    now = iter((100.0, 101.0, 102.0, 103.0))
    monkeypatch.setattr("live_screen.now_ms", lambda: next(now))
    screen, file = RoomScreen(ManualClock(datetime(2026, 11, 30, tzinfo=UTC)), "visit"), io.StringIO()
    with timed(file) as times:
        screen.notice(0.0, "one")
        assert screen.wait(0)[0] == 1
        assert screen.wait(0)[0] == 1, "a second browser"
    assert (times.left, times.sent) == ({1: 100.0}, {1: 101.0})
    (tmp_path / "log").write_text(file.getvalue() + "sent 2 10", encoding="utf-8")
    assert Timed.read(tmp_path / "log") == times
    screen.notice(0.0, "after")
    assert times.left == {1: 100.0}, "nothing is timed any more"


@pytest.mark.parametrize("line", ["left", "sent"])
def test_what_was_written_down_is_read(tmp_path, line):
    (tmp_path / "log").write_text(f"{line} 7 1234.50\n", encoding="utf-8")
    assert getattr(Timed.read(tmp_path / "log"), line) == {7: 1234.5}
