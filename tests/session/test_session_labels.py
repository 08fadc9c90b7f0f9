"""Scanned labels in a session: filled in, read back, refused.

Label: GS1 General Specifications; 06291041500213 is GS1's own worked check-digit example. How the session answers:
the laws of this project (DEVELOPERS.md); device identification by lot, serial number and expiry: 21 CFR 801.40.
"""

from datetime import date

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.model.commands import ScanLabel
from handsfree.model.readings import SpelledText, value_text
from handsfree.model.reasons import Grounds, ScanFault, ScanFaultCode
from handsfree.session.holds import ANSWERED_AGAIN

LABEL = ScanLabel(gtin="06291041500213", lot="A213-b1", serial="SN123", expiry=date(2027, 12, 31))
ONE_STEP = """\
    prompt: Lot and expiry?
    hard: true
    source: common
    fields:
      - {id: lot, label: lot, identifier: {max_length: 10}}
      - {id: expiry, label: expiry, date: {month_only: true, not_before: today}}
"""
TWO_STEPS = """\
    prompt: Lot?
    hard: true
    source: common
    fields:
      - {id: lot, label: lot, identifier: {max_length: 10}}
  - id: pack_expiry
    kind: identify
    phase: before
    prompt: Expiry?
    hard: true
    source: common
    fields:
      - {id: expiry, label: expiry, date: {month_only: true, not_before: today}}
"""


def bundle_of(folder, **texts):
    return load_bundle(str(write_files(folder, **texts)))


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    return bundle_of(tmp_path_factory.mktemp("one"))


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    assert ONE_STEP in PROCEDURE
    return bundle_of(tmp_path_factory.mktemp("two"), procedure=PROCEDURE.replace(ONE_STEP, TWO_STEPS))


def scan(talk, label=LABEL):
    return talk.speak(label, words="01...")


def kept(talk):
    return {
        (fact.step, fact.field): value_text(fact.value)
        for kind in ("reading_confirmed", "reading_amended")
        for fact in talk.facts(kind)
    }


def test_one_scan_answers_the_whole_step_after_its_read_back(one):
    talk = Talk(one).go_to("pack")
    scan(talk)
    assert talk.mode == "reading_back"
    assert "lot alfa two one, three hyphen small bravo, one; expiry thirty one December" in talk.said
    assert ("pack", "lot") not in kept(talk)
    talk.affirm()
    assert kept(talk)["pack", "lot"] == "A213-b1"
    assert kept(talk)["pack", "expiry"] == "2027-12-31"
    assert talk.facts("label_scanned")[0].gtin == "06291041500213"


def test_one_scan_answers_the_steps_of_one_package_each_with_its_own_read_back(two):
    talk = Talk(two).go_to("pack")
    scan(talk)
    assert "expiry" not in talk.said
    talk.affirm()
    assert (talk.at, talk.mode) == ("pack_expiry", "reading_back")
    assert "expiry thirty one December" in talk.said
    talk.affirm()
    assert kept(talk)["pack_expiry", "expiry"] == "2027-12-31"
    assert talk.at == "nerve_before@left"


def test_a_scan_at_the_later_step_opens_the_earlier_one_if_it_tells_otherwise(two):
    talk = Talk(two).go_to("pack_expiry")  # the lot was spelled A4
    scan(talk)
    assert "another lot than the record" in talk.said
    assert "expiry thirty one December" in talk.said
    talk.affirm()
    assert (talk.at, talk.mode) == ("pack", "reading_back")
    talk.affirm()
    assert kept(talk)["pack", "lot"] == "A213-b1"
    assert talk.facts("reading_amended")[-1].old_value == SpelledText("A4")
    assert talk.at == "nerve_before@left"


def test_a_scan_that_tells_the_same_changes_nothing(two):
    talk = Talk(two).go_to("pack")
    talk.give(lot="#A213-b1")
    talk.affirm()
    scan(talk)
    assert "another" not in talk.said
    talk.affirm()
    assert talk.at == "nerve_before@left"
    assert talk.facts("reading_amended") == []


def test_a_disputed_scan_leaves_nothing_behind(two):
    talk = Talk(two).go_to("pack")
    scan(talk)
    talk.say("negate")
    talk.give(lot="#B7")
    talk.affirm()
    assert (talk.at, talk.mode) == ("pack_expiry", "asking")


def test_what_was_scanned_and_not_read_back_is_asked_again_after_a_crash(two):
    talk = Talk(two).go_to("pack")
    scan(talk)
    talk.crash()
    talk.give(lot="#B7")
    talk.affirm()
    assert (talk.at, talk.mode) == ("pack_expiry", "asking")


def test_an_expired_label_is_a_hard_stop(two):
    # Usable through the printed day, by local date: common practice, no source; today is 2026-11-25.
    talk = Talk(two).go_to("pack")
    scan(talk, ScanLabel(lot="A1", expiry=date(2026, 11, 24)))
    talk.affirm()
    talk.affirm()
    assert talk.mode == "held"
    assert "expiry lies before today" in talk.said.lower()
    last_day = Talk(two).go_to("pack")
    scan(last_day, ScanLabel(lot="A1", expiry=date(2026, 11, 25)))
    last_day.affirm()
    last_day.affirm()
    assert last_day.mode == "asking"


def test_a_recalled_lot_is_a_hard_stop_however_it_is_printed(one):
    talk = Talk(one, recalled={"A213B1": "leaks"}).go_to("pack")
    scan(talk)
    talk.affirm()
    assert talk.mode == "held"
    assert "on the recall list: leaks" in talk.said


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (ScanFaultCode.CHECK_DIGIT, "The check digit of the device number is wrong; scan it again"),
        (ScanFaultCode.GLUED, "The serial number may be glued to the lot"),
    ],
)
def test_a_label_that_cannot_be_trusted_is_a_hard_stop_with_its_reason(two, code, words):
    fault = ScanFault(code)
    talk = Talk(two).go_to("pack")
    scan(talk, ScanLabel(gtin="06291041500214", lot="A1", faults=(fault,)))
    assert talk.mode == "held"
    assert words in talk.said
    assert talk.facts("hold_set")[-1].grounds == Grounds(fault)
    talk.say("next_step")
    assert talk.at == "pack"
    assert kept(talk).get(("pack", "lot")) is None
    talk.say("correction")
    scan(talk)
    talk.affirm()
    assert talk.facts("hold_lifted")[-1].reason == ANSWERED_AGAIN
    assert talk.at == "pack_expiry"


@pytest.mark.parametrize(
    ("step", "label", "words"),
    [
        ("pack", ScanLabel(gtin="06291041500213"), "does not tell the lot"),
        ("pack", ScanLabel(lot="A" * 11), "does not fit"),  # longer than the file allows
        ("pack_expiry", ScanLabel(lot="A4"), "does not tell the expiry"),
        ("eyewear", LABEL, "No label is asked for now"),
        ("nerve_before@left", LABEL, "No label is asked for now"),
    ],
)
def test_a_label_that_answers_nothing_is_refused(two, step, label, words):
    talk = Talk(two).go_to(step)
    before = kept(talk)
    scan(talk, label)
    assert words in talk.said
    assert (talk.at, talk.mode) == (step, "asking")
    assert kept(talk) == before
