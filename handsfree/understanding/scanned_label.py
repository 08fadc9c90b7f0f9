"""A scanned label as tags, so that it comes in the same way as what is said."""

from datetime import date

from handsfree.model.commands import DateSlot, IdentifierSlot, ScanLabel, Wanted
from handsfree.model.reasons import ScanFault, ScanFaultCode
from handsfree.understanding.identifiers import looks_scanned, read_gs1

SCAN = "scan:"
"""How every tag of a scan begins; then the member of `ScanLabel`, a colon, its text."""
_CENTURY_CENTRE = date(2026, 1, 1)
"""Two-digit years of a scanned expiry fall within 1977 … 2076: wide enough for every label that can still be in use."""


def scanned_tags(text: str, wanted: Wanted) -> tuple[str, ...] | None:
    """Tags of a label.

    Returns:
        None if the line is no GS1 element string, or nothing is asked for that a label could answer.
    """
    slots = [slot for slot in wanted.slots if isinstance(slot, DateSlot | IdentifierSlot)]
    if all(isinstance(slot, IdentifierSlot) and not slot.allow_scan for slot in slots) or not looks_scanned(text):
        return None
    label = read_gs1(text, _CENTURY_CENTRE)
    members = {
        "gtin": label.gtin,
        "lot": label.lot,
        "serial": label.serial,
        "produced": label.produced,
        "expiry": label.expiry,
    }
    found = [f"{SCAN}{name}:{value}" for name, value in members.items() if value is not None]
    return (*found, *(f"{SCAN}fault:{fault.code}:{fault.argument}" for fault in label.faults))


def read_scan(tags: tuple[str, ...]) -> ScanLabel:
    """The label of the tags that `scanned_tags` gave."""
    parts = [tag.removeprefix(SCAN).partition(":") for tag in tags]
    text = {name: value for name, _, value in parts}
    days = {name: date.fromisoformat(text[name]) for name in ("produced", "expiry") if name in text}
    return ScanLabel(
        gtin=text.get("gtin"),
        lot=text.get("lot"),
        serial=text.get("serial"),
        produced=days.get("produced"),
        expiry=days.get("expiry"),
        faults=tuple(_fault(value) for name, _, value in parts if name == "fault"),
    )


def _fault(text: str) -> ScanFault:
    code, _, argument = text.partition(":")
    return ScanFault(ScanFaultCode(code), argument)
