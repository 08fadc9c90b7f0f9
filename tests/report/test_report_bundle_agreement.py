"""The bundle of each awkward visit is valid, says the ten lines in words and flatters nothing; codes are the author's.

The lines of the record are the judge, as in `test_report_agreement.py`; sources of formats stand beside each check.
"""

import html
import json
import sys
from pathlib import Path

import pytest
from awkward_visits import AWKWARD
from test_report_agreement import EXPECTED, UNCLOSED, bundle_of, screen, unwrapped

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "export"))
from fhir_code_lists import code_faults


@pytest.fixture(params=AWKWARD)
def case(request, awkward):
    return awkward[request.param], EXPECTED[request.param]


def test_the_bundle_is_valid_and_says_the_ten_lines_in_words(case):
    folder, _ = case
    if folder.name in UNCLOSED:
        pytest.skip("a visit that was not closed is not exported as FHIR")
    # Source: fhir.resources, an independent library; its R4B models (4.3.0) hold for these resources of R4.
    models = pytest.importorskip("fhir.resources.R4B.bundle", reason="fhir.resources is a development tool")
    text, bundle = bundle_of(folder)
    assert len(models.Bundle.model_validate_json(text).entry) == len(json.loads(text)["entry"])
    assert code_faults(json.loads(text)) == []
    shown = html.unescape(bundle["narrative"])
    kinds = ("Stopped", "Overridden", "Red finding", "Light off target", "Changed", "Open")
    listed = [line for line in unwrapped(screen(folder)) if line.partition(":")[0] in kinds]
    assert all(line in shown for line in listed)


def test_no_status_of_a_bundle_flatters(case):
    folder, expected = case
    if folder.name in UNCLOSED:
        pytest.skip("a visit that was not closed is not exported as FHIR")
    _, bundle = bundle_of(folder)
    assert (bundle["outcome"] == "completed") is (expected.outcome == "completed")
    assert bool(bundle["overridden"]) is bool(expected.overrides)
    assert bundle["status"] == ("stopped" if expected.outcome == "stopped" else "completed")


def test_codes_are_those_that_the_author_states_and_no_other(awkward):
    text, _ = bundle_of(awkward["whole"])
    coded = [
        (coding["code"], resource["code"]["coding"][-1]["code"])
        for resource in (entry["resource"] for entry in json.loads(text)["entry"])
        if resource["resourceType"] == "Observation"
        for coding in resource["code"]["coding"]
        if coding["system"] == "http://loinc.org"
    ]
    assert {code for code, _ in coded} == {"44963-7", "72514-3"}
    assert {field for _, field in coded} == {
        *("circulation_before.refill", "circulation_after.refill", "pain_before.rest", "pain_after.rest")
    }
