"""Codes of a bundle against the published lists that FHIR R4 binds its elements to; an independent reading of them."""

# Source: HL7 FHIR R4 4.0.1, required bindings (hl7.org/fhir/R4, value sets of the same names).
OBSERVATION_STATUS = {
    "registered",
    "preliminary",
    "final",
    "amended",
    "corrected",
    "cancelled",
    "entered-in-error",
    "unknown",
}
EVENT_STATUS = {
    "preparation",
    "in-progress",
    "not-done",
    "on-hold",
    "stopped",
    "completed",
    "entered-in-error",
    "unknown",
}
QUANTITY_COMPARATOR = {"<", "<=", ">=", ">"}
PROVENANCE_ENTITY_ROLE = {"derivation", "revision", "quotation", "source", "removal"}
UDI_ENTRY_TYPE = {"barcode", "rfid", "manual", "card", "self-reported", "unknown"}
DEVICE_NAME_TYPE = {
    "udi-label-name",
    "user-friendly-name",
    "patient-reported-name",
    "manufacturer-name",
    "model-name",
    "other",
}
BUNDLE_TYPE = {"document", "message", "transaction", "batch", "history", "searchset", "collection"}
# Source: code system http://terminology.hl7.org/CodeSystem/data-absent-reason (the codes that the model can state).
ABSENT_REASON = {"not-performed", "asked-unknown", "asked-declined", "not-applicable", "unknown", "error"}
# Source: LOINC 44963-7 (as in the US Core example) and 72514-3; SNOMED CT sides as in HL7 value sets.
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
PUBLISHED_CODES = {
    "http://loinc.org": {"44963-7", "72514-3"},
    "http://snomed.info/sct": {"7771000", "24028007"},
    ABSENT: ABSENT_REASON,
    "http://terminology.hl7.org/CodeSystem/v3-ActReason": {"HTEST"},
    "http://terminology.hl7.org/CodeSystem/provenance-participant-type": {"attester"},
}
BOUND = {
    "Observation": {"status": OBSERVATION_STATUS},
    "DetectedIssue": {"status": OBSERVATION_STATUS, "severity": {"high", "moderate", "low"}},
    "Procedure": {"status": EVENT_STATUS},
    "CodeSystem": {
        "status": {"draft", "active", "retired", "unknown"},
        "content": {"not-present", "example", "fragment", "complete", "supplement"},
    },
}
NARRATIVE_STATUS = {"generated", "extensions", "additional", "empty"}


def walk(value):
    if isinstance(value, dict):
        yield value
        for item in value.values():
            yield from walk(item)
    elif isinstance(value, list):
        for item in value:
            yield from walk(item)


def code_faults(bundle):
    """Every code of a bundle that stands on no list, as element and code."""
    own = {
        (entry["resource"]["url"], concept["code"])
        for entry in bundle["entry"]
        if entry["resource"]["resourceType"] == "CodeSystem"
        for concept in entry["resource"]["concept"]
    }
    faults = [] if bundle["type"] in BUNDLE_TYPE else [f"Bundle.type {bundle['type']}"]
    for entry in bundle["entry"]:
        faults += _bound(entry["resource"])
    for node in walk(bundle):
        faults += _coded(node, own)
    return faults


def _bound(resource):
    kind = resource["resourceType"]
    for element, allowed in BOUND.get(kind, {}).items():
        if resource[element] not in allowed:
            yield f"{kind}.{element} {resource[element]}"
    lists = (
        ([resource["text"]] if "text" in resource else (), "status", NARRATIVE_STATUS),
        (resource.get("entity", ()) if kind == "Provenance" else (), "role", PROVENANCE_ENTITY_ROLE),
        (resource.get("deviceName", ()), "type", DEVICE_NAME_TYPE),
        (resource.get("udiCarrier", ()), "entryType", UDI_ENTRY_TYPE),
    )
    for members, element, allowed in lists:
        yield from (f"{kind}: {element} {one[element]}" for one in members if one[element] not in allowed)


def _coded(node, own):
    if node.get("comparator") not in {None, *QUANTITY_COMPARATOR}:
        yield f"Quantity.comparator {node['comparator']}"
    system, code = node.get("system"), node.get("code")
    if system is None or code is None or system == "http://unitsofmeasure.org":
        return
    if system == "urn:handsfree:event" and (system, code) not in own:
        yield f"{system} {code} is in no code system of the bundle"
    if not system.startswith("urn:handsfree") and code not in PUBLISHED_CODES.get(system, ()):
        yield f"{system} {code}"
