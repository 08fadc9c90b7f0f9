"""Lines as somebody types them, each with the time at which it was typed, and which of them may be taken now."""

import os
import queue
import stat
import threading
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from io import TextIOBase, TextIOWrapper

from handsfree.runner.session_runner import SessionRunner

LONGEST_LOOK_S = 0.5
"""How long typed input is waited for before the time is looked at again."""


@dataclass(frozen=True, slots=True)
class TypedLine:
    """A line.

    Attributes:
        text: Without blanks around it. One without text is nothing that was typed, and only wakes who waits.
        at_s: Session time at which it was typed.
        ends_light: Whether it is a stop word, or may be a cry, to what was going on when it came.
    """

    text: str
    at_s: float
    ends_light: bool = False


def is_typed_into(lines: Iterable[str]) -> bool:
    """Whether somebody may type while time passes: into a terminal or a pipe, not into a file or a list."""
    if isinstance(lines, Sequence):
        return False
    if not isinstance(lines, TextIOBase):
        return True
    try:
        return not stat.S_ISREG(os.fstat(lines.fileno()).st_mode)
    except OSError:
        return False


class LineInbox:
    """Reads lines in a thread of its own, and keeps the session's deadlines while nobody types.

    A line waits until what was said before it is on the disk and answered, so that who types ahead sees it in order.
    None waits any longer once one of them ends light or pain, nor, where the disk is slow, one that was typed in turn.

    A line counts from when it was typed; one that was typed before its turn and ends no light, from its turn; one of a
    file, which nobody typed, from when it is taken.

    Args:
        runner: The session, started.
        lines: The lines.
        look_s: How long to wait for a line before the time is looked at again, seconds.
    """

    def __init__(self, runner: SessionRunner, lines: Iterable[str], look_s: float = LONGEST_LOOK_S) -> None:
        self._runner = runner
        self._look_s = look_s
        self._lines = lines
        self._inbox: queue.SimpleQueue[TypedLine | None] = queue.SimpleQueue()
        self._waiting: deque[TypedLine] = deque()
        self._ended = False
        self._is_typed = is_typed_into(lines)
        self._turn_s = self._last_s = float("-inf")

    def __iter__(self) -> Iterator[TypedLine]:
        """Each line when it may be taken, until the session or the lines end."""
        runner = self._runner
        if isinstance(self._lines, TextIOWrapper):
            # A byte that is no character is not understood, like any other word; it must not end the visit.
            self._lines.reconfigure(errors="replace")
        runner.on_written(lambda: self._inbox.put(TypedLine("", 0.0)))
        threading.Thread(target=self._read, name="typed", daemon=True).start()
        while not runner.ending:
            with suppress(queue.Empty):
                self._take_in(self._inbox.get(timeout=runner.patience_s(self._look_s)))
            runner.tick()
            while self._waiting and self._may_go_on() and not runner.ending:
                yield self._timed(self._waiting.popleft())
                runner.tick()
            if self._ended and not self._waiting:
                return

    def _read(self) -> None:
        try:
            for line in self._lines:
                self._inbox.put(TypedLine(line.strip(), self._runner.now_s))
        finally:
            self._inbox.put(None)

    def _take_in(self, line: TypedLine | None) -> None:
        if line is None:
            self._ended = True
        elif line.text:
            self._waiting.append(TypedLine(line.text, line.at_s, self._runner.ends_light(line.text)))

    def _timed(self, line: TypedLine) -> TypedLine:
        """The line with the time from which it counts, never before the line before it."""
        now_s = self._runner.now_s
        keeps_time = self._is_typed and (line.ends_light or not self._is_ahead(line))
        at_s = max(line.at_s, self._last_s) if keeps_time else now_s
        self._turn_s, self._last_s = now_s, at_s
        return replace(line, at_s=at_s)

    def _may_go_on(self) -> bool:
        runner = self._runner
        # Who was told that answers come late, and types all the same, must not answer what comes then.
        is_no_answer = runner.is_slow and not self._is_ahead(self._waiting[0])
        return runner.settled or is_no_answer or any(line.ends_light for line in self._waiting)

    def _is_ahead(self, line: TypedLine) -> bool:
        """Whether it was typed before its turn: the line before it had not even been taken."""
        return line.at_s < self._turn_s
