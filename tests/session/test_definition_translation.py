"""Other words for a procedure, kept in a file of their own. Expected behaviour: the guide; no outside source."""

from pathlib import Path

import pytest
from own_procedures import HEAD
from procedure_files import PROCEDURE, write_files
from talking import Talk

import handsfree
from handsfree import __version__
from handsfree.application.approvals import approval_of_bundle
from handsfree.application.opening import versions_of
from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.build import build
from handsfree.definition.loader import load_bundle, read_procedure
from handsfree.errors import ProcedureFileError
from handsfree.model.approval import ApprovalState

PLAIN = Path(handsfree.__file__).parent / "procedures" / "guide" / "dressing-change-plain.yaml"
WORDS = """form: 1
translates: small
of_version: "1.0.0"
id: small-plain
title: In other words
version: "1.0.0"
language: en-GB
approved_by: null
steps:
"""


@pytest.fixture
def words(tmp_path):
    """Writes words for the small procedure; returns where they are."""
    place = write_files(tmp_path)
    version = load_bundle(str(place)).procedure.version

    def write(steps, **changed):
        text = WORDS.replace("translates: small", f"translates: {place.stem}").replace("1.0.0", version, 1)
        for old, new in changed.items():
            assert f"\n{old}:" in text
            text = "\n".join(f"{old}: {new}" if line.startswith(f"{old}:") else line for line in text.split("\n"))
        made = tmp_path / "plain.yaml"
        made.write_text(text + steps, encoding="utf-8")
        return made

    return write


def test_words_are_changed_and_nothing_else(words):
    place = words(
        "  angle:\n    prompt: How far is the wrist bent back?\n    fields:\n      wrist: {label: hand}\n"
        "  advice:\n    items:\n      raise: {say: Hold it up.}\n"
        "  nerve_after:\n    red_action: Sleeve off, call the senior.\n    fields:\n"
        "      touch: {options: {covered: [under cover]}}\n"
    )
    made = load_bundle(str(place))
    steps = {step.id: step for step in made.procedure.steps}
    assert steps["angle"].prompt == "How far is the wrist bent back?"
    assert steps["angle"].fields[0].label == "hand"
    assert steps["advice"].items[0].say == "Hold it up."
    assert steps["nerve_after"].red_action == "Sleeve off, call the senior."
    assert steps["nerve_after"].fields[0].options["covered"] == ("under cover",)
    assert (made.procedure.id, made.procedure.title, made.procedure.language) == (
        "small-plain",
        "In other words",
        "en-GB",
    )
    original = load_bundle(str(place.parent / f"{made_from(place)}.yaml"))
    assert steps["nerve_after"].fields[0].options["intact"] == ("intact",)
    for mine, theirs in zip(made.procedure.steps, original.procedure.steps, strict=True):
        assert (mine.id, mine.kind, mine.hard, mine.requires, mine.when, mine.source) == (
            theirs.id,
            theirs.kind,
            theirs.hard,
            theirs.requires,
            theirs.when,
            theirs.source,
        )
        assert [(f.number, f.amber, f.red, f.stop, f.compare) for f in mine.fields] == [
            (f.number, f.amber, f.red, f.stop, f.compare) for f in theirs.fields
        ]
    assert made.sha256 != original.sha256


def made_from(place):
    return next(
        line.partition(": ")[2] for line in place.read_text(encoding="utf-8").split("\n") if "translates:" in line
    )


def test_a_visit_in_other_words_is_asked_and_understood_in_them(words):
    talk = Talk(load_bundle(str(words("  eyewear:\n    prompt: Everybody's glasses on?\n")))).go_to("eyewear")
    assert "Everybody's glasses on?" in talk.said


@pytest.mark.parametrize(
    ("steps", "line", "told"),
    [
        ("  angel:\n    prompt: Bent?\n", 10, "the procedure has no angel (did you mean angle?)"),
        ("  angle:\n    fields:\n      elbow: {label: elbow}\n", 12, "the procedure has no elbow"),
        ("  angle:\n    red_action: Stop.\n", 11, "the procedure says nothing there"),
        (
            "  nerve_after:\n    fields:\n      touch:\n        options:\n          reduced: [intact]\n",
            14,
            '"intact" means intact in the procedure',
        ),
        ("  angle:\n    hard: false\n", 11, "is not a key of angle"),
        ("  angle:\n    fields:\n      wrist: {label: stop}\n", 12, "stop word"),
    ],
)
def test_words_that_do_not_fit_are_named_at_their_line(words, steps, line, told):
    place = words(steps)
    with pytest.raises(ProcedureFileError) as raised:
        load_bundle(str(place))
    assert any(f"{place}:{line}: " in fault and told in fault for fault in str(raised.value).split("\n"))


def test_two_words_that_are_alike_are_named_where_they_are_written(words):
    for steps, told in (
        ("  nerve_after:\n    fields:\n      touch: {label: refill}\n", "two fields have the same label"),
        (
            "  nerve_after:\n    fields:\n      touch:\n        options: {covered: [gone], absent: [gone]}\n",
            '"gone" means',
        ),
    ):
        place = words(steps)
        with pytest.raises(ProcedureFileError) as raised:
            load_bundle(str(place))
        (fault,) = str(raised.value).split("\n")
        assert fault.startswith(f"{place}:")
        assert told in fault


def test_a_record_names_the_procedure_and_its_words(words):
    bundle = load_bundle(str(words("  angle: {prompt: Bent?}\n")))
    assert dict(versions_of(bundle)) == {
        "handsfree": __version__,
        "build": build(),
        "procedure small-plain": "1.0.0",
        "procedure small": "1.2.3",
        "device sleeve": "0.1.0",
        "light lamp": "0.1.0",
    }


def test_a_side_that_is_not_asked_for_is_told(words):
    found = [one for one in check(str(words("  nerve_after: {prompt: Touch and refill?}\n"))) if one.code == "no-side"]
    assert [(one.level, one.line) for one in found] == [(FindingLevel.WARNING, 10)]


def test_words_for_another_version_are_not_taken(words):
    with pytest.raises(ProcedureFileError, match="look through the words again"):
        load_bundle(str(words("  {}\n".replace("{}", "angle: {prompt: Bent?}"), of_version='"9.9.9"')))


def test_words_for_nothing_name_what_is_missing(words):
    with pytest.raises(ProcedureFileError, match=r"there is no nowhere\.yaml"):
        load_bundle(str(words("  angle: {prompt: Bent?}\n", translates="nowhere")))


def test_words_for_words_are_refused(words, tmp_path):
    place = words("  angle: {prompt: Bent?}\n")
    other = tmp_path / "second.yaml"
    other.write_text(place.read_text(encoding="utf-8").replace(f"translates: {made_from(place)}", "translates: plain"))
    with pytest.raises(ProcedureFileError, match="is itself a translation"):
        load_bundle(str(other))


def test_words_may_say_which_role_has_to_approve_them_and_approve_nothing_by_that(words):
    assert "approved_by: null" in PROCEDURE
    made = load_bundle(str(words("  angle: {prompt: Bent?}\n", approved_by="lead surgeon")))
    assert made.procedure.approved_by == "lead surgeon"
    assert approval_of_bundle(made).state is ApprovalState.NONE


def test_the_example_of_the_guide_is_whole():
    reading = read_procedure(str(PLAIN))
    assert not reading.faults
    assert {step.id: step for step in reading.procedure.steps}["discomfort"].fields[0].label == "aching"
    assert [one.code for one in check(str(PLAIN)) if one.level is not FindingLevel.NOTE] == ["unapproved"]


def test_what_stays_in_the_other_language_is_told(words):
    place = words("  angle: {prompt: Bent?}\n", language="de-CH")
    found = {one.code: one for one in check(str(place))}
    assert found["not-translated"].level is FindingLevel.WARNING
    assert "angle" not in found["not-translated"].text
    assert found["language"].level is FindingLevel.ERROR
    assert found["language"].line == 7
    same = {one.code: one for one in check(str(words("  angle: {prompt: Bent?}\n")))}
    assert same["not-translated"].level is FindingLevel.NOTE


def test_words_of_timers_repeats_and_units_can_be_given(tmp_path):
    steps = """
  - id: bolt
    kind: measure
    phase: during
    prompt: "Bolt {number}: what torque?"
    hard: true
    source: common
    timing: during
    repeat: {least: 2, most: 4, name: wheel bolt}
    timers: [{id: rest, after: 2, unit: min, say: It has rested.}]
    fields: [{id: torque, label: torque, number: {unit: N.m, spoken: newton metres, low: 0, high: 300}}]
"""
    (tmp_path / "bench.yaml").write_text(HEAD + steps)
    words = tmp_path / "bench-plain.yaml"
    words.write_text(
        'form: 1\ntranslates: bench\nof_version: "0.1.0"\nid: bench-plain\ntitle: Plain\nversion: "0.1.0"\n'
        "language: en-US\napproved_by: null\nsteps:\n  bolt:\n    name: big screw\n"
        "    timers: {rest: {say: Go on now.}}\n"
        "    fields: {torque: {spoken: newtons by metres}}\n"
    )
    step = load_bundle(str(words)).procedure.steps[-1]
    assert (step.repeat.name, step.timers[0].say) == ("big screw", "Go on now.")
    assert step.fields[0].number.spoken == "newtons by metres"
    words.write_text(words.read_text().replace("name: big screw", "name: big screw\n    red_action: Stop."))
    with pytest.raises(ProcedureFileError, match="the procedure says nothing there"):
        load_bundle(str(words))
