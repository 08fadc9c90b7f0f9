"""Units with a spoken name of the author's: said back, understood, recorded as UCUM codes."""

from decimal import Decimal

import pytest
from own_procedures import begin, number, type_line, write

from handsfree.application.approvals import approval_of_bundle
from handsfree.authoring.card import card_text
from handsfree.authoring.checks import check
from handsfree.definition.loader import load_bundle
from handsfree.definition.ucum_codes import is_ucum
from handsfree.errors import ProcedureFileError
from handsfree.export.fhir_writer import quantity
from handsfree.model.readings import Exact

TORQUE = number("torque", unit="N.m, spoken: newton metres")


def test_it_is_understood_and_said_back_and_recorded_in_ucum(tmp_path):
    talk = begin(tmp_path, TORQUE)
    type_line(talk, "one one zero newton metres")
    assert "one hundred ten, one one zero, newton metres" in talk.said
    talk.affirm()
    fact = talk.facts("reading_confirmed")[-1]
    assert (fact.value, fact.unit) == (Exact(Decimal(110), 0, "N.m"), "N.m")
    # FHIR R4 Quantity: system and code of UCUM.
    assert quantity(fact.value.value, fact.unit)["code"] == "N.m"


def test_without_the_unit_it_is_understood_too_and_another_unit_is_not(tmp_path):
    talk = begin(tmp_path, TORQUE)
    type_line(talk, "one one zero")
    assert talk.mode == "reading_back"
    with pytest.raises(AssertionError, match="is not understood"):
        type_line(talk, "torque one one zero millimeters")


def test_the_spoken_name_comes_before_the_usual_one(tmp_path):
    talk = begin(tmp_path, number("rise", unit="K, spoken: degrees"))
    talk.give(rise=12)
    assert "twelve, one two, degrees" in talk.said
    path = write(tmp_path, TORQUE)
    bundle = load_bundle(str(path))
    assert "0 to 200 newton metres" in card_text(bundle, approval_of_bundle(bundle))
    assert [one for one in check(str(path)) if one.code == "unspoken-unit"] == []


@pytest.mark.parametrize(
    ("code", "right"),
    # Source: the UCUM specification, table of units and its grammar (case-sensitive codes), by ucumvert.
    [("N.m", True), ("N.m/s", True), ("kPa", True), ("m/s2", True), ("[psi]", True), ("Nm", False), ("N*m", False),
     ("newtons", False), ("", False)],
)  # fmt: skip
def test_what_is_a_code_of_ucum(code, right):
    assert is_ucum(code) is right


def test_a_wrong_code_and_a_stop_word_are_said_in_one_line(tmp_path):
    for unit, said in (
        ("Nm, spoken: newton metres", "Nm is no UCUM code"),
        ("N.m, spoken: hot metres", "holds a stop word"),
    ):
        path = write(tmp_path, number("torque", unit=unit))
        with pytest.raises(ProcedureFileError) as found:
            load_bundle(str(path))
        (line,) = str(found.value).splitlines()
        assert said in line
        assert line.startswith(f"{path}:28: steps.1.fields.0.number")
