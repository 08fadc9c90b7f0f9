"""A record as one FHIR R4 (4.0.1) bundle. Pure.

Only codes that are certain; everything else has our own codes and plain text. Sources of codes: LOINC 44963-7 and
72514-3; SNOMED CT 7771000 and 24028007; UCUM; HL7 data-absent-reason and provenance-participant-type; HTEST, which FHIR
names for test data. Licences of LOINC and SNOMED CT apply to whoever uses them.
"""

from collections.abc import Mapping
from decimal import Decimal

from handsfree.export.fhir_provenance import add_provenance
from handsfree.export.fhir_writer import OURS, Resource, Value, Writer, dump, last_stamp
from handsfree.record.contents import Fact, Record
from handsfree.record.entries import (
    Entry,
    as_decimal,
    current,
    declared,
    measured,
    of_record,
    outcome,
    versions,
)

LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
UCUM = "http://unitsofmeasure.org"
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
GS1 = "http://hl7.org/fhir/NamingSystem/gs1-di"
BODY_SITE = "http://hl7.org/fhir/StructureDefinition/bodySite"
_SIDES = {"left": ("7771000", "Left"), "right": ("24028007", "Right")}
UNREAD = "As dictated, unverified: "
_PROCEDURE_STATUS = {"completed": "completed", "stopped": "stopped"}
_DEVICE_FIELDS = frozenset({"lot", "expiry", "serial", "gtin"})
_DEVICE_KINDS = frozenset({"handsfree", "device", "light"})
"""Versions that are devices: the program, the orthosis, the light. The others are versions of the program's parts."""


def to_fhir(record: Record) -> str:
    """The record as the JSON text of a bundle; the same record always gives the same text."""
    writer = Writer(record)
    _add_people(writer)
    _add_devices(writer)
    sides = sorted({entry.side for entry in current(record) if entry.side in _SIDES})
    for side in sides:
        code, display = _SIDES[side]
        qualifier = {"coding": [{"system": SNOMED, "code": code, "display": display}]}
        writer.add(
            f"side/{side}",
            {
                "resourceType": "BodyStructure",
                "locationQualifier": [qualifier],
                "patient": writer.reference("patient"),
            },
        )
    _add_procedure(writer)
    for entry in current(record):
        _add_observation(writer, entry)
    for zone in record.zones:
        _add_exposure(writer, zone)
    add_provenance(writer)
    bundle: Resource = {
        "resourceType": "Bundle",
        "id": writer.url("bundle").removeprefix("urn:uuid:"),
        **writer.mark(),
        "identifier": {"system": f"{OURS}:record", "value": writer.record_id},
        "type": "collection",
        "timestamp": last_stamp(record),
        "entry": writer.entries,
    }
    return dump(bundle) + "\n"


def _devices(known: Mapping[str, str]) -> list[tuple[str, str]]:
    return [(name, version) for name, version in sorted(known.items()) if name.partition(" ")[0] in _DEVICE_KINDS]


def _add_people(writer: Writer) -> None:
    patient: Resource = {"resourceType": "Patient"}
    reference = of_record(writer.record, "patient_reference")
    if reference:
        patient["identifier"] = [{"system": f"{OURS}:patient-reference", "value": reference}]
    writer.add("patient", patient)
    operator: Resource = {"resourceType": "Practitioner"}
    code = next((entry.value for entry in current(writer.record) if entry.step == "operator_code"), "")
    if code:
        operator["identifier"] = [{"system": f"{OURS}:operator-code", "value": code}]
    writer.add("operator", operator)


def _add_devices(writer: Writer) -> None:
    known = versions(writer.record)
    parts: list[Value] = [
        {"type": {"text": name}, "value": version}
        for name, version in sorted(known.items())
        if name.partition(" ")[0] not in _DEVICE_KINDS
    ]
    for name, version in _devices(known):
        kind, _, label = name.partition(" ")
        device: Resource = {"resourceType": "Device"}
        if kind == "device":
            device |= _label_of_device(writer)
        device["deviceName"] = [{"name": label or kind, "type": "user-friendly-name"}]
        device["version"] = [{"value": version}, *(parts if kind == "handsfree" else [])]
        if kind == "device":
            device["patient"] = writer.reference("patient")
        writer.add(f"device/{name}", device)


def _label_of_device(writer: Writer) -> Resource:
    """Lot, expiry, serial and UDI: what was read back; number and serial also of a scan with the same lot."""
    fields = {
        entry.field: entry.value
        for entry in current(writer.record)
        if entry.field in _DEVICE_FIELDS and entry.step.startswith("device") and entry.value
    }
    label: Resource = {}
    scans = [scan.data for scan in writer.record.of_kind("label_scanned") if not scan.data.get("faults")]
    scan = next((data for data in reversed(scans) if fields and data.get("lot") == fields.get("lot")), {})
    for name in ("gtin", "serial"):
        if isinstance(scan.get(name), str):
            fields.setdefault(name, str(scan[name]))
    if isinstance(scan.get("produced"), str):
        label["manufactureDate"] = str(scan["produced"])
    if fields.get("gtin"):
        ais = {"gtin": "01", "expiry": "17", "lot": "10", "serial": "21"}
        readable = "".join(
            f"({ai}){fields[name][2:].replace('-', '') if name == 'expiry' else fields[name]}"
            for name, ai in ais.items()
            if name in fields
        )
        # Brackets are what people type from the print; scanners send none.
        entry_type = "barcode" if scan and not str(scan.get("heard")).startswith("(") else "manual"
        label["udiCarrier"] = [
            {"deviceIdentifier": fields["gtin"], "issuer": GS1, "carrierHRF": readable, "entryType": entry_type}
        ]
    if "expiry" in fields:
        label["expirationDate"] = fields["expiry"]
    if "lot" in fields:
        label["lotNumber"] = fields["lot"]
    if "serial" in fields:
        label["serialNumber"] = fields["serial"]
    return label


def _add_procedure(writer: Writer) -> None:
    record = writer.record
    procedure: Resource = {
        "resourceType": "Procedure",
        "identifier": [{"system": f"{OURS}:record", "value": writer.record_id}],
        "status": _PROCEDURE_STATUS.get(outcome(record), "unknown"),
        "code": {
            "coding": [{"system": f"{OURS}:procedure", "code": writer.procedure_id}],
            "text": of_record(record, "title") or writer.procedure_id,
        },
        "subject": writer.reference("patient"),
    }
    if record.started is not None:
        period: Resource = {"start": record.started.wall}
        if record.closing is not None:
            period["end"] = record.closing.at
        procedure["performedPeriod"] = period
    performer: Resource = {"actor": writer.reference("operator")}
    role = next((entry.value for entry in current(record) if (entry.step, entry.field) == ("operator", "role")), "")
    if role:
        performer = {"function": {"text": role}} | performer
    procedure["performer"] = [performer]
    side = declared(record, "side_declared", "side")
    if side:
        procedure["bodySite"] = [{"text": f"{side} side"}]
    notes: list[Value] = [
        {"time": note.fact.at, "text": f"{'' if note.data.get('verified') is True else UNREAD}{note.data.get('text')}"}
        for note in record.amended_notes
    ]
    if notes:
        procedure["note"] = notes
    used = _devices(versions(record))
    if used:
        procedure["usedReference"] = [writer.reference(f"device/{name}") for name, _ in used]
    writer.add("procedure", procedure)


def _add_observation(writer: Writer, entry: Entry) -> None:
    replaced = not entry.first and any(one.superseded_by == entry.number for one in writer.record.readings)
    known = _loinc(entry)
    coding: list[Value] = [{"system": LOINC, "code": known}] if known else []
    coding.append({"system": f"{OURS}:procedure:{writer.procedure_id}", "code": f"{entry.step}.{entry.field}"})
    observation: Resource = {"resourceType": "Observation"}
    if entry.side in _SIDES:
        observation["extension"] = [{"url": BODY_SITE, "valueReference": writer.reference(f"side/{entry.side}")}]
    observation |= {
        "identifier": [{"system": f"{OURS}:entry", "value": f"{writer.record_id}/{entry.number}"}],
        "partOf": [writer.reference("procedure")],
        "status": "amended" if entry.amendments else "corrected" if replaced else "final",
    }
    if entry.timing:
        observation["category"] = [
            {"coding": [{"system": f"{OURS}:timing", "code": entry.timing}], "text": entry.timing}
        ]
    observation |= {
        "code": {"coding": coding, "text": f"{entry.step.replace('_', ' ')}: {entry.label}"},
        "subject": writer.reference("patient"),
        "effectiveDateTime": entry.at,
        "performer": [writer.reference("operator")],
    }
    observation |= _value(writer, entry)
    if entry.flag:
        words = entry.flag_reason or f"{entry.flag} flag"
        flagged: Resource = {"coding": [{"system": f"{OURS}:class", "code": entry.flag}], "text": words}
        observation["interpretation"] = [flagged]
    writer.add(f"entry/{entry.number}", observation)


def _loinc(entry: Entry) -> str | None:
    """Capillary refill time of the nail bed; pain 0 to 10 as the patient says it, at rest. No other code is certain."""
    if (entry.field, entry.unit) == ("refill", "s"):
        return "44963-7"
    if entry.step.startswith("pain") and (entry.field, entry.unit) == ("rest", "{score}"):
        return "72514-3"
    return None


def _value(writer: Writer, entry: Entry) -> Resource:
    if entry.absent:
        return {"dataAbsentReason": {"coding": [{"system": ABSENT, "code": entry.absent}]}}
    low, high = as_decimal(entry.low), as_decimal(entry.high)
    if low is not None and high is not None:
        return {"valueRange": {"low": quantity(low, entry.unit), "high": quantity(high, entry.unit)}}
    number = entry.number_value
    if number is not None:
        return {"valueQuantity": quantity(number, entry.unit, entry.comparator)}
    if entry.kind == "spokendate":
        return {"valueDateTime": entry.value}
    if entry.kind != "option":
        return {"valueString": entry.value}
    code: Resource = {
        "system": f"{OURS}:procedure:{writer.procedure_id}",
        "code": f"{entry.step}.{entry.field}.{entry.value}",
    }
    return {"valueCodeableConcept": {"coding": [code], "text": entry.value.replace("_", " ")}}


def quantity(number: Decimal, unit: str, comparator: str = "") -> Resource:
    """A FHIR Quantity in UCUM; the decimals of the number are kept."""
    result: Resource = {"value": number}
    if comparator:
        result["comparator"] = comparator
    return result | {"unit": unit or "1", "system": UCUM, "code": unit or "1"}


def _add_exposure(writer: Writer, zone: Fact) -> None:
    name = str(zone.data.get("zone"))
    observation: Resource = {"resourceType": "Observation"}
    side = zone.data.get("side") or declared(writer.record, "side_declared", "side")
    if side in _SIDES and any(entry.side == side for entry in current(writer.record)):
        observation["extension"] = [{"url": BODY_SITE, "valueReference": writer.reference(f"side/{side}")}]
    observation |= {
        "partOf": [writer.reference("procedure")],
        "status": "final",
        "code": {
            "coding": [{"system": f"{OURS}:procedure:{writer.procedure_id}", "code": f"light.{name}"}],
            "text": f"light exposure, {name.replace('_', ' ')}",
        },
        "subject": writer.reference("patient"),
        "effectiveDateTime": zone.at,
    }
    components: list[Value] = [
        {
            "code": {"coding": [{"system": f"{OURS}:light", "code": label}], "text": label.replace("_", " ")},
            "valueQuantity": quantity(number, unit),
        }
        for label, number, unit in measured(zone.data)
    ]
    if components:
        observation["component"] = components
    writer.add(f"zone/{name}", observation)
