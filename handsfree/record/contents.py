"""A record folded back: events, facts, readings with their amendments, zones, notes. Pure."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal, InvalidOperation

from handsfree.errors import RecordError
from handsfree.model.effects import Append, Effect, Json
from handsfree.model.events import SessionEvent, SessionStarted
from handsfree.model.readings import REPEATED
from handsfree.record.codec import RecordLine, decode_event
from handsfree.record.lines import AMENDED, ATTESTED, CLIP_DELETED, EVENT, INTERRUPTED, OWN_KINDS, SEALED
from handsfree.stamps import stamp


@dataclass(frozen=True, slots=True)
class Fact:
    """One statement of the session.

    Attributes:
        seq: Its line; what an amendment names.
        at: RFC 3339 UTC stamp.
        kind: Past-tense name.
        data: What it states.
        event_seq: RecordLine of the event that it follows from.
        clip_sha256: Hash of the sound of that event, where kept.
    """

    seq: int
    at: str
    kind: str
    data: Mapping[str, Json]
    event_seq: int
    clip_sha256: str | None = None


@dataclass(frozen=True, slots=True)
class CutLight:
    """A run of light in which a record ends: no sum of the record counts it.

    Attributes:
        zone: The zone.
        lit_s: Seconds from "light on" to the last sign of life; it may have been lit for longer.
        seq: RecordLine of "light on".
    """

    zone: str
    lit_s: float
    seq: int


@dataclass(frozen=True, slots=True)
class Amendment:
    """A later correction; the entry that it corrects stays as it was.

    Attributes:
        seq: Its own line.
        at: Stamp.
        entry: RecordLine of the corrected fact.
        was: Members before.
        now: Members after.
        by: Role.
        reason: Why.
    """

    seq: int
    at: str
    entry: int
    was: Mapping[str, Json]
    now: Mapping[str, Json]
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class Attestation:
    """Somebody vouched for the record as it was then.

    Attributes:
        seq: Its line.
        at: Stamp.
        data: Role, key, and the head of what is covered.
    """

    seq: int
    at: str
    data: Mapping[str, Json]


@dataclass(frozen=True, slots=True)
class RecordedReading:
    """A confirmed reading, or a note, with what later corrected it.

    Attributes:
        fact: As it was confirmed.
        data: As it stands now.
        amendments: Later corrections, oldest first.
        superseded_by: RecordLine of a fact of the same field, side and timing that was confirmed later, or None.
        first: Data of the flagged value before it, where it was taken once more as the procedure asks; else None.
    """

    fact: Fact
    data: Mapping[str, Json]
    amendments: tuple[Amendment, ...] = ()
    superseded_by: int | None = None
    first: Mapping[str, Json] | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """Everything a record states.

    Attributes:
        header: Data of the header line.
        events: Events in order.
        event_lines: RecordLine of each event.
        facts: Facts in order.
        amendments: Corrections after closing.
        interruptions: Data of each interruption.
        clips: RecordLine of the event and hash of its sound file, for every sound that was kept.
        deleted_clips: Hashes of sound files deleted by the retention rule.
        attestations: Every attestation, oldest first.
        lines: Number of lines.
        head: SHA-256 of the last line.
        sealed: Whether it was closed.
        attested: Whether nothing came after the attestation.
    """

    header: Mapping[str, Json]
    events: tuple[SessionEvent, ...]
    event_lines: tuple[int, ...]
    facts: tuple[Fact, ...]
    amendments: tuple[Amendment, ...]
    interruptions: tuple[Mapping[str, Json], ...]
    clips: tuple[tuple[int, str], ...]
    deleted_clips: frozenset[str]
    attestations: tuple[Attestation, ...]
    lines: int
    head: str
    sealed: bool
    attested: bool

    @property
    def attestation(self) -> Mapping[str, Json] | None:
        """Data of the last attestation, or None."""
        return self.attestations[-1].data if self.attestations else None

    def of_kind(self, kind: str) -> tuple[Fact, ...]:
        """Facts of one kind, in order."""
        return tuple(fact for fact in self.facts if fact.kind == kind)

    @property
    def started(self) -> SessionStarted | None:
        """The first event, where there is one."""
        first = self.events[0] if self.events else None
        return first if isinstance(first, SessionStarted) else None

    @property
    def practice(self) -> bool:
        """Whether this was practice: by header, by event, or because the operator or the session said so."""
        if self.header.get("practice") is True or (self.started is not None and self.started.practice):
            return True
        if self.closing is not None and self.closing.data.get("practice") is True:
            return True
        return any(
            reading.data.get("field") == "kind" and reading.data.get("value") == "practice" for reading in self.readings
        )

    @property
    def readings(self) -> tuple[RecordedReading, ...]:
        """Confirmed readings with later corrections; a repeated one supersedes the earlier."""
        facts = [fact for fact in self.facts if fact.kind in ("reading_confirmed", "reading_amended")]
        last = {_place(fact): fact.seq for fact in facts}
        classed = self.of_kind("reading_classed_again")
        found: list[RecordedReading] = []
        before: dict[tuple[Json, ...], Mapping[str, Json]] = {}
        for fact in facts:
            place = _place(fact)
            later = last[place] if last[place] != fact.seq else None
            first = before.get(place) if fact.data.get("reason") == REPEATED else None
            found.append(replace(self._amended(fact, classed), superseded_by=later, first=first))
            before[place] = fact.data
        return tuple(found)

    def _amended(self, fact: Fact, classed: Sequence[Fact] = ()) -> RecordedReading:
        amendments = tuple(item for item in self.amendments if item.entry == fact.seq)
        data = dict(fact.data)
        # What it was held against may have been corrected since.
        for again in classed:
            same = all(again.data.get(name) == fact.data.get(name) for name in ("stage", "field"))
            if same and again.seq > fact.seq:
                data |= {name: again.data.get(name) for name in ("class", "class_reason")}
        for amendment in amendments:
            data |= amendment.now
        return RecordedReading(fact, data, amendments)

    @property
    def zones(self) -> tuple[Fact, ...]:
        """The last total of each zone; those of the closing statement where there is one."""
        last = {str(fact.data.get("zone")): fact for fact in self.of_kind("zone_totalled")}
        closing = self.closing
        totals = closing.data.get("zones") if closing is not None else None
        if closing is not None and isinstance(totals, list):
            listed = (item for item in totals if isinstance(item, dict))
            last |= {str(item.get("zone")): replace(closing, kind="zone_totalled", data=item) for item in listed}
        return tuple(last.values())

    @property
    def due(self) -> str:
        """When the next check is due, by the last answer as amended, RFC 3339 UTC; "" where that is unknown."""
        facts = self.of_kind("due_set")
        if not facts:
            return ""
        data = facts[-1].data
        place = data.get("step"), data.get("field")
        standing = [one.data for one in self.readings if (one.data.get("step"), one.data.get("field")) == place]
        try:
            more = Decimal(str(standing[-1].get("value"))) - Decimal(str(data.get("value")))
            later = timedelta(seconds=float(more) * _seconds(data.get("unit_s")))
            due = stamp(datetime.fromisoformat(str(data.get("due"))) + later)
        except (IndexError, ValueError, InvalidOperation, OverflowError):
            return ""
        return due

    @property
    def lateness(self) -> tuple[str, float] | None:
        """When this visit was due, RFC 3339 UTC, and how many seconds later it began; None where nothing was set."""
        facts = self.of_kind("due_met")
        return (str(facts[-1].data.get("due")), _seconds(facts[-1].data.get("late_s"))) if facts else None

    @property
    def light_cut(self) -> CutLight | None:
        """The run of light in which the record ends, where it was not resumed since; None if the light is off."""
        begun: Fact | None = None
        seen_s = 0.0
        for fact in self.facts:
            match fact.kind:
                case "light_turned_on":
                    begun, seen_s = fact, _seconds(fact.data.get("counted_from_s"))
                case "light_still_on":
                    seen_s = _seconds(fact.data.get("at_s"))
                case "light_turned_off":
                    begun = None
        if begun is None:
            return None
        lit_s = max(0.0, seen_s - _seconds(begun.data.get("counted_from_s")))
        return CutLight(str(begun.data.get("zone")), lit_s, begun.seq)

    @property
    def notes(self) -> tuple[Fact, ...]:
        """Dictated notes, as they were dictated."""
        return self.of_kind("note_taken")

    @property
    def amended_notes(self) -> tuple[RecordedReading, ...]:
        """Dictated notes with later corrections; `data["verified"]` says whether a person has read one."""
        return tuple(self._amended(fact) for fact in self.notes)

    @property
    def closing(self) -> Fact | None:
        """The statement that closed the session, where it was closed."""
        closing = self.of_kind("session_closed")
        return closing[-1] if closing else None


def recalled_lots(header: Mapping[str, Json]) -> dict[str, str]:
    """The recall list that a record was begun with: lot to reason; a session that replays it needs the same."""
    listed = header.get("recall_list")
    lots = listed.get("lots") if isinstance(listed, dict) else None
    return {lot: str(reason) for lot, reason in lots.items()} if isinstance(lots, dict) else {}


def _seconds(value: Json) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _place(fact: Fact) -> tuple[Json, ...]:
    """What makes two readings answers to the same question."""
    return tuple(fact.data.get(name) for name in ("step", "field", "side", "timing"))


def replay(lines: Sequence[RecordLine]) -> Record:
    """Fold the lines of a record.

    Raises:
        RecordError: There is no header, or an event cannot be read.
    """
    if not lines:
        raise RecordError("the record is empty")
    events: list[SessionEvent] = []
    event_lines: list[int] = []
    facts: list[Fact] = []
    lead, clip = 0, None
    for line in lines:
        if line.kind == EVENT:
            lead = line.seq
            digest = line.data.get("clip_sha256")
            clip = digest if isinstance(digest, str) else None
            if line.data["event"] is not None:
                events.append(decode_event(line.data["event"]))
                event_lines.append(line.seq)
        elif line.kind not in OWN_KINDS:
            facts.append(Fact(line.seq, line.at, line.kind, line.data, lead, clip))
    return Record(
        header=lines[0].data,
        events=tuple(events),
        event_lines=tuple(event_lines),
        facts=tuple(facts),
        amendments=tuple(_amendment(line) for line in lines if line.kind == AMENDED),
        interruptions=tuple(line.data for line in lines if line.kind == INTERRUPTED),
        clips=tuple(
            (line.seq, str(line.data["clip_sha256"]))
            for line in lines
            if line.kind == EVENT and "clip_sha256" in line.data
        ),
        deleted_clips=frozenset(sha256 for line in lines if line.kind == CLIP_DELETED for sha256 in _hashes(line)),
        attestations=tuple(Attestation(line.seq, line.at, line.data) for line in lines if line.kind == ATTESTED),
        lines=len(lines),
        head=lines[-1].hash,
        sealed=any(line.kind == SEALED for line in lines),
        attested=lines[-1].kind == ATTESTED,
    )


def _hashes(line: RecordLine) -> list[str]:
    listed = line.data.get("clips_sha256")
    if not isinstance(listed, list):
        raise RecordError(f"line {line.seq + 1}: the deletion does not list what was deleted")
    return [str(item) for item in listed]


def _amendment(line: RecordLine) -> Amendment:
    data = line.data
    entry, was, now = data.get("entry"), data.get("was"), data.get("now")
    if type(entry) is not int or not isinstance(was, dict) or not isinstance(now, dict):
        raise RecordError(f"line {line.seq + 1}: the amendment does not have the members it must have")
    return Amendment(line.seq, line.at, entry, was, now, str(data.get("by")), str(data.get("reason")))


def differences(record: Record, handle: Callable[[SessionEvent], Iterable[Effect]]) -> list[str]:
    """Hand every event of a record to a new session and compare the facts.

    Args:
        record: The record.
        handle: `Session.handle` of a session made from the same definitions.

    Returns:
        One line a difference; empty where the record replays to itself.
    """
    given = [effect for event in record.events for effect in handle(event) if isinstance(effect, Append)]
    found = [
        f"line {fact.seq + 1}: the record says {fact.kind} {dict(fact.data)}, "
        f"replay gives {effect.kind} {dict(effect.data)}"
        for fact, effect in zip(record.facts, given, strict=False)
        if (fact.kind, dict(fact.data)) != (effect.kind, dict(effect.data))
    ]
    if len(given) != len(record.facts):
        found.append(f"the record has {len(record.facts)} facts, replay gives {len(given)}")
    return found
