"""`new` and `approve` on a real terminal: answers, none, wrong ones, Ctrl-D and Ctrl-C. Common practice, no source.

130 is what a shell gives for a program that Ctrl-C ended (128 and the number of the signal; POSIX, 2.8.2, from memory).
"""

import sys

import pytest

if sys.platform == "win32":
    pytest.skip("pseudo-terminals are of Unix", allow_module_level=True)

from terminals import CTRL_C, CTRL_D, on_terminal

from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.definition.loader import load_bundle
from handsfree.record.approval_file import approval_path, read_approval

TITLE, PATIENT, SIDE = "people call it", "on a patient [y/N]", "side of somebody [y/N]"
NUMBER, LIGHT = "(empty: no more)", "with light [y/N]"
WHO, ROLE = "(name)", "which role"
INTERRUPTED = 130


def files(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_draft_from_answers_of_which_some_are_wrong_or_empty(tmp_path):
    turns = [
        (TITLE, ""),
        (PATIENT, "perhaps"),
        (PATIENT, "y"),
        (SIDE, ""),
        (NUMBER, "length furlong 0 3"),
        (NUMBER, "wound length cm 0 30"),
        (NUMBER, "wound length cm 0 30"),
        (NUMBER, ""),
        (LIGHT, "N"),
    ]
    run = on_terminal(["new", "wound-care"], turns, tmp_path)
    assert run.code == 0, run.shown
    assert "y or n, please" in run.shown
    assert "furlong has no spoken name; use one of" in run.shown
    # Said at once, not when all has been answered.
    assert "two steps would be called wound_length; give the reading another label" in run.shown
    assert "[]" not in run.shown
    path = str(tmp_path / "wound-care.yaml")
    assert [one.as_line for one in check(path) if one.level is FindingLevel.ERROR] == []
    made = load_bundle(path).procedure
    assert (made.title, made.side_from, made.device_profile) == ("Wound care", None, None)
    assert [step.id for step in made.steps if step.kind == "measure"] == ["wound_length"]


def test_a_draft_on_a_narrow_terminal_without_a_patient(tmp_path):
    run = on_terminal(["new", "bolts"], [(TITLE, "Bolts"), (PATIENT, ""), (NUMBER, "")], tmp_path, columns=20)
    assert run.code == 0, run.shown
    assert load_bundle(str(tmp_path / "bolts.yaml")).procedure.patient_from is None
    assert "side of somebody" not in run.shown


@pytest.mark.parametrize("key", [CTRL_C, CTRL_D], ids=["Ctrl-C", "Ctrl-D"])
def test_a_draft_that_is_given_up_writes_nothing(tmp_path, key):
    run = on_terminal(["new", "wound-care"], [(TITLE, "Wounds"), (PATIENT, key)], tmp_path)
    assert run.code == INTERRUPTED
    assert run.shown.endswith("\nhandsfree: interrupted\n")
    assert files(tmp_path) == []


@pytest.fixture(scope="module")
def draft(tmp_path_factory):
    folder = tmp_path_factory.mktemp("draft")
    on_terminal(["new", "wound-care", "--title", "W", "--no-sides", "--no-light", "--patient"], [(NUMBER, "")], folder)
    text = (folder / "wound-care.yaml").read_text(encoding="utf-8")
    return text.replace("approved_by: null", "approved_by: lead therapist")


@pytest.fixture
def written(draft, tmp_path):
    path = tmp_path / "wound-care.yaml"
    path.write_text(draft, encoding="utf-8")
    return path


@pytest.mark.parametrize("columns", [80, 24])
def test_an_approval_from_answers_of_which_some_are_wrong_or_empty(written, columns):
    turns = [(WHO, ""), (WHO, "  "), (WHO, "\x1b[A"), (WHO, " A. Lead "), (ROLE, "nurse"), (ROLE, "lead therapist")]
    run = on_terminal(["approve", str(written), "--unsigned"], turns, written.parent, columns)
    assert run.code == 0, run.shown
    assert run.shown.count("an answer is needed; Ctrl-C leaves all as it was") == 2
    assert "a key that writes nothing" in run.shown
    assert "asks for the role lead therapist, not nurse" in run.shown
    approval = read_approval(approval_path(written).read_bytes())
    assert (approval.name, approval.role) == ("A. Lead", "lead therapist")


def test_what_is_given_is_not_asked(written):
    run = on_terminal(
        ["approve", str(written), "--unsigned", "--name", "A. Lead"], [(ROLE, "lead therapist")], written.parent
    )
    assert run.code == 0, run.shown
    assert WHO not in run.shown


@pytest.mark.parametrize("key", [CTRL_C, CTRL_D], ids=["Ctrl-C", "Ctrl-D"])
def test_an_approval_that_is_given_up_leaves_all_as_it_was(written, draft, key):
    run = on_terminal(["approve", str(written)], [(WHO, "A. Lead"), (ROLE, key)], written.parent)
    assert run.code == INTERRUPTED
    assert run.shown.endswith("\nhandsfree: interrupted\n")
    assert files(written.parent) == ["wound-care.yaml"]
    assert written.read_text(encoding="utf-8") == draft
