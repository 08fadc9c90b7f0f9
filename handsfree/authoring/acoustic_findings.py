"""What the spoken trials say about the words of a procedure, and which words would be further apart."""

import tomllib
from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib.resources import files

from handsfree.authoring.findings import Finding, FindingLevel, finding_at
from handsfree.authoring.pronunciation import phone_distance, phones_of, relative_distance
from handsfree.authoring.spoken_trials import Tally, TrialVerdict
from handsfree.definition.form import STOP_WORDS
from handsfree.definition.source_lines import Path_, SourceLines
from handsfree.model.commands import STOP_CONTROLS
from handsfree.session.read_back import must_be_confirmed

WEAK_SHARE = 0.75
"""A phrase that is heard right in fewer trials than this is weak."""
_MOST = 2
_MOST_NAMED = 3
_NEAR = 0.6
"""Phrases further apart in sound than this share of their length are not called alike. Chosen here, no source."""
_PHONES = 2
"""Of so many phones at its begin or its end a phrase is known there; half of one may differ."""
_NOT_TAKEN = {TrialVerdict.ASKED: "asked about", TrialVerdict.NOTHING: "not taken"}
_WHY = "or say why under explained"


@lru_cache(maxsize=1)
def _groups() -> tuple[tuple[str, ...], ...]:
    text = files("handsfree.authoring").joinpath("alternatives.toml").read_text(encoding="utf-8")
    return tuple(tuple(group) for group in tomllib.loads(text)["groups"])


def alternatives(phrase: str, others: Iterable[str]) -> tuple[str, ...]:
    """Words of like meaning that sound less like the other phrases, best first; empty if none is known to be better."""
    near = [other for other in others if other != phrase]
    candidates = {word for group in _groups() if phrase in group for word in group if word != phrase}
    own = _apart(phrase, near)
    ranked = sorted(((apart, word) for word in candidates if (apart := _apart(word, near)) is not None), reverse=True)
    good = [word for apart, word in ranked if (own is None or apart > own) and not set(word.split()) & STOP_WORDS]
    return tuple(good[:_MOST])


def _apart(phrase: str, others: Iterable[str]) -> float | None:
    """Distance to the nearest of the others; None if the phrase is not in the dictionary."""
    if relative_distance(phrase, phrase) is None:
        return None
    return min((d for other in others if (d := relative_distance(phrase, other)) is not None), default=1.0)


def findings_of(tallies: tuple[Tally, ...], source: SourceLines, places: dict[str, int]) -> Iterator[Finding]:
    """Confusable pairs, weak words and numbers that collide, each at the line of the phrase.

    What the file explains is a note. So is a number, code or date that waits for "affirmative" after it was read back:
    no other word could be chosen for it.

    Args:
        tallies: All trials.
        source: The written-out procedure.
        places: Position of each step.
    """
    for tally in tallies:
        finding = _finding(tally, tallies, source, places)
        if finding is not None:
            yield finding
    yield from _stops(tallies, source)


def _finding(tally: Tally, tallies: Iterable[Tally], source: SourceLines, places: dict[str, int]) -> Finding | None:
    step, phrase = tally.hearing.stage.step, tally.phrase
    confused = tally.confused
    weak = phrase.control is None and tally.right < WEAK_SHARE * len(tally.heard)
    # The quiet room is the easiest there is: who fails there fails at work.
    fails = tally.failed(TrialVerdict.WRONG, quiet=True) or (weak and tally.failed(TrialVerdict.NOTHING, quiet=True))
    if not confused and not weak:
        return None
    place: Path_ = ("steps", places[step.id])
    number = next((n for n, field in enumerate(step.fields) if field.id == phrase.field), None)
    if number is not None:
        place = (*place, "fields", number, *(("options", phrase.option) if phrase.option else ()))
    origin = source.origin_of(place)
    text = _what_failed(tally)
    why = _explanation(tally)
    if why is not None:
        return finding_at(origin, FindingLevel.NOTE, "explained", text, f"explained: {why}")
    if phrase.control is not None:
        advice = f"{_alike(phrase.words, confused) or 'what is heard instead must sound less like it'}; {_WHY}"
        return finding_at(origin, FindingLevel.WARNING, "command", text, advice)
    level = FindingLevel.ERROR if fails and not phrase.by_book else FindingLevel.WARNING
    if phrase.option is None:
        code = "number-collision" if confused else "weak-number"
        if must_be_confirmed(step):
            return finding_at(origin, FindingLevel.NOTE, code, text, "caught by its read-back only: listen to it")
        return finding_at(origin, level, code, text, "add read_back: confirm")
    others = [
        other.phrase.own if other.phrase.field == phrase.field else other.phrase.words
        for other in tallies
        if other.hearing is tally.hearing and (other.phrase.field, other.phrase.option) != (phrase.field, phrase.option)
    ]
    better = alternatives(phrase.own, others)
    longer = "use a longer phrase" if tally.right else "use other words: no voice was understood"
    advice = f"further apart in sound: {', '.join(better)}" if better else longer
    advice = "said without its label: say the label first" if phrase.by_book else advice
    alike = _alike(phrase.words, confused) if confused else _alike(phrase.words, others, within=_NEAR)
    code = "confusable" if confused else "weak-word"
    return finding_at(origin, level, code, text, "; ".join(part for part in (alike, advice, _WHY) if part))


def _what_failed(tally: Tally) -> str:
    """Which utterance failed, in whose voice and how much noise, and what was heard in its place."""
    told: dict[str, list[str]] = {}
    for trial, heard in tally.failed(*(verdict for verdict in TrialVerdict if verdict is not TrialVerdict.RIGHT)):
        what = f'heard as "{heard.text}"' if heard.verdict is TrialVerdict.WRONG else _NOT_TAKEN[heard.verdict]
        told.setdefault(what, []).append(trial.said_by)
    listed = "; ".join(f"{what} by {_first(by)}" for what, by in told.items())
    return f'"{tally.phrase.words}" failed in {len(tally.heard) - tally.right} of {len(tally.heard)} trials: {listed}'


def _first(names: list[str]) -> str:
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return ", ".join(names[:_MOST_NAMED]) + more


def _alike(words: str, others: Iterable[str], *, within: float = 1.0) -> str:
    """In what the nearest of other phrases is like these words; "" where none is within that share of their length."""
    near = ((relative_distance(words, other), other) for other in others if other not in {"", words})
    ranked = sorted((apart, other) for apart, other in near if apart is not None)
    if not ranked or ranked[0][0] > within:
        return ""
    other = ranked[0][1]
    one, two = phones_of(words) or (), phones_of(other) or ()
    begin, end = phone_distance(one[:_PHONES], two[:_PHONES]), phone_distance(one[-_PHONES:], two[-_PHONES:])
    part = "sound" if min(begin, end) > _PHONES / 4 else "begin" if begin <= end else "end"
    return f"they {part} alike: '{words}', '{other}'"


def _explanation(tally: Tally) -> str | None:
    """Why the file bears everything that was misheard, or None if it does not say."""
    given = [one for one in tally.hearing.stage.step.explained if one.said == tally.phrase.words]
    whys = [next((one.why for one in given if one.heard in {None, heard}), None) for heard in tally.confused or (None,)]
    return "; ".join(dict.fromkeys(why for why in whys if why)) if all(whys) else None


def _stops(tallies: Iterable[Tally], source: SourceLines) -> Iterator[Finding]:
    """How often each word that stops was missed, over all steps: the same everywhere, so it is said once."""
    for words in sorted({one.phrase.words for one in tallies if one.phrase.control in STOP_CONTROLS}):
        heard = [one for tally in tallies if tally.phrase.words == words for one in tally.heard]
        right = sum(one.verdict is TrialVerdict.RIGHT for one in heard)
        if right < len(heard):
            yield finding_at(
                source.origin_of(()),
                FindingLevel.NOTE,
                "missed-stop",
                f'"{words}", which stops at any time, was understood in {right} of {len(heard)} trials',
                "tell the team to say stop, and to take the light away",
            )
