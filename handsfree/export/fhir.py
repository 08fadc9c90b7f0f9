"""A record as one FHIR R4 (4.0.1) bundle. Pure.

Published codes are those that the author of the procedure states for a field; nothing is guessed from a name. What
stopped the visit, who answered for what, light and notes have codes of our own, in systems that are named as such
(`fhir_events`). Sources of other codes: SNOMED CT 7771000 and 24028007; UCUM; HL7 data-absent-reason and
provenance-participant-type; HTEST, which FHIR names for test data. Licences of LOINC and SNOMED CT apply to whoever
uses them.
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import assert_never

from handsfree.export.amounts import as_written
from handsfree.export.answered_for import answer_words
from handsfree.export.deviations import deviations
from handsfree.export.export_words import ExportWords
from handsfree.export.fhir_devices import add_devices, devices
from handsfree.export.fhir_events import ABSENT, add_code_system, add_events, extension, narrative
from handsfree.export.fhir_light import add_light
from handsfree.export.fhir_people import add_people
from handsfree.export.fhir_provenance import add_provenance
from handsfree.export.fhir_writer import BODY_SITE, OURS, Resource, Value, Writer, dump, last_stamp, quantity
from handsfree.model.facts import StatedReading
from handsfree.model.open_items import OpenItem
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
from handsfree.record.account_words import AccountWords, ReasonWords
from handsfree.record.confirmation import entry_way, how_confirmed, score
from handsfree.record.contents import Record, RecordedReading
from handsfree.record.declared_sides import with_declared_sides
from handsfree.record.display_values import (
    amended_flag,
    computed_words,
    figures,
    interrupted_lines,
    light_cut_lines,
    numbered_step,
    standing_readings,
    stray_lines,
    ucum_value,
)
from handsfree.record.first_look import first_look
from handsfree.record.visit_account import account_of

SNOMED = "http://snomed.info/sct"
OUTCOME = f"{OURS}:outcome"
_SIDES = {Side.LEFT: ("7771000", "Left"), Side.RIGHT: ("24028007", "Right")}
UNREAD = "As dictated, unverified: "
_PROCEDURE_STATUS = {"completed": "completed", "completed_with_overrides": "completed", "stopped": "stopped"}


def to_fhir(record: Record, words: ExportWords) -> str:
    """The record as the JSON text of a bundle; the same record always gives the same text.

    Args:
        record: A closed record.
        words: The reasons, and the phrases and codes of its procedure.
    """
    writer = Writer(record)
    account_words = AccountWords(account_of(with_declared_sides(record)), words.reason, words.phrases)
    readings = account_words.account.standing
    add_people(writer)
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
    _add_procedure(writer, words, account_words)
    for reading in readings:
        _add_observation(writer, reading, words)
    add_light(writer, account_words)
    add_events(writer, account_words)
    add_code_system(writer)
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


def _add_procedure(writer: Writer, words: ExportWords, told: AccountWords) -> None:
    record, account = writer.record, told.account
    look = first_look(told)
    heading = f"{record.header.title or writer.procedure_id}. {'; '.join(look.statuses)}. {told.lasted()}."
    more = [extension("attestation", valueCode=account.attested.value)]
    more += [extension("not-approved", valueString=title) for title in account.unapproved]
    more += (
        [extension("approval", valueCode=account.approval.state.value.replace("_", "-"))]
        if account.approval is not None
        else []
    )
    more += [
        extension("left-open", valueCodeableConcept={"coding": [_open_code(item)], "text": words.reason(item)})
        for item in account.open_items
    ]
    procedure: Resource = {"resourceType": "Procedure", "text": narrative(look.texts(), heading), "extension": more}
    if account.overrides:
        # Whoever does not know what this says must not take the status for all that there is to say (FHIR R4, 2.4.1.1).
        procedure["modifierExtension"] = [extension("overridden", valueUnsignedInt=len(account.overrides))]
    code = account.outcome.replace("_", "-").replace(" ", "-")
    outcome_coding: Resource = {"coding": [{"system": OUTCOME, "code": code}], "text": told.outcome()}
    procedure |= {
        "identifier": [{"system": f"{OURS}:record", "value": writer.record_id}],
        "status": _PROCEDURE_STATUS.get(account.outcome, "unknown"),
    }
    if account.outcome != "completed":
        procedure["statusReason"] = outcome_coding
    procedure |= {
        "code": {
            "coding": [{"system": f"{OURS}:procedure", "code": writer.procedure_id}],
            "text": record.header.title or writer.procedure_id,
        },
        "subject": writer.reference("patient"),
    }
    if record.started is not None:
        period: Resource = {"start": record.started.wall}
        if record.closing is not None:
            period["end"] = record.closing.at
        procedure["performedPeriod"] = period
    performer: Resource = {"actor": writer.reference("operator")}
    if record.role:
        performer = {"function": {"text": record.role}} | performer
    procedure["performer"] = [performer, *_second_people(record)]
    if record.side:
        procedure["bodySite"] = [{"text": f"{record.side} side"}]
    procedure["outcome"] = outcome_coding
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


def _second_people(record: Record) -> Iterator[Value]:
    """Who confirmed a step besides the operator, by role and code."""
    for one in account_of(record).seconds:
        yield {"function": {"text": f"second person, {one.fact.role}"}, "actor": {"display": one.fact.code}}


def _departures(record: Record, words: ExportWords) -> Iterator[Value]:
    """What did not go as the procedure says, what is not known of the light, and what was left open."""
    for one, told in deviations(record, words):
        kind = "Override" if answer_words(one.fact, words) else "Deviation"
        yield {"time": one.at, "text": f"{kind}: {told}"}
    light = (*light_cut_lines(record), *(told for _, told in (*interrupted_lines(record), *stray_lines(record))))
    yield from ({"text": f"Light: {told}"} for told in light)
    if record.open_items:
        yield {"text": f"Left open: {'; '.join(map(words.reason, record.open_items))}"}


def _open_code(item: OpenItem) -> Resource:
    return {"system": f"{OURS}:open", "code": item.type.removeprefix("open_").replace("_", "-")}


def _add_observation(writer: Writer, reading: RecordedReading, words: ExportWords) -> None:
    stands, seq = reading.stands, reading.recorded.seq
    replaced = reading.first is None and any(one.superseded_by == seq for one in writer.record.readings)
    known = words.codes.get((stands.step, stands.field))
    coding: list[Value] = []
    if known is not None:
        coding.append({"system": known.system, "code": known.code, "display": known.display})
    coding.append({"system": f"{OURS}:procedure:{writer.procedure_id}", "code": f"{stands.step}.{stands.field}"})
    more: list[Value] = []
    if stands.side is not None:
        more.append({"url": BODY_SITE, "valueReference": writer.reference(f"side/{stands.side}")})
    more.append(extension("how-confirmed", valueCode=how_confirmed(reading).value.replace("_", "-")))
    likely = score(reading)
    if likely is not None:
        more.append(extension("score", valueDecimal=Decimal(as_written(likely))))
    observation: Resource = {"resourceType": "Observation", "extension": more}
    observation |= {
        "identifier": [writer.record_entry(seq)],
        "partOf": [writer.reference("procedure")],
        "status": "amended" if reading.amendments else "corrected" if replaced else "final",
    }
    if stands.timing is not None:
        observation["category"] = [
            {"coding": [{"system": f"{OURS}:timing", "code": stands.timing.value}], "text": stands.timing.value}
        ]
    observation |= {
        "code": {
            "coding": coding,
            "text": f"{numbered_step(stands).replace('_', ' ').replace('@', ' ')}: {stands.label}",
        },
        "subject": writer.reference("patient"),
        "effectiveDateTime": reading.recorded.at,
        "performer": [writer.reference("operator")],
    }
    observation |= _value(writer, stands, words)
    behind = _computed_from(writer.record, stands)
    if behind:
        observation["derivedFrom"] = [writer.reference(f"entry/{one}") for one in behind]
    flags = list(_flags(reading, words.reason))
    if flags:
        observation["interpretation"] = flags
    way = entry_way(writer.record, reading).value
    observation["method"] = {"coding": [{"system": f"{OURS}:entry-way", "code": way}], "text": way}
    writer.add(f"entry/{seq}", observation)


def _computed_from(record: Record, stands: StatedReading) -> list[int]:
    """Lines of the readings that stand from which a value was computed."""
    named = {(one.stage, one.field) for one in stands.computed.inputs} if stands.computed is not None else set()
    return [one.recorded.seq for one in standing_readings(record) if (one.stands.stage, one.stands.field) in named]


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
        code = "condition-turned" if reading.turned and not reading.amendments else "not-judged"
        yield {"coding": [{"system": f"{OURS}:class-once-amended", "code": code}], "text": told}


def _value(writer: Writer, stands: StatedReading, words: ExportWords) -> Resource:
    unit = stands.unit or ""
    match stands.value:
        case Absent(reason=reason, said=said):
            why: Resource = {"coding": [{"system": ABSENT, "code": reason.value}]}
            told = ucum_value(stands.value, unit) if said is not None else computed_words(stands, words.phrases.names)
            return {"dataAbsentReason": why | {"text": told} if told else why}
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
