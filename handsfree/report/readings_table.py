"""Tables of a report: readings with what they replaced, before beside after. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from handsfree.model.readings import Timing, value_text
from handsfree.model.reasons import Severity
from handsfree.model.step_names import NO_NAMES, StepNames
from handsfree.record.confirmation import EntryWay, utterance_way
from handsfree.record.contents import Amendment, Record, RecordedReading
from handsfree.record.display_text import capital, clock_text, percent, plain
from handsfree.record.display_values import (
    amended_flag,
    changed,
    computed_words,
    display_value,
    numbered_step,
    shown_value,
)
from handsfree.record.moments import Moments
from handsfree.report.fact_words import grounds_words
from handsfree.report.ways_confirmed import READ_BACK_WORDS
from handsfree.session.prompts.reason_words import reason_words

_GRADES = {Severity.AMBER: "Caution", Severity.STOP: "Stop", Severity.RED: "Red flag"}
_TIMINGS = {Timing.BASELINE: "before", Timing.DURING: "during", Timing.AFTER: "after"}
_WAYS = {
    EntryWay.SPOKEN: "Heard",
    EntryWay.TYPED: "Typed",
    EntryWay.PRESSED: "Key pressed",
    EntryWay.SCANNED: "Scanned",
    EntryWay.AMENDED: "Amended",
    EntryWay.COMPUTED: "Computed",
}
MOST_EARLIER = 20
"""Values that a standing one replaced, as many as are shown, the latest. Chosen here, no source."""


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
        tone: Its class, as a name of style, or "".
        red: Whether it is red, by the visit or by a later correction.
        why: Why it was flagged.
        anew: What a later correction makes of its class, or "".
        earlier: ReplacedValue values, the oldest first.
    """

    entry: int
    label: str
    shown: str
    raw: str
    grade: str
    tone: str
    red: bool
    why: str
    anew: str
    earlier: tuple[ReplacedValue, ...]


@dataclass(frozen=True, slots=True)
class Breath:
    """Readings that were said in one breath.

    Attributes:
        heard: The words.
        way: "Heard", "Typed" or "Scanned".
        score: Probability as text; "" of what was typed, which has none.
        runner_up: What else it may have been.
        read_back: How it was confirmed.
        clip: Hash of its sound, or "".
        at: Session time of the confirmation as text.
        rows: The readings.
    """

    heard: str
    way: str
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


def reading_groups(record: Record, names: StepNames = NO_NAMES) -> tuple[Group, ...]:
    """Readings by step and side in the order in which they were first given."""
    moments = Moments.of(record)
    stages: dict[str, list[RecordedReading]] = {}
    for reading in record.readings:
        stages.setdefault(reading.recorded.fact.stage, []).append(reading)
    groups = []
    for members in stages.values():
        standing = [reading for reading in members if reading.superseded_by is None]
        if not standing:
            continue
        first = standing[0].stands
        breaths = tuple(
            _breath(record, tuple(said), members, moments, names) for _, said in groupby(standing, key=_utterance)
        )
        title = capital(plain(numbered_step(first)))
        timing = _TIMINGS[first.timing] if first.timing is not None else ""
        groups.append(Group(title, first.side or "", timing, breaths, len(standing)))
    return tuple(groups)


def _utterance(reading: RecordedReading) -> tuple[str, float, float]:
    """What makes two readings of a step parts of one utterance."""
    heard = reading.recorded.fact.heard
    return heard.text, heard.spoken_from_s, heard.spoken_to_s


def _breath(
    record: Record,
    said: tuple[RecordedReading, ...],
    members: Iterable[RecordedReading],
    moments: Moments,
    names: StepNames,
) -> Breath:
    first = said[0].recorded
    heard, read_back = first.fact.heard, READ_BACK_WORDS[first.fact.read_back]
    way = EntryWay.COMPUTED if first.fact.computed is not None else utterance_way(record, heard)
    return Breath(
        heard=computed_words(said[0].stands, names) or heard.text,
        way=_WAYS[way],
        score=percent(heard.probability) if way is EntryWay.SPOKEN else _WAYS[way].lower(),
        runner_up=heard.runner_up or "",
        read_back=f"asked about, {read_back}" if first.fact.asked else read_back,
        clip=first.clip_sha256 or "",
        at=clock_text(moments.at_s(first)),
        rows=tuple(_row(one, members, moments, names) for one in said),
    )


def _row(
    reading: RecordedReading, members: Iterable[RecordedReading], moments: Moments, names: StepNames
) -> ReadingRow:
    stands, entry = reading.stands, reading.recorded.seq
    replaced = "taken again" if reading.first is not None else "replaced by voice"
    replaced_by = [old for old in members if old.superseded_by == entry]
    more = len(replaced_by) - MOST_EARLIER
    earlier = (
        [ReplacedValue(f"{more} values", "before those below, left out for the size of the page")] if more > 0 else []
    )
    earlier += [
        ReplacedValue(
            display_value(old.stands.value, old.stands.unit),
            f"at {clock_text(moments.at_s(old.recorded))}, {replaced}: “{old.stands.heard.text}”",
        )
        for old in replaced_by[-MOST_EARLIER:]
    ]
    for amendment in reading.amendments:
        before, _ = changed(amendment, lambda value: display_value(value, stands.unit))
        if before:
            earlier.append(ReplacedValue(before.removeprefix("value "), amended_words(amendment)))
    return ReadingRow(
        entry=entry,
        label=stands.label,
        shown=shown_value(stands, display_value, names),
        raw=value_text(stands.value),
        grade=_GRADES.get(stands.severity, ""),
        tone=stands.severity.value if stands.severity is not Severity.NONE else "",
        red=reading.severity is Severity.RED,
        why=grounds_words(stands),
        anew=amended_flag(reading, reason_words),
        earlier=tuple(earlier),
    )


def amended_words(amendment: Amendment) -> str:
    """Who amended something, when, and why."""
    return f"amended by {amendment.by}, {amendment.at[:16]}Z: {amendment.reason}"
