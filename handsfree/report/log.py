"""Everything in order: what was heard, what the tool said, what was put on record. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from handsfree.model.events import CommandDoubted, CommandSpoken, SpeechRejected
from handsfree.record.contents import Fact, Record
from handsfree.report.display_text import clock_text, duration_text, number, plain, score_text, text
from handsfree.report.event_times import Moments, Said

_SILENT = frozenset({"light_still_on", "reading_proposed", "tone_heard", "stage_exposed", "zone_totalled"})
"""Facts that repeat what another one says, or that nobody said or heard."""


class EntrySource(StrEnum):
    """Who or what an entry is from; the value is what the page says."""

    HEARD = "Heard"
    TOOL = "Tool"
    RECORD = "Record"


@dataclass(frozen=True, slots=True)
class Spoken:
    """An utterance.

    Attributes:
        from_s: Session time of the first word.
        to_s: Session time of the last word's end.
        words: The words.
        taken: "taken", "asked about" or "not taken".
        score: Probability as text, or "".
        clip: Hash of its sound, or "".
    """

    from_s: float
    to_s: float
    words: str
    taken: str
    score: str
    clip: str


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One line of the log.

    Attributes:
        at: Session time as text.
        source: Who.
        what: What.
        detail: How it was taken, or "".
        clip: Hash of its sound, or "".
        anchor: Line of the record that links lead to, or None where another part of the page has it.
    """

    at: str
    source: EntrySource
    what: str
    detail: str = ""
    clip: str = ""
    anchor: int | None = None


def utterances(record: Record) -> tuple[tuple[int, Spoken], ...]:
    """Every utterance with the line of its event."""
    clips = dict(record.clips)
    found = []
    for line, event in zip(record.event_lines, record.events, strict=True):
        match event:
            case CommandSpoken(heard=heard, probability=probability):
                taken, score = "taken", score_text(probability)
            case CommandDoubted(heard=heard, probability=probability):
                taken, score = "asked about", score_text(probability)
            case SpeechRejected(heard=guess, reason=reason):
                taken, score = f"not taken: {plain(reason.value)}", ""
                if guess is None:
                    found.append((line, Spoken(event.at_s, event.at_s, "", taken, score, "")))
                    continue
                heard = guess
            case _:
                continue
        spoken = Spoken(heard.spoken_from_s, heard.spoken_to_s, heard.text, taken, score, clips.get(line, ""))
        found.append((line, spoken))
    return tuple(found)


def log(record: Record, said: Said) -> tuple[LogEntry, ...]:
    """The whole visit, in order."""
    moments = Moments.of(record)
    spoken = dict(utterances(record))
    facts: dict[int, list[Fact]] = {}
    for fact in record.facts:
        facts.setdefault(fact.event_seq, []).append(fact)
    entries: list[LogEntry] = []
    for line in sorted({*moments.starts, *facts}):
        if line in spoken:
            entries.append(_heard(spoken[line]))
        entries += _recorded(facts.get(line, []), moments)
        at = clock_text(moments.starts.get(line, 0.0))
        entries += [LogEntry(at, EntrySource.TOOL, prompt) for prompt in said.prompts.get(line, ())]
    return tuple(entries)


def _heard(one: Spoken) -> LogEntry:
    words = f"“{one.words}”" if one.words else "speech that was not understood"
    detail = f"{one.taken}, {one.score}" if one.score else one.taken
    return LogEntry(clock_text(one.from_s), EntrySource.HEARD, words, detail, one.clip)


def _recorded(facts: list[Fact], moments: Moments) -> Iterator[LogEntry]:
    for fact in facts:
        what = fact_words(fact)
        if what:
            elsewhere = fact.kind in {"reading_confirmed", "reading_amended", "note_taken"}
            anchor = None if elsewhere else fact.seq
            yield LogEntry(clock_text(moments.at_s(fact)), EntrySource.RECORD, what, f"entry {fact.seq}", anchor=anchor)


def fact_words(fact: Fact) -> str:
    """A fact in one line; "" for those that repeat another."""
    if fact.kind in _SILENT:
        return ""
    data = fact.data
    name = plain(fact.kind).capitalize()
    zone = plain(data.get("zone") or "")
    match fact.kind:
        case "reading_confirmed" | "reading_amended":
            side = f", {data.get('side')}" if data.get("side") else ""
            unit = f" {data.get('unit')}" if data.get("unit") else ""
            return f"{name}: {text(data.get('label'))}{side} = {plain(data.get('value'))}{unit}"
        case "repeat_asked":
            fields = data.get("fields")
            return f"{name}: {', '.join(map(str, fields)) if isinstance(fields, list) else ''}"
        case "due_met":
            late_s = number(data.get("late_s"))
            return f"Was due {text(data.get('due'))[11:16]} UTC, " + (
                f"{duration_text(late_s)} late" if late_s >= 60 else "not late"
            )
        case "due_set":
            return f"Next check due {text(data.get('due'))[:16]}Z"
        case "light_turned_on":
            return f"Light on: {zone}"
        case "light_turned_off":
            seconds = number(data.get("counted_to_s")) - number(data.get("counted_from_s"))
            return f"Light off: {zone}, {seconds:.1f} s counted, {plain(data.get('end'))}"
        case "session_interrupted":
            return f"{name}: {duration_text(number(data.get('gap_s')))}"
        case "session_closed":
            return f"{name}: {text(data.get('outcome'))}"
        case "item_taught":
            return f"{name}: {text(data.get('said'))}"
        case "note_taken" | "note_dictated":
            return f"{name}: {text(data.get('text'))}"
        case "warmth_answered":
            return f"{name}: {plain(data.get('answer'))}, {zone or 'late question'}"
    told = [plain(data[key]) for key in ("stage", "latch", "word", "role", "reason", "what", "size") if data.get(key)]
    return f"{name}: {', '.join(told)}" if told else name
