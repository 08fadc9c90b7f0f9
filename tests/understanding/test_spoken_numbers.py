"""Every utterance of the table of spoken values, from words through the graph to the value.

Sources by the rule named in each row: teen and ty pairs and digit-wise read-back: ISMP and the Pennsylvania
patient-safety advisory of June 2006; pronunciations and "decimal": ICAO Annex 10 Vol II 5.2.1.4 and Doc 9432;
NRS 0-10 as integer: LOINC 72514-3; absent reasons: HL7 data-absent-reason; comparator: FHIR R4 Quantity.comparator;
month precision: GS1 General Specifications (day 00 is the month's last day); the rest: common practice, no source.
"""

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from handsfree.model.commands import Control, ControlCommand, DateSlot, GiveValues, IdentifierSlot, NumberSlot, Wanted
from handsfree.model.readings import (
    Absent,
    Ambiguous,
    Between,
    Beyond,
    Exact,
    NeedsAsking,
    Refused,
    Side,
    SpelledText,
    SpokenDate,
    SpokenValue,
)
from handsfree.understanding.interpreter import interpret, typed

TABLE = (Path(__file__).parent / "spoken_numbers.csv").read_text(encoding="utf-8")
ROWS = list(csv.DictReader(TABLE.splitlines()))
LENGTH = NumberSlot("length", ("length",), "cm", Decimal(-200), Decimal(250), decimals=1, allow_fractions=True)


def number(**changes):
    names = ("slot", "labels", "unit", "low", "high", "decimals", "allow_fractions")
    return NumberSlot(**({name: getattr(LENGTH, name) for name in names} | changes))


SLOTS = {
    "pain": number(slot="pain", labels=("pain",), unit="{score}", low=Decimal(0), high=Decimal(10), decimals=0),
    "seconds": number(unit="s", low=Decimal(0)),
    "degrees": number(unit="deg"),
    "sides": number(sides=(Side.LEFT, Side.RIGHT)),
    "large": number(high=Decimal(2000)),
    "circumference": number(low=Decimal(0), high=Decimal(200)),
    "lot": IdentifierSlot("lot", ("lot",)),
    "expiry": DateSlot("expiry", ("expiry",), month_only=True),
    "length": LENGTH,
}


def slot_of(utterance: str):
    words = utterance.split()
    if words[0] in SLOTS:
        return SLOTS[words[0]]
    if {"left", "right", "side"} & set(words):
        return SLOTS["sides"]
    if utterance == "three hundred":
        return SLOTS["circumference"]
    return SLOTS["large"] if "tousand" in words else SLOTS.get(next((w for w in words if w in SLOTS), "length"))


def in_table_form(value: SpokenValue) -> str:
    match value:
        case Exact(value=exact, unit=unit):
            return f"{exact} {unit}" if unit else f"{exact}"
        case Ambiguous(candidates=candidates):
            return "AMBIGUOUS:" + "|".join(str(candidate) for candidate in candidates)
        case NeedsAsking():
            return "ASK"
        case Refused():
            return "REJECT"
        case Between(low=low, high=high):
            return f"RANGE:{low}-{high}"
        case Beyond(comparator=comparator, limit=limit, unit=unit):
            return f"{comparator}{limit} {unit}"
        case Absent(reason=reason):
            return f"ABSENT:{reason.value}"
        case SpelledText(text=text):
            return text
        case SpokenDate(value=day):
            return day.isoformat()
    raise AssertionError(value)


def meaning(utterance: str, slot):
    wanted = Wanted(controls=frozenset(Control), slots=(slot,))
    hypothesis = typed(utterance, wanted, 0.0)
    assert hypothesis is not None, "not in the graph"
    return interpret(hypothesis, wanted)


@pytest.mark.parametrize("row", ROWS, ids=[row["utterance"] for row in ROWS])
def test_row_of_the_table(row):
    command = meaning(row["utterance"], slot_of(row["utterance"]))
    if row["expected"] == "AMEND":
        assert command == ControlCommand(Control.CORRECTION)
        return
    assert isinstance(command, GiveValues)
    forms = [in_table_form(value.value) for value in command.values]
    if row["expected"] == "AMBIGUOUS both":
        assert forms == ["AMBIGUOUS:15|50", "AMBIGUOUS:16|60"]
        assert [value.side for value in command.values] == [Side.LEFT, Side.RIGHT]
    else:
        assert forms == [row["expected"].partition(":range")[0]]


def test_precision_is_kept_beside_the_value():
    # Source: row "one point zero": ISMP, no trailing zero in the written record.
    command = meaning("one point zero", LENGTH)
    assert command.values[0].value == Exact(Decimal(1), decimals=1)
    assert str(command.values[0].value.value) == "1"
