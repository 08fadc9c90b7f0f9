"""An attention phrase for busy rooms: what does not begin with it is not for the tool, except stop words."""

from handsfree.model.commands import Control, Wanted
from handsfree.model.graph import Arc, WordGraph
from handsfree.understanding.listening_graph import graph_for


def after_phrase(phrase: tuple[str, ...], wanted: Wanted, locale: str) -> WordGraph:
    """Everything wanted with the phrase before it, and the stop words, while lit the cries too, with or without.

    Args:
        phrase: Lower-case words, at least one.
        wanted: What may be said now.
        locale: Language of the grammars.

    Raises:
        GrammarError: As `graph_for`.
    """
    full, stops = graph_for(wanted, locale), graph_for(Wanted(wanted.controls & {Control.CRY}), locale)
    start = full.state_count + stops.state_count
    moved = [_moved(arc, full.state_count) for arc in stops.arcs]
    # No silent arc to the stop words: graphs have none, and a matcher that knows none would be deaf to them.
    begin = stops.start + full.state_count
    arcs = [*full.arcs, *moved, *(arc._replace(source=start) for arc in moved if arc.source == begin)]
    here = start
    for number, word in enumerate(phrase):
        last = number == len(phrase) - 1
        there = full.start if last else start + 1 + number
        arcs.append(Arc(here, there, word))
        here = there
    finals = full.finals | {state + full.state_count for state in stops.finals}
    return WordGraph(start, frozenset(finals), tuple(arcs), start + len(phrase))


def _moved(arc: Arc, by: int) -> Arc:
    return arc._replace(source=arc.source + by, target=arc.target + by)
