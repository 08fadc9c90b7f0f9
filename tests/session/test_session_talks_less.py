"""What is said in one go: teaching, the time-out, a status. This project's own rules; no other source."""

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.definition.side_words import on_paper, with_visit
from handsfree.model.readings import Side


@pytest.fixture
def taught(tmp_path):
    """A visit whose last step teaches two things in one go."""
    text = PROCEDURE.replace("    items:\n      - {id: raise", "    together: true\n    items:\n      - {id: raise")
    assert text != PROCEDURE
    return Talk(load_bundle(str(write_files(tmp_path, text))))


def test_everything_is_told_in_one_go_and_said_back_apart(taught):
    taught.go_to("advice")
    assert "Keep the hand raised. Call for numb fingers. All told?" in taught.said
    taught.affirm()
    assert taught.facts("item_taught") == []  # told is not said back
    assert taught.said == "Did the patient say it all back?"
    taught.affirm()
    assert [fact.item for fact in taught.facts("item_taught")] == ["raise", "call"]
    assert all(fact.teach_back for fact in taught.facts("item_taught"))
    assert taught.session.snapshot.done == taught.session.snapshot.total


def test_what_is_not_said_back_is_taught_when_it_was_told(tmp_path):
    text = PROCEDURE.replace("    items:\n      - {id: raise", "    together: true\n    items:\n      - {id: raise")
    text = text.replace("numb fingers., teach_back: true", "numb fingers., teach_back: false")
    taught = Talk(load_bundle(str(write_files(tmp_path, text))))
    taught.go_to("advice")
    taught.affirm()
    assert [fact.item for fact in taught.facts("item_taught")] == ["call"]
    taught.affirm()
    assert [fact.item for fact in taught.facts("item_taught")] == ["call", "raise"]


def test_not_said_back_is_not_taught(taught):
    taught.go_to("advice")
    taught.affirm()
    taught.say("negate")
    assert taught.facts("item_taught") == []
    assert taught.at == "advice"


def test_a_status_tells_side_size_flags_and_holds(talk):
    talk.go_to("pack")
    talk.say("status")
    for words in ("Left side.", "Size", "steps done"):
        assert words in talk.said
    assert "Flagged" not in talk.said
    held = Talk(talk.bundle).go_to("remark")
    held.give(room="cool")
    held.go_to("ring")
    held.give(ring="stuck")
    held.say("status")
    assert "Flagged" in held.said
    assert "Held" in held.said


def test_a_status_while_lit_is_short_and_changes_nothing(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(2)
    talk.say("status")
    assert talk.mode == "lit"
    assert talk.said.startswith("Light: front part")
    assert len(talk.said.split()) < 10
    assert talk.kinds == ["status_told"]


def test_a_time_out_says_side_device_and_size():
    talk = Talk(load_bundle("ulnar-splint-fitting")).go_to("time_out")
    assert talk.said.startswith("Time out: right side, Invented ulnar sleeve, medium.") or "side, " in talk.said
    assert "{" not in talk.said


def test_what_is_not_known_is_said_so():
    text = "Time out: {declared_side}, {device}, {size}."
    assert with_visit(text, side=None, size=None, device=None) == (
        "Time out: side not known, device not known, size not known."
    )
    assert with_visit(text, side=Side.LEFT, size="small", device="Sleeve") == "Time out: left side, Sleeve, small."
    assert on_paper(text) == "Time out: side, device, size."
