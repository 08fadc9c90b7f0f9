"""Tables of a report: readings, before beside after, light, teaching, notes, follow-up. Pure."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from handsfree.model.effects import Json
from handsfree.record.contents import Fact, Record, RecordedReading
from handsfree.record.entries import Entry, changed, entries
from handsfree.report.display_text import clock_text, number, plain, score_text, text, with_unit
from handsfree.report.event_times import Moments
from handsfree.report.review_items import zone_name

_GRADES = {"amber": "Caution", "stop": "Stop", "red": "Red flag"}
_TIMINGS = {"baseline": "before", "during": "during", "after": "after"}
_Pair = tuple[RecordedReading, Entry]
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
    pairs = list(zip(record.readings, entries(record), strict=True))
    stages: dict[str, list[_Pair]] = {}
    for pair in pairs:
        stages.setdefault(text(pair[0].fact.data.get("stage") or pair[1].step), []).append(pair)
    groups = []
    for stage, members in stages.items():
        standing = [pair for pair in members if pair[1].superseded_by is None]
        if not standing:
            continue
        data = standing[0][0].data
        breaths = tuple(
            _breath(tuple(said), members, moments)
            for _, said in groupby(standing, key=lambda pair: _utterance(pair[0]))
        )
        title = plain(stage.partition("@")[0]).capitalize()
        timing = _TIMINGS.get(text(data.get("timing")), "")
        groups.append(Group(title, text(data.get("side")), timing, breaths, len(standing)))
    return tuple(groups)


def _utterance(reading: RecordedReading) -> tuple[Json, ...]:
    """What makes two readings of a step parts of one utterance."""
    return tuple(reading.fact.data.get(name) for name in ("heard", "spoken_from_s", "spoken_to_s"))


def _breath(said: tuple[_Pair, ...], members: Iterable[_Pair], moments: Moments) -> Breath:
    reading, entry = said[0]
    data = reading.data
    read_back = {"affirmed": "affirmed", "echo": "said once"}.get(text(data.get("read_back")), "")
    return Breath(
        heard=entry.words,
        score=score_text(data.get("probability")),
        runner_up=entry.runner_up,
        read_back=f"asked about, {read_back}" if data.get("asked") is True else read_back,
        clip=entry.clip_sha256,
        at=clock_text(moments.at_s(reading.fact)),
        rows=tuple(_row(one, other, members, moments) for one, other in said),
    )


def _row(reading: RecordedReading, entry: Entry, members: Iterable[_Pair], moments: Moments) -> ReadingRow:
    data = reading.data
    earlier = [
        ReplacedValue(
            value_text(other),
            f"at {clock_text(moments.at_s(old.fact))}, {'taken again' if reading.first else 'replaced by voice'}: "
            f"“{other.words}”",
        )
        for old, other in members
        if other.superseded_by == entry.number
    ]
    for amendment in reading.amendments:
        before, _ = changed(amendment)
        if before:
            was = plain(before.removeprefix("value "))
            earlier.append(ReplacedValue(was, f"amended by {amendment.by}, {amendment.at[:16]}Z: {amendment.reason}"))
    return ReadingRow(
        entry=entry.number,
        label=text(data.get("label")) or plain(entry.field),
        shown=value_text(entry),
        raw=text(data.get("value")),
        grade=_GRADES.get(entry.flag, ""),
        why=entry.flag_reason,
        earlier=tuple(earlier),
    )


def value_text(entry: Entry) -> str:
    """The value as it is printed."""
    if entry.kind in {"option", "absent"}:
        return plain(entry.shown)
    return with_unit(entry.shown, entry.unit)


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
    for reading, entry in zip(record.readings, entries(record), strict=True):
        timing = _TIMINGS.get(entry.timing, "")
        if entry.superseded_by is None and timing in {"before", "after"} and _STEM.search(entry.step):
            key = (_STEM.sub("", entry.step), text(reading.data.get("label")) or plain(entry.field))
            found.setdefault(key, {}).setdefault(entry.side, {})[timing] = value_text(entry)
    twice = {key: sides for key, sides in found.items() if any(len(values) == 2 for values in sides.values())}
    sides = tuple(dict.fromkeys(side for values in twice.values() for side in values))
    return Comparison(
        sides,
        tuple(
            (plain(step).capitalize(), label, tuple(_twice(values.get(side, {})) for side in sides))
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


def _zone(record: Record, total: Fact) -> ZoneLight:
    name = total.data.get("zone")
    ended = [fact for fact in record.of_kind("light_turned_off") if fact.data.get("zone") == name]
    flags = [flag for fact in ended for flag in _names(fact)]
    lit_s, target_s = number(total.data.get("lit_s")), number(total.data.get("target_s"))
    possible_s = number(total.data.get("possible_s"))
    if lit_s >= target_s:
        flags = [flag for flag in flags if flag != "under target"]  # a later run made it up
    answers = [plain(a.data.get("answer")) for a in record.of_kind("warmth_answered") if a.data.get("zone") == name]
    return ZoneLight(
        name=zone_name(total),
        lit=f"{lit_s:.1f}",
        possible=f"{possible_s:.1f}" if possible_s > lit_s + 0.05 else "",
        target=f"{target_s:.1f}",
        dose=f"{number(total.data.get('dose_j_cm2')):.2f}",
        share=lit_s / target_s if target_s > 0 else 0.0,
        flags=tuple(dict.fromkeys(flags)),
        warmth=", ".join(answers),
        runs=tuple(_run(fact) for fact in ended),
    )


def _names(fact: Fact) -> list[str]:
    flags = fact.data.get("flags")
    return [plain(flag) for flag in flags] if isinstance(flags, list) else []


def _run(fact: Fact) -> RunRow:
    from_s, to_s = number(fact.data.get("counted_from_s")), number(fact.data.get("counted_to_s"))
    ends = {"off_said": "light off", "stopped": "stop", "off_missed": "off not heard", "interrupted": "interrupted"}
    end = ends.get(text(fact.data.get("end")), plain(fact.data.get("end")))
    reason = text(fact.data.get("reason"))
    return RunRow(clock_text(from_s), f"{max(0.0, to_s - from_s):.1f}", f"{end} ({reason})" if reason else end)


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
        Taught(text(fact.data.get("said")), fact.data.get("teach_back") is True, clock_text(moments.at_s(fact)))
        for fact in record.of_kind("item_taught")
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
    for note in record.amended_notes:
        by = [item.by for item in note.amendments if item.now.get("verified") is True]
        earlier = [
            ReplacedValue(text(item.was.get("text")), f"amended by {item.by}, {item.at[:16]}Z: {item.reason}")
            for item in note.amendments
            if "text" in item.now
        ]
        found.append(
            Note(
                entry=note.fact.seq,
                text=text(note.data.get("text")),
                verified=by[-1] if note.data.get("verified") is True and by else "",
                broken_off=note.data.get("broken_off") is True,
                earlier=tuple(earlier),
                where=plain(note.fact.data.get("stage") or note.fact.data.get("step") or ""),
                at=clock_text(moments.at_s(note.fact)),
            )
        )
    return tuple(found)
