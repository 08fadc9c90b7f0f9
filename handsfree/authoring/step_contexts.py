"""What may be said in each step, as the session itself would listen for it."""

import random
from collections.abc import Iterator
from dataclasses import dataclass

from handsfree.definition.loader import irradiance_of, zones_of
from handsfree.definition.plan import Plan, Stage
from handsfree.definition.profile_form import DeviceProfile, LightFile
from handsfree.exposure.ledger import Ledger
from handsfree.model.commands import OptionSlot, Slot, Wanted
from handsfree.model.graph import Arc, WordGraph
from handsfree.model.readings import Side
from handsfree.session.listening_context import wanted
from handsfree.session.modes import ModeStack
from handsfree.session.prompts.wording import Wording
from handsfree.session.state import SessionState
from handsfree.session.visit import Visit
from handsfree.understanding.graphs import graph_sampler, match
from handsfree.understanding.listening_graph import graph_for

MOST_PAIRS = 60_000
"""Pairs of states that are looked at for a sentence with two meanings."""
_LONGEST_DELAY = 4
_SOME_DAY = "2026-01-05"
"""Days counted from today are listened for; which day it is plays no part in how they sound."""


@dataclass(frozen=True, slots=True)
class Hearing:
    """A step and what may be said in it.

    Attributes:
        stage: The stage; of a step that is done for each side, the injured one.
        wanted: What the session is ready to hear.
        graph: The same for a recogniser.
    """

    stage: Stage
    wanted: Wanted
    graph: WordGraph

    @property
    def slots(self) -> tuple[Slot, ...]:
        """What the step itself asks for, without the other steps of its group."""
        return tuple(slot for slot in self.wanted.slots if "." not in slot.slot)


Ahead = tuple[tuple[str, ...], tuple[str, ...]] | None
_LEVEL: Ahead = ((), ())
"""Both walkers have said the same."""
_Pair = tuple[int, int, Ahead]
_Ways = dict[_Pair, tuple[_Pair, str] | None]


@dataclass(frozen=True, slots=True)
class TwoMeanings:
    """A sentence that means two things.

    Attributes:
        words: The sentence.
        meanings: The tags of both.
    """

    words: tuple[str, ...]
    meanings: tuple[tuple[str, ...], tuple[str, ...]]


def hearings(plan: Plan, device: DeviceProfile | None, light: LightFile | None) -> Iterator[Hearing]:
    """Every step with what may be said while it asks, in order.

    Raises:
        GrammarError: There are no grammars for the language of the procedure.
    """
    ledger = None
    if device is not None and light is not None:
        ledger = Ledger(zones_of(device), irradiance_of(light))
    seen: set[str] = set()
    wording = Wording()
    for stage in plan.stages:
        if stage.step.id in seen:
            continue
        seen.add(stage.step.id)
        state = SessionState(stage.id, ModeStack(), ledger, side=Side.RIGHT, today=_SOME_DAY)
        ready = wanted(Visit(plan, device, light), state, wording)
        yield Hearing(stage, ready, graph_for(ready, plan.procedure.language))


def find_two_meanings(graph: WordGraph) -> TwoMeanings | None:
    """A sentence with two meanings, or None if there is none.

    Two walkers go through the graph with the same words; how far the meaning of one is ahead of the other is kept. A
    graph too large for that is sampled at random.
    """
    table: dict[int, dict[str, list[Arc]]] = {}
    for arc in graph.arcs:
        table.setdefault(arc.source, {}).setdefault(arc.word or "", []).append(arc)
    # One walker's tags that the other has not said yet; None once they have said different things.
    start: _Pair = (graph.start, graph.start, _LEVEL)
    came: _Ways = {start: None}
    queue = [start]
    for here in queue:
        one, two, ahead = here
        if one in graph.finals and two in graph.finals and ahead != _LEVEL:
            found = _sentence(graph, came, here)
            if found is not None:
                return found
        onward = table.get(two, {})
        for word, arcs in table.get(one, {}).items():
            others = onward.get(word, ())
            for number, first in enumerate(arcs):
                # Two walkers side by side, with nothing between them, may change places.
                for second in others[number:] if one == two and ahead == _LEVEL else others:
                    then = _pair(first.target, second.target, _ahead(ahead, first.tags, second.tags))
                    if then not in came:
                        came[then] = (here, word)
                        queue.append(then)
        if len(queue) > MOST_PAIRS:
            return _sampled(graph)
    return None


def _pair(one: int, two: int, ahead: Ahead) -> _Pair:
    """Two walkers in one order: which of them is which plays no part."""
    if one < two or (one == two and (ahead is None or ahead[0] <= ahead[1])):
        return one, two, ahead
    return two, one, ahead and (ahead[1], ahead[0])


def _ahead(ahead: Ahead, first: tuple[str, ...], second: tuple[str, ...]) -> Ahead:
    if ahead is None or (first == second and (ahead == _LEVEL or not first)):
        return ahead
    one, two = (*ahead[0], *first), (*ahead[1], *second)
    shared = 0
    for left, right in zip(one, two, strict=False):
        if left != right:
            return None
        shared += 1
    one, two = one[shared:], two[shared:]
    return None if max(len(one), len(two)) > _LONGEST_DELAY else (one, two)


def _sentence(graph: WordGraph, came: _Ways, end: _Pair) -> TwoMeanings | None:
    words: list[str] = []
    at = end
    while (step := came[at]) is not None:
        at, word = step
        words.append(word)
    return _meant(graph, tuple(reversed(words)))


def _meant(graph: WordGraph, words: tuple[str, ...]) -> TwoMeanings | None:
    found = match(graph, words)
    if found is None or found.other is None:
        return None
    return TwoMeanings(words, (found.tags, found.other))


def _sampled(graph: WordGraph) -> TwoMeanings | None:
    rng = random.Random(0)  # noqa: S311 - nothing secret
    for _ in range(2000):
        words, _ = graph_sampler(graph, rng)
        found = _meant(graph, words)
        if found is not None:
            return found
    return None


def vocabulary(slot: Slot) -> dict[str, tuple[str, str | None]]:
    """Words that a procedure itself brings in, with the phrase that each is from and the option that it means."""
    words: dict[str, tuple[str, str | None]] = {}
    phrases: list[tuple[str, str | None]] = [(label, None) for label in slot.labels]
    if isinstance(slot, OptionSlot):
        phrases += [(phrase, option.value) for option in slot.options for phrase in option.phrases]
    for phrase, option_value in phrases:
        for word in phrase.split():
            words.setdefault(word, (phrase, option_value))
    return words
