"""Corrections and attestations in the FHIR bundle."""

import json

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from export_samples import everything, exact, exported, observation, resources

from handsfree.export.choose import ExportForm
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
