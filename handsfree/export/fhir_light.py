"""The light of a record as FHIR R4: each zone against its target, each run with how it ended. Pure."""

from decimal import Decimal

from handsfree.export.amounts import as_written
from handsfree.export.fhir_events import event_code, event_coding, extension
from handsfree.export.fhir_writer import BODY_SITE, OURS, Resource, Value, Writer, last_stamp, quantity
from handsfree.model.light import ZoneStanding
from handsfree.record.account_parts import RunAccount, ZoneAccount
from handsfree.record.account_words import AccountWords, ended_early_words
from handsfree.record.display_values import standing_readings

_STANDINGS = {
    ZoneStanding.SHORT: "short of its target",
    ZoneStanding.REACHED: "target reached",
    ZoneStanding.OVER: "over its target",
}


def add_light(writer: Writer, words: AccountWords) -> None:
    """Add every zone and every run."""
    for zone in words.account.zones:
        _add_zone(writer, words, zone)
    for run in words.account.runs:
        _add_run(writer, run)


def _add_zone(writer: Writer, words: AccountWords, zone: ZoneAccount) -> None:
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
    ours: Resource = {"system": f"{OURS}:procedure:{writer.procedure_id}", "code": f"light.{zone.zone}"}
    coding: list[Value] = [ours, event_coding("light-zone")]
    observation |= {
        "partOf": [writer.reference("procedure")],
        "status": "final",
        "code": {"coding": coding, "text": f"light exposure, {zone.zone.replace('_', ' ')}"},
        "subject": writer.reference("patient"),
        "effectiveDateTime": record.closing.at if record.closing is not None else last_stamp(record),
    }
    told: Resource = {"coding": [{"system": f"{OURS}:light", "code": zone.standing.value}]}
    observation["interpretation"] = [told | {"text": _STANDINGS[zone.standing]}]
    observation["note"] = [{"text": words.zone(zone)}]
    runs: list[Value] = [writer.reference(f"run/{run.seq}") for run in zone.runs]
    if runs:
        observation["hasMember"] = runs
    observation["component"] = [
        {
            "code": {"coding": [{"system": f"{OURS}:light", "code": name}], "text": name},
            "valueQuantity": quantity(Decimal(as_written(amount)), unit),
        }
        for name, amount, unit in measured
    ]
    writer.add(f"zone/{zone.zone}", observation)


def _add_run(writer: Writer, run: RunAccount) -> None:
    end = run.end.value if run.end is not None else "record-ends-lit"
    early = "ended early by " + ended_early_words(run) if run.early else end.replace("_", " ")
    parts: list[Value] = [
        {
            "code": {"coding": [{"system": f"{OURS}:light", "code": "end"}], "text": "how it ended"},
            "valueCodeableConcept": {"coding": [{"system": f"{OURS}:run-end", "code": end}], "text": early},
        },
        {
            "code": {"coding": [{"system": f"{OURS}:light", "code": "early"}], "text": "whether it ended early"},
            "valueBoolean": run.early,
        },
        {
            "code": {"coding": [{"system": f"{OURS}:light", "code": "off-said"}], "text": "whether light off was said"},
            "valueBoolean": run.off_said,
        },
    ]
    writer.add(
        f"run/{run.seq}",
        {
            "resourceType": "Observation",
            "extension": [extension("zone", valueString=run.zone)],
            "identifier": [writer.record_entry(run.seq)],
            "partOf": [writer.reference("procedure")],
            "status": "final",
            "code": event_code("light-run", f"run of light, {run.zone.replace('_', ' ')}"),
            "subject": writer.reference("patient"),
            "effectiveDateTime": run.at,
            "valueQuantity": quantity(Decimal(as_written(run.credited_s)), "s"),
            "component": parts,
        },
    )
