"""What a reviewer should look at first: open, stopped, flagged, changed, unverified. Pure."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from handsfree.model.readings import REPEATED
from handsfree.record.contents import Fact, Record, RecordedReading
from handsfree.record.entries import changed, light_cut, open_items, taken_first
from handsfree.record.verify import RecordState, Verification
from handsfree.report.display_text import clock_text, duration_text, number, plain, score_text, text
from handsfree.report.event_times import Moments

DOUBTFUL = 0.8
"""Values heard with a lower probability are listed for listening. Chosen here, no source."""


class ReviewLevel(StrEnum):
    """Kinds of attention, the most urgent first; the value is what the page says."""

    OPEN = "Open"
    STOP = "Stopped"
    FLAG = "Flagged"
    LISTEN = "Listen"
    CHANGED = "Changed"
    NOTE = "Not verified"


@dataclass(frozen=True, slots=True)
class ReviewItem:
    """One thing to look at.

    Attributes:
        level: How urgent.
        what: What it is, in words.
        where: Where in the visit, in words, or "".
        at: Session time as text, or "".
        entry: Line that it is about, or None.
        clip: Hash of its sound, or "".
        count: How many items it stands for.
    """

    level: ReviewLevel
    what: str
    where: str = ""
    at: str = ""
    entry: int | None = None
    clip: str = ""
    count: int = 1


def attention(found: Verification, record: Record) -> tuple[ReviewItem, ...]:
    """Everything that asks for a look, the most urgent first; of equals the earliest first."""
    moments = Moments.of(record)
    standing = [reading for reading in record.readings if reading.superseded_by is None]
    items = [
        *_open(found, record),
        *_stopped(record, moments),
        *_flagged(record, moments, standing),
        *_doubtful(moments, standing),
        *_changed(record, moments),
        *_notes(record, moments),
    ]
    order = list(ReviewLevel)
    return tuple(sorted(items, key=lambda item: order.index(item.level)))


def _open(found: Verification, record: Record) -> Iterator[ReviewItem]:
    if found.state is RecordState.BROKEN:
        for fault in found.faults:
            yield ReviewItem(ReviewLevel.OPEN, f"The record is broken: {fault}")
    if record.closing is None:
        yield ReviewItem(ReviewLevel.OPEN, "The session was not closed; what follows is what was recorded until then.")
    for told in light_cut(record):
        yield ReviewItem(
            ReviewLevel.OPEN, f"{told[:1].upper()}{told[1:]}.", entry=record.light_cut.seq if record.light_cut else None
        )
    yield from _left_open(open_items(record))
    lifted = Counter(text(fact.data.get("set_for")) for fact in record.of_kind("latch_lifted"))
    for fact in record.of_kind("latch_set"):
        reason = text(fact.data.get("reason"))
        if lifted[reason]:
            lifted[reason] -= 1
        elif f"latch: {reason}" not in open_items(record):
            yield ReviewItem(
                ReviewLevel.OPEN, f"{text(fact.data.get('latch'))} latch not lifted: {reason}", _stage(fact)
            )


_OPEN_KINDS = {
    "latch": "Latch not lifted",
    "no value": "No value",
    "step": "Not done",
    "zone": "Short of light",
}
"""What sessions call their open items, and what a reader is told."""


def _left_open(listed: tuple[str, ...]) -> Iterator[ReviewItem]:
    """Open items as the session closed with them, those of a kind together."""
    kinds: dict[str, list[str]] = {}
    for item in listed:
        kind, _, rest = item.partition(": ")
        kinds.setdefault(kind, []).append(plain(rest))
    for kind, named in kinds.items():
        name = _OPEN_KINDS.get(kind, kind.capitalize())
        yield ReviewItem(ReviewLevel.OPEN, f"{name}: {', '.join(named)}" if any(named) else name, count=len(named))


def _stopped(record: Record, moments: Moments) -> Iterator[ReviewItem]:
    for fact in record.facts:
        match fact.kind:
            case "stop_word_heard":
                lit = ", while lit" if fact.data.get("while_lit") else ""
                what = f'Stop word "{text(fact.data.get("word"))}"{lit}'
                if fact.data.get("heard") != fact.data.get("word"):
                    what += f' (heard "{text(fact.data.get("heard"))}", {score_text(fact.data.get("probability"))})'
            case "latch_set":
                what = f"{text(fact.data.get('latch')).capitalize()} latch: {text(fact.data.get('reason'))}"
            case "latch_lifted":
                role = plain(fact.data.get("role") or "whoever answered")
                what = f"Latch lifted by {role}, {plain(fact.data.get('reason'))}: {text(fact.data.get('set_for'))}"
            case "session_stopped":
                what = f"Visit ended early by {plain(fact.data.get('role'))}: {plain(fact.data.get('reason'))}"
            case "session_interrupted":
                what = f"Interrupted for {duration_text(number(fact.data.get('gap_s')))}; resumed"
            case "sound_lost":
                what = f"The {text(fact.data.get('what'))} was lost"
            case _:
                continue
        clip = fact.clip_sha256 or "" if fact.kind in {"stop_word_heard", "latch_lifted"} else ""
        yield ReviewItem(ReviewLevel.STOP, what, _stage(fact), clock_text(moments.at_s(fact)), fact.seq, clip)


def _flagged(record: Record, moments: Moments, standing: list[RecordedReading]) -> Iterator[ReviewItem]:
    listed = open_items(record)
    for reading in standing:
        fact = reading.fact
        gap = f"no value: {fact.data.get('stage')}.{fact.data.get('field')}"
        if reading.data.get("type") == "absent" and gap not in listed:
            why = plain(reading.data.get("value")).replace("-", " ")
            yield ReviewItem(ReviewLevel.FLAG, f"No value for {_label(reading)}: {why}", _stage(fact), entry=fact.seq)
        at = clock_text(moments.at_s(fact))
        data = reading.data
        if reading.first is not None:
            why = f"{taken_first(reading)} ({text(reading.first.get('class_reason'))}), then {plain(data.get('value'))}"
            yield ReviewItem(ReviewLevel.FLAG, f"Taken again: {_label(reading)} {why}", _stage(fact), at, fact.seq)
        grade = data.get("class")
        if grade in {None, "none"}:
            continue
        name = {"amber": "Caution", "stop": "Stop value", "red": "Red flag"}.get(str(grade), str(grade))
        what = f"{name}: {text(data.get('class_reason'))}"
        yield ReviewItem(ReviewLevel.FLAG, what, _stage(fact), at, fact.seq, fact.clip_sha256 or "")
    yield from _light(record)
    for fact in record.facts:
        what = _left_out(fact)
        if what:
            yield ReviewItem(ReviewLevel.FLAG, what, _stage(fact), clock_text(moments.at_s(fact)), fact.seq)


def _light(record: Record) -> Iterator[ReviewItem]:
    if not record.of_kind("light_turned_on"):
        return  # nothing was to be lit, or the visit ended before: its open items say so
    under, over = [], []
    for zone in record.zones:
        lit_s, target_s = number(zone.data.get("lit_s")), number(zone.data.get("target_s"))
        if lit_s < target_s:
            under.append(f"{zone_name(zone)} {lit_s:.1f} of {target_s:.1f} s")
    for name in dict.fromkeys(_over_target(record)):
        over += [
            f"{zone_name(zone)} {number(zone.data.get('lit_s')):.1f} of {number(zone.data.get('target_s')):.1f} s"
            for zone in record.zones
            if zone.data.get("zone") == name
        ]
    if under:
        yield ReviewItem(ReviewLevel.FLAG, f"Light below target: {', '.join(under)}")
    if over:
        yield ReviewItem(ReviewLevel.FLAG, f"Light over target: {', '.join(over)}")


def _over_target(record: Record) -> Iterator[str]:
    for fact in record.of_kind("light_turned_off"):
        flags = fact.data.get("flags")
        if isinstance(flags, list) and "over_target" in flags:
            yield text(fact.data.get("zone"))


def _left_out(fact: Fact) -> str:
    data = fact.data
    match fact.kind:
        case "step_skipped":
            return f"Skipped: {plain(data.get('reason'))}"
        case "step_overridden":
            return f"Overridden by {plain(data.get('role'))}: {plain(data.get('reason'))}"
        case "gaps_accepted":
            gaps = data.get("gaps")
            listed = ", ".join(plain(gap) for gap in gaps) if isinstance(gaps, list) else ""
            return f"Missing values accepted by {plain(data.get('role'))}: {listed}"
        case "read_back_disputed":
            values = data.get("values")
            said = ", ".join(f"{name} {value}" for name, value in values.items()) if isinstance(values, dict) else ""
            return f"Read-back refused and said again: {said}"
        case "light_turned_off" if data.get("end") in {"off_missed", "interrupted"}:
            return f"Light off was not heard: {plain(data.get('zone'))}, seconds counted up to the last sign of it"
    return ""


def _doubtful(moments: Moments, standing: list[RecordedReading]) -> Iterator[ReviewItem]:
    told: set[str] = set()
    for reading in standing:
        data, fact = reading.data, reading.fact
        probability = data.get("probability")
        doubtful = data.get("asked") is True or (isinstance(probability, int | float) and probability < DOUBTFUL)
        heard = text(data.get("heard"))
        key = f"{fact.data.get('stage')} {heard}"
        if not doubtful or reading.amendments or key in told:
            continue
        told.add(key)
        asked = ", asked about and affirmed" if data.get("asked") is True else ""
        what = f'Heard with doubt: "{heard}" ({score_text(probability)}{asked})'
        at = clock_text(moments.at_s(fact))
        yield ReviewItem(ReviewLevel.LISTEN, what, _stage(fact), at, fact.seq, fact.clip_sha256 or "")


def _changed(record: Record, moments: Moments) -> Iterator[ReviewItem]:
    for fact in record.of_kind("reading_amended"):
        old, new = plain(fact.data.get("old_value")), plain(fact.data.get("value"))
        if old != new and fact.data.get("reason") != REPEATED:
            what = f"Corrected during the visit: {text(fact.data.get('label'))} {old} → {new}"
            yield ReviewItem(ReviewLevel.CHANGED, what, _stage(fact), clock_text(moments.at_s(fact)), fact.seq)
    for amendment in record.amendments:
        before, after = changed(amendment)
        if not after:
            continue
        what = f"Amended by {amendment.by}: {before} → {after}. {amendment.reason}"
        yield ReviewItem(ReviewLevel.CHANGED, what, f"entry {amendment.entry}", entry=amendment.entry)
    if record.attestation is not None and not record.attested:
        yield ReviewItem(ReviewLevel.CHANGED, "Amended after it was attested; to be attested again")


def _notes(record: Record, moments: Moments) -> Iterator[ReviewItem]:
    for note in record.amended_notes:
        if note.data.get("verified") is not True:
            what = f"Note: {text(note.data.get('text'))}"
            at = clock_text(moments.at_s(note.fact))
            yield ReviewItem(ReviewLevel.NOTE, what, _stage(note.fact), at, note.fact.seq, note.fact.clip_sha256 or "")


def _stage(fact: Fact) -> str:
    return plain(fact.data.get("stage") or fact.data.get("zone") or "")


def _label(reading: RecordedReading) -> str:
    return text(reading.data.get("label") or plain(reading.data.get("field")))


def zone_name(fact: Fact) -> str:
    """Name of the zone that a total is about."""
    return text(fact.data.get("label")) or plain(fact.data.get("zone"))
