"""JSGF: our compiler against the one inside the pocketsphinx library, and faults with file and line."""

import random
from pathlib import Path

import pytest

from handsfree.errors import GrammarError
from handsfree.understanding.graphs import compile_graph, graph_sampler, match
from handsfree.understanding.jsgf import Choice, Grammars, Reference, parse

# Forms of the JSpeech Grammar Format, W3C Note of 5 June 2000: sections 4.3 (alternatives, weights), 4.4 (grouping),
# 4.5 (unary operators), 4.6 (tags), 4.3.3 (<NULL>, <VOID>).
GRAMMARS = [
    "#JSGF V1.0; grammar t; public <r> = one | two three | four;",
    "#JSGF V1.0; grammar t; public <r> = [please] (open | close) the (door | window)+;",
    "#JSGF V1.0; grammar t; public <r> = <a>* end; <a> = one [<b>]; <b> = two | three;",
    "#JSGF V1.0; grammar t; public <r> = /10/ small {S} | /2.5/ medium {M} | /1/ large {L} size;",
    "#JSGF V1.0; grammar t; public <r> = go (<NULL> | on) now; /* comment */ // another\n",
    "#JSGF V1.0 UTF-8 en; grammar t; public <r> = ((one | two) [point] three+)+;",
]


def accepted_by_pocketsphinx(text: str, tmp_path: Path):
    """A predicate over sentences, made by an independent JSGF compiler."""
    pocketsphinx = pytest.importorskip("pocketsphinx", reason="pocketsphinx is the independent JSGF compiler")
    logmath = pocketsphinx.LogMath()
    path = tmp_path / "grammar.gram"
    path.write_text(text, encoding="utf-8")
    fsg = pocketsphinx.FsgModel.jsgf_read_file(str(path), logmath, 1.0)
    return lambda words: bool(fsg.accept(" ".join(words)))


@pytest.mark.parametrize("text", GRAMMARS)
def test_accepts_what_the_pocketsphinx_compiler_accepts(text, tmp_path):
    # Source: pocketsphinx 5 (CMU), its own JSGF compiler and its own acceptor.
    accepted = accepted_by_pocketsphinx(text, tmp_path)
    graph = compile_graph(Reference("t.r"), Grammars((parse(text),)))
    rng = random.Random(1)
    vocabulary = sorted(graph.words)
    outcomes = set()
    for _ in range(150):
        inside, _ = graph_sampler(graph, rng)
        assert accepted(inside), inside
        anything = tuple(rng.choice(vocabulary) for _ in range(rng.randint(1, 4)))
        assert (match(graph, anything) is not None) == accepted(anything), anything
        outcomes.add(accepted(anything))
    assert False in outcomes


def test_weights_are_normalised_as_the_note_says():
    # Source: W3C JSGF note 4.3.1: a weight is relative to the sum of the alternatives' weights.
    graph = compile_graph(Reference("t.r"), Grammars((parse(GRAMMARS[3]),)))
    likeliest = match(graph, ["small"])
    assert likeliest is not None
    assert likeliest.weight == pytest.approx(-0.3001045924503381)  # ln(10 / 13.5)
    assert likeliest.tags == ("S",)


def test_two_meanings_of_one_sentence_are_both_reported():
    text = "#JSGF V1.0; grammar t; public <r> = /3/ one {A} | /1/ one {B};"
    found = match(compile_graph(Reference("t.r"), Grammars((parse(text),))), ["one"])
    assert found is not None
    assert (found.tags, found.other) == (("A",), ("B",))


def test_imports_reach_public_rules_only():
    numbers = parse("#JSGF V1.0; grammar numbers; public <digit> = one | <two>; <two> = two;", "n.jsgf")
    user = parse("#JSGF V1.0; grammar user; import <numbers.*>;\npublic <r> = <digit> <numbers.digit>;", "u.jsgf")
    graph = compile_graph(Reference("user.r"), Grammars((numbers, user)))
    assert match(graph, ["two", "one"]) is not None
    sly = parse("#JSGF V1.0; grammar sly;\nimport <numbers.two>;\npublic <r> = <two>;", "s.jsgf")
    with pytest.raises(GrammarError, match=r"s\.jsgf:3: <two> is private"):
        Grammars((numbers, sly))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("grammar t; public <r> = a;", r"x\.jsgf:1: not JSGF"),
        ("#JSGF V1.0; grammar t;\npublic <r> = (a | b;", r"x\.jsgf:2: not JSGF"),
        ("#JSGF V1.0; grammar t;\n\npublic <r> = a <nowhere>;", r"x\.jsgf:3: <nowhere> is not defined"),
        ("#JSGF V1.0; grammar t;\npublic <r> = a <r>;", r"x\.jsgf:2: <r> refers to itself"),
        ("#JSGF V1.0; grammar t;\npublic <r> = /1/ a | b;", r"some alternatives carry a weight"),
        ("#JSGF V1.0; grammar t;\n<r> = a;\n<r> = b;", r"x\.jsgf:3: <r> is already defined in line 2"),
        ("#JSGF V1.0; grammar t;\nimport <gone.*>;\n<r> = a;", r"x\.jsgf:2: nothing to import"),
    ],
)
def test_faults_name_file_and_line(text, message):
    with pytest.raises(GrammarError, match=message):
        Grammars((parse(text, "x.jsgf"),))


@pytest.mark.parametrize("body", ["[a]", "<VOID>", "(<NULL> {T})+ a"])
def test_grammars_that_say_nothing_are_refused(body):
    grammars = Grammars((parse(f"#JSGF V1.0; grammar t; public <r> = {body};"),))
    with pytest.raises(GrammarError):
        compile_graph(Reference("t.r"), grammars)


def test_a_choice_of_none_is_void():
    with pytest.raises(GrammarError, match="nothing can be said"):
        compile_graph(Choice(()), Grammars(()))
