"""What the spoken trials say about the words of a procedure, and which words would be further apart."""

import tomllib
from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib.resources import files

from handsfree.authoring.acoustic import Tally
from handsfree.authoring.findings import Finding, Level, finding_at
from handsfree.authoring.pronouncing import relative_distance
from handsfree.procedure.form import STOP_WORDS
from handsfree.procedure.source import Origin, Path_, Source

WEAK_SHARE = 0.75
"""A phrase that is heard right in fewer trials than this is weak."""
_MOST = 2


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


def findings_of(tallies: tuple[Tally, ...], source: Source, places: dict[str, int]) -> Iterator[Finding]:
    """Confusable pairs and weak words, each at the line of the phrase.

    Args:
        tallies: All trials.
        source: The written-out procedure.
        places: Position of each step.
    """
    for tally in tallies:
        step = tally.hearing.stage.step
        if tally.phrase.field is None:
            if tally.confused:
                yield _confused(tally, source.origin_of(("steps", places[step.id])), ())
            continue
        number = next((n for n, field in enumerate(step.fields) if field.id == tally.phrase.field), None)
        where: Path_ = ("steps", places[step.id]) if number is None else ("steps", places[step.id], "fields", number)
        where = (*where, "options", tally.phrase.option) if tally.phrase.option and number is not None else where
        others = [
            other.phrase.own if other.phrase.field == tally.phrase.field else other.phrase.words
            for other in tallies
            if other.hearing is tally.hearing and other.phrase.words != tally.phrase.words
        ]
        better = alternatives(tally.phrase.own, others) if tally.phrase.option else ()
        origin = source.origin_of(where)
        if tally.confused:
            yield _confused(tally, origin, better)
        elif tally.right < WEAK_SHARE * len(tally.heard):
            yield finding_at(
                origin,
                Level.WARNING,
                "weak-word",
                f'"{tally.phrase.words}" was understood in {tally.right} of {len(tally.heard)} trials',
                _advice(better),
            )


def _confused(tally: Tally, origin: Origin, better: tuple[str, ...]) -> Finding:
    heard = ", ".join(f'"{text}" ({count})' for text, count in sorted(tally.confused.items(), key=lambda one: -one[1]))
    return finding_at(
        origin,
        Level.WARNING,
        "confusable",
        f'"{tally.phrase.words}" was heard as {heard} in {sum(tally.confused.values())} of {len(tally.heard)} trials',
        _advice(better)
        if tally.phrase.field is not None
        else "the command is the tool's own: change what it sounds like",
    )


def _advice(better: tuple[str, ...]) -> str:
    if better:
        return f"further apart in sound: {', '.join(better)}"
    return "use two words, or a longer one"
