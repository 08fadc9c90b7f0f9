"""The devices of a record as FHIR R4: the program, the light, and the orthosis with its label. Pure."""

from collections.abc import Mapping

from handsfree.export.fhir_writer import Resource, Value, Writer
from handsfree.model.facts import LabelScanned
from handsfree.model.readings import value_text
from handsfree.record.contents import Record
from handsfree.record.display_values import LabelPart, label_part, standing_readings

GS1 = "http://hl7.org/fhir/NamingSystem/gs1-di"
_APPLICATION_IDENTIFIERS = {
    LabelPart.GTIN: "01",
    LabelPart.EXPIRY: "17",
    LabelPart.LOT: "10",
    LabelPart.SERIAL: "21",
}
"""GS1 application identifiers, in the order of a printed label."""
_DEVICE_KINDS = frozenset({"handsfree", "device", "light"})
"""Versions that are devices: the program, the orthosis, the light. The others are versions of the program's parts."""


def devices(known: Mapping[str, str]) -> list[tuple[str, str]]:
    """What is a device of the named versions, sorted by name."""
    return [(name, version) for name, version in sorted(known.items()) if name.partition(" ")[0] in _DEVICE_KINDS]


def add_devices(writer: Writer) -> None:
    """Add every device of the record; the program's parts are versions of it."""
    known = writer.record.header.versions
    parts: list[Value] = [
        {"type": {"text": name}, "value": version}
        for name, version in sorted(known.items())
        if name.partition(" ")[0] not in _DEVICE_KINDS
    ]
    for name, version in devices(known):
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
    read: dict[LabelPart, set[str]] = {}
    for reading in standing_readings(writer.record):
        part = label_part(reading.stands)
        if part is not None:
            read.setdefault(part, set()).add(value_text(reading.stands.value))
    # Two packages with labels of their own: which of them is the device's is not told.
    parts = {part: next(iter(texts)) for part, texts in read.items() if len(texts) == 1}
    label: Resource = {}
    scan = _scan_of(writer.record, parts)
    if scan is not None:
        for part, text in ((LabelPart.GTIN, scan.gtin), (LabelPart.SERIAL, scan.serial)):
            if text is not None:
                parts.setdefault(part, text)
        if scan.produced is not None:
            label["manufactureDate"] = scan.produced.isoformat()
    if LabelPart.GTIN in parts:
        readable = "".join(
            f"({ai}){parts[part][2:].replace('-', '') if part is LabelPart.EXPIRY else parts[part]}"
            for part, ai in _APPLICATION_IDENTIFIERS.items()
            if part in parts
        )
        # Brackets are what people type from the print; scanners send none.
        entry_type = "barcode" if scan is not None and not scan.heard.text.startswith("(") else "manual"
        label["udiCarrier"] = [
            {
                "deviceIdentifier": parts[LabelPart.GTIN],
                "issuer": GS1,
                "carrierHRF": readable,
                "entryType": entry_type,
            }
        ]
    members = (("expirationDate", LabelPart.EXPIRY), ("lotNumber", LabelPart.LOT), ("serialNumber", LabelPart.SERIAL))
    return label | {name: parts[part] for name, part in members if part in parts}


def _scan_of(record: Record, parts: Mapping[LabelPart, str]) -> LabelScanned | None:
    """The last scan that can be trusted and tells the lot that was read back."""
    scans = [one.fact for one in record.of(LabelScanned) if not one.fact.faults]
    return next((scan for scan in reversed(scans) if parts and scan.lot == parts.get(LabelPart.LOT)), None)
