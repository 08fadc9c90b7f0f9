"""An interrupted record, opened again with the session brought back to where it was."""

from collections.abc import Callable, Iterable
from pathlib import Path

from handsfree.clock import Clock
from handsfree.errors import RecordError
from handsfree.model.effects import Append, Effect
from handsfree.model.events import SessionEvent
from handsfree.record.comparison import same_fact
from handsfree.record.interruption import Interrupted
from handsfree.record.journal import Journal


def restore(
    folder: Path, handle: Callable[[SessionEvent], Iterable[Effect]], *, clock: Clock | None = None
) -> tuple[Journal, Interrupted]:
    """Reopen a record and replay it into a new session.

    The last batch is completed where the crash cut it, and the interruption is noted. Left to the caller: hand the
    session a `SessionInterrupted` whose `at_s` is `Interrupted.last_at_s`, and go on from there.

    Args:
        folder: Folder of the record.
        handle: `Session.handle` of a session made from the same definitions; nothing of what it asks for is spoken.
        clock: For the stamps of lines without an event.

    Raises:
        RecordError: As `Journal.reopen`; or the session answers otherwise than the record states.
    """
    journal, found = Journal.reopen(folder, clock=clock)
    try:
        answered: list[Append] = []
        last = 0
        for event in found.events:
            last = len(answered)
            answered += [effect for effect in handle(event) if isinstance(effect, Append)]
        _compare(found, answered)
        journal.resume(answered[last:])
    except BaseException:
        journal.close()
        raise
    return journal, found


def _compare(found: Interrupted, answered: list[Append]) -> None:
    for number, fact in enumerate(found.facts):
        given = answered[number].fact if number < len(answered) else None
        if given is None or not same_fact(fact, given, older=number < found.older):
            gives = given.kind if given is not None else "nothing"
            raise RecordError(
                f"the record states {fact.kind} (fact {number + 1}) where replay gives {gives}; "
                "use the program and the procedure file that wrote it"
            )
