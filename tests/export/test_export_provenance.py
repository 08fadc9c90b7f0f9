"""Corrections and attestations in the FHIR bundle."""

import json

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from export_samples import (
    FIRST_REFILL,
    ROSE,
    closing,
    corrected,
    everything,
    exact,
    exported,
    observation,
    refill,
    resources,
    write,
)

from handsfree.export.choose import ExportForm
from handsfree.model.open_items import OpenStep
from handsfree.model.readings import Side, Timing
from handsfree.model.reasons import Severity
from handsfree.record.amendments import amend, attest
from handsfree.record.own_lines import Amended
from handsfree.record.signing import public_hex
from handsfree.record.verify import verify


def test_amendments_are_amended_observations_with_provenance(bundle):
    pain = observation(bundle, "72514-3")
    assert pain["status"] == "amended"
    assert pain["valueQuantity"]["value"] == 4
    address = next(entry["fullUrl"] for entry in bundle["entry"] if entry["resource"] is pain)
    revision = next(item for item in resources(bundle, "Provenance") if item["target"][0]["reference"] == address)
    assert revision["entity"] == [{"role": "revision", "what": {"display": "before: value 3"}}]
    assert revision["reason"] == [{"text": "misheard"}]


def test_who_attested_is_in_the_provenance(tmp_path):
    # Source of the code: http://terminology.hl7.org/CodeSystem/provenance-participant-type (from memory).
    folder, key = everything(tmp_path / "r"), Ed25519PrivateKey.generate()
    attest(folder, key, by="surgeon")
    head = verify(folder).record.attestations[-1].head

    def attestations():
        text = exported(folder, ExportForm.FHIR)
        bundle_model = pytest.importorskip("fhir.resources.R4B.bundle", reason="fhir.resources is a development tool")
        bundle_model.Bundle.model_validate_json(text)
        return [item for item in resources(json.loads(text), "Provenance") if "type" in item["agent"][0]]

    (first,) = attestations()
    (agent,), (entity,) = first["agent"], first["entity"]
    assert agent["type"]["coding"][0]["code"] == "attester"
    assert agent["who"] == {
        "identifier": {"system": "urn:handsfree:ed25519-public-key", "value": public_hex(key)},
        "display": "surgeon",
    }
    assert entity["what"]["identifier"]["value"] == head
    assert entity["what"]["display"] == "the record until then"
    amendable = next(item.recorded.seq for item in verify(folder).record.readings if item.stands.field == "rest")
    amend(folder, amendable, Amended(value=exact("5")), by="surgeon", reason="misheard again")
    other = Ed25519PrivateKey.generate()
    attest(folder, other, by="registrar")
    then, now = attestations()
    assert then["entity"][0]["what"]["display"] == "the record until then; amended since"
    assert now["entity"][0]["what"]["display"] == "the record until then"
    assert now["agent"][0]["who"]["identifier"]["value"] == public_hex(other)


def test_why_items_stay_open_is_in_the_provenance_of_who_attested(tmp_path):
    end = closing(outcome="stopped", open_items=(OpenStep("padding"),))
    folder = write(tmp_path / "r", end=end)
    attest(folder, Ed25519PrivateKey.generate(), by="surgeon", open_items_because="came back to theatre")
    bundle = json.loads(exported(folder, ExportForm.FHIR))
    (attestation,) = [item for item in resources(bundle, "Provenance") if "type" in item["agent"][0]]
    assert attestation["reason"] == [{"text": "items left open: came back to theatre"}]
    # Source: HL7 FHIR R4 4.0.1, value set event-status.
    assert resources(bundle, "Procedure")[0]["status"] == "stopped"
    note = exported(folder, ExportForm.NOTE)
    assert "Open when the visit ended\n- not done: padding\n" in note
    assert "Attested with items left open: came back to theatre" in note


@pytest.mark.parametrize(
    ("why", "status", "reason", "first"),
    [
        ("corrected", "corrected", "corrected in the session", ""),
        ("repeated", "final", "flagged, and taken again as the procedure asks", "(first 1.0 s, flagged; taken again)"),
    ],
)
def test_a_value_that_took_the_place_of_another_tells_why(tmp_path, why, status, reason, first):
    folder = write(tmp_path / "r", FIRST_REFILL, corrected(FIRST_REFILL, exact("1.5", 1), why))
    bundle = json.loads(exported(folder, ExportForm.FHIR))
    assert resources(bundle, "Observation")[0]["status"] == status
    (replaced,) = [item for item in resources(bundle, "Provenance") if "reason" in item]
    assert replaced["reason"] == [{"text": reason}]
    assert replaced["entity"][0]["what"]["display"] == "before: 1 s"
    assert first in exported(folder, ExportForm.NOTE)


def test_a_flag_stays_beside_a_value_that_was_amended_later(tmp_path):
    flagged = refill(exact("2.5", 1), Side.LEFT, Timing.AFTER, severity=Severity.RED, grounds=ROSE)
    folder = write(tmp_path / "r", flagged)
    entry = verify(folder).record.readings[0].recorded.seq
    amend(folder, entry, Amended(value=exact("1.5", 1)), by="surgeon", reason="misheard")
    note = exported(folder, ExportForm.NOTE)
    told = "amended, not judged: its procedure was not at hand"
    expected = f"RED FLAG nv after, left, refill 1.5 s: refill rose by 1.5 ({told})"
    assert f"- {expected}  (entry {entry})" in note
