"""What a record states: events, facts, readings with their amendments, zones, notes. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TypeVar

from handsfree.model.events import SessionEvent, SessionStarted
from handsfree.model.facts import (
    AnyFact,
    DueMet,
    DueSet,
    Fact,
    KindDeclared,
    LightStillOn,
    LightTurnedOff,
    LightTurnedOn,
    NoteTaken,
    OperatorDeclared,
    PatientReferenceDeclared,
    ReadingAmended,
    ReadingClassedAgain,
    ReadingConfirmed,
    RoleDeclared,
    SideDeclared,
    SizeChosen,
    StatedReading,
    StepWithdrawn,
    VisitClosed,
    ZoneSum,
    ZoneTotalled,
)
from handsfree.model.open_items import OpenItem
from handsfree.model.readings import Exact, Side, Timing, value_text
from handsfree.record.header import BaselineUsed, RecallListUsed, RecordHeader
from handsfree.record.own_lines import Amended, InterruptedLine, JudgedAnew, TurnedStep
from handsfree.record.recorded import (
    Amendment,
    Attestation,
    CutLight,
    RecordedFact,
    RecordedNote,
    RecordedReading,
)
from handsfree.stamps import stamp

__all__ = [
    "Amended",
    "Amendment",
    "Attestation",
    "BaselineUsed",
    "CutLight",
    "InterruptedLine",
    "JudgedAnew",
    "RecallListUsed",
    "Record",
    "RecordHeader",
    "RecordedFact",
    "RecordedNote",
    "RecordedReading",
    "TurnedStep",
    "recalled_lots",
]
F = TypeVar("F", bound=Fact)


@dataclass(frozen=True, slots=True)
class Record:
    """Everything a record states.

    Attributes:
        header: What it is of.
        events: Events in order.
        event_lines: Line of each event.
        facts: Facts in order.
        amendments: Corrections after closing.
        interruptions: Every time that the program had ended without closing it.
        clips: Line of the event and hash of its sound file, for every sound that was kept.
        deleted_clips: Hashes of sound files deleted by the retention rule.
        attestations: Every attestation, oldest first.
        lines: Number of lines.
        head: SHA-256 of the last line.
        sealed: Whether it was closed.
        attested: Whether nothing came after the attestation.
        present_from: First line of the form that this program writes; None where all are of an older one.
        told_at_holds: What the tool told to do at a hold, by its line, where the record's form kept that.
        carried: The procedure that it carries, as JSON; empty where it carries none, or that is missing.
    """

    header: RecordHeader
    events: tuple[SessionEvent, ...]
    event_lines: tuple[int, ...]
    facts: tuple[RecordedFact[AnyFact], ...]
    amendments: tuple[Amendment, ...]
    interruptions: tuple[InterruptedLine, ...]
    clips: tuple[tuple[int, str], ...]
    deleted_clips: frozenset[str]
    attestations: tuple[Attestation, ...]
    lines: int
    head: str
    sealed: bool
    attested: bool
    present_from: int | None = 0
    told_at_holds: Mapping[int, str] = field(default_factory=dict)
    carried: bytes = field(default=b"", repr=False)

    @property
    def misses_carried(self) -> bool:
        """Whether the procedure that was put beside it is not there to be read."""
        return bool(self.header.carried_sha256) and not self.carried

    @property
    def attestation(self) -> Attestation | None:
        """The last attestation, or None."""
        return self.attestations[-1] if self.attestations else None

    def of(self, *types: type[F]) -> tuple[RecordedFact[F], ...]:
        """Facts of these types, in order."""
        return tuple(
            RecordedFact(item.seq, item.at, item.fact, item.event_seq, item.clip_sha256)
            for item in self.facts
            if isinstance(item.fact, types)
        )

    def last(self, kind: type[F]) -> F | None:
        """The last fact of a type, or None."""
        return next((item.fact for item in reversed(self.facts) if isinstance(item.fact, kind)), None)

    @property
    def started(self) -> SessionStarted | None:
        """The first event, where there is one."""
        first = self.events[0] if self.events else None
        return first if isinstance(first, SessionStarted) else None

    @property
    def practice(self) -> bool:
        """Whether this was practice: by header, by event, or because the operator or the session said so."""
        begun = self.header.practice or (self.started is not None and self.started.practice)
        closing, declared = self.last(VisitClosed), self.last(KindDeclared)
        closed = closing is not None and closing.practice
        return begun or closed or (declared is not None and declared.declared == "practice")

    @property
    def patient_reference(self) -> str:
        """Whose visit it is: as given at the start, else by the last answer as amended; "" where nobody said."""
        if self.header.patient_reference:
            return self.header.patient_reference
        said = self.of(PatientReferenceDeclared)
        return self._as_amended(said[-1].seq, said[-1].fact.reference) if said else ""

    @property
    def operator(self) -> str:
        """Who worked, by the last answer as amended: the code, else the role; "" where nobody said."""
        codes = self.of(OperatorDeclared)
        return self._as_amended(codes[-1].seq, codes[-1].fact.operator) if codes else self.role

    @property
    def role(self) -> str:
        """In which role, by the last answer as amended; "" where nobody said."""
        roles = self.of(RoleDeclared)
        return self._as_amended(roles[-1].seq, roles[-1].fact.role) if roles else ""

    def _as_amended(self, seq: int, text: str) -> str:
        """The text of the reading that was declared at a line, with its later corrections."""
        readings = [one for one in self.readings if one.recorded.seq <= seq]
        if not readings or value_text(readings[-1].recorded.fact.value) != text:
            return text
        return value_text(readings[-1].stands.value)

    @property
    def side(self) -> Side | None:
        """The injured side, as last declared."""
        declared = self.last(SideDeclared)
        return declared.side if declared is not None else None

    @property
    def size(self) -> str | None:
        """The size, as last chosen."""
        chosen = self.last(SizeChosen)
        return chosen.size if chosen is not None else None

    @property
    def readings(self) -> tuple[RecordedReading, ...]:
        """Confirmed readings with later corrections; a repeated one supersedes the earlier, so does a withdrawal."""
        recorded: tuple[RecordedFact[ReadingConfirmed | ReadingAmended], ...] = self.of(
            ReadingConfirmed, ReadingAmended
        )
        last = {_place(item.fact): item.seq for item in recorded}
        classed = self.of(ReadingClassedAgain)
        withdrawn = self.of(StepWithdrawn)
        found: list[RecordedReading] = []
        before: dict[tuple[str, str, Side | None, Timing | None], StatedReading] = {}
        for item in recorded:
            place = _place(item.fact)
            later = last[place] if last[place] != item.seq else _withdrawn_by(item, withdrawn)
            repeated = isinstance(item.fact, ReadingAmended) and item.fact.why == "repeated"
            amendments = self._amendments_of(item.seq)
            stands = _standing(item, classed, amendments)
            first = before.get(place) if repeated else None
            anew = self._judged_anew(item.seq)
            stands = replace(stands, value=anew.value) if anew is not None and anew.value is not None else stands
            turned = self._turned_at(item) if later is None else ()
            found.append(RecordedReading(item, stands, amendments, later, first, anew, turned))
            before[place] = item.fact
        return _computed_anew(found)

    @property
    def turned(self) -> tuple[TurnedStep, ...]:
        """The steps whose condition falls out otherwise, by the values as they stand, than it did in the visit."""
        return next((one.turned for one in reversed(self.amendments) if one.judged is not None), ())

    def _turned_at(self, item: RecordedFact[StatedReading]) -> tuple[TurnedStep, ...]:
        """What of that is told at a reading: that it belongs to such a step, or that its correction turned one."""
        own = [one for one in self.turned if not one.wanted and one.step == item.fact.step]
        judged = [one for one in self.amendments if one.judged is not None]
        for number, amendment in enumerate(judged):
            before = judged[number - 1].turned if number else ()
            if amendment.entry == item.seq:
                own += [one for one in amendment.turned if one not in before and one in self.turned]
        return tuple(dict.fromkeys(own))

    @property
    def notes(self) -> tuple[RecordedNote, ...]:
        """Dictated notes with later corrections."""
        found: list[RecordedNote] = []
        for item in self.of(NoteTaken):
            amendments = self._amendments_of(item.seq)
            texts = [item.fact.text, *(one.now.text for one in amendments if one.now.text is not None)]
            read = [item.fact.verified, *(one.now.verified for one in amendments if one.now.verified is not None)]
            found.append(RecordedNote(item, texts[-1], read[-1], amendments))
        return tuple(found)

    def _judged_anew(self, entry: int) -> JudgedAnew | None:
        """The last judgement of a reading that corrections led to; None after a correction of it that had none."""
        found: JudgedAnew | None = None
        for amendment in self.amendments:
            if amendment.judged is not None:
                found = next((one for one in amendment.judged if one.entry == entry), found)
            elif amendment.entry == entry:
                found = None
        return found

    def _amendments_of(self, entry: int) -> tuple[Amendment, ...]:
        return tuple(item for item in self.amendments if item.entry == entry)

    @property
    def closing(self) -> RecordedFact[VisitClosed] | None:
        """The statement that closed the visit, where it was closed."""
        closing = self.of(VisitClosed)
        return closing[-1] if closing else None

    @property
    def open_items(self) -> tuple[OpenItem, ...]:
        """What was left open when the visit was closed."""
        closing = self.last(VisitClosed)
        return closing.open_items if closing is not None else ()

    @property
    def zones(self) -> tuple[ZoneSum, ...]:
        """The light of each zone: as the visit was closed, else the last sums, by identifier."""
        closing = self.last(VisitClosed)
        if closing is not None:
            return closing.zones
        last = {item.fact.zone: item.fact for item in self.of(ZoneTotalled)}
        runs = [item.fact.zone for item in self.of(LightTurnedOff)]
        return tuple(
            ZoneSum(
                zone=zone,
                label=zone,
                lit_s=total.lit_s,
                possible_s=total.possible_s,
                target_s=total.target_s,
                dose_j_cm2=total.dose_j_cm2,
                runs=runs.count(zone),
                strap_shadowed=False,
                tolerance_s=total.tolerance_s,
                over_from_s=total.over_from_s,
            )
            for zone, total in last.items()
        )

    @property
    def due(self) -> str:
        """When the next check is due, by the last answer as amended, RFC 3339 UTC; "" where that is unknown."""
        said = self.last(DueSet)
        if said is None:
            return ""
        standing = [
            one.stands for one in self.readings if (one.stands.step, one.stands.field) == (said.step, said.field)
        ]
        value = standing[-1].value if standing else None
        if not isinstance(value, Exact):
            return ""
        try:
            later = timedelta(seconds=float(value.value - said.value.value) * said.unit_s)
            due = stamp(datetime.fromisoformat(said.due) + later)
        except (ValueError, ArithmeticError):
            return ""
        return due

    @property
    def lateness(self) -> tuple[str, float] | None:
        """When this visit was due, RFC 3339 UTC, and how many seconds later it began; None where nothing was set."""
        met = self.last(DueMet)
        return (met.due, float(met.late_s)) if met is not None else None

    @property
    def light_cut(self) -> CutLight | None:
        """The run of light in which the record ends, where it was not resumed since; None if the light is off."""
        begun: RecordedFact[LightTurnedOn] | None = None
        seen_s = 0.0
        for item in self.of(LightTurnedOn, LightStillOn, LightTurnedOff):
            match item.fact:
                case LightTurnedOn() as on:
                    begun = RecordedFact(item.seq, item.at, on, item.event_seq, item.clip_sha256)
                    seen_s = on.counted_from_s
                case LightStillOn(at_s=at_s):
                    seen_s = at_s
                case _:
                    begun = None
        if begun is None:
            return None
        return CutLight(begun.fact.zone, max(0.0, seen_s - begun.fact.counted_from_s), begun.seq)


def _standing(
    item: RecordedFact[StatedReading],
    classed: Sequence[RecordedFact[ReadingClassedAgain]],
    amendments: Sequence[Amendment],
) -> StatedReading:
    """A reading as it stands: what it was held against may have been corrected, and so may it itself."""
    stands = item.fact
    for again in classed:
        if (again.fact.stage, again.fact.field) == (stands.stage, stands.field) and again.seq > item.seq:
            stands = replace(stands, severity=again.fact.severity, grounds=again.fact.grounds)
    for amendment in amendments:
        now = amendment.now
        stands = replace(stands, value=now.value) if now.value is not None else stands
        stands = replace(stands, side=now.side) if now.side is not None else stands
    return stands


def _computed_anew(readings: Sequence[RecordedReading]) -> tuple[RecordedReading, ...]:
    """Readings; those that corrections computed anew name the values that they come from now."""
    now = {(one.stands.stage, one.stands.field): one.stands.value for one in readings if one.superseded_by is None}
    unjudged = {
        (one.stands.stage, one.stands.field)
        for one in readings
        if one.superseded_by is None and one.amendments and one.amendments[-1].judged is None
    }
    found: list[RecordedReading] = []
    for one in readings:
        computed = one.stands.computed
        if computed is not None and (one.anew is None or one.anew.value is None):
            named = {(of.stage, of.field) for of in computed.inputs}
            one = replace(one, stale=bool(named & unjudged))
        elif computed is not None:
            inputs = tuple(replace(of, value=now.get((of.stage, of.field), of.value)) for of in computed.inputs)
            one = replace(one, stands=replace(one.stands, computed=replace(computed, inputs=inputs)))
        found.append(one)
    return tuple(found)


def _withdrawn_by(item: RecordedFact[StatedReading], withdrawn: Sequence[RecordedFact[StepWithdrawn]]) -> int | None:
    """Line of the statement that left out the stage of a reading after it was confirmed, or None."""
    return next((one.seq for one in withdrawn if one.fact.stage == item.fact.stage and one.seq > item.seq), None)


def _place(fact: StatedReading) -> tuple[str, str, Side | None, Timing | None]:
    """What makes two readings answers to the same question."""
    # One of a step that is repeated has its number in the name of its stage, and answers a question of its own.
    repeated = fact.stage.rpartition("@")[2].isdecimal()
    return fact.stage if repeated else fact.step, fact.field, fact.side, fact.timing


def recalled_lots(header: RecordHeader) -> dict[str, str]:
    """The recall list that a record was begun with: lot to reason; a session that replays it needs the same."""
    return dict(header.recall_list.lots) if header.recall_list is not None else {}
