"""A pause inside a reading: what went on after it is taken in place of the shorter one. Rules of our own."""

from decimal import Decimal

from handsfree.understanding.graphs import match
from handsfree.understanding.listening_graph import graph_for


def going_on(talk):
    return [slot.slot for slot in talk.session.wanted.going_on]


def test_more_of_a_reading_takes_the_place_of_what_is_read_back(talk):
    talk.go_to("angle")
    begun_s = talk.now_s
    talk.give(wrist=1)
    assert going_on(talk) == ["wrist"]
    talk.give(wrist=18, begun_s=begun_s)
    assert talk.kinds == ["values_dropped", "reading_proposed"]
    assert talk.said == "wrist eighteen, one eight, degrees extension. Correct?"
    assert dict(talk.session.snapshot.read_back) == {"angle.wrist": "18"}
    talk.affirm()
    (reading,) = talk.facts("reading_confirmed")[-1:]
    assert reading.value.value == Decimal(18)
    assert reading.heard.spoken_from_s == round(begun_s, 3)
    assert going_on(talk) == []


def test_a_number_that_is_said_anew_takes_the_place_of_what_is_read_back_and_is_read_back_itself(talk):
    talk.go_to("angle")
    talk.give(wrist=1)
    talk.give(wrist=18)
    assert talk.kinds == ["values_dropped", "reading_proposed"]
    assert dict(talk.session.snapshot.read_back) == {"angle.wrist": "18"}
    assert match(graph_for(talk.session.wanted), ("one", "eight")) is None  # only with its label


def test_more_of_a_reading_that_was_refused_is_taken(talk):
    talk.go_to("angle")
    begun_s = talk.now_s
    talk.give(wrist=900)
    assert talk.kinds == ["reading_refused"]
    talk.give(wrist=18, begun_s=begun_s)
    assert dict(talk.session.snapshot.read_back) == {"angle.wrist": "18"}


def test_more_of_a_reading_in_doubt_is_taken_and_the_doubt_is_settled(talk):
    talk.go_to("angle")
    begun_s = talk.now_s
    talk.give(wrist=1, doubted=True)
    assert going_on(talk) == ["wrist"]
    talk.give(wrist=18, begun_s=begun_s)
    assert talk.kinds == ["doubt_settled", "reading_proposed"]
    assert not talk.facts("doubt_settled")[-1].right
    assert dict(talk.session.snapshot.read_back) == {"angle.wrist": "18"}


def test_more_of_a_reading_in_doubt_that_is_in_doubt_itself_is_asked_about_instead(talk):
    talk.go_to("angle")
    begun_s = talk.now_s
    talk.give(wrist=1, doubted=True)
    talk.give(wrist=18, begun_s=begun_s, doubted=True)
    assert talk.kinds == ["utterance_doubted"]
    talk.affirm()
    assert dict(talk.session.snapshot.read_back) == {"angle.wrist": "18"}


def test_more_that_is_in_doubt_leaves_what_is_read_back_until_it_is_affirmed(talk):
    talk.go_to("angle")
    begun_s = talk.now_s
    talk.give(wrist=1)
    talk.give(wrist=18, begun_s=begun_s, doubted=True)
    talk.say("negate")
    assert dict(talk.session.snapshot.read_back) == {"angle.wrist": "1"}
    talk.give(wrist=18, begun_s=begun_s, doubted=True)
    talk.affirm()
    assert dict(talk.session.snapshot.read_back) == {"angle.wrist": "18"}


def test_of_two_values_only_that_of_the_same_words_gives_way(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="intact")
    begun_s = talk.now_s
    talk.give(refill=Decimal(1))
    talk.give(refill=Decimal("1.5"), begun_s=begun_s)
    assert dict(talk.session.snapshot.read_back) == {"nerve_before.touch": "intact", "nerve_before.refill": "1.5"}


def test_what_is_confirmed_goes_on_no_more(talk):
    talk.go_to("angle")
    begun_s = talk.now_s
    talk.give(wrist=1)
    talk.affirm()
    talk.give(wrist=18, begun_s=begun_s)
    assert not [one for one in talk.facts("reading_confirmed") if one.field == "wrist" and one.value.value == 18]
