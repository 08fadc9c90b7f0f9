"""A visit in ten lines, the most dangerous first: what whoever was not in the room must not miss. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from handsfree.model.light import ZoneStanding
from handsfree.model.readings import Absent
from handsfree.model.reasons import Severity
from handsfree.record.account_parts import StopAccount, StopKind
from handsfree.record.account_words import AccountWords
from handsfree.record.contents import RecordedReading

MOST_LINES = 10
"""Chosen here, no source: what is read in a glance, and fits a screen beside who, where and when."""


class LookKind(StrEnum):
    """Kinds of what is looked at first, the most dangerous first; the value is what is read."""

    BROKEN = "Not whole"
    STOPPED = "Stopped"
    OVERRIDDEN = "Overridden"
    RED = "Red finding"
    LIGHT = "Light off target"
    DOUBT = "Doubtful"
    CHANGED = "Changed"
    OPEN = "Open"


@dataclass(frozen=True, slots=True)
class LookLine:
    """One thing to look at.

    Attributes:
        kind: Of which kind.
        what: What it is, in words.
        entry: Line of the record that it is about, or None.
        clip: Hash of its sound, or "".
    """

    kind: LookKind
    what: str
    entry: int | None = None
    clip: str = ""


@dataclass(frozen=True, slots=True)
class FirstLook:
    """What is looked at first.

    Attributes:
        statuses: What must be known before anything else is read.
        shown: At most ten lines, those of a kind together.
        folded: What did not fit.
    """

    statuses: tuple[str, ...]
    shown: tuple[LookLine, ...]
    folded: tuple[LookLine, ...]

    @property
    def more(self) -> Mapping[LookKind, int]:
        """How many lines of a kind did not fit; only where some did not."""
        return {kind: sum(1 for _ in lines) for kind, lines in groupby(self.folded, key=lambda line: line.kind)}

    @property
    def grave(self) -> bool:
        """Whether anything is more than a change or a doubt."""
        return any(line.kind not in {LookKind.DOUBT, LookKind.CHANGED} for line in self.shown)

    def texts(self) -> Iterator[str]:
        """The lines as text."""
        more = dict(self.more)
        for number, line in enumerate(self.shown):
            last = number + 1 == len(self.shown) or self.shown[number + 1].kind is not line.kind
            rest = f" (and {more[line.kind]} more of the kind)" if last and line.kind in more else ""
            yield f"{line.kind}: {line.what}{rest}"


def first_look(words: AccountWords, faults: tuple[str, ...] = ()) -> FirstLook:
    """The ten lines of a visit.

    Args:
        words: Its account in words.
        faults: What verification found wrong.
    """
    kinds = {
        LookKind.BROKEN: [LookLine(LookKind.BROKEN, fault) for fault in faults],
        LookKind.STOPPED: [
            LookLine(LookKind.STOPPED, words.stop(one), one.seq, one.clip) for one in _by_danger(words.account.stops)
        ],
        LookKind.OVERRIDDEN: [
            LookLine(LookKind.OVERRIDDEN, words.override(one), one.seq) for one in words.account.overrides
        ],
        LookKind.RED: [
            LookLine(LookKind.RED, words.flagged(one), one.recorded.seq, one.recorded.clip_sha256 or "")
            for one in words.account.flagged(Severity.RED)
        ],
        LookKind.LIGHT: [
            LookLine(LookKind.LIGHT, told)
            for standing in (ZoneStanding.OVER, ZoneStanding.SHORT)
            if (told := words.off_target(standing))
        ]
        + [LookLine(LookKind.LIGHT, told, seq) for seq, told in words.odd_light()],
        LookKind.DOUBT: list(_doubts(words)),
        LookKind.CHANGED: list(_changes(words)),
        LookKind.OPEN: [LookLine(LookKind.OPEN, told) for told in words.left_open()]
        + [LookLine(LookKind.OPEN, told, seq) for seq, told in words.skipped()],
    }
    room = _room({kind: len(lines) for kind, lines in kinds.items()})
    shown = tuple(line for kind, lines in kinds.items() for line in lines[: room[kind]])
    folded = tuple(line for kind, lines in kinds.items() for line in lines[room[kind] :])
    statuses = (*(("BROKEN: altered or incomplete",) if faults else ()), *words.statuses())
    return FirstLook(statuses, shown, folded)


def _room(wanted: dict[LookKind, int]) -> dict[LookKind, int]:
    """How many lines each kind gets: one for every kind, the others to the most dangerous that have more."""
    room = {kind: min(1, count) for kind, count in wanted.items()}
    for kind, count in wanted.items():
        left = MOST_LINES - sum(room.values())
        room[kind] += max(0, min(left, count - room[kind]))
    return room


def _by_danger(stops: tuple[StopAccount, ...]) -> list[StopAccount]:
    """Light and heat before findings, red before others, what still holds before what was lifted; else in order."""

    def danger(stop: StopAccount) -> tuple[bool, bool, bool, int]:
        red = stop.hold is not None and stop.hold.hold == "red"
        lifted = stop.hold is None or stop.hold.lifted is not None
        return not stop.while_lit, not red and stop.kind is StopKind.FINDING, lifted, stop.seq

    return sorted(stops, key=danger)


def _doubts(words: AccountWords) -> Iterator[LookLine]:
    """A line for each number that was said and refused and has no value; then one an utterance."""
    for one in words.account.standing:
        if isinstance(one.stands.value, Absent) and one.stands.value.said is not None:
            yield LookLine(LookKind.DOUBT, words.value(one), one.recorded.seq, one.recorded.clip_sha256 or "")

    def utterance(one: RecordedReading) -> tuple[str, float]:
        fact = one.recorded.fact
        return fact.stage, fact.heard.spoken_from_s

    for _, said in groupby(words.account.doubtful, key=utterance):
        listed = tuple(said)
        first = listed[0].recorded
        yield LookLine(LookKind.DOUBT, words.doubtful(listed), first.seq, first.clip_sha256 or "")


def _changes(words: AccountWords) -> Iterator[LookLine]:
    """What was changed after the fact before what was corrected in the visit."""
    for turned in words.account.turned:
        yield LookLine(LookKind.CHANGED, words.turned(turned))
    for amendment in words.account.amendments:
        yield LookLine(LookKind.CHANGED, words.amended(amendment), amendment.entry)
    for one in words.account.corrected:
        yield LookLine(LookKind.CHANGED, words.corrected(one.fact), one.seq, one.clip_sha256 or "")
    for left in words.account.withdrawn:
        yield LookLine(LookKind.CHANGED, words.withdrawn(left.fact), left.seq, left.clip_sha256 or "")
