"""Whether words can have the meaning that a recogniser, or a record, gives them."""

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from handsfree.model.commands import Control, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.understanding.listening_graph import match_said
from handsfree.understanding.typed_text import without_codes

_TYPED, _CONTROL, _SLOT = "typed", "control:", "slot:"


def may_mean(heard: Hypothesis, wanted: Wanted) -> bool:
    """Whether words have the tags beside them for a meaning.

    Args:
        heard: What was heard or typed.
        wanted: What was legal.
    """
    typed = heard.engine == _TYPED
    return any(heard.tags in _meanings(one, heard.words, typed=typed) for one in _narrowed(heard.tags, wanted))


def _narrowed(tags: tuple[str, ...], wanted: Wanted) -> Iterator[Wanted]:
    """What may have been legal, the smallest first, because large graphs take long to make."""
    named = frozenset(Control(tag.removeprefix(_CONTROL)) for tag in tags if tag.startswith(_CONTROL))
    if named:
        yield Wanted(named, yes_or_no=wanted.yes_or_no, own_words=wanted.own_words, done=wanted.done)
        # Whole sentences of heat and pain are listened for beside cries, and mean the stop words.
        yield Wanted(named | (wanted.controls & {Control.CRY}))
        return
    if wanted.narration is not None:
        yield Wanted(slots=wanted.slots, narration=wanted.narration)
    if wanted.earlier is not None:
        yield Wanted(earlier=wanted.earlier)
    slots = tuple(slot for slot in wanted.slots if f"{_SLOT}{slot.slot}" in tags)
    if slots:
        yield Wanted(slots=slots)
    if wanted.overriding:
        yield Wanted(overriding=wanted.overriding)
    values = Wanted(slots=wanted.slots, again=wanted.again, places=wanted.places)
    if wanted.correcting:
        yield replace(values, correcting=True)
    yield values
    yield without_codes(values)


@lru_cache(maxsize=4096)
def _meanings(wanted: Wanted, words: tuple[str, ...], *, typed: bool) -> tuple[tuple[str, ...] | None, ...]:
    """What words mean, as tags: the likeliest, and another where they are ambiguous; none where they are not legal."""
    found = match_said(wanted, words, written=typed)
    return (found.tags, found.other) if found is not None else ()
