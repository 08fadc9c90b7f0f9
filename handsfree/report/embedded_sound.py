"""Which sound goes into a page: all of it, or the most telling part where it would make the page too big."""

import base64
from dataclasses import dataclass
from pathlib import Path

from handsfree.model.facts import (
    NoteDictated,
    NoteTaken,
    ReadingClassedAgain,
    ReadingRefused,
    StatedReading,
    StopWordHeard,
)
from handsfree.model.reasons import Severity
from handsfree.record.clips import clip_fault, read_clip
from handsfree.record.contents import Record

SOUND_LIMIT = 7_000_000
"""Characters of sound in a page; with the rest it stays under 8 MB. Chosen here, no source."""


@dataclass(frozen=True, slots=True)
class EmbeddedSound:
    """Sound of one utterance.

    Attributes:
        sha256: Its hash.
        source: Where a page finds it: a data URI, or an address on the review server.
    """

    sha256: str
    source: str


@dataclass(frozen=True, slots=True)
class Sounds:
    """The sound of a page.

    Attributes:
        clips: What is in it.
        left_out: How many utterances were left out for their size.
    """

    clips: tuple[EmbeddedSound, ...]
    left_out: int

    @property
    def hashes(self) -> frozenset[str]:
        """Hashes of what can be played."""
        return frozenset(sound.sha256 for sound in self.clips)


def kept_clips(folder: Path, record: Record) -> tuple[str, ...]:
    """Hashes of the clips that are kept and whole, the most telling first: stops, notes, doubts, values."""
    order = {sha256: (_rank(record, line), line) for line, sha256 in record.clips if sha256 not in record.deleted_clips}
    return tuple(sha for sha in sorted(order, key=lambda sha: order[sha]) if clip_fault(folder, sha) is None)


def embedded(folder: Path, record: Record, limit: int = SOUND_LIMIT) -> Sounds:
    """Sound as data URIs, as much as the limit allows.

    Args:
        folder: Folder of the record.
        record: The record.
        limit: Characters of all URIs together.
    """
    found: list[EmbeddedSound] = []
    room, left_out = limit, 0
    for sha256 in kept_clips(folder, record):
        source = f"data:audio/flac;base64,{base64.b64encode(read_clip(folder, sha256)).decode()}"
        if len(source) > room:
            left_out += 1
            continue
        room -= len(source)
        found.append(EmbeddedSound(sha256, source))
    return Sounds(tuple(found), left_out)


def _rank(record: Record, event_line: int) -> int:
    facts = [recorded.fact for recorded in record.facts if recorded.event_seq == event_line]
    if any(isinstance(fact, StopWordHeard | NoteTaken | NoteDictated) for fact in facts):
        return 0
    readings = [fact for fact in facts if isinstance(fact, StatedReading | ReadingClassedAgain)]
    if any(fact.severity is not Severity.NONE for fact in readings):
        return 1
    if any(isinstance(fact, StatedReading) and fact.asked for fact in readings):
        return 1
    return 2 if readings or any(isinstance(fact, ReadingRefused) for fact in facts) else 3
