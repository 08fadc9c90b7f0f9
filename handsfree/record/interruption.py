"""What a record that ended without being closed needs before it can go on. Pure."""

from dataclasses import dataclass
from datetime import datetime

from handsfree.errors import RecordError
from handsfree.model.events import SessionEvent
from handsfree.model.facts import AnyFact, VisitClosed
from handsfree.record.header import FORM, RecordHeader
from handsfree.record.line_checking import LinesRead
from handsfree.record.own_lines import EventLine


@dataclass(frozen=True, slots=True)
class Interrupted:
    """What a reopened record needs before it can go on.

    Attributes:
        header: What the record is of.
        events: Every event of the record, to be handed to a new session in this order.
        facts: Every fact on file that follows from an event.
        last_facts: Those of the last event.
        older: How many of the facts, from the first, are of an older form.
        due: How many facts of the last event are missing.
        redo: Lead of the last event, where its facts are not all there and are of an older form: they are written
            anew, because what was announced of them cannot be written any more; else None.
        closing: Whether the visit was closed and only the seal is missing.
        torn_bytes: Length of the torn last line, now in a side file.
        last_at_s: Session time of the last event, 0 where there is none.
        gap_s: Wall-clock seconds since the last line, at least 0.
    """

    header: RecordHeader
    events: tuple[SessionEvent, ...]
    facts: tuple[AnyFact, ...]
    last_facts: tuple[AnyFact, ...]
    older: int
    due: int
    redo: EventLine | None
    closing: bool
    torn_bytes: int
    last_at_s: float
    gap_s: float


def interrupted_of(reading: LinesRead, now: datetime) -> Interrupted:
    """What the lines of a record tell of how it ended.

    Args:
        reading: Its lines, without faults.
        now: Wall-clock time.

    Raises:
        RecordError: It does not begin with a header.
    """
    pairs = reading.pairs
    header = pairs[0][1] if pairs else None
    if not isinstance(header, RecordHeader):
        raise RecordError("the record does not begin with a header")
    events: list[SessionEvent] = []
    facts: list[AnyFact] = []
    last, older, closing = 0, 0, False
    lead: EventLine | None = None
    for line, stated in pairs:
        match stated:
            case EventLine():
                lead = stated
                if lead.event is not None:
                    events.append(lead.event)
                    last = len(facts)
            case tuple():
                closing = closing or any(isinstance(fact, VisitClosed) for fact in stated)
                if lead is not None and lead.event is not None:
                    facts += stated
                    is_older = reading.present_from is None or line.seq < reading.present_from
                    older = len(facts) if is_older else older
    return Interrupted(
        header=header,
        events=tuple(events),
        facts=tuple(facts),
        last_facts=tuple(facts[last:]),
        older=older,
        due=reading.due,
        redo=lead if reading.due and reading.form != FORM else None,
        closing=closing,
        torn_bytes=len(reading.torn),
        last_at_s=events[-1].at_s if events else 0.0,
        gap_s=max(0.0, round((now - datetime.fromisoformat(pairs[-1][0].at)).total_seconds(), 3)),
    )
