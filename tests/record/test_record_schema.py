"""Every line of every record keeps to the printed schema, held against by the library jsonschema (draft 2020-12)."""

import json
import typing

import jsonschema
import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given, settings
from model_values import of
from record_golden import FORM_2, copy_of, raw_lines
from record_samples import exact, write_visit
from record_visits import SCENARIOS, Visit

from handsfree.application.replaying import verify_and_replay
from handsfree.commands.author import schema as schema_command
from handsfree.commands.rehearse import rehearse
from handsfree.model.facts import AnyFact
from handsfree.record.amendments import amend, attest
from handsfree.record.codec import encode_fact
from handsfree.record.contents import Amended
from handsfree.record.own_lines import OWN_KINDS
from handsfree.record.schema import record_schema
from handsfree.record.verify import verify
from handsfree.report.ways_confirmed import ways_confirmed

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
ZEROS = "0" * 64
NARRATED = "ulnar-narrated"
REHEARSED = sorted(path.stem for path in SCENARIOS.glob("*.yaml") if path.stem != NARRATED)


@pytest.fixture(scope="module")
def validator():
    schema = record_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_the_command_prints_the_schema():
    printed = CliRunner().invoke(schema_command, ["record"])
    assert printed.exit_code == 0
    assert json.loads(printed.stdout) == record_schema()


def test_every_kind_of_line_is_in_the_schema():
    kinds = set(record_schema()["properties"]["kind"]["enum"])
    facts = {kind.__dataclass_fields__["kind"].default for kind in typing.get_args(AnyFact)}
    assert kinds == facts | OWN_KINDS


@pytest.mark.parametrize("name", FORM_2)
def test_every_line_of_a_golden_record_keeps_to_the_schema(tmp_path, validator, name):
    for line in raw_lines(copy_of(name, tmp_path, form=2)):
        validator.validate(line)


@pytest.mark.parametrize("name", REHEARSED)
def test_every_line_of_a_rehearsal_keeps_to_the_schema(tmp_path, validator, name):
    visit = Visit(name, tmp_path / "r").start()
    with visit.journal:
        visit.work()
    lines = raw_lines(tmp_path / "r")
    assert lines[-1]["kind"] == "sealed"
    for line in lines:
        validator.validate(line)


def test_every_line_of_a_narrated_visit_keeps_to_the_schema_and_replays(tmp_path, validator):
    script = SCENARIOS / f"{NARRATED}.yaml"
    done = CliRunner().invoke(rehearse, [str(script), "--typed", "--quiet", "--record", str(tmp_path / "r")])
    assert done.exit_code == 0, done.output
    for line in raw_lines(tmp_path / "r"):
        validator.validate(line)
    found, why_not = verify_and_replay(tmp_path / "r")
    assert (found.fine, why_not) == (True, "")
    ways = {one.recorded.fact.read_back for one in found.record.readings}
    assert ways == {"affirmed", "echo", "going_on"}
    (told,) = ways_confirmed(found.record)
    assert told.startswith("readings confirmed: ")
    assert "said back, no objection" in told


def test_what_is_added_later_keeps_to_the_schema(tmp_path, validator):
    folder = write_visit(tmp_path / "r")
    entry = verify(folder).record.readings[1].recorded.seq
    amend(folder, entry, Amended(value=exact("1.0")), by="surgeon", reason="misheard")
    attest(folder, KEY, by="surgeon")
    for line in raw_lines(folder):
        validator.validate(line)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(fact=of(AnyFact))
def test_whatever_can_be_stated_keeps_to_the_schema(fact):
    kind, data = encode_fact(fact)
    FACT_VALIDATOR.validate({"seq": 1, "prev": ZEROS, "at": "2026-11-25T10:00:00.000Z", "kind": kind, "data": data})


FACT_VALIDATOR = jsonschema.Draft202012Validator(record_schema())


@pytest.mark.parametrize(
    "change",
    [
        lambda line: line | {"kind": "opinion_formed"},
        lambda line: line | {"mood": "good"},
        lambda line: line | {"seq": -1},
        lambda line: line | {"seq": "1"},
        lambda line: line | {"prev": "0"},
        lambda line: line | {"kind": "step_entered"},
        lambda line: line | {"data": line["data"] | {"mood": "good"}},
        lambda line: line | {"data": line["data"] | {"kind": "reading_confirmed"}},
        lambda line: line | {"data": line["data"] | {"asked": "no"}},
        lambda line: line | {"data": line["data"] | {"side": "middle"}},
        lambda line: line | {"data": line["data"] | {"value": {"type": "exact", "value": 1.5}}},
        lambda line: line | {"data": line["data"] | {"value": "1.5"}},
        lambda line: line | {"data": {name: value for name, value in line["data"].items() if name != "asked"}},
        lambda line: {name: value for name, value in line.items() if name != "at"},
    ],
)
def test_the_schema_marks_what_is_no_line(tmp_path, validator, change):
    line = next(line for line in raw_lines(write_visit(tmp_path / "r")) if line["kind"] == "reading_confirmed")
    validator.validate(line)
    assert list(validator.iter_errors(change(line)))


def test_sound_has_no_place_in_a_line():
    assert "clip" not in record_schema()["$defs"]["Hypothesis"]["properties"]
