"""Form 1: reasons were sentences. What can be told exactly becomes its code; all else stays as it was written."""

import re
from collections.abc import Mapping

from handsfree.errors import RecordError
from handsfree.model.effects import Json
from handsfree.model.open_items import OpenHold, OpenItem, OpenLateQuestion, OpenReading, OpenStep, OpenZone
from handsfree.model.readings import Side
from handsfree.model.reasons import (
    AnswersDiffer,
    AsWritten,
    Ground,
    Grounds,
    HeatWordSaid,
    NoSize,
    PainOverLimit,
    ScanFault,
    ScanFaultCode,
)
from handsfree.model.refusals import OtherSide, Refusal, RefusalCode, RefusalReason

_SCORES = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_GROUNDS: dict[str, Ground] = {
    "the answers do not agree": AnswersDiffer(),
    "no size can be chosen": NoSize(),
    "the word hot was said": HeatWordSaid("hot"),
    "the word pain was said": HeatWordSaid("pain"),
    **{f"pain score {word}": PainOverLimit(score) for score, word in enumerate(_SCORES)},
}
_REPEATED = ", repeated"
_ALIKE = ", as on the other side: "
_SCAN_FAULTS = {
    "this is not a complete GS1 code; scan it again": ScanFaultCode.INCOMPLETE,
    "part of the code was not understood; scan it again": ScanFaultCode.PART_NOT_UNDERSTOOD,
    r"the code holds the field ([0-9]+) twice": ScanFaultCode.FIELD_TWICE,
    "the check digit of the device number is wrong; scan it again": ScanFaultCode.CHECK_DIGIT,
    "the code holds a day that does not exist": ScanFaultCode.NO_SUCH_DAY,
    r"a lot or serial number has at most ([0-9]+) characters": ScanFaultCode.TOO_LONG,
    "the serial number may be glued to the lot; spell the lot as it is printed": ScanFaultCode.GLUED,
}
_REFUSALS = {
    "Not now.": RefusalCode.NOT_NOW,
    "No value is asked for now.": RefusalCode.NO_VALUE_ASKED,
    "That was not asked for.": RefusalCode.NOT_ASKED_FOR,
    "Say take note first.": RefusalCode.NO_NOTE_BEGUN,
    "That is not on the list.": RefusalCode.NOT_ON_THE_LIST,
    "No label is asked for now.": RefusalCode.NO_LABEL_ASKED,
    "Light off first.": RefusalCode.LIGHT_OFF_FIRST,
    "The light was not on, as far as heard.": RefusalCode.LIGHT_WAS_NOT_ON,
    "Not now. This step has no light.": RefusalCode.NO_LIGHT_HERE,
    "Held. No light.": RefusalCode.HELD,
    "Light off. Warmth first.": RefusalCode.WARMTH_FIRST,
    "Light off. Say resume first.": RefusalCode.RESUME_FIRST,
    "Light off. Check position and warmth first.": RefusalCode.POSITION_FIRST,
    "That was said before what is already counted. Nothing changes.": RefusalCode.SAID_BEFORE_COUNTED,
    "The time of these words is not known. Nothing changes.": RefusalCode.TIME_UNKNOWN,
    "Strap off first.": RefusalCode.STRAP_OFF_FIRST,
    "This procedure has no strap.": RefusalCode.NO_STRAP,
    "Say score, then one number from zero to ten.": RefusalCode.SCORE_ZERO_TO_TEN,
    "This is the first step.": RefusalCode.FIRST_STEP,
    "This step needs an answer first.": RefusalCode.ANSWER_NEEDED,
    "Answer first, or say skip this step.": RefusalCode.ANSWER_OR_SKIP,
    "This step cannot be skipped.": RefusalCode.CANNOT_BE_SKIPPED,
    "There is nothing to override.": RefusalCode.NOTHING_TO_OVERRIDE,
    "There is nothing to correct.": RefusalCode.NOTHING_TO_CORRECT,
    "This step holds no value.": RefusalCode.HOLDS_NO_VALUE,
    "The kind of session cannot be changed.": RefusalCode.KIND_IS_FIXED,
    "Readings of both sides depend on it. Stop, and start again.": RefusalCode.SIDE_IS_FIXED,
    "This record can only be practice.": RefusalCode.ONLY_PRACTICE,
    "Say it without a side.": RefusalCode.WITHOUT_A_SIDE,
}
_LIFTED = {"answered again": "answered_again", "held against another value": "held_against_another_value"}


def grounds_of(text: str) -> Grounds:
    """Why something was flagged or held."""
    repeated = text.endswith(_REPEATED)
    ground, _, alike = text.removesuffix(_REPEATED).partition(_ALIKE)
    return Grounds(_GROUNDS.get(ground, AsWritten(ground)), repeated, alike)


def grounds_or_none(text: str) -> Grounds | None:
    """Why a value was flagged; None where it was not."""
    return grounds_of(text) if text else None


def refusal_of(text: str) -> RefusalReason:
    """Why a command or a value was not taken."""
    side = re.fullmatch(r"This is about the (left|right) side\.", text)
    if side is not None:
        return OtherSide(Side(side[1]))
    return Refusal(_REFUSALS[text]) if text in _REFUSALS else AsWritten(text)


def scan_fault_of(text: str) -> ScanFault:
    """What cannot be trusted in a label.

    Raises:
        RecordError: Form 1 had no such fault.
    """
    for pattern, code in _SCAN_FAULTS.items():
        found = re.fullmatch(pattern, text)
        if found is not None:
            return ScanFault(code, "".join(found.groups()))
    raise RecordError(f"{text!r} is no fault of a label")


def lifted_reason(text: str, role: Json) -> str:
    """The code of why a hold went away; the file's own reason where a person answered for it."""
    return text if role is not None else _LIFTED.get(text, text)


def open_reading(text: str) -> OpenReading:
    """A reading without a value, written as stage.field."""
    stage, _, field = text.rpartition(".")
    return OpenReading(stage, field)


def open_item(text: str, zones: Mapping[str, str]) -> OpenItem:
    """Something left open.

    Args:
        text: As form 1 wrote it.
        zones: Label to identifier, as far as the fact tells; a zone that it does not tell is left "".

    Raises:
        RecordError: Form 1 had no such item.
    """
    kind, _, rest = text.partition(": ")
    match kind:
        case "latch" if rest:
            return OpenHold(grounds_of(rest))
        case "no value" if rest:
            return open_reading(rest)
        case "step" if rest:
            return OpenStep(rest)
        case "zone" if rest:
            return OpenZone(zones.get(rest, ""), rest)
        case "late heat question":
            return OpenLateQuestion()
        case _:
            raise RecordError(f"{text!r} is nothing that a visit leaves open")
