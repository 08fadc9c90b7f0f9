"""A record as one FHIR R4 (4.0.1) bundle. Pure.

Only codes that are certain; everything else has our own codes and plain text. Sources of codes: LOINC 44963-7 and
72514-3; SNOMED CT 7771000 and 24028007; UCUM; HL7 data-absent-reason and provenance-participant-type; HTEST, which FHIR
names for test data. Licences of LOINC and SNOMED CT apply to whoever uses them.
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import assert_never

from handsfree.export.amounts import as_written
from handsfree.export.answered_for import answer_words
from handsfree.export.deviations import deviations
from handsfree.export.export_words import ExportWords, ReasonWords
from handsfree.export.fhir_devices import add_devices, devices
from handsfree.export.fhir_provenance import add_provenance
from handsfree.export.fhir_writer import OURS, Resource, Value, Writer, dump, last_stamp
from handsfree.model.facts import OperatorDeclared, StatedReading, ZoneSum
from handsfree.model.light import ZoneStanding
from handsfree.model.readings import (
    Absent,
    Between,
    Beyond,
    Exact,
    Option,
    Side,
    SpelledText,
    SpokenDate,
    plain,
)
from handsfree.model.reasons import Severity
from handsfree.record.contents import Record, RecordedReading
from handsfree.record.display_values import (
    amended_flag,
    figures,
    interrupted_lines,
    light_cut_lines,
    outcome,
    outcome_words,
    standing_readings,
    stray_lines,
)

LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
UCUM = "http://unitsofmeasure.org"
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
BODY_SITE = "http://hl7.org/fhir/StructureDefinition/bodySite"
_SIDES = {Side.LEFT: ("7771000", "Left"), Side.RIGHT: ("24028007", "Right")}
UNREAD = "As dictated, unverified: "
_PROCEDURE_STATUS = {"completed": "completed", "completed_with_overrides": "completed", "stopped": "stopped"}


def to_fhir(record: Record, words: ExportWords) -> str:
    """The record as the JSON text of a bundle; the same record always gives the same text.

    Args:
        record: A closed record.
        words: Of them the reason of a flag, and who answered for what.
    """
    writer = Writer(record)
    readings = standing_readings(record)
    _add_people(writer)
    add_devices(writer)
    for side in sorted({one.stands.side for one in readings if one.stands.side is not None}):
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
    _add_procedure(writer, words)
    for reading in readings:
        _add_observation(writer, reading, words.reason)
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


def _add_people(writer: Writer) -> None:
    record = writer.record
    patient: Resource = {"resourceType": "Patient"}
    if record.patient_reference:
        patient["identifier"] = [{"system": f"{OURS}:patient-reference", "value": record.patient_reference}]
    writer.add("patient", patient)
    operator: Resource = {"resourceType": "Practitioner"}
    if record.last(OperatorDeclared) is not None:
        operator["identifier"] = [{"system": f"{OURS}:operator-code", "value": record.operator}]
    writer.add("operator", operator)


def _add_procedure(writer: Writer, words: ExportWords) -> None:
    record = writer.record
    procedure: Resource = {
        "resourceType": "Procedure",
        "identifier": [{"system": f"{OURS}:record", "value": writer.record_id}],
        "status": _PROCEDURE_STATUS.get(outcome(record), "unknown"),
        "code": {
            "coding": [{"system": f"{OURS}:procedure", "code": writer.procedure_id}],
            "text": record.header.title or writer.procedure_id,
        },
        "subject": writer.reference("patient"),
        **({"statusReason": {"text": outcome_words(record)}} if outcome(record) == "completed_with_overrides" else {}),
    }
    if record.started is not None:
        period: Resource = {"start": record.started.wall}
        if record.closing is not None:
            period["end"] = record.closing.at
        procedure["performedPeriod"] = period
    performer: Resource = {"actor": writer.reference("operator")}
    if record.role:
        performer = {"function": {"text": record.role}} | performer
    procedure["performer"] = [performer]
    if record.side:
        procedure["bodySite"] = [{"text": f"{record.side} side"}]
    notes: list[Value] = [
        {"time": note.recorded.at, "text": note.text if note.verified else f"{UNREAD}{note.text}"}
        for note in record.notes
    ]
    notes += _departures(record, words)
    if notes:
        procedure["note"] = notes
    used = devices(record.header.versions)
    if used:
        procedure["usedReference"] = [writer.reference(f"device/{name}") for name, _ in used]
    writer.add("procedure", procedure)


def _departures(record: Record, words: ExportWords) -> Iterator[Value]:
    """What did not go as the procedure says, what is not known of the light, and what was left open."""
    for one, told in deviations(record, words):
        kind = "Override" if answer_words(one.fact, words) else "Deviation"
        yield {"time": one.at, "text": f"{kind}: {told}"}
    light = (*light_cut_lines(record), *(told for _, told in (*interrupted_lines(record), *stray_lines(record))))
    yield from ({"text": f"Light: {told}"} for told in light)
    if record.open_items:
        yield {"text": f"Left open: {'; '.join(map(words.reason, record.open_items))}"}


def _add_observation(writer: Writer, reading: RecordedReading, words: ReasonWords) -> None:
    stands, seq = reading.stands, reading.recorded.seq
    replaced = reading.first is None and any(one.superseded_by == seq for one in writer.record.readings)
    known = _loinc(stands)
    coding: list[Value] = [{"system": LOINC, "code": known}] if known else []
    coding.append({"system": f"{OURS}:procedure:{writer.procedure_id}", "code": f"{stands.step}.{stands.field}"})
    observation: Resource = {"resourceType": "Observation"}
    if stands.side is not None:
        observation["extension"] = [{"url": BODY_SITE, "valueReference": writer.reference(f"side/{stands.side}")}]
    observation |= {
        "identifier": [{"system": f"{OURS}:entry", "value": f"{writer.record_id}/{seq}"}],
        "partOf": [writer.reference("procedure")],
        "status": "amended" if reading.amendments else "corrected" if replaced else "final",
    }
    if stands.timing is not None:
        observation["category"] = [
            {"coding": [{"system": f"{OURS}:timing", "code": stands.timing.value}], "text": stands.timing.value}
        ]
    observation |= {
        "code": {"coding": coding, "text": f"{stands.step.replace('_', ' ')}: {stands.label}"},
        "subject": writer.reference("patient"),
        "effectiveDateTime": reading.recorded.at,
        "performer": [writer.reference("operator")],
    }
    observation |= _value(writer, stands)
    flags = list(_flags(reading, words))
    if flags:
        observation["interpretation"] = flags
    writer.add(f"entry/{seq}", observation)


def _flags(reading: RecordedReading, words: ReasonWords) -> Iterator[Value]:
    """The class that the visit acted upon, then what a later correction makes of it."""
    stands = reading.stands
    if stands.severity is not Severity.NONE:
        why = words(stands.grounds) if stands.grounds is not None else f"{stands.severity} flag"
        yield {"coding": [{"system": f"{OURS}:class", "code": stands.severity.value}], "text": why}
    told = amended_flag(reading, words)
    if told and reading.anew is not None:
        yield {"coding": [{"system": f"{OURS}:class-once-amended", "code": reading.anew.severity.value}], "text": told}
    elif told:
        yield {"text": told}


def _loinc(stands: StatedReading) -> str | None:
    """Capillary refill time of the nail bed; pain 0 to 10 as the patient says it, at rest. No other code is certain."""
    if (stands.field, stands.unit) == ("refill", "s"):
        return "44963-7"
    if stands.step.startswith("pain") and (stands.field, stands.unit) == ("rest", "{score}"):
        return "72514-3"
    return None


def _value(writer: Writer, stands: StatedReading) -> Resource:
    unit = stands.unit or ""
    match stands.value:
        case Absent(reason=reason):
            return {"dataAbsentReason": {"coding": [{"system": ABSENT, "code": reason.value}]}}
        case Between(low=low, high=high):
            ends = {"low": quantity(Decimal(plain(low)), unit), "high": quantity(Decimal(plain(high)), unit)}
            return {"valueRange": ends}
        case Exact() as exact:
            return {"valueQuantity": quantity(Decimal(figures(exact)), unit)}
        case Beyond(comparator=comparator, limit=limit):
            return {"valueQuantity": quantity(Decimal(plain(limit)), unit, comparator)}
        case SpokenDate(value=day):
            return {"valueDateTime": day.isoformat()}
        case SpelledText(text=text):
            return {"valueString": text}
        case Option(value=chosen):
            code: Resource = {
                "system": f"{OURS}:procedure:{writer.procedure_id}",
                "code": f"{stands.step}.{stands.field}.{chosen}",
            }
            return {"valueCodeableConcept": {"coding": [code], "text": chosen.replace("_", " ")}}
        case _:
            assert_never(stands.value)


def quantity(number: Decimal, unit: str, comparator: str = "") -> Resource:
    """A FHIR Quantity in UCUM; the decimals of the number are kept."""
    result: Resource = {"value": number}
    if comparator:
        result["comparator"] = comparator
    return result | {"unit": unit or "1", "system": UCUM, "code": unit or "1"}


_INTERPRETATIONS = {ZoneStanding.SHORT: "short of its target", ZoneStanding.OVER: "over its target"}


def _add_exposure(writer: Writer, zone: ZoneSum) -> None:
    record = writer.record
    observation: Resource = {"resourceType": "Observation"}
    if record.side and any(one.stands.side == record.side for one in standing_readings(record)):
        observation["extension"] = [{"url": BODY_SITE, "valueReference": writer.reference(f"side/{record.side}")}]
    measured = (
        ("dose", zone.dose_j_cm2, "J/cm2"),
        ("lit", zone.lit_s, "s"),
        ("possible", zone.possible_s, "s"),
        ("target", zone.target_s, "s"),
    )
    observation |= {
        "partOf": [writer.reference("procedure")],
        "status": "final",
        "code": {
            "coding": [{"system": f"{OURS}:procedure:{writer.procedure_id}", "code": f"light.{zone.zone}"}],
            "text": f"light exposure, {zone.zone.replace('_', ' ')}",
        },
        "subject": writer.reference("patient"),
        "effectiveDateTime": record.closing.at if record.closing is not None else last_stamp(record),
        "component": [
            {
                "code": {"coding": [{"system": f"{OURS}:light", "code": name}], "text": name},
                "valueQuantity": quantity(Decimal(as_written(amount)), unit),
            }
            for name, amount, unit in measured
        ],
    }
    if zone.standing in _INTERPRETATIONS:
        told: Resource = {"coding": [{"system": f"{OURS}:light", "code": zone.standing.value}]}
        observation["interpretation"] = [told | {"text": _INTERPRETATIONS[zone.standing]}]
    writer.add(f"zone/{zone.zone}", observation)
