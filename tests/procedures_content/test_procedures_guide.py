"""The guide for authors says what the form is, and its worked example is what it shows."""

import re
from pathlib import Path
from typing import get_args

from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.definition.blocks import Use
from handsfree.definition.form import Number, Procedure, Step, StepField
from handsfree.definition.loader import read_expanded
from handsfree.definition.source_lines import parse_source
from handsfree.definition.translation import FieldWords, ItemWords, StepWords, Translation

FOLDER = Path(__file__).resolve().parents[2] / "handsfree" / "procedures"
GUIDE = (FOLDER / "GUIDE.md").read_text(encoding="utf-8")
EXAMPLE = FOLDER / "guide" / "dressing-change.yaml"


def _code():
    return re.findall(r"```yaml\n(.*?)```", GUIDE, re.DOTALL)


def test_every_key_of_the_form_is_explained():
    # The models that the loader checks files against.
    names = {
        (field.alias or name)
        for model in (Procedure, Step, StepField, Number, Use, Translation, StepWords, FieldWords, ItemWords)
        for name, field in model.model_fields.items()
    }
    names -= {"device_profile", "light_profile"}  # for devices under light; the guide points to a bundled file
    assert {name for name in names if not re.search(rf"\b{name}\b", GUIDE)} == set()


def test_the_kinds_of_steps_are_those_of_the_form():
    kinds = set(get_args(Step.model_fields["kind"].annotation))
    assert set(re.findall(r"^\| [^|]+ \| `(\w+)` \|", GUIDE, re.MULTILINE)) == kinds


def test_the_step_that_is_shown_is_the_one_in_the_example():
    shown = next(parse_source(text, "guide").data for text in _code() if "id: wound" in text)
    steps = {step["id"]: step for step in read_expanded(EXAMPLE).data["steps"]}
    assert shown["steps"][0] == steps["wound"]


def test_the_top_that_is_shown_is_that_of_the_example():
    shown = next(
        parse_source(text, "guide").data for text in _code() if text.startswith("form: 1") and "translates" not in text
    )
    whole = read_expanded(EXAMPLE).data
    for key, value in shown.items():
        if isinstance(value, dict):
            assert value.items() <= whole[key].items(), key
        else:
            assert whole[key] == value, key


def test_the_example_has_ten_lines_of_paper_and_nothing_against_it():
    text = EXAMPLE.read_text(encoding="utf-8")
    assert re.findall(r"^  # (\d+)\. ", text, re.MULTILINE) == [str(number) for number in range(1, 11)]
    found = [one for one in check(str(EXAMPLE)) if one.level is not FindingLevel.NOTE]
    assert [one.code for one in found] == ["unapproved"]


def test_the_lines_that_show_a_stop_are_those_of_the_rehearsal():
    shown = next(text for text in _code() if "take note" in text)
    whole = parse_source(
        (FOLDER / "guide" / "dressing-change-stop-rehearsal.yaml").read_text(encoding="utf-8"), "x"
    ).data
    lines = parse_source(f"lines:\n{shown}", "guide").data["lines"]
    assert len(lines) == 9
    assert [line for line in lines if line not in whole["lines"]] == []
