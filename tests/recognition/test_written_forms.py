"""What a writing recogniser may put for what was said.

Source of the spoken numbers: the independent library num2words (its words for 0 to 999). Source of the other forms:
the usual way to write them in English, from memory.
"""

from decimal import Decimal

import pytest
from num2words import num2words
from recognition_helpers import LETTER_PIECES, SPARE, phrases, read

from handsfree.model.commands import GiveValues, IdentifierSlot, NumberSlot, SlotValue, Wanted
from handsfree.model.graph import Arc, WordGraph
from handsfree.model.readings import Ambiguous, Exact, SpelledText
from handsfree.recognition.automaton import Automaton
from handsfree.recognition.lexicon import spellings
from handsfree.recognition.tokens import Vocabulary
from handsfree.understanding.interpreter import interpret
from handsfree.understanding.listening_graph import graph_for

NUMBERS = Wanted(slots=(NumberSlot("length", (), "cm", Decimal(0), Decimal(999), 1, allow_fractions=True),))
NUMBER_AUTOMATON = Automaton(graph_for(NUMBERS), LETTER_PIECES.tree)


def value_of(text: str) -> object:
    hypothesis = read(NUMBER_AUTOMATON, text)
    assert hypothesis is not None, text
    command = interpret(hypothesis, NUMBERS)
    assert command is not None, text
    return command.values[0].value  # type: ignore[union-attr]


def is_among(value: object, number: Decimal) -> bool:
    """The value is this number, or a question of which it is one answer."""
    return (isinstance(value, Exact) and value.value == number) or (
        isinstance(value, Ambiguous) and number in value.candidates
    )


@pytest.mark.parametrize("number", range(0, 1000, 7))
def test_numbers_in_words_and_in_digits_are_the_same_number(number: int) -> None:
    words = num2words(number)
    for text in (words, words.replace("-", " "), f" {words}.", str(number), f"{number} cm", f"{number} centimeters!"):
        assert is_among(value_of(text), Decimal(number)), text


@pytest.mark.parametrize("tenths", range(1, 1000, 37))
def test_decimals_in_digits(tenths: int) -> None:
    text = f"{tenths // 10}.{tenths % 10}"
    assert is_among(value_of(text), Decimal(text))
    assert is_among(value_of(f"{text}cm"), Decimal(text))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("17.5", "seventeen point five"),
        ("1 7 point 5", "one seven point five"),
        ("1, 7, point 5.", "one seven point five"),
        ("1-7", "one seven"),
        ("215", "two one five"),
        ("one 75", "one seventy five"),
        ("17.5 cm", "seventeen point five centimeter"),
        ("less than 20", "less than twenty"),
        ("20 to 25", "twenty to twenty five"),
    ],
)
def test_mixed_forms(text: str, words: str) -> None:
    hypothesis = read(NUMBER_AUTOMATON, text)
    assert hypothesis is not None
    assert hypothesis.text == words


@pytest.mark.parametrize("text", ["", "1.5.5", "cm", "17 5 cm cm", "seventeenpoint", "the 17", "2 hundred hundred"])
def test_what_nobody_may_say_is_not_read(text: str) -> None:
    assert read(NUMBER_AUTOMATON, text) is None


def test_a_full_stop_after_a_number_is_no_decimal_point() -> None:
    assert value_of("17.") == value_of("17") == value_of("seventeen")


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("x-ray", ("x-ray", "x ray", "xray", "X-Ray.")),
        ("that's wrong", ("that's wrong", "thats wrong", "That's wrong!")),
        ("colour changed", ("colour changed", "color changed", "Color, changed.")),
        ("alfa juliett", ("Alpha Juliet.", "alfa-juliette")),
        ("forty degrees celsius", ("40°C", "40 degrees Celsius.", "forty degrees C")),
        ("ten percent", ("10%", "10 percent", "ten %")),
        ("minus five", ("-5", "−5", "minus 5", "Minus five.")),
        ("point five", ("0.5", ".5", "point 5")),
        ("two thousand", ("2000", "2,000", "2 thousand")),
    ],
)
def test_other_ways_to_write(said: str, written: tuple[str, ...]) -> None:
    automaton = Automaton(phrases((said, "control:x")), LETTER_PIECES.tree)
    for text in written:
        hypothesis = read(automaton, text.lower())
        assert hypothesis is not None, text
        assert hypothesis.text == said
        assert hypothesis.tags == ("control:x",)


def test_figures_in_a_spelled_code_are_single_digits() -> None:
    wanted = Wanted(slots=(IdentifierSlot("lot", ("lot",)),))
    automaton = Automaton(graph_for(wanted), LETTER_PIECES.tree)
    hypothesis = read(automaton, "lot mike 9 zulu 80")
    assert hypothesis is not None
    command = interpret(hypothesis, wanted)
    assert command == GiveValues((SlotValue("lot", SpelledText("M9Z80")),))


def test_arcs_without_words_carry_their_meaning() -> None:
    graph = WordGraph(
        0,
        frozenset({4}),
        (
            Arc(0, 1, None, ("slot:a",)),
            Arc(0, 1, None, ("slot:b",)),
            Arc(1, 2, "left", ("side:left",)),
            Arc(2, 3, None, ("silent",)),
            Arc(3, 1, None),
            Arc(3, 4, None, ("end",)),
        ),
        5,
    )
    hypothesis = read(Automaton(graph, LETTER_PIECES.tree), "left, left.")
    assert hypothesis is not None
    assert hypothesis.tags in {
        (slot, "side:left", "silent", "side:left", "silent", "end") for slot in ("slot:a", "slot:b")
    }


def test_long_pieces_are_read_like_letters() -> None:
    vocabulary = Vocabulary(
        [*SPARE, "\u2581Light".encode(), b"\xe2\x96\x81o", b"ff", b"n", b".", b"On", "\u2581offer".encode()]
    )
    automaton = Automaton(phrases(("light on", "on"), ("light off", "off")), vocabulary.tree)
    first = automaton.steps(automaton.start)
    assert set(first) == {259}
    after_light = {token for step in first[259] for token in automaton.steps(step.place)}
    assert after_light == {260, 263}, "a blank or a full stop may follow, not 'On' without a blank, nor 'offer'"


def test_every_word_has_its_own_spelling_first() -> None:
    for word in ("stop", "x-ray", "that's", "colour"):
        assert spellings(word)[0] == word
