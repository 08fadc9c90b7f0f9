"""Edges of a visit that no longer story needs: what is on record to the digit, what is broken off, what comes next.

Expected behaviour: the laws of this project (DEVELOPERS.md) and the procedure file of these tests; no outside source.
"""

import dataclasses
from datetime import date

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.model.commands import Control, ControlCommand, ScanLabel
from handsfree.model.events import CommandSpoken
from handsfree.model.hypotheses import Hypothesis


@pytest.fixture(scope="module")
def bundle(tmp_path_factory):
    return load_bundle(str(write_files(tmp_path_factory.mktemp("files"))))


@pytest.fixture
def talk(bundle):
    return Talk(bundle)


def other(tmp_path, **texts):
    return Talk(load_bundle(str(write_files(tmp_path, **texts))))


def test_times_of_words_are_on_record_to_the_millisecond(talk):
    heard = Hypothesis(("next",), (), 1.23456, 1.98765, "test", runner_up=("take", "note"))
    event = CommandSpoken(
        at_s=2.0,
        wall="2026-11-25T09:00:02.000Z",
        command=ControlCommand(Control.LIGHT_ON),
        heard=heard,
        probability=0.87654,
    )
    talk.send(event)
    (refused,) = talk.facts("command_refused")
    assert dataclasses.astuple(refused.heard)[:2] == ("next", 0.8765)
    assert (refused.heard.spoken_from_s, refused.heard.spoken_to_s) == (1.235, 1.988)
    assert refused.heard.runner_up == "take note"


def test_a_note_that_the_end_of_the_program_broke_off_is_on_record(talk):
    talk.go_to("ring")
    talk.say("take_note")
    talk.dictate("swelling at the")
    talk.crash()
    (note,) = talk.facts("note_taken")
    assert (note.text, note.broken_off, note.verified) == ("swelling at the", True, False)
    assert talk.mode == "asking"
    # The next note begins empty.
    talk.say("take_note")
    talk.dictate("wrist")
    talk.say("end_note")
    assert [note.text for note in talk.facts("note_taken")] == ["swelling at the", "wrist"]


def test_a_label_tells_nothing_of_a_step_that_is_not_of_its_package(tmp_path):
    # A step between two packages parts them, and one that is no scanned thing takes nothing from a label.
    second = """\
  - id: paper
    kind: {kind}
    phase: before
    prompt: Lot on the paper?
    source: common
    fields:
      - {{id: lot, label: lot, identifier: {{max_length: 10}}}}
"""
    place = "  - id: nerve_before\n"
    for number, (kind, told) in enumerate((("identify", True), ("measure", False))):
        folder = tmp_path / str(number)
        folder.mkdir()
        talk = other(folder, procedure=PROCEDURE.replace(place, second.format(kind=kind) + place))
        talk.go_to("pack")
        talk.speak(ScanLabel(lot="A213", expiry=date(2027, 12, 31)), words="01...")
        talk.affirm()
        assert talk.at == "paper"
        assert (talk.mode == "reading_back") is told


def test_a_label_may_be_the_last_thing_of_a_visit(tmp_path):
    last = """\
  - id: leftover
    kind: identify
    phase: after
    prompt: Lot of what is left over?
    source: common
    fields:
      - {id: lot, label: lot, identifier: {max_length: 10}}
"""
    talk = other(tmp_path, procedure=PROCEDURE + last).go_to("leftover")
    talk.speak(ScanLabel(lot="A213"), words="01...")
    assert talk.mode == "reading_back"
    talk.affirm()
    assert "leftover" in {fact.step for fact in talk.facts("reading_confirmed")}
    assert talk.finish().outcome == "completed"
