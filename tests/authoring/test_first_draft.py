"""`handsfree new`: whatever is answered, the draft checks without an error. No outside source."""

import itertools
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.authoring.first_draft import reading_of
from handsfree.commands.author import new
from handsfree.definition.loader import load_bundle
from handsfree.errors import UsageError

LENGTH, SKIN = "wound length cm 0 30.5", "warmth Cel 20 45"


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def begun(*words):
    done = CliRunner().invoke(new, ["first-try", *words])
    assert done.exit_code == 0, done.output
    return load_bundle("first-try.yaml").procedure


@pytest.mark.parametrize("readings", [0, 1, 2])
def test_a_draft_without_a_patient_asks_for_none(readings):
    more = [word for reading in (LENGTH, SKIN)[:readings] for word in ("--reading", reading)]
    made = begun("--no-patient", *more)
    assert [one.as_line for one in check("first-try.yaml") if one.level is FindingLevel.ERROR] == []
    assert made.patient_from is None
    assert "patient" not in Path("first-try.yaml").read_text(encoding="utf-8")
    refused = CliRunner().invoke(new, ["another", "--no-patient", "--sides"])
    assert "are about a patient" in str(refused.exception)


@pytest.mark.parametrize(
    ("sides", "light", "readings"),
    list(itertools.product(["--sides", "--no-sides"], ["--light", "--no-light"], [0, 1, 2])),
)
def test_every_draft_checks_without_an_error(sides, light, readings):
    more = [word for reading in (LENGTH, SKIN)[:readings] for word in ("--reading", reading)]
    made = begun(sides, light, *more)
    found = check("first-try.yaml")
    assert [one.as_line for one in found if one.level is FindingLevel.ERROR] == []
    # Nobody mends a draft of ours before it has a line of theirs; that nobody has approved it stays, and
    # so does that a size is chosen nowhere.
    assert {one.code for one in found if one.level is FindingLevel.WARNING} <= {"unapproved", "never-captured"}
    assert (made.side_from is not None) == (sides == "--sides")
    assert any(step.kind == "expose" for step in made.steps) == (light == "--light")
    measured = [field for step in made.steps for field in step.fields if field.number is not None]
    assert [field.number.unit for field in measured] == ["cm", "Cel"][:readings]


def test_what_was_answered_is_in_it_and_nothing_is_asked_without_a_terminal():
    made = begun("--title", 'The "big" one', "--reading", LENGTH)
    assert made.title == 'The "big" one'
    (field,) = [field for step in made.steps for field in step.fields if field.number is not None]
    assert (field.label, str(field.number.high), field.number.decimals) == ("wound length", "30.5", 1)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("length cm", "is no reading"),
        ("length cm a b", "is no reading"),
        ("length cm 9 3", "must be below"),
        ("length furlong 0 3", "has no spoken name; use one of .*, and as spoken what people say"),
        ("length 2 cm 0 3", "cannot be said so"),
        ("pain {score} 0 10", "holds a stop word"),
        (f"{'x' * 41} cm 0 1", "at most 4 words and 40 letters"),
        ("length of the new wound cm 0 1", "at most 4 words and 40 letters"),
    ],
)
def test_what_is_no_reading_is_said_with_what_would_be_one(text, told):
    with pytest.raises(UsageError, match=told):
        reading_of(text)


def test_the_longest_label_still_makes_a_draft_that_checks():
    begun("--reading", f"{'x' * 31} abc de f mm[Hg] 0 1")
    assert [one.as_line for one in check("first-try.yaml") if one.level is FindingLevel.ERROR] == []


def test_nothing_is_overwritten_and_no_two_steps_have_one_name():
    begun()
    written = Path("first-try.yaml").read_text(encoding="utf-8")
    assert "is there already" in str(CliRunner().invoke(new, ["first-try"]).exception)
    assert Path("first-try.yaml").read_text(encoding="utf-8") == written
    twice = CliRunner().invoke(new, ["another", "--reading", "care cm 0 3"])
    assert "two steps would be called care" in str(twice.exception)
    assert not Path("another.yaml").exists()
    assert "is no name for a procedure" in str(CliRunner().invoke(new, ["My Procedure"]).exception)
