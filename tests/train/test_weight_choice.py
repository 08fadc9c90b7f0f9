"""Which weights hear which grammar: the list is data, the kinds come from what may be said."""

import pytest

from handsfree.errors import UsageError
from handsfree.model.commands import Control, DateSlot, IdentifierSlot, Wanted
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.choose import ENGINES, make_engine
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.pair import KINDS, WeightPair, choice, kind_of
from handsfree.understanding.listening import graph_for

SEGMENT = Segment(b"", 0.0, 0.0, 0.0, 0.0, None)
COMMANDS = graph_for(Wanted(controls=frozenset(Control)))
CODES = graph_for(Wanted(slots=(IdentifierSlot("code", ()),)))
DATES = graph_for(Wanted(slots=(DateSlot("date", ()),)))


class Echo:
    """Says which engine was asked."""

    def __init__(self, name: str, tags: tuple[str, ...] = ()) -> None:
        self.name = name
        self.tags = tags
        self.prepared: list[str] = []

    def prepare(self, graph: WordGraph) -> None:
        self.prepared.append(graph.key)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        return Hypothesis((self.name,), self.tags, 0.0, 0.0, self.name, free_text=f"free {self.name}")

    def write_down(self, pcm: bytes) -> str:
        return f"free {self.name}"


def test_kinds_follow_from_what_may_be_said() -> None:
    assert [kind_of(graph) for graph in (CODES, DATES, COMMANDS)] == ["spelled", "figures", "words"]


def test_each_graph_goes_to_the_weights_chosen_for_its_kind() -> None:
    base, tuned = Echo("base"), Echo("tuned", ("letter:A",))
    pair = WeightPair(base, tuned, {"spelled": "tuned", "figures": "base", "words": "tuned"})
    pair.prepare(CODES)
    pair.prepare(DATES)
    # Both are ready for codes: the base may have to hear again.
    assert (tuned.prepared, set(base.prepared)) == ([CODES.key], {CODES.key, DATES.key})
    assert [pair.recognise(SEGMENT, graph).engine for graph in (CODES, DATES)] == ["tuned", "base"]


def test_text_without_a_grammar_is_never_that_of_the_tuned_weights() -> None:
    pair = WeightPair(
        Echo("base"), Echo("tuned", ("letter:A",)), {"spelled": "tuned", "figures": "base", "words": "base"}
    )
    assert pair.recognise(SEGMENT, CODES).free_text is None
    assert pair.recognise(SEGMENT, DATES).free_text == "free base"
    assert pair.write_down(b"") == "free base"


def test_where_codes_are_spelled_the_base_hears_commands_and_figures_again() -> None:
    use = {"spelled": "tuned", "figures": "base", "words": "tuned"}
    stop, letter = ("control:stop",), ("digit:4", "letter:B")
    assert WeightPair(Echo("base"), Echo("tuned", stop), use).recognise(SEGMENT, CODES).engine == "base"
    assert WeightPair(Echo("base"), Echo("tuned", letter), use).recognise(SEGMENT, CODES).engine == "tuned"
    assert WeightPair(Echo("base"), Echo("tuned", stop), use).recognise(SEGMENT, COMMANDS).engine == "tuned"


def test_the_list_names_every_kind() -> None:
    assert tuple(choice()) == KINDS


def test_either_set_of_weights_can_be_forced_by_name() -> None:
    assert {"neural", "neural-base", "neural-tuned"} <= set(ENGINES)
    with pytest.raises(UsageError, match="neural-tuned"):
        make_engine("neural-other")
