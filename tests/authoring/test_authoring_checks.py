"""The check of a procedure file: each finding at its line, and nothing against the bundled ones."""

import json
import random
from pathlib import Path

import pytest
from authoring_files import PLAIN, write
from click.testing import CliRunner

import handsfree
from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.authoring.lint import structure_findings
from handsfree.authoring.step_contexts import find_two_meanings, hearings
from handsfree.commands.author import check as check_command
from handsfree.definition.form import STOP_PHRASES, STOP_WORDS
from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.definition.plan import compile_procedure
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graphs import compile_graph, graph_sampler, match
from handsfree.understanding.jsgf import Reference

# The rules are this project's own; word counts of short prompts: common practice, no source.
# What is odd, text replaced, its replacement, beginning of the line, level, code.
ODD = [
    (
        "skippable hard stop",
        'expert: "Swab, bandage?"\n    hard: true',
        'expert: "Swab, bandage?"',
        "  - id: swab",
        FindingLevel.ERROR,
        "bypass",
    ),
    (
        "skippable red limit",
        'expert: "Degrees?"\n    hard: true',
        'expert: "Degrees?"',
        "  - id: warmth",
        FindingLevel.ERROR,
        "bypass",
    ),
    (
        "every answer stops",
        "stop: [missing]",
        "stop: [present, missing]",
        "      - {id: swab",
        FindingLevel.ERROR,
        "dead-end",
    ),
    ("every value is red", "flag_above: 40", "flag_above: 10", "        number: {unit", FindingLevel.ERROR, "dead-end"),
    (
        "limit never met",
        "flag_above: 40",
        "flag_above: 45",
        "        number: {unit",
        FindingLevel.WARNING,
        "limit-never",
    ),
    (
        "one answer only",
        "{intact: [intact], torn: [torn]}, amber: [torn]",
        "{intact: [intact]}",
        "      - {id: bandage",
        FindingLevel.WARNING,
        "one-answer",
    ),
    ("condition without effect", "is: [ward]", "is: [ward, home]", "    when:", FindingLevel.WARNING, "always"),
    (
        "condition on a stop",
        "when: {step: place.place, is: [ward]}",
        "when: {step: swab.swab, is: [missing]}",
        "    when:",
        FindingLevel.WARNING,
        "after-stop",
    ),
    (
        "long short prompt",
        "expert: Bell?",
        "expert: Is the bell there?",
        "    expert: Is the",
        FindingLevel.WARNING,
        "long-expert",
    ),
    (
        "long prompt",
        "prompt: Is the",
        "prompt: Look around you now. Look down. See whether they can reach it. Is the",
        "    prompt: Look",
        FindingLevel.WARNING,
        "long-prompt",
    ),
    ("no short prompt", "    expert: Bell?\n", "", "  - id: bell", FindingLevel.NOTE, "no-expert"),
    (
        "label that nobody hears",
        "label: bandage",
        "label: dressing",
        '    prompt: "How are swab',
        FindingLevel.WARNING,
        "unsaid-label",
    ),
    ("reading without its time", "    timing: during\n", "", "  - id: warmth", FindingLevel.WARNING, "no-timing"),
    (
        "no source for a limit",
        "An invented handbook, 2020",
        "common practice, no source",
        "      - id: warmth",
        FindingLevel.NOTE,
        "weak-source",
    ),
    ("a unit that nobody can say", "unit: Cel", "unit: kPa", "        number:", FindingLevel.WARNING, "unspoken-unit"),
    ("nobody approved it", "id: plain", "id: plain", "approved_by:", FindingLevel.WARNING, "unapproved"),
    (
        "a red without a word on what to do",
        "    red_action: Cool the skin.\n",
        "",
        "  - id: warmth",
        FindingLevel.WARNING,
        "no-red-action",
    ),
    (
        "a stop word in a prompt",
        "    prompt: Is the bell within reach?",
        "    prompt: Is the bell within reach, to make it stop?",
        "    prompt: Is the bell",
        FindingLevel.WARNING,
        "stop-word-said",
    ),
    ("a word like a command", "home: [home]", "home: [wait]", "      - {id: place", FindingLevel.ERROR, "ambiguous"),
    ("a word like a missing value", "torn: [torn]", "torn: [not done]", "      - id: warmth", None, "ambiguous"),
    (
        "an answer that refuses to be copied",
        "home: [home]",
        "home: [same]",
        "      - {id: place",
        FindingLevel.ERROR,
        "ambiguous",
    ),
    (
        "a label that goes on as another",
        "label: bandage, options: {intact: [intact]",
        "label: swab present, options: {intact: [bandage]",
        "      - {id: swab",
        None,
        "ambiguous",
    ),
    (
        "a word the engines do not know",
        "torn: [torn]",
        "torn: [tornified]",
        "      - {id: bandage",
        FindingLevel.WARNING,
        "unknown-word",
    ),
    (
        "a word that is misheard",
        "home: [home]",
        "home: [palm]",
        "      - {id: place",
        FindingLevel.WARNING,
        "misheard-word",
    ),
    ("a language without grammars", "language: en-US", "language: xx-XX", "language:", FindingLevel.ERROR, "language"),
    ("a fault of the form", "kind: confirm", "kind: confrm", "    kind: confrm", FindingLevel.ERROR, "form"),
]


@pytest.mark.parametrize(("what", "old", "new", "at", "level", "code"), ODD, ids=[row[0] for row in ODD])
def test_each_odd_thing_is_found_at_its_line(tmp_path, what, old, new, at, level, code):
    assert old in PLAIN
    text = PLAIN.replace(old, new, 1)
    found = check(str(write(tmp_path, text)))
    line = next(number for number, row in enumerate(text.splitlines(), 1) if row.startswith(at))
    hits = [one for one in found if one.code == code]
    if level is None:  # a phrase that is no trouble here
        assert not hits
    else:
        assert [one for one in hits if one.line == line and one.level is level], [one.as_line for one in found]


def test_nothing_else_is_said_about_the_plain_one(tmp_path):
    assert [one.code for one in check(str(write(tmp_path)))] == ["unapproved"]


# Every bundled procedure has been through the check: an error would stop somebody at work.
@pytest.mark.parametrize("name", bundled_procedures())
def test_bundled_procedures_have_no_odd_structure(name):
    bundle = load_bundle(name)
    found = structure_findings(compile_procedure(bundle.procedure), bundle.device)
    assert {odd.code for odd in found} <= {"weak-source"}


@pytest.mark.parametrize("name", ["light-output-check", "neurovascular-check", "splint-removal"])
def test_nothing_said_in_a_bundled_procedure_has_two_meanings(name):
    # Oracle: sentences drawn at random and sent through the matcher, which knows nothing of pairs of walkers.
    bundle = load_bundle(name)
    rng = random.Random(5)
    for hearing in hearings(compile_procedure(bundle.procedure), bundle.device, bundle.light):
        assert find_two_meanings(hearing.graph) is None
        for _ in range(50):
            words, _ = graph_sampler(hearing.graph, rng)
            found = match(hearing.graph, words)
            assert found is not None
            assert found.other is None


def test_stop_words_of_the_form_are_those_of_the_grammar():
    # grammars/en-US/controls.jsgf is what the recognisers are given.
    grammars = grammars_for("en-US")
    rng = random.Random(2)
    for rule in ("stop", "hot", "pain", "light_off"):
        graph = compile_graph(Reference(f"controls.{rule}"), grammars)
        for _ in range(60):
            words, _ = graph_sampler(graph, rng)
            assert set(words) & STOP_WORDS or " ".join(words) in STOP_PHRASES


def test_the_command_prints_lines_or_json_and_exits_with_three_for_an_error(tmp_path):
    path = write(tmp_path, PLAIN.replace("home: [home]", "home: [wait]"))
    plain = CliRunner().invoke(check_command, [str(path)])
    assert plain.exit_code == 3
    assert f"{path}:21: error: steps.0.fields.0: " in plain.stdout
    data = json.loads(CliRunner().invoke(check_command, [str(path), "--json"]).stdout)
    assert {one["code"] for one in data} == {"ambiguous", "unapproved"}
    assert CliRunner().invoke(check_command, [str(write(tmp_path))]).exit_code == 0


def test_a_side_without_a_question_whose_it_is_is_found(tmp_path):
    # Two identifiers of the patient: Joint Commission, National Patient Safety Goal NPSG.01.01.01.
    text = (Path(handsfree.__file__).parent / "procedures" / "guide" / "dressing-change.yaml").read_text(
        encoding="utf-8"
    )
    path = tmp_path / "dressing-change.yaml"
    path.write_text(text, encoding="utf-8")
    assert "no-patient" not in {one.code for one in check(str(path))}
    path.write_text(text.replace("patient_from: patient.reference\n", ""), encoding="utf-8")
    found = [one for one in check(str(path)) if one.code == "no-patient"]
    assert [one.level for one in found] == [FindingLevel.WARNING]
    assert "asks whose side it is" in found[0].text
