"""The page of every key says what the forms are, and each of its examples stands in a file that is checked."""

from pathlib import Path

import pytest

import handsfree
from handsfree.authoring.checks import check
from handsfree.authoring.findings import FindingLevel
from handsfree.authoring.keys_page import bundled_sources, entries, flow, page
from handsfree.authoring.schema import KINDS
from handsfree.definition.loader import load_device, load_light, read_procedure
from handsfree.definition.source_lines import parse_source
from handsfree.practice.scenario_loader import load_scenario

FOLDER = Path(handsfree.__file__).parent / "procedures"
PRACTICE = sorted((FOLDER / "guide").glob("*-practice.yaml"))
GUIDE = sorted(path for path in (FOLDER / "guide").glob("*.yaml") if not path.stem.endswith(("rehearsal", "practice")))


@pytest.fixture(scope="module")
def sources():
    return bundled_sources(FOLDER)


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_has_words_and_an_example_from_a_bundled_file(kind, sources):
    found = entries(kind, sources[kind])
    assert [f"{entry.form.__name__}.{entry.key}" for entry in found if not entry.meaning] == []
    # Where this fails: put the key into procedures/guide/every-key.yaml, or another file there.
    assert [f"{entry.form.__name__}.{entry.key}" for entry in found if not entry.example] == []


def test_the_page_is_what_the_forms_say():
    # Where this fails: scripts/write_keys_page.
    assert (FOLDER / "KEYS.md").read_text(encoding="utf-8") == page(FOLDER)


def test_every_example_is_yaml_and_says_its_key(sources):
    for kind in KINDS:
        for entry in entries(kind, sources[kind]):
            if not entry.example.endswith("…"):
                assert list(parse_source(entry.example, "example").data) == [entry.key]


@pytest.mark.parametrize("path", GUIDE, ids=[path.stem for path in GUIDE])
def test_the_files_of_the_guide_have_no_error(path):
    reading = read_procedure(str(path))
    assert reading.faults == ()
    if len(reading.procedure.steps) > 30:
        return  # the words of a bundled fitting, which is checked elsewhere
    assert [one.as_line for one in check(str(path)) if one.level is FindingLevel.ERROR] == []


@pytest.mark.parametrize("path", PRACTICE, ids=[path.stem for path in PRACTICE])
def test_its_scenarios_have_no_error(path):
    loaded = load_scenario(str(path))
    assert loaded.bundle.procedure.id == path.stem.removesuffix("-practice")


def test_its_profiles_load():
    assert load_device(str(FOLDER / "guide" / "profiles" / "invented-plate.yaml")).guidance is not None
    assert load_light(str(FOLDER / "guide" / "profiles" / "invented-lamp.yaml")).tone is not None


# YAML 1.2: what could be read as something else is put in quotes.
@pytest.mark.parametrize(
    "value", ["yes: no", "true", "a, b", "0.1", "{x}", "", "plain words", [True, 1.5], {"a": ["b"]}]
)
def test_a_value_in_one_line_is_read_as_it_was(value):
    assert parse_source(f"key: {flow(value)}", "x").data == {"key": value}
