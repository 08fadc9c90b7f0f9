"""Grammars with faults that nobody thought of: compiled, or refused with one line that names the place.

Form: JSpeech Grammar Format, W3C Note of 5 June 2000. `HANDSFREE_THOROUGH=1` tries ten times as many.
"""

import random
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.append(str(Path(__file__).resolve().parents[1]))

from mutators import EDIT, edited, read_or_refused, tried

from handsfree.errors import GrammarError
from handsfree.understanding.graphs import compile_graph, graph_sampler, match
from handsfree.understanding.jsgf import Grammars, Reference, load, parse

NUMBERS = """\
#JSGF V1.0;
grammar small;
public <digit> = one {1} | two {2} | "three four" {34} | <NULL> five;
"""
ORDERS = """\
#JSGF V1.0 UTF-8 en;
grammar orders;
import <small.digit>;
import <small.*>;
/* what is asked for, and how often */
public <order> = [please] bring <count>+ (cups | glasses {glass}) [of (/3/ tea | /2/ milk | /1/ water)] // then
    | stop+ {halt} | <polite> no more;
<count> = <digit> {n} | a dozen {12};
<polite> = thank you;
"""
SIGNS = st.sampled_from(
    (
        *("=", ";", "|", "*", "+", "(", ")", "[", "]", "{", "}", "<", ">", "/", '"', "\\", "//", "/*", "*/"),
        *(
            "<NULL>",
            "<VOID>",
            "<order>",
            "<digit>",
            "<count>*",
            "public ",
            "import <x.*>;",
            "#JSGF V1.0;",
            "grammar a;",
        ),
        *("/0/", "/9e9/", "/.5/", "{a}{b}", "{\\}}", "(<NULL>)*", "[a {x}]*", "((((", "[[[[a]]]]", "(" * 300),
        *(
            "(" * 90 + "a" + ")" * 90,
            "a " * 2000,
            "\x00",
            "\ufeff",
            "\u2028",
            "É",
            "\U0001f600",
            "<" + "x" * 3000 + ">",
        ),
    )
)
SIGNED = st.lists(
    st.tuples(st.sampled_from(("put", "cut", "twice")), st.floats(0, 1), st.floats(0, 1), SIGNS), max_size=4
)


def compiled(*texts):
    """Every public rule as a graph of words, and something that may be said with each is understood."""
    grammars = Grammars(tuple(parse(text, f"{number}.jsgf") for number, text in enumerate(texts)))
    for name in grammars.names():
        graph = compile_graph(Reference(name), grammars)
        words, _ = graph_sampler(graph, random.Random(1))
        assert match(graph, words) is not None, words
    return grammars


def test_the_grammars_are_good_as_they_are():
    assert compiled(NUMBERS, ORDERS).names() == ("small.digit", "orders.order")


@tried(500)
@given(signs=SIGNED, edits=st.lists(EDIT, max_size=2), first=st.booleans())
def test_a_changed_grammar_is_compiled_or_refused(signs, edits, first):
    texts = [NUMBERS, ORDERS]
    texts[first] = edited(texts[first], [*signs, *edits])
    read_or_refused(compiled, *texts)


@tried(500)
@given(content=st.binary(max_size=60), at=st.floats(0, 1))
def test_other_bytes_in_the_file_of_a_grammar_are_refused(tmp_path, content, at):
    own = ORDERS.replace("import <small.digit>;\nimport <small.*>;\n", "<digit> = one;\n").encode()
    place = int(at * len(own))
    (tmp_path / "own.jsgf").write_bytes(own[:place] + content + own[place:])
    read_or_refused(load, tmp_path)


CHAIN = "".join(f"<r{number}> = <r{number + 1}>;\n" for number in range(3000))


@pytest.mark.parametrize(
    "deep",
    [
        "public <a> = " + "(" * 5000 + "a" + ")" * 5000 + ";",
        "public <a> = " + "[" * 5000 + "a" + "]" * 5000 + ";",
        f"{CHAIN}<r3000> = a; public <a> = <r0>;",
    ],
)
def test_a_grammar_of_many_parts_in_each_other_is_refused_in_one_line(deep):
    with pytest.raises(GrammarError, match="too many of its parts lie in each other") as told:
        compiled(f"#JSGF V1.0; grammar deep; {deep}")
    assert len(str(told.value).splitlines()) == 1


def test_rules_that_are_each_named_twice_are_looked_at_once():
    rules = "".join(f"<r{number}> = <r{number + 1}> | <r{number + 1}>;\n" for number in range(60))
    grammars = Grammars((parse(f"#JSGF V1.0; grammar wide;\n{rules}<r60> = a; public <top> = word;\n"),))
    assert grammars.names() == ("wide.top",)
