"""Everything in order: what was heard, what the tool said, what was put on record. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from handsfree.model.events import CommandDoubted, CommandSpoken, SpeechRejected
from handsfree.model.facts import AnyFact, NoteTaken, ReadingAmended, ReadingConfirmed
from handsfree.model.hypotheses import PRESSED
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases
from handsfree.record.contents import Record, RecordedFact
from handsfree.record.display_text import clock_text, percent, plain
from handsfree.record.moments import Moments
from handsfree.report.event_times import PromptSaid
from handsfree.report.fact_words import fact_words


class EntrySource(StrEnum):
    """Who or what an entry is from; the value is what the page says."""

    HEARD = "Heard"
    TOOL = "Tool"
    RECORD = "Record"


@dataclass(frozen=True, slots=True)
class LogUtterance:
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


def utterances(record: Record) -> tuple[tuple[int, LogUtterance], ...]:
    """Every utterance with the line of its event."""
    clips = dict(record.clips)
    found = []
    for line, event in zip(record.event_lines, record.events, strict=True):
        match event:
            case CommandSpoken(heard=heard) if heard.engine == PRESSED:
                taken, score = "key pressed", ""
            case CommandSpoken(heard=heard, probability=probability):
                taken, score = "taken", percent(probability)
            case CommandDoubted(heard=heard, probability=probability):
                taken, score = "asked about", percent(probability)
            case SpeechRejected(heard=guess, reason=reason):
                taken, score = f"not taken: {plain(reason)}", ""
                if guess is None:
                    found.append((line, LogUtterance(event.at_s, event.at_s, "", taken, score, "")))
                    continue
                heard = guess
            case _:
                continue
        spoken = LogUtterance(heard.spoken_from_s, heard.spoken_to_s, heard.text, taken, score, clips.get(line, ""))
        found.append((line, spoken))
    return tuple(found)


def log(record: Record, said: PromptSaid, phrases: CodePhrases = CODES_ALONE) -> tuple[LogEntry, ...]:
    """The whole visit, in order."""
    moments = Moments.of(record)
    spoken = dict(utterances(record))
    facts: dict[int, list[RecordedFact[AnyFact]]] = {}
    for fact in record.facts:
        facts.setdefault(fact.event_seq, []).append(fact)
    entries: list[LogEntry] = []
    for line in sorted({*moments.starts, *facts}):
        if line in spoken:
            entries.append(_heard(spoken[line]))
        entries += _recorded(record, facts.get(line, []), moments, phrases)
        at = clock_text(moments.starts.get(line, 0.0))
        entries += [LogEntry(at, EntrySource.TOOL, prompt) for prompt in said.prompts.get(line, ())]
    return tuple(entries)


def _heard(one: LogUtterance) -> LogEntry:
    words = f"“{one.words}”" if one.words else "speech that was not understood"
    detail = f"{one.taken}, {one.score}" if one.score else one.taken
    return LogEntry(clock_text(one.from_s), EntrySource.HEARD, words, detail, one.clip)


def _recorded(
    record: Record, facts: list[RecordedFact[AnyFact]], moments: Moments, phrases: CodePhrases
) -> Iterator[LogEntry]:
    for recorded in facts:
        what = fact_words(record, recorded.fact, phrases)
        if what:
            elsewhere = isinstance(recorded.fact, ReadingConfirmed | ReadingAmended | NoteTaken)
            at, detail = clock_text(moments.at_s(recorded)), f"entry {recorded.seq}"
            yield LogEntry(at, EntrySource.RECORD, what, detail, anchor=None if elsewhere else recorded.seq)
