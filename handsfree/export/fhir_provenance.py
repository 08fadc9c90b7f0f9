"""Who stands behind the record: what it was made from, who corrected and who attested it, as FHIR R4 Provenance. Pure.

Source of the code: HL7 provenance-participant-type.
"""

from handsfree.export.fhir_writer import OURS, Resource, Writer, last_stamp
from handsfree.model.facts import StepWithdrawn
from handsfree.model.readings import value_text
from handsfree.record.display_values import changed_with_unit, standing_readings

PARTICIPANT = "http://terminology.hl7.org/CodeSystem/provenance-participant-type"
HEAD = f"{OURS}:record-head-sha256"


def add_provenance(writer: Writer) -> None:
    """Add every Provenance of the record."""
    record = writer.record
    author: Resource = {"display": "handsfree"}
    if "handsfree" in record.header.versions:
        author = writer.reference("device/handsfree")
    head: Resource = {"identifier": {"system": HEAD, "value": record.head}}
    writer.add(
        "provenance/record",
        {
            "resourceType": "Provenance",
            "target": [writer.reference("procedure")],
            "recorded": last_stamp(record),
            "agent": [{"who": author}],
            "entity": [{"role": "source", "what": head}],
        },
    )
    _add_attestations(writer)
    known = {reading.recorded.seq for reading in standing_readings(record)}
    for item in record.amendments:
        if item.entry in known:
            name = f"amendment/{item.seq}"
            _add_revision(
                writer, name, f"entry/{item.entry}", item.at, item.by, item.reason, changed_with_unit(record, item)[0]
            )
    at = {fact.seq: fact.at for fact in record.facts}
    left_out = {one.seq for one in record.of(StepWithdrawn)}
    repeated = {reading.recorded.seq for reading in record.readings if reading.first is not None}
    for reading in record.readings:
        later, stands = reading.superseded_by, reading.stands
        if later is not None:
            before = " ".join(filter(None, (value_text(stands.value), stands.unit)))
            why = "flagged, and taken again as the procedure asks" if later in repeated else "corrected in the session"
            target = f"entry/{later}"
            if later in left_out:
                # No other value took its place: the step that it answers is no part of the visit any more.
                why, target = f"{stands.stage} {stands.field}: left out, its condition changed", "procedure"
            _add_revision(writer, f"replaced/{reading.recorded.seq}", target, at[later], "operator", why, before)


def _add_attestations(writer: Writer) -> None:
    """Who attested what. The signature is over the lines of the record, not over these resources, so it stays there."""
    record = writer.record
    kind: Resource = {"coding": [{"system": PARTICIPANT, "code": "attester", "display": "Attester"}]}
    for item in record.attestations:
        amended = any(later.seq > item.seq for later in record.amendments)
        who: Resource = {
            "identifier": {"system": f"{OURS}:ed25519-public-key", "value": item.public_key},
            "display": item.by,
        }
        covered: Resource = {
            "identifier": {"system": HEAD, "value": item.head},
            "display": "the record until then" + ("; amended since" if amended else ""),
        }
        resource: Resource = {
            "resourceType": "Provenance",
            "target": [writer.reference("procedure")],
            "recorded": item.at,
            "agent": [{"type": kind, "who": who}],
            "entity": [{"role": "source", "what": covered}],
        }
        if item.because:
            resource["reason"] = [{"text": f"items left open: {item.because}"}]
        writer.add(f"provenance/attestation/{item.seq}", resource)


def _add_revision(writer: Writer, name: str, target: str, at: str, by: str, reason: str, before: str) -> None:
    writer.add(
        f"provenance/{name}",
        {
            "resourceType": "Provenance",
            "target": [writer.reference(target)],
            "recorded": at,
            "reason": [{"text": reason}],
            "agent": [{"who": {"display": by}}],
            "entity": [{"role": "revision", "what": {"display": f"before: {before}"}}],
        },
    )
