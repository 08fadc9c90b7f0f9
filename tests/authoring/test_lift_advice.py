"""What `check` advises about who may lift what passes as it is written.

Common practice, no source: advice that fails sends an author in circles.
"""

import re
import sys
from pathlib import Path

import pytest

from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel

sys.path.insert(0, str(Path(__file__).parents[1] / "session"))
from own_procedures import HEAD, number, write

BLADE = ", flag_above: {red: 50}"


def faults(folder, rule, *, top):
    head = HEAD.replace("steps:\n", f"lift: {rule}\nsteps:\n") if top else HEAD
    keys = "timing: during" if top else f"timing: during\nlift: {rule}"
    found = check(str(write(folder, number("blade", more=BLADE, keys=keys), head=head)))
    return [one.text for one in found if one.level is FindingLevel.ERROR]


@pytest.mark.parametrize("top", [True, False], ids=["procedure", "step"])
@pytest.mark.parametrize(
    "rule", ["[reviewed by the supervisor]", "[bench supervisor]", "bench supervisor", "[something else]", "[]"]
)
def test_a_list_or_a_phrase_in_place_of_the_rule(tmp_path, rule, top):
    (text,) = faults(tmp_path, rule, top=top)
    advised = text[text.index(": ") + 2 :]
    assert re.fullmatch(r"\{.*\}", advised)
    assert faults(tmp_path, advised, top=top) == []


def test_what_was_meant_is_taken_into_the_advice(tmp_path):
    (text,) = faults(tmp_path, "[put right, bench supervisor]", top=False)
    assert text == "needs by whom and why, or never: {by: [supervisor], reasons: [repaired]}"


@pytest.mark.parametrize("top", [True, False], ids=["procedure", "step"])
def test_phrases_where_names_are_due(tmp_path, top):
    rule = "{by: [bench supervisor], reasons: [put right]}"
    found = faults(tmp_path, f"{{red: {rule}}}" if top else rule, top=top)
    assert found == [
        "'bench supervisor' is what is said; write the name before it under roles: supervisor",
        "'put right' is what is said; write the name before it under override_reasons: repaired",
    ]
    right = "{by: [supervisor], reasons: [repaired]}"
    assert faults(tmp_path, f"{{red: {right}}}" if top else right, top=top) == []


def test_a_phrase_that_nobody_says_names_what_there_is(tmp_path):
    (text,) = faults(tmp_path, "{by: [head nurse], reasons: [repaired]}", top=False)
    assert text == "'head nurse' is what is said; write a name listed under roles (there are: fitter, supervisor)"


def test_second_person_too(tmp_path):
    (text,) = faults(tmp_path, "{second_person: [put right]}", top=True)
    assert text == "'put right' is what is said; write the name before it under override_reasons: repaired"
