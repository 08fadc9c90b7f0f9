"""Codes: spelled aloud, typed, or scanned as a GS1 element string.

Sources: ICAO spelling alphabet (Annex 10 Vol II); GS1 General Specifications for element strings, through the biip
library with checks of our own: biip returns a GTIN whose check digit is wrong, and cannot see a missing separator.
"""

import re
from datetime import date

from handsfree.model.commands import IdentifierSlot, ScanLabel
from handsfree.model.readings import HowToSay, NeedsAsking, SpelledText
from handsfree.model.reasons import ScanFault, ScanFaultCode
from handsfree.understanding.dates import month_end

_GTIN, _LOT, _PRODUCED, _EXPIRY, _SERIAL = "01", "10", "11", "17", "21"
_LONGEST = 20
"""Characters of a lot or serial number at most: GS1 AI (10) and (21)."""
_SYMBOLOGY = re.compile(r"^\][A-Za-z]\d")
_BARE = re.compile(r"^(01\d{14}|17\d{6}|10[!-z]{1,20}\x1d)")
_SWALLOWED = re.compile(r"^.+?21.+")


def read_spelled(tags: tuple[str, ...], slot: IdentifierSlot) -> SpelledText | NeedsAsking:
    """The code of spelled characters. A teen or ten inside could be two pairs of digits: it is asked about."""
    characters: list[str] = []
    for tag in tags:
        kind, _, text = tag.partition(":")
        if kind == "ask":
            return NeedsAsking(HowToSay(text))
        if kind not in ("letter", "digit"):
            return NeedsAsking(HowToSay.SPELL_ONE_BY_ONE)
        characters.append(text)
    if len(characters) > slot.max_length:
        return NeedsAsking(HowToSay.CODE_TOO_LONG, (str(slot.max_length),))
    return SpelledText("".join(characters))


def looks_scanned(text: str) -> bool:
    """Whether a typed line is a GS1 element string, as a scanner sends it or as it is printed."""
    line = text.strip()
    return line.startswith("(") or bool(_SYMBOLOGY.match(line)) or bool(_BARE.match(line))


def read_gs1(text: str, today: date) -> ScanLabel:
    """Read a GS1 element string, with separators (ASCII 29) or with its identifiers in brackets.

    Args:
        text: As scanned or as printed.
        today: Decides the century of two-digit years (GS1 General Specifications 7.12).

    Returns:
        What it says; `faults` tells what cannot be trusted.
    """
    # Late: its table of prefixes takes a fifth of a second, and few visits scan a label.
    from biip import ParseError
    from biip.gs1_messages import GS1Message

    line = _SYMBOLOGY.sub("", text.strip(" \t\r\n"))
    try:
        message = GS1Message.parse_hri(line) if line.startswith("(") else GS1Message.parse(line)
    except ParseError:
        return ScanLabel(faults=(ScanFault(ScanFaultCode.INCOMPLETE),))
    found: dict[str, str] = {}
    faults: list[ScanFault] = []
    if line.startswith("(") and line != "".join(f"({e.ai.ai}){e.value}" for e in message.element_strings):
        faults.append(ScanFault(ScanFaultCode.PART_NOT_UNDERSTOOD))
    for element in message.element_strings:
        if element.ai.ai in found:
            faults.append(ScanFault(ScanFaultCode.FIELD_TWICE, element.ai.ai))
        found[element.ai.ai] = element.value
        if element.gtin_error is not None:
            faults.append(ScanFault(ScanFaultCode.CHECK_DIGIT))
    faults += _glued(found, bracketed=line.startswith("("))
    dates: dict[str, date] = {}
    for field in (_PRODUCED, _EXPIRY):
        if field in found:
            try:
                dates[field] = gs1_date(found[field], today)
            except ValueError:
                faults.append(ScanFault(ScanFaultCode.NO_SUCH_DAY))
    return ScanLabel(
        gtin=found.get(_GTIN),
        lot=found.get(_LOT),
        serial=found.get(_SERIAL),
        produced=dates.get(_PRODUCED),
        expiry=dates.get(_EXPIRY),
        faults=tuple(faults),
    )


def _glued(found: dict[str, str], *, bracketed: bool) -> list[ScanFault]:
    """Signs that a separator is missing, so that the next field was read as part of the lot."""
    lot = found.get(_LOT, "")
    if len(lot) > _LONGEST or len(found.get(_SERIAL, "")) > _LONGEST:
        return [ScanFault(ScanFaultCode.TOO_LONG, str(_LONGEST))]
    if not bracketed and _SERIAL not in found and _SWALLOWED.match(lot):
        return [ScanFault(ScanFaultCode.GLUED)]
    return []


def gs1_date(text: str, today: date) -> date:
    """The day of a six-digit GS1 date; day 00 is the last day of the month.

    Args:
        text: YYMMDD.
        today: Decides the century: 51 to 99 years ahead is the last century, 50 to 99 years back the next.

    Raises:
        ValueError: There is no such day.
    """
    year, month, day = int(text[:2]), int(text[2:4]), int(text[4:6])
    century = today.year - today.year % 100
    ahead = year - today.year % 100
    if ahead >= 51:
        century -= 100
    elif ahead <= -50:
        century += 100
    if day == 0:
        return month_end(century + year, month)
    return date(century + year, month, day)
