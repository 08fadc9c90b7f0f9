"""The attention phrase as a graph, and keys on a real pseudo-terminal. Rules of our own design."""

import os
import sys
import threading
from types import SimpleNamespace

import pytest

from handsfree.clock import SystemClock
from handsfree.model.commands import Control, OptionPhrases, OptionSlot, Wanted
from handsfree.runner.keys import listening_for_keys
from handsfree.runner.wake_phrase import after_phrase
from handsfree.understanding.graphs import match
from handsfree.understanding.listening_graph import graph_for

WANTED = Wanted(
    frozenset({Control.HELP, Control.RESUME}),
    (OptionSlot("kind", ("kind",), (OptionPhrases("practice", ("practice session",)),)),),
)
GRAPH = after_phrase(("blue", "lantern"), WANTED, "en-US")


def tags_of(text: str) -> tuple[str, ...] | None:
    found = match(GRAPH, tuple(text.split()))
    return found.tags if found is not None else None


@pytest.mark.parametrize(
    ("text", "tags"),
    [
        ("blue lantern practice session", ("slot:kind", "option:practice")),
        ("blue lantern resume", ("control:resume",)),
        ("blue lantern stop", ("control:stop",)),
        ("practice session", None),
        ("resume", None),
        ("blue lantern", None),
        ("blue practice session", None),
    ],
)
def test_only_what_begins_with_the_phrase_is_in_the_graph(text: str, tags: tuple[str, ...] | None) -> None:
    assert tags_of(text) == tags


@pytest.mark.parametrize("text", ["stop", "stop now", "hot", "it's hot", "pain", "it hurts", "light off"])
def test_stop_words_need_no_phrase(text: str) -> None:
    alone = match(graph_for(WANTED), tuple(text.split()))
    assert alone is not None
    assert tags_of(text) == alone.tags


def test_the_graph_has_no_silent_arcs_and_no_state_out_of_range() -> None:
    assert all(arc.word is not None for arc in GRAPH.arcs)
    assert {state for arc in GRAPH.arcs for state in (arc.source, arc.target)} <= set(range(GRAPH.state_count))


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch):
    pty = pytest.importorskip("pty")
    pytest.importorskip("termios")
    leader, follower = pty.openpty()
    stdin = os.fdopen(follower, "r", closefd=False)
    monkeypatch.setattr(sys, "stdin", stdin)
    yield leader, follower
    stdin.close()
    os.close(follower)
    os.close(leader)


class Seconds(SystemClock):
    """A second passes with every look, as between presses of a person."""

    def __init__(self) -> None:
        super().__init__()
        self.now_s = 0.0

    def monotonic_s(self) -> float:
        self.now_s += 1.0
        return self.now_s


def test_any_key_counts_once_without_enter_and_the_terminal_is_given_back(terminal) -> None:
    import termios

    leader, follower = terminal
    before = termios.tcgetattr(follower)
    presses = threading.Semaphore(0)
    with listening_for_keys(presses.release, lambda _: None, Seconds()):
        assert not termios.tcgetattr(follower)[3] & termios.ICANON
        for key in (b"x", b"\x1b[15~"):
            os.write(leader, key)
            assert presses.acquire(timeout=10)
        # F5 sent five bytes at once.
        assert not presses.acquire(blocking=False)
    assert termios.tcgetattr(follower) == before


def test_where_there_is_no_terminal_no_key_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(isatty=lambda: False))
    threads = threading.active_count()
    with listening_for_keys(lambda: None, lambda _: None, Seconds()):
        assert threading.active_count() == threads
