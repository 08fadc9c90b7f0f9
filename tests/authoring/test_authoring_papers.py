"""Schema, chart and card of every bundled procedure."""

import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from handsfree.application.approvals import approval_of_bundle
from handsfree.authoring.card import card_html, card_text
from handsfree.authoring.chart import guards, mermaid, nodes, svg, ways
from handsfree.authoring.pronunciation import dictionary, phone_distance, phones_of, relative_distance
from handsfree.authoring.schema import KINDS, schema_of
from handsfree.commands.author import card, chart, schema
from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.definition.plan import compile_procedure
from handsfree.definition.source_lines import read_source

FOLDER = Path(__file__).resolve().parents[2] / "handsfree" / "procedures"


# JSON Schema draft 2020-12, by the library jsonschema.
@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_is_one(kind):
    jsonschema.Draft202012Validator.check_schema(schema_of(kind))


FILES = [("procedure", path) for path in sorted(FOLDER.glob("*.yaml"))]
FILES += [("blocks", path) for path in sorted((FOLDER / "blocks").glob("*.yaml"))]
FILES += [("translation", FOLDER / "guide" / "dressing-change-plain.yaml")]
FILES += [("device", path) for path in sorted((FOLDER / "profiles").glob("*sleeve.yaml"))]
FILES += [("light", path) for path in sorted((FOLDER / "profiles").glob("*light.yaml"))]


@pytest.mark.parametrize(("kind", "path"), FILES, ids=[path.stem for _, path in FILES])
def test_bundled_files_keep_to_the_schema(kind, path):
    validator = jsonschema.Draft202012Validator(schema_of(kind))
    assert [error.message for error in validator.iter_errors(read_source(path).data)] == []


@pytest.mark.parametrize(
    ("old", "new"),
    [("hard: true", "hrad: true"), ("kind: measure", "kind: mesure"), ("unit: Cel, ", ""), ("form: 1", "form: 2")],
)
def test_the_schema_marks_what_is_wrong(tmp_path, old, new):
    text = (FOLDER / "thermometer-calibration.yaml").read_text(encoding="utf-8")
    path = tmp_path / "x.yaml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    assert list(jsonschema.Draft202012Validator(schema_of("procedure")).iter_errors(read_source(path).data))


@pytest.mark.parametrize("name", bundled_procedures())
def test_the_diagram_shows_every_step_and_every_move_of_the_table(name):
    plan = compile_procedure(load_bundle(name).procedure)
    text = mermaid(plan)
    assert len(re.findall(r"^    step_\w+\[", text, re.MULTILINE)) == len(plan.procedure.steps)
    arrows = set(re.findall(r'^  (\w+) -->(?:\|"[^|]*"\|)? (\w+)$', text, re.MULTILINE))
    assert arrows == set(ways(plan))
    for step in plan.procedure.steps:
        mark = re.search(rf'^    step_{step.id}\["(■ )?', text, re.MULTILINE)
        assert mark is not None
        assert bool(mark[1]) is step.hard


@pytest.mark.parametrize("name", bundled_procedures())
def test_the_diagram_shows_every_gate_that_the_session_walks_through_with_its_guards(name):
    plan = compile_procedure(load_bundle(name).procedure)
    drawn = re.findall(r'^  gate_(\w+)\{\{"gate into [^:]+: ([^"]+)"\}\}:::gate$', mermaid(plan), re.MULTILINE)
    assert drawn == [(gate.into.value, guards(gate, plan)) for gate in plan.gates]
    for gate in plan.gates:
        # No way leads past a gate: whatever is drawn before it reaches what is behind only through it.
        order = [node.id for node in nodes(plan)]
        here = order.index(f"gate_{gate.into}")
        assert not [(one, two) for one, two in ways(plan) if order.index(one) < here < order.index(two)]


# Written by hand from light-output-check.yaml: its hard steps, and what its step "distance" requires.
GUARDS = {
    "before": "nothing held; done: session kind",
    "inspection": "nothing held; done: session kind, light code, condition, eye protection; "
    "not skipped: eye protection",
    "after": "nothing held; done: session kind, light code, condition, eye protection, distance, output",
    "closing": "nothing held; done: all 7 hard steps before",
}


def test_a_gate_names_its_guards():
    text = mermaid(compile_procedure(load_bundle("light-output-check").procedure))
    assert dict(re.findall(r'gate_(\w+)\{\{"gate into \w+: ([^"]+)"', text)) == GUARDS


def test_where_there_is_no_light_the_phase_during_is_called_so():
    for name, called in (("splint-removal", "during"), ("ulnar-splint-fitting", "inspection")):
        plan = compile_procedure(load_bundle(name).procedure)
        assert f'"{called.capitalize()}"]' in mermaid(plan)
        assert f"gate into {called}:" in mermaid(plan)
        assert f">{called.capitalize()}</text>" in svg(plan)
        assert f">gate into {called}</text>" in svg(plan)


@pytest.mark.parametrize("name", bundled_procedures())
def test_the_drawing_is_well_formed_and_has_a_box_for_each_step(name):
    # XML 1.0, by the standard library's parser; SVG 1.1 elements.
    plan = compile_procedure(load_bundle(name).procedure)
    root = ElementTree.fromstring(svg(plan))  # noqa: S314 - our own text
    boxes = [box for box in root.iter("{http://www.w3.org/2000/svg}rect") if box.get("rx") is not None]
    assert len(boxes) == len(plan.procedure.steps) + len(plan.gates) + 1
    thick = [box for box in boxes if box.get("stroke-width") == "3"]
    assert len(thick) == sum(step.hard for step in plan.procedure.steps)
    jumps = [path for path in root.iter("{http://www.w3.org/2000/svg}path") if path.get("class") == "round"]
    order = [node.id for node in nodes(plan)]
    assert len(jumps) == sum(order.index(t) - order.index(s) > 1 for s, t in ways(plan))


def test_what_holds_the_procedure_by_comparison_is_drawn_too():
    plan = compile_procedure(load_bundle("neurovascular-check").procedure)
    drawn = mermaid(plan)
    assert "median, ulnar, radial worse than before" in drawn
    assert "rest up by 2; stretch up by 1" in drawn
    assert "refill flagged twice" in drawn
    assert "{side}" not in svg(plan)
    fitting = mermaid(compile_procedure(load_bundle("ulnar-splint-fitting").procedure))
    assert "STOP answers differ" in fitting
    assert "STOP no size of the chart fits" in fitting


@pytest.mark.parametrize("name", bundled_procedures())
def test_the_card_has_every_step_with_its_words(name):
    bundle = load_bundle(name)
    stands = approval_of_bundle(bundle)
    text, page = card_text(bundle, stands), card_html(bundle, stands)
    assert "http" not in page
    assert "Not approved by anybody" in text
    assert "{" not in text
    assert page.count('class="step"') == len(bundle.procedure.steps)
    for step in bundle.procedure.steps:
        for field in step.fields:
            for phrases in (field.options or {}).values():
                assert phrases[0] in text


def test_the_commands_write_files_and_streams(tmp_path):
    runner = CliRunner()
    out = tmp_path / "chart.svg"
    assert runner.invoke(chart, ["splint-removal", "--out", str(out)]).exit_code == 0
    assert out.read_text(encoding="utf-8").startswith("<svg")
    assert runner.invoke(chart, ["splint-removal"]).stdout.startswith("flowchart TD")
    assert runner.invoke(card, ["splint-removal"]).stdout.startswith("<!doctype html>")
    assert '"$schema"' in runner.invoke(schema, ["device"]).stdout
    assert runner.invoke(card, ["splint-removal", "--out", str(tmp_path / "no" / "x")]).exit_code == 1


def test_distance_of_sounds():
    # CMU pronouncing dictionary: fourteen F AO R T IY N, forty F AO R T IY; Levenshtein distance, worked by hand.
    if not dictionary():
        pytest.skip("pocketsphinx, whose dictionary is used, is not installed")
    assert phones_of("forty") == ("F", "AO", "R", "T", "IY")
    one, two = phones_of("fourteen"), phones_of("forty")
    assert one is not None
    assert two is not None
    assert phone_distance(one, two) == 1.0
    assert phone_distance(("P", "AE", "T"), ("B", "AE", "T")) == 0.5
    assert phone_distance((), ("T", "AH")) == 2.0
    assert relative_distance("fourteen", "qwxz") is None
