"""The bundled grammars: against pocketsphinx's own JSGF compiler, and against num2words for cardinals."""

import random
import re
from decimal import Decimal
from pathlib import Path

import pytest

from handsfree.model.commands import Control, IdentifierSlot, NumberSlot, OptionPhrases, OptionSlot, Wanted
from handsfree.model.readings import Ambiguous, Exact, Side
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graphs import compile_graph, graph_sampler, match
from handsfree.understanding.jsgf import Reference
from handsfree.understanding.listening_graph import graph_for
from handsfree.understanding.numbers import read_number

FOLDER = Path(__file__).parents[2] / "grammars" / "en-US"
RULES = grammars_for().names()
WIDE = NumberSlot("r", (), "1", Decimal(-9999), Decimal(9999), decimals=2)


def only_public(text: str, rule: str) -> str:
    """The grammar's text with one public rule: pocketsphinx compiles the first public rule of a file."""
    return re.sub(r"(?m)^public (<\w+>)", lambda m: m[0] if m[1] == f"<{rule}>" else m[1], text)


@pytest.mark.parametrize("qualified", RULES)
def test_rule_accepts_what_pocketsphinx_accepts(qualified, tmp_path):
    # Source: pocketsphinx 5 (CMU): an independent JSGF compiler and acceptor, fed the same file.
    pocketsphinx = pytest.importorskip("pocketsphinx", reason="pocketsphinx is the independent JSGF compiler")
    grammar, _, rule = qualified.partition(".")
    path = tmp_path / f"{grammar}.gram"
    path.write_text(only_public((FOLDER / f"{grammar}.jsgf").read_text(encoding="utf-8"), rule), encoding="utf-8")
    fsg = pocketsphinx.FsgModel.jsgf_read_file(str(path), pocketsphinx.LogMath(), 1.0)
    graph = compile_graph(Reference(qualified), grammars_for())
    rng = random.Random(qualified)
    vocabulary = sorted(graph.words)
    for _ in range(60):
        inside, _ = graph_sampler(graph, rng)
        assert fsg.accept(" ".join(inside)), inside
        anything = tuple(rng.choice(vocabulary) for _ in range(rng.randint(1, 5)))
        assert bool(fsg.accept(" ".join(anything))) == (match(graph, anything) is not None), anything


def test_every_control_has_words_of_its_own():
    said: dict[str, str] = {}
    for control in Control:
        graph = compile_graph(Reference(f"controls.{control.value}"), grammars_for())
        rng = random.Random(0)
        for _ in range(40):
            words, tags = graph_sampler(graph, rng)
            assert tags == (f"control:{control.value}",)
            assert said.setdefault(" ".join(words), control.value) == control.value


def test_words_that_the_laboratory_warned_of_are_not_commands():
    # Source: our own recogniser trials: every false accept of 1608 out-of-grammar clips was a bare yes or no, wherever
    # they were listened for.
    graph = graph_for(Wanted(controls=frozenset(Control)))
    for phrase in ("yes", "no", "halt", "hold", "undo", "next", "confirm"):
        assert match(graph, phrase.split()) is None


def test_a_bare_yes_or_no_is_taken_where_it_is_asked_whether_something_is_so():
    answers = frozenset({Control.AFFIRM, Control.NEGATE})
    for words, tag in (("yes", "control:affirm"), ("no", "control:negate")):
        found = match(graph_for(Wanted(answers, yes_or_no=True)), words.split())
        assert found is not None
        assert found.tags == (tag,)
        assert match(graph_for(Wanted(answers)), words.split()) is None


@pytest.mark.parametrize("number", [*range(131), 199, 200, 201, 345, 999, 1000, 1013, 2040, 9999])
def test_cardinals_as_num2words_says_them(number):
    # Source: num2words 0.5 (independent library), English.
    num2words = pytest.importorskip("num2words", reason="num2words is the oracle for cardinals").num2words
    words = num2words(number).replace("-", " ").replace(",", "").split()
    found = match(graph_for(Wanted(slots=(WIDE,))), words)
    assert found is not None
    assert found.other is None
    value = read_number(found.tags[1:], WIDE)
    ends_like_a_pair = number % 100 in {13, 14, 15, 16, 17, 18, 19, 30, 40, 50, 60, 70, 80, 90}
    if ends_like_a_pair:
        assert isinstance(value, Ambiguous)
        assert value.candidates[0] == number
    else:
        assert value == Exact(Decimal(number))


def test_stop_words_are_always_listened_for():
    for wanted in (Wanted(), Wanted(dictation=True), Wanted(slots=(WIDE,))):
        for phrase in ("stop", "light off", "hot", "pain", "painful"):
            assert match(graph_for(wanted), phrase.split()) is not None


def test_what_is_not_asked_for_is_not_listened_for():
    graph = graph_for(Wanted(controls=frozenset({Control.NEXT_STEP})))
    assert match(graph, ["next", "step"]) is not None
    for phrase in ("previous step", "one five", "left", "alfa"):
        assert match(graph, phrase.split()) is None


def test_digit_by_digit_takes_nothing_that_sounds_like_something_else():
    slot = NumberSlot("r", (), "cm", Decimal(5), Decimal(60), decimals=1, digit_by_digit=True)
    graph = graph_for(Wanted(slots=(slot,)))
    assert match(graph, ["one", "seven", "point", "five"]) is not None
    for phrase in ("seventeen", "fifty", "one to five", "half", "less than two", "one seven five"):
        assert match(graph, phrase.split()) is None


def test_several_slots_need_their_labels():
    # "second" is a label here, and elsewhere a unit.
    slots = tuple(NumberSlot(name, (name,), "cm", Decimal(5), Decimal(60), decimals=1) for name in ("first", "second"))
    graph = graph_for(Wanted(slots=slots))
    both = match(graph, ["first", "one", "seven", "point", "five", "second", "one", "eight"])
    assert both is not None
    assert both.tags[0] == "slot:first"
    assert "slot:second" in both.tags
    assert match(graph, ["one", "seven"]) is None


def test_no_sentence_of_a_usual_step_has_two_meanings():
    number = NumberSlot("wrist", ("wrist",), "deg", Decimal(-90), Decimal(90), sides=(Side.LEFT, Side.RIGHT))
    option = OptionSlot("pulse", ("pulse",), (OptionPhrases("absent", ("absent",)), OptionPhrases("weak", ("weak",))))
    rng = random.Random(5)
    for slots in ((number,), (option, number), (IdentifierSlot("lot", ("lot",)),)):
        graph = graph_for(Wanted(controls=frozenset(Control), slots=slots))
        for _ in range(150):
            words, tags = graph_sampler(graph, rng, longest=12)
            found = match(graph, words)
            assert found is not None
            assert found.other is None, (words, found)
            assert found.tags == tags
