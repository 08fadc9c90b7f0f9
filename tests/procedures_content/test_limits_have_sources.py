"""Every number that decides has its source beside it, a published one or "common practice, no source".

In the files each limit is traced to the sentence that its source key stands for; in the code each built-in number
stands above a docstring that says where it is from. What decides nothing is listed here, with what it is.
"""

import ast
import re
from pathlib import Path

import pytest

from handsfree.definition.loader import bundled_procedures, load_bundle

CODE = Path(__file__).resolve().parents[2] / "handsfree"
PROFILES = sorted((CODE / "procedures" / "profiles").glob("*.yaml"))
SAID = re.compile(
    r"no (published )?source|Set on made-up sound|ICNIRP|ISO \d|IEC \d|GS1|e-ILV|HL7|UCUM|WHO|BOAST|Joint Commission"
    r"|\d+ CFR|\b(19|20)\d\d\b|tone bench|see `ToneProfile`"
    r"|AO Surgery Reference|fracture-splint texts|patient leaflets|LOINC|from memory"
)
"""A published source, texts of the trade, a measurement of this project that is named, or that there is none."""
DECIDES_NOTHING = {
    # name: what it is
    "_CUE_SLACK_S": "rounding",
    "_AT_ONCE_S": "rounding",
    "HALF": "arithmetic",
    "STEP_NM": "arithmetic: width of a sum",
    "TEXTS_KEPT": "reading files",
    "GAP_S": "reading sound",
    "_FILTER": "reading sound",
    "_HOP": "reading sound",
    "_LOOK_EVERY": "reading sound",
    "_EDGE": "reading sound",
    "_SMOOTH": "reading sound",
    "SAMPLE_RATE_HZ": "form of sound",
    "BLOCK_SAMPLES": "form of sound",
    "_DEEPEST": "form of files",
    "_ANY_DAY": "form of files",
    "Positive": "form of files",
    "DUE_UNITS": "form of files",
    "Identifier": "form of files",
    "FileId": "form of files",
    "LocalOffset": "form of files",
    "Phrases": "form of files",
    "Spoken": "form of files",
    "MOST_VALUES": "form of files",
    "MOST_DEPTH": "form of files",
    "LONGEST_NUMBER": "form of files",
    "_MOST_KEYS": "form of messages",
    "_LONGEST": "form of messages",
    "_SIMILAR": "form of messages",
    "_FIRST_YEAR": "form of dates",
    "FRAME": "form of pictures",
    "Point": "form of pictures",
}


def limits_in(step):
    """Every limit of a step, as (what, key of its source)."""
    for field in step.fields:
        own = field.source or step.source
        for limited in (field.number, field.date):
            if limited is not None:
                yield f"{field.id}: what can be", limited.range_source or own
        decides = [field.stop, field.amber, field.red, field.compare, field.sides, field.again, field.no_heat_report]
        if field.number is not None:
            decides += [*field.number.limits, field.number.band]
        if field.date is not None:
            decides.append(field.date.not_before)
        if any(one not in (None, ()) for one in decides):
            yield f"{field.id}: what is flagged", own
    if step.repeat_within is not None or step.late_question_s is not None or step.agree or step.size_from is not None:
        yield "the step", step.source


@pytest.mark.parametrize("name", bundled_procedures())
def test_every_limit_of_a_file_leads_to_a_sentence(name):
    procedure = load_bundle(name).procedure
    found = [(step.id, what, key) for step in procedure.steps for what, key in limits_in(step)]
    assert found
    assert [one for one in found if not SAID.search(procedure.sources[one[2]])] == []


WITH_PAIN = [name for name in bundled_procedures() if name.endswith("fitting")] + ["neurovascular-check"]


@pytest.mark.parametrize("name", WITH_PAIN)
@pytest.mark.parametrize("key", ["pain_change", "stretch_change", "refill"])
def test_a_chosen_figure_beside_a_published_one_is_told_apart(name, key):
    """A second, six, and how much more on stretch are no figures of the papers beside them."""
    assert "common practice, no source" in load_bundle(name).procedure.sources[key]


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_the_figures_of_a_profile_are_said_to_be_invented(path):
    text = path.read_text(encoding="utf-8")
    assert re.search(r"^note: Invented .* No real (product|light) has ", text, re.MULTILINE)


def numbers_of(path):
    """Module-level numbers, and number defaults of the profiles of guidance: name and what is said of each."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node, after in zip(tree.body, [*tree.body[1:], None], strict=True):
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None and has_number(node.value):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            told = ast.get_docstring(ast.Module([after], [])) if isinstance(after, ast.Expr) else None
            yield ast.unparse(target), f"{told or ''} {ast.unparse(node.value)}"
        if isinstance(node, ast.ClassDef) and node.name == "GuidanceProfile":
            yield node.name, ast.get_docstring(tree)


def has_number(value):
    return any(
        isinstance(one, ast.Constant) and type(one.value) in {int, float} and not isinstance(one.value, bool)
        for one in ast.walk(value)
    )


def test_every_built_in_number_that_decides_says_where_it_is_from():
    found = {
        name: (told, path.relative_to(CODE))
        for floor in ("session", "exposure", "definition", "model")
        for path in sorted((CODE / floor).rglob("*.py"))
        for name, told in numbers_of(path)
    }
    assert {"CRY_WAIT_S", "DAY_S", "BURN_POINTS", "GuidanceProfile", "BEAT_S"} <= found.keys()
    assert [name for name in DECIDES_NOTHING if name not in found] == [], "listed, and not there"
    silent = {name: str(path) for name, (told, path) in found.items() if not SAID.search(" ".join(told.split()))}
    assert {name: path for name, path in silent.items() if name not in DECIDES_NOTHING} == {}
