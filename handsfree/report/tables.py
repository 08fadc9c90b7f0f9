"""Tables of a report: readings, before beside after, light, teaching, notes, follow-up. Pure."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from handsfree.model.facts import ItemTaught, LightTurnedOff, WarmthAnswered, ZoneSum
from handsfree.model.light import LightFlag, RunEnd
from handsfree.model.readings import Timing, value_text
from handsfree.model.reasons import Severity
from handsfree.record.contents import Amendment, Record, RecordedReading
from handsfree.record.display_text import capital, clock_text, dose_text, percent, plain, tenths
from handsfree.record.display_values import changed, display_value, zone_name
from handsfree.report.event_times import Moments
from handsfree.report.fact_words import grounds_words
from handsfree.report.light_summary import possible_text

_GRADES = {Severity.AMBER: "Caution", Severity.STOP: "Stop", Severity.RED: "Red flag"}
_TIMINGS = {Timing.BASELINE: "before", Timing.DURING: "during", Timing.AFTER: "after"}
_READ_BACK = {"affirmed": "affirmed", "echo": "said once"}
_ENDS = {RunEnd.OFF_SAID: "light off", RunEnd.STOPPED: "stop", RunEnd.OFF_MISSED: "off not heard"}
_STEM = re.compile(r"_(before|after|mid)$")


@dataclass(frozen=True, slots=True)
class ReplacedValue:
    """A value that no longer stands.

    Attributes:
        shown: The value.
        why: What replaced it and who says so.
    """

    shown: str
    why: str


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading that stands, with what it replaced.

    Attributes:
        entry: Line that an amendment names.
        label: Name of the reading.
        shown: The value with its unit.
        raw: The value as an amendment would give it.
        grade: "Caution", "Stop", "Red flag" or "".
        why: Why it was flagged.
        earlier: ReplacedValue values, the oldest first.
    """

    entry: int
    label: str
    shown: str
    raw: str
    grade: str
    why: str
    earlier: tuple[ReplacedValue, ...]


@dataclass(frozen=True, slots=True)
class Breath:
    """Readings that were said in one breath.

    Attributes:
        heard: The words.
        score: Probability as text.
        runner_up: What else it may have been.
        read_back: How it was confirmed.
        clip: Hash of its sound, or "".
        at: Session time of the confirmation as text.
        rows: The readings.
    """

    heard: str
    score: str
    runner_up: str
    read_back: str
    clip: str
    at: str
    rows: tuple[ReadingRow, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Readings of one step, one side.

    Attributes:
        title: Step in words.
        side: "left", "right" or "".
        timing: "before", "during", "after" or "".
        breaths: Its readings, by utterance.
        height: How many readings.
    """

    title: str
    side: str
    timing: str
    breaths: tuple[Breath, ...]
    height: int


def reading_groups(record: Record) -> tuple[Group, ...]:
    """Readings by step and side in the order in which they were first given."""
    moments = Moments.of(record)
    stages: dict[str, list[RecordedReading]] = {}
    for reading in record.readings:
        stages.setdefault(reading.recorded.fact.stage, []).append(reading)
    groups = []
    for stage, members in stages.items():
        standing = [reading for reading in members if reading.superseded_by is None]
        if not standing:
            continue
        first = standing[0].stands
        breaths = tuple(_breath(tuple(said), members, moments) for _, said in groupby(standing, key=_utterance))
        title = capital(plain(stage.partition("@")[0]))
        timing = _TIMINGS[first.timing] if first.timing is not None else ""
        groups.append(Group(title, first.side or "", timing, breaths, len(standing)))
    return tuple(groups)


def _utterance(reading: RecordedReading) -> tuple[str, float, float]:
    """What makes two readings of a step parts of one utterance."""
    heard = reading.recorded.fact.heard
    return heard.text, heard.spoken_from_s, heard.spoken_to_s


def _breath(said: tuple[RecordedReading, ...], members: Iterable[RecordedReading], moments: Moments) -> Breath:
    first = said[0].recorded
    heard, read_back = first.fact.heard, _READ_BACK[first.fact.read_back]
    return Breath(
        heard=heard.text,
        score=percent(heard.probability),
        runner_up=heard.runner_up or "",
        read_back=f"asked about, {read_back}" if first.fact.asked else read_back,
        clip=first.clip_sha256 or "",
        at=clock_text(moments.at_s(first)),
        rows=tuple(_row(one, members, moments) for one in said),
    )


def _row(reading: RecordedReading, members: Iterable[RecordedReading], moments: Moments) -> ReadingRow:
    stands, entry = reading.stands, reading.recorded.seq
    replaced = "taken again" if reading.first is not None else "replaced by voice"
    earlier = [
        ReplacedValue(
            display_value(old.stands.value, old.stands.unit),
            f"at {clock_text(moments.at_s(old.recorded))}, {replaced}: “{old.stands.heard.text}”",
        )
        for old in members
        if old.superseded_by == entry
    ]
    for amendment in reading.amendments:
        before, _ = changed(amendment)
        if before:
            earlier.append(ReplacedValue(plain(before.removeprefix("value ")), _amended(amendment)))
    return ReadingRow(
        entry=entry,
        label=stands.label,
        shown=display_value(stands.value, stands.unit),
        raw=value_text(stands.value),
        grade=_GRADES.get(stands.severity, ""),
        why=grounds_words(stands),
        earlier=tuple(earlier),
    )


def _amended(amendment: Amendment) -> str:
    return f"amended by {amendment.by}, {amendment.at[:16]}Z: {amendment.reason}"


@dataclass(frozen=True, slots=True)
class Twice:
    """One finding on one side, before and after.

    Attributes:
        before: Value before, or "".
        after: Value after, or "".
    """

    before: str
    after: str

    @property
    def differs(self) -> bool:
        """Whether both were taken and are not the same; that says nothing about what it means."""
        return bool(self.before and self.after) and self.before != self.after


@dataclass(frozen=True, slots=True)
class Comparison:
    """Findings before beside after, and side beside side.

    Attributes:
        sides: Names of the sides, the declared one first; "" for findings without a side.
        rows: Step, label, and one pair of values a side.
    """

    sides: tuple[str, ...]
    rows: tuple[tuple[str, str, tuple[Twice, ...]], ...]


def comparison(record: Record) -> Comparison:
    """Findings that were taken before and after.

    Steps belong together where their identifiers differ only in the ending (circulation_before, circulation_after).
    """
    found: dict[tuple[str, str], dict[str, dict[str, str]]] = {}
    for reading in record.readings:
        stands = reading.stands
        timing = _TIMINGS[stands.timing] if stands.timing is not None else ""
        if reading.superseded_by is None and timing in {"before", "after"} and _STEM.search(stands.step):
            sides_of = found.setdefault((_STEM.sub("", stands.step), stands.label), {})
            sides_of.setdefault(stands.side or "", {})[timing] = display_value(stands.value, stands.unit)
    twice = {key: sides for key, sides in found.items() if any(len(values) == 2 for values in sides.values())}
    sides = tuple(dict.fromkeys(side for values in twice.values() for side in values))
    return Comparison(
        sides,
        tuple(
            (capital(plain(step)), label, tuple(_twice(values.get(side, {})) for side in sides))
            for (step, label), values in twice.items()
        ),
    )


def _twice(values: dict[str, str]) -> Twice:
    return Twice(values.get("before", ""), values.get("after", ""))


@dataclass(frozen=True, slots=True)
class ZoneLight:
    """Light on one zone.

    Attributes:
        name: Its name.
        lit: Credited seconds as text.
        possible: Seconds for which it may have been lit, or "".
        target: Seconds asked for.
        dose: Summed light-on exposure at beam centre, J/cm².
        share: Credited seconds over the target; 0 without one.
        flags: What its runs were flagged with.
        warmth: What the patient said about warmth.
        runs: Its runs.
    """

    name: str
    lit: str
    possible: str
    target: str
    dose: str
    share: float
    flags: tuple[str, ...]
    warmth: str
    runs: tuple["RunRow", ...]


@dataclass(frozen=True, slots=True)
class RunRow:
    """One stretch of light.

    Attributes:
        at: When it began, as text.
        seconds: Credited length.
        end: How it ended.
    """

    at: str
    seconds: str
    end: str


def zones(record: Record) -> tuple[ZoneLight, ...]:
    """Light by zone, in the order of the record."""
    return tuple(_zone(record, total) for total in record.zones)


def _zone(record: Record, total: ZoneSum) -> ZoneLight:
    ended = [run.fact for run in record.of(LightTurnedOff) if run.fact.zone == total.zone]
    flags = dict.fromkeys(flag for run in ended for flag in run.flags)
    if total.lit_s >= total.target_s:
        flags.pop(LightFlag.UNDER_TARGET, None)  # a later run made it up
    answers = [one.fact.answer for one in record.of(WarmthAnswered) if one.fact.zone == total.zone]
    return ZoneLight(
        name=zone_name(record, total.zone),
        lit=tenths(total.lit_s),
        possible=possible_text(total),
        target=tenths(total.target_s),
        dose=dose_text(total.dose_j_cm2),
        share=total.lit_s / total.target_s if total.target_s > 0 else 0.0,
        flags=tuple(plain(flag) for flag in flags),
        warmth=", ".join(answers),
        runs=tuple(_run(run) for run in ended),
    )


def _run(run: LightTurnedOff) -> RunRow:
    end = _ENDS.get(run.end, plain(run.end))
    seconds = tenths(max(0.0, run.counted_to_s - run.counted_from_s))
    return RunRow(clock_text(run.counted_from_s), seconds, f"{end} ({run.reason})" if run.reason else end)


@dataclass(frozen=True, slots=True)
class Taught:
    """An item that was taught.

    Attributes:
        said: What was told.
        back: Whether the patient said it back.
        at: Session time as text.
    """

    said: str
    back: bool
    at: str


def taught(record: Record) -> tuple[Taught, ...]:
    """Teaching given."""
    moments = Moments.of(record)
    return tuple(
        Taught(one.fact.said, one.fact.teach_back, clock_text(moments.at_s(one))) for one in record.of(ItemTaught)
    )


@dataclass(frozen=True, slots=True)
class Note:
    """A dictated note.

    Attributes:
        entry: Line that an amendment names.
        text: As it stands.
        verified: Who has read it, or "".
        broken_off: Whether a stop word or a crash cut it.
        earlier: What it was before, oldest first.
        where: Step.
        at: Session time as text.
    """

    entry: int
    text: str
    verified: str
    broken_off: bool
    earlier: tuple[ReplacedValue, ...]
    where: str
    at: str


def notes(record: Record) -> tuple[Note, ...]:
    """Dictated notes as they stand."""
    moments = Moments.of(record)
    found = []
    for note in record.notes:
        by = [amendment.by for amendment in note.amendments if amendment.now.verified]
        earlier = [
            ReplacedValue(amendment.was.text, _amended(amendment))
            for amendment in note.amendments
            if amendment.was.text is not None
        ]
        found.append(
            Note(
                entry=note.recorded.seq,
                text=note.text,
                verified=by[-1] if note.verified and by else "",
                broken_off=note.recorded.fact.broken_off,
                earlier=tuple(earlier),
                where=plain(note.recorded.fact.stage),
                at=clock_text(moments.at_s(note.recorded)),
            )
        )
    return tuple(found)
