"""The lines of a record folded into what it states. Pure."""

from handsfree.errors import RecordError
from handsfree.model.events import SessionEvent
from handsfree.model.facts import AnyFact
from handsfree.record.contents import Amendment, Attestation, Record, RecordedFact
from handsfree.record.forms.form_1 import told_at_hold
from handsfree.record.header import RecordHeader
from handsfree.record.line_checking import LinesRead
from handsfree.record.own_lines import (
    AmendedLine,
    AttestedLine,
    ClipDeletedLine,
    EventLine,
    InterruptedLine,
    SealedLine,
)


def fold(reading: LinesRead) -> Record:
    """What the lines of a record without faults state.

    Raises:
        RecordError: It does not begin with a header.
    """
    pairs = reading.pairs
    if not pairs:
        raise RecordError("the record is empty")
    header = pairs[0][1]
    if not isinstance(header, RecordHeader):
        raise RecordError("the record does not begin with a header")
    events: list[tuple[int, SessionEvent]] = []
    facts: list[RecordedFact[AnyFact]] = []
    clips: list[tuple[int, str]] = []
    deleted: list[str] = []
    told: dict[int, str] = {}
    lead = 0
    clip: str | None = None
    for line, stated in pairs:
        match stated:
            case EventLine():
                lead, clip = line.seq, stated.clip_sha256
                events += [(lead, stated.event)] if stated.event is not None else []
                clips += [(lead, clip)] if clip is not None else []
            case tuple():
                facts += [RecordedFact(line.seq, line.at, fact, lead, clip) for fact in stated]
                action = told_at_hold(line.kind, line.data)
                told |= {line.seq: action} if action else {}
            case ClipDeletedLine(clips_sha256=gone):
                deleted += gone
    return Record(
        header=header,
        events=tuple(event for _, event in events),
        event_lines=tuple(seq for seq, _ in events),
        facts=tuple(facts),
        amendments=tuple(
            Amendment(line.seq, line.at, one.entry, one.was, one.now, one.by, one.reason, one.judged, one.turned)
            for line, one in pairs
            if isinstance(one, AmendedLine)
        ),
        interruptions=tuple(one for _, one in pairs if isinstance(one, InterruptedLine)),
        clips=tuple(clips),
        deleted_clips=frozenset(deleted),
        attestations=tuple(
            Attestation(
                seq=line.seq,
                at=line.at,
                by=one.by,
                lines=one.lines,
                head=one.head,
                public_key=one.public_key,
                signature=one.signature,
                open_items=one.open_items,
                because=one.because,
            )
            for line, one in pairs
            if isinstance(one, AttestedLine)
        ),
        lines=len(reading.lines),
        head=reading.head,
        sealed=any(isinstance(one, SealedLine) for _, one in pairs),
        attested=isinstance(pairs[-1][1], AttestedLine),
        present_from=reading.present_from,
        told_at_holds=told,
    )
