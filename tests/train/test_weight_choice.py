"""Which weights hear which grammar: the list is data, the kinds come from what may be said."""

import pytest

from handsfree.config import EngineName
from handsfree.errors import UsageError
from handsfree.model.commands import Control, DateSlot, IdentifierSlot, Wanted
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.choose import ENGINES, make_engine
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.look_ahead import LookAhead
from handsfree.recognition.routing import KINDS, WEIGHTS, RoutingEngine, choice, kind_of
from handsfree.understanding.listening_graph import graph_for

SEGMENT = Segment(b"", 0.0, 0.0, 0.0, 0.0, None)
COMMANDS = graph_for(Wanted(controls=frozenset(Control)))
CODES = graph_for(Wanted(slots=(IdentifierSlot("code", ()),)))
DATES = graph_for(Wanted(slots=(DateSlot("date", ()),)))
USE = {"stop": "base", "spelled": "both", "figures": "tuned", "words": "both"}


class Echo:
    """Says which engine was asked."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.prepared: list[str] = []

    def prepare(self, graph: WordGraph) -> None:
        self.prepared.append(graph.key)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        return Hypothesis((self.name,), (), 0.0, 0.0, self.name, free_text=f"free {self.name}")

    def write_down(self, pcm: bytes) -> str:
        return f"free {self.name}"


def stop_words() -> WordGraph:
    found = LookAhead(COMMANDS).stop_words()
    assert found is not None
    return found


def test_kinds_follow_from_what_may_be_said() -> None:
    assert [kind_of(graph) for graph in (stop_words(), CODES, DATES, COMMANDS)] == list(KINDS)


def test_each_graph_goes_to_the_weights_chosen_for_its_kind() -> None:
    engines = {name: Echo(name) for name in WEIGHTS}
    chosen = RoutingEngine(engines, USE)
    graphs = (stop_words(), CODES, DATES, COMMANDS)
    for graph in graphs:
        chosen.prepare(graph)
    assert [chosen.recognise(SEGMENT, graph).engine for graph in graphs] == ["base", "both", "tuned", "both"]
    assert [engines[name].prepared for name in WEIGHTS] == [
        [stop_words().key],
        [DATES.key],
        [CODES.key, COMMANDS.key],
    ]


def test_text_without_a_grammar_is_always_that_of_the_base() -> None:
    chosen = RoutingEngine({name: Echo(name) for name in WEIGHTS}, USE)
    assert (chosen.write_down(b""), chosen.name) == ("free base", "base")


def test_the_list_names_every_kind() -> None:
    assert tuple(choice()) == KINDS


def test_either_set_of_weights_can_be_forced_by_name() -> None:
    assert {"neural", "neural-base", "neural-tuned"} <= set(ENGINES)
    assert {name.value for name in EngineName} == set(ENGINES), "the configuration and --engine take the same names"
    with pytest.raises(UsageError, match="neural-tuned"):
        make_engine("neural-other")
