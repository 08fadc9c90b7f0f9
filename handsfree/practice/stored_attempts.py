"""Attempts of learners in a store of many rooms: the files of all installations that this role may read, together."""

from dataclasses import replace
from functools import cached_property
from pathlib import Path

from handsfree.clock import SystemClock
from handsfree.practice.attempts import Attempt, AttemptLines, AttemptStore, Rating, Signature
from handsfree.record.record_line import RecordLine
from handsfree.store.address import place_of
from handsfree.store.attempt_books import stored_attempts


class _Book(AttemptLines):
    """The file of one installation, as it was sent."""

    def __init__(self, lines: tuple[RecordLine, ...], place: str) -> None:
        self._lines = lines
        self._place = place

    @property
    def place(self) -> str:
        """See `AttemptLines.place`."""
        return self._place

    def lines(self) -> tuple[RecordLine, ...]:
        """See `AttemptLines.lines`."""
        return self._lines


class StoredAttempts(AttemptLines):
    """Reads only: what is scored, rated and signed is written into the file of an installation, and sent from there.

    Args:
        address: Of the store.
    """

    def __init__(self, address: str) -> None:
        self._address = address

    @property
    def place(self) -> str:
        """See `AttemptLines.place`."""
        return place_of(self._address)

    @cached_property
    def _books(self) -> tuple[tuple[int, _Book], ...]:
        """Every file, with the number of lines in those before it: an attempt is told by its line among all."""
        found: list[tuple[int, _Book]] = []
        before = 0
        for lines in stored_attempts(self._address):
            found.append((before, _Book(lines, self.place)))
            before += len(lines)
        return tuple(found)

    def lines(self) -> tuple[RecordLine, ...]:
        """See `AttemptLines.lines`."""
        return tuple(line for _, book in self._books for line in book.lines())

    def attempts(self, trainee: str | None = None) -> tuple[Attempt, ...]:
        """See `AttemptLines.attempts`."""
        found = [replace(one, seq=one.seq + before) for before, book in self._books for one in book.attempts(trainee)]
        return tuple(found if len(self._books) < 2 else sorted(found, key=lambda one: one.at))

    def ratings(self) -> tuple[Rating, ...]:
        """See `AttemptLines.ratings`."""
        return tuple(
            replace(one, attempt=one.attempt + before) for before, book in self._books for one in book.ratings()
        )

    def signatures(self, trainee: str | None = None) -> tuple[Signature, ...]:
        """See `AttemptLines.signatures`."""
        found = [one for _, book in self._books for one in book.signatures(trainee)]
        return tuple(found if len(self._books) < 2 else sorted(found, key=lambda one: one.at))


def attempts_at(place: Path | str) -> AttemptLines:
    """The attempts in a file, or in a store by its address."""
    return AttemptStore(place, SystemClock()) if isinstance(place, Path) else StoredAttempts(place)
