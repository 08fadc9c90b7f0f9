"""People's own words: what they mean, where they are taken, and where they are not. Common practice, no source.

Dates by calendar arithmetic: 29 November 2026 is a Sunday (ISO 8601 weekday of the proleptic Gregorian calendar, as
`datetime` has it).
"""

import random
from datetime import date
from decimal import Decimal

import pytest
from sentences_tried import tried

from handsfree.authoring.step_contexts import find_two_meanings, hearings
from handsfree.definition.loader import load_bundle
from handsfree.model.commands import (
    STOP_CONTROLS,
    Control,
    ControlCommand,
    DateSlot,
    NumberSlot,
    OptionPhrases,
    OptionSlot,
    OwnWords,
    Wanted,
)
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Ambiguous, Exact, NeedsAsking, SpokenDate, value_text
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graphs import match
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.listening_graph import graph_for, match_said, whole_graph

PROCEDURES = (
    *("ulnar-splint-fitting", "thumb-splint-fitting", "wrist-splint-fitting", "splint-removal"),
    *("neurovascular-check", "thermometer-calibration", "light-output-check"),
)
TODAY = date(2026, 11, 29)
SKIN = tuple(
    OptionSlot(name, (name,), tuple(OptionPhrases(word, (word,)) for word in ("intact", "bruised")))
    for name in ("hand", "wrist", "forearm")
)
WOUNDS = tuple(
    OptionSlot(name, (label,), tuple(OptionPhrases(word, (word,)) for word in ("absent", "present")))
    for name, label in (("fracture", "open fracture"), ("wound", "wound"))
)
MIXED = (
    OptionSlot("order", ("order",), (OptionPhrases("present", ("present",)), OptionPhrases("missing", ("missing",)))),
    OptionSlot("image", ("image",), (OptionPhrases("reviewed", ("reviewed",)), OptionPhrases("missing", ("missing",)))),
)


def heard(words, wanted):
    """The command that spoken words mean, as text; None where they are not listened for."""
    found = match(graph_for(wanted), tuple(words.split()))
    if found is None:
        return None
    assert found.other is None, words
    command = interpret(Hypothesis(tuple(words.split()), found.tags, 0.0, 0.0, "test"), wanted)
    if isinstance(command, ControlCommand):
        return command.control.value
    return " ".join(f"{given.slot}={value_text(given.value)}" for given in command.values)


@pytest.mark.parametrize("words", ["all intact", "all three intact", "everything is intact", "intact everywhere"])
def test_one_answer_for_every_field_is_the_answer_of_each(words):
    assert heard(words, Wanted(slots=SKIN)) == "hand=intact wrist=intact forearm=intact"


def test_an_answer_that_not_every_field_has_is_not_taken_for_all():
    odd = (*SKIN[:2], OptionSlot("forearm", ("forearm",), (OptionPhrases("pale", ("pale",)),)))
    assert heard("all intact", Wanted(slots=odd)) is None
    number = NumberSlot("refill", ("refill",), "s", Decimal(0), Decimal(10))
    assert heard("all intact", Wanted(slots=(*SKIN, number))) is None


def test_what_other_steps_of_a_group_ask_for_is_never_among_all():
    other = OptionSlot("other.hand", ("other hand",), SKIN[0].options)
    assert heard("all intact", Wanted(slots=(*SKIN, other))) == "hand=intact wrist=intact forearm=intact"


def test_the_rest_is_what_has_no_answer_yet():
    # Heard as "wrist intact" before it was listened for.
    half = Wanted(slots=SKIN[1:], again=SKIN[:1])
    assert heard("the rest intact", half) == "wrist=intact forearm=intact"
    assert heard("the rest is bruised", half) == "wrist=bruised forearm=bruised"
    assert heard("the rest intact", Wanted(slots=SKIN)) is None  # nothing was answered that it could be the rest of


def test_the_rest_is_what_was_not_named_in_the_same_breath():
    assert heard("wrist bruised the rest intact", Wanted(slots=SKIN)) == "wrist=bruised hand=intact forearm=intact"
    assert heard("wrist bruised and the others are intact", Wanted(slots=SKIN[1:], again=SKIN[:1])) == (
        "wrist=bruised forearm=intact"
    )


@pytest.mark.parametrize(
    "words", ["hand intact the rest pale", "hand intact wrist intact forearm intact the rest bruised"]
)
def test_the_rest_is_not_understood_where_one_of_it_cannot_be_so_or_nothing_is_left(words):
    odd = (*SKIN, OptionSlot("nail", ("nail",), (OptionPhrases("pale", ("pale",)),)))
    slots = odd if "pale" in words else SKIN
    assert typed(words, Wanted(slots=slots), 0.0) is not None  # the words are listened for
    found = match(graph_for(Wanted(slots=slots)), tuple(words.split()))
    assert interpret(Hypothesis(tuple(words.split()), found.tags, 0.0, 0.0, "test"), Wanted(slots=slots)) is None


def test_no_such_thing_nor_another():
    wanted = Wanted(slots=WOUNDS)
    assert heard("no open fracture or wounds", wanted) == "fracture=absent wound=absent"
    assert heard("there's no wound", wanted) == "wound=absent"
    # Without "or" the second is the beginning of an answer of its own, and is none alone.
    assert heard("no open fracture wound present", wanted) == "fracture=absent wound=present"
    assert heard("no open fracture wound", wanted) is None


def test_an_answer_in_front_of_its_label_is_taken_alone_and_where_no_other_field_has_it():
    wanted = Wanted(slots=MIXED)
    assert heard("reviewed image", wanted) == "image=reviewed"
    assert heard("reviewed image order present", wanted) is None
    assert heard("missing image", wanted) is None


def test_a_score_before_what_it_is_of_may_be_followed_by_other_answers():
    score = NumberSlot("rest", ("rest", "rest score"), "{score}", Decimal(0), Decimal(10))
    overall = OptionSlot("overall", ("overall",), (OptionPhrases("expected", ("as expected",)),))
    wanted = Wanted(slots=(score, overall))
    for words in ("three at rest as expected", "three at rest and overall as expected", "rest three as expected"):
        assert heard(words, wanted) == "rest=3 overall=expected"


def test_what_was_done_is_said_in_the_words_of_its_step_as_well():
    wanted = Wanted(frozenset({Control.AFFIRM}), yes_or_no=True, done=("padding complete",))
    assert heard("yes padding complete", wanted) == "affirm"
    assert heard("padding complete", Wanted(frozenset({Control.AFFIRM}), yes_or_no=True)) is None


def test_labels_before_an_answer_that_they_share():
    assert heard("hand and forearm intact wrist bruised", Wanted(slots=SKIN)) == (
        "hand=intact forearm=intact wrist=bruised"
    )


def test_none_and_no_mean_absent_where_a_field_has_that():
    wanted = Wanted(slots=WOUNDS)
    assert heard("none of them", wanted) == "fracture=absent wound=absent"
    assert heard("no wound and open fracture present", wanted) == "wound=absent fracture=present"
    assert heard("none", Wanted(slots=SKIN)) is None
    assert heard("no hand", Wanted(slots=SKIN)) is None


def test_an_answer_needs_no_label_where_one_field_alone_has_it():
    wanted = Wanted(slots=MIXED)
    assert heard("reviewed", wanted) == "image=reviewed"
    for words in ("missing", "present"):  # two have it; many questions have it
        assert heard(words, wanted) is None


def test_a_half_is_said_of_a_number_with_tenths():
    tenths = NumberSlot("refill", ("refill",), "s", Decimal(0), Decimal(10), decimals=1)
    wanted = Wanted(slots=(tenths,))
    assert heard("refill is two and a half seconds", wanted) == "refill=2.5"
    whole = NumberSlot("angle", (), "deg", Decimal(0), Decimal(10))
    assert heard("two and a half", Wanted(slots=(whole,))) is None


def test_a_teen_is_taken_where_its_ten_cannot_be():
    # ISMP: say the number, then its digits. Where seventy is no wrist, seventeen needs no second telling.
    wrist = Wanted(slots=(NumberSlot("wrist", (), "cm", Decimal(5), Decimal(60), decimals=1),))
    for words, value in (("seventeen and a half", Decimal("17.5")), ("seventeen", Decimal(17))):
        found = interpret(typed(words, wrist, 0.0), wrist)
        assert found.values[0].value == Exact(value, 1 if "half" in words else 0)
    for words in ("seventy", "sixteen"):  # seventeen may have been meant; sixty can be
        assert isinstance(interpret(typed(words, wrist, 0.0), wrist).values[0].value, Ambiguous)


@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("today", date(2026, 11, 29)),
        ("tomorrow", date(2026, 11, 30)),
        ("the day after tomorrow", date(2026, 12, 1)),
        ("next tuesday", date(2026, 12, 1)),
        ("on sunday", date(2026, 12, 6)),
        ("last tuesday", date(2026, 11, 24)),
        ("last sunday", date(2026, 11, 22)),
        ("in ten days", date(2026, 12, 9)),
        ("in six weeks", date(2027, 1, 10)),
        ("two weeks ago", date(2026, 11, 15)),
        ("a week from today", date(2026, 12, 6)),
    ],
)
def test_days_counted_from_today_are_a_date(words, day):
    wanted = Wanted(slots=(DateSlot("check", ("check",), today=TODAY),))
    (given,) = interpret(typed(words, wanted, 0.0), wanted).values
    assert given.value == SpokenDate(day)
    assert typed(words, Wanted(slots=(DateSlot("check", ("check",)),)), 0.0) is None


def test_a_weekday_is_the_one_before_where_no_later_day_can_be():
    wanted = Wanted(slots=(DateSlot("injury", (), today=TODAY, latest=TODAY),))
    (given,) = interpret(typed("on friday", wanted, 0.0), wanted).values
    assert given.value == SpokenDate(date(2026, 11, 27))


def test_a_day_without_its_year_is_asked_about():
    wanted = Wanted(slots=(DateSlot("check", ("check",), today=TODAY),))
    (given,) = interpret(typed("december third", wanted, 0.0), wanted).values
    assert isinstance(given.value, NeedsAsking)


@pytest.mark.parametrize(
    ("words", "control"),
    [
        ("say that again", "say_again"),
        ("sorry what was that", "say_again"),
        ("help", "help"),
        ("okay next", "next_step"),
        ("please repeat the question", "say_again"),
        ("go to the next step", "next_step"),
        ("go back please", "previous_step"),
        ("hold on", "wait"),
        ("skip this", "skip"),
        ("that's right", "affirm"),
        ("light on now", "light_on"),
    ],
)
def test_commands_in_own_words(words, control):
    wanted = Wanted(frozenset(Control) - {Control.CRY})
    assert heard(words, wanted) == control


@pytest.mark.parametrize("words", ["the light is on", "the light is off", "light's on", "light's off"])
def test_how_the_light_is_tells_nothing_because_on_and_off_sound_alike_there(words):
    assert heard(words, Wanted(frozenset(Control) - {Control.CRY})) is None
    assert heard(words, Wanted(frozenset(Control))) is None


def test_where_cries_count_no_word_of_the_phrase_book_is_heard_but_for_light_off():
    own = [name for name in grammars_for().names() if name.startswith("phrases.")]
    assert len(own) > 20
    plain = Wanted(frozenset(Control), yes_or_no=False)
    for words in ("help", "next", "go on", "skip this", "hold on", "that's right", "yes", "done", "the light is on"):
        assert heard(words, plain) is None
        assert heard(words, Wanted(frozenset(Control), own_words=frozenset(OwnWords))) is None
    assert heard("lights off", plain) == "light_off"
    warm = OptionSlot("warmth", (), (OptionPhrases("warm", ("warm",)),), allow_absent=False)
    for words in ("okay warm", "and warm", "that's warm", "there is a warm"):
        assert heard(words, Wanted(frozenset({Control.CRY}), slots=(warm,))) is None


@pytest.mark.parametrize("procedure", PROCEDURES)
def test_what_can_be_typed_can_be_said(procedure):
    """But for digits, letters as printed, short forms of units, and spellings that are asked about."""
    bundle = load_bundle(procedure)
    apart, rng = set(), random.Random(procedure)
    for rule in ("spelling.plain_letter", "units.written", "numbers.homophone"):
        apart |= graph_words(rule)
    for hearing in hearings(bundle.plan, bundle.device, bundle.light):
        written = whole_graph(hearing.wanted, written=True)
        assert written.words - hearing.graph.words <= apart
        # A line is looked up word by word (test_walked_graph.py): as this graph, and that of a recogniser, have it.
        for is_typed, graph in ((True, written), (False, hearing.graph)):
            for words in tried(graph, rng, 1):
                assert match_said(hearing.wanted, words, written=is_typed) == match(graph, words), words


def graph_words(rule):
    """The words of a rule."""
    from handsfree.understanding.graphs import compile_graph
    from handsfree.understanding.jsgf import Reference

    return set(compile_graph(Reference(rule), grammars_for()).words)


@pytest.mark.parametrize("line", ["yes", "y", "no", "n", "yep", "done"])
def test_nothing_is_typed_that_is_not_heard_there(line):
    wanted = Wanted(frozenset({Control.AFFIRM, Control.NEGATE, Control.WAIT}), slots=SKIN)
    assert typed(line, wanted, 0.0) is None


@pytest.mark.parametrize("procedure", PROCEDURES[:1] + PROCEDURES[3:])
def test_no_sentence_of_a_step_has_two_meanings(procedure):
    bundle = load_bundle(procedure)
    for hearing in hearings(bundle.plan, bundle.device, bundle.light):
        assert find_two_meanings(hearing.graph) is None, hearing.stage.id


def test_stop_words_are_heard_beside_everything():
    wanted = Wanted(frozenset(Control) - {Control.CRY}, slots=SKIN, yes_or_no=True, own_words=frozenset(OwnWords))
    for words, control in (("stop", "stop"), ("light off", "light_off"), ("it's hot", "hot"), ("it hurts", "pain")):
        assert heard(words, wanted) == control
        assert Control(control) in STOP_CONTROLS
