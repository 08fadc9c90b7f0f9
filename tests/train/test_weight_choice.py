"""Which weights hear which grammar: the list is data, the kinds come from what may be said."""

from collections.abc import Sequence

import pytest

from handsfree.config import EngineName
from handsfree.errors import UsageError
from handsfree.model.commands import Control, DateSlot, IdentifierSlot, Wanted
from handsfree.model.graph import WordGraph
from handsfree.recognition.candidates import Candidate, SearchOutcome
from handsfree.recognition.choose import ENGINES, make_engine
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.look_ahead import LookAhead
from handsfree.recognition.neural_decoder import EncodedUtterance
from handsfree.recognition.neural_engine import BOTH, NeuralEngine
from handsfree.recognition.rescoring import Judgement
from handsfree.recognition.routing import KINDS, choice, kind_of
from handsfree.understanding.listening_graph import graph_for

np = pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")

SEGMENT = Segment(b"", 0.0, 0.0, 0.0, 0.0, None)
WITH_CRIES = graph_for(Wanted(controls=frozenset(Control)))
COMMANDS = graph_for(Wanted(controls=frozenset(Control) - {Control.CRY}))
CODES = graph_for(Wanted(slots=(IdentifierSlot("code", ()),)))
DATES = graph_for(Wanted(slots=(DateSlot("date", ()),)))
USE = {"stop": "base", "cries": "both", "spelled": "both", "figures": "tuned", "words": "both"}


class Echo:
    """Weights that find nothing and say whether they searched or judged."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.prepared: list[str] = []

    def prepare(self, graph: WordGraph) -> None:
        self.prepared.append(graph.key)

    def encode(self, pcm: bytes) -> EncodedUtterance:
        return EncodedUtterance(np.zeros((1, 1, 1), np.float32), 0.0)

    def search(
        self, heard: EncodedUtterance, graph: WordGraph | None, speech_s: float, watched: WordGraph | None = None
    ) -> SearchOutcome:
        return SearchOutcome((), [], 0.0)

    def judge(self, heard: EncodedUtterance, candidates: Sequence[Candidate]) -> list[Judgement]:
        raise AssertionError("nothing was found")

    def write(self, heard: EncodedUtterance) -> str:
        return f"judged by {self.name}"

    def text(self, tokens: list[int]) -> str:
        return f"searched by {self.name}"


def stop_words() -> WordGraph:
    found = LookAhead(COMMANDS).stop_words()
    assert found is not None
    return found


def test_kinds_follow_from_what_may_be_said() -> None:
    assert [kind_of(graph) for graph in (stop_words(), WITH_CRIES, CODES, DATES, COMMANDS)] == list(KINDS)


def test_each_graph_goes_to_the_weights_chosen_for_its_kind() -> None:
    base, tuned = Echo("base"), Echo("tuned")
    engine = NeuralEngine(base, tuned, USE)
    graphs = (stop_words(), WITH_CRIES, CODES, DATES, COMMANDS)
    for graph in graphs:
        engine.prepare(graph)
    heard = [engine.recognise(SEGMENT, graph) for graph in graphs]
    assert [one.free_text for one in heard] == [
        "searched by base", "searched by base", "judged by base", "searched by tuned", "judged by base",
    ]  # fmt: skip
    # The second has cries: the base searches freely, for words of heat, and that is what it would write.
    assert [one.engine for one in heard] == ["base", BOTH, BOTH, "tuned", BOTH]
    assert base.prepared == [stop_words().key]
    assert tuned.prepared == [graph.key for graph in graphs[1:]]


def test_text_without_a_grammar_is_always_that_of_the_base() -> None:
    engine = NeuralEngine(Echo("base"), Echo("tuned"), USE)
    assert (engine.write_down(b""), engine.name) == ("judged by base", "base")


def test_one_set_of_weights_hears_everything() -> None:
    engine = NeuralEngine(Echo("alone"))
    assert {engine.recognise(SEGMENT, graph).engine for graph in (stop_words(), CODES, DATES)} == {"alone"}


def test_the_list_names_every_kind() -> None:
    assert tuple(choice()) == KINDS


def test_either_set_of_weights_can_be_forced_by_name() -> None:
    assert {"neural", "neural-base", "neural-tuned"} <= set(ENGINES)
    assert {name.value for name in EngineName} == set(ENGINES), "the configuration and --engine take the same names"
    with pytest.raises(UsageError, match="neural-tuned"):
        make_engine("neural-other")
