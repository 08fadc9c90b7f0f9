from handsfree.model.graph import Arc, WordGraph


def graph(word: str) -> WordGraph:
    return WordGraph(start=0, finals=frozenset({1}), arcs=(Arc(0, 1, word, ("t",)),), state_count=2)


def test_equal_graphs_have_equal_keys_and_other_words_another():
    assert graph("stop").key == graph("stop").key
    assert graph("stop").key != graph("wait").key


def test_words_leave_out_silent_arcs():
    silent = WordGraph(0, frozenset({1}), (Arc(0, 1), Arc(0, 1, "stop")), 2)
    assert silent.words == {"stop"}
