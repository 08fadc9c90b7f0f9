"""Codes of fields are the author's: their form is checked, none is guessed; and measuring errors have a source.

Sources: LOINC Users' Guide (Mod 10 check digit; 44963-7 and 72514-3 are published codes); SNOMED CT Release File
Specification (Verhoeff check digit; 7771000 Left, 24028007 Right); FHIR R4, data type code.
"""

import pytest
from pydantic import ValidationError

from handsfree.definition.field_code import FieldCode, is_loinc, is_snomed
from handsfree.definition.field_form import Number, StepField
from handsfree.definition.loader import bundled_procedures, load_bundle

GOOD = {"system": "http://loinc.org", "code": "44963-7", "display": "Capillary refill", "source": "loinc"}


@pytest.mark.parametrize("code", ["44963-7", "72514-3", "8867-4", "8480-6", "29463-7"])
def test_loinc_codes_have_their_check_digit(code):
    assert is_loinc(code)
    wrong = f"{code[:-1]}{(int(code[-1]) + 1) % 10}"
    assert not is_loinc(wrong)


@pytest.mark.parametrize("code", ["7771000", "24028007", "404684003", "22298006"])
def test_snomed_codes_have_their_check_digit(code):
    assert is_snomed(code)
    assert not is_snomed(f"{code[:-1]}{(int(code[-1]) + 1) % 10}")
    swapped = f"{code[0]}{code[2]}{code[1]}{code[3:]}"
    assert swapped == code or not is_snomed(swapped)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"code": "44963-8"}, "check digit"),
        ({"code": "refill"}, "check digit"),
        ({"system": "loinc"}, "no address"),
        ({"system": ""}, "no address"),
        ({"system": "http://snomed.info/sct", "code": "7771001"}, "check digit"),
        ({"code": " 44963-7"}, "pattern"),
        ({"display": ""}, "pattern"),
        ({"extra": 1}, "Extra"),
    ],
)
def test_a_code_that_is_none_is_refused(change, words):
    assert FieldCode(**GOOD)
    with pytest.raises(ValidationError, match=words):
        FieldCode(**GOOD | change)


def test_a_system_of_the_site_is_taken():
    assert FieldCode(**GOOD | {"system": "urn:oid:1.2.3", "code": "anything of theirs"})


def test_a_measuring_error_needs_its_source():
    assert Number.model_validate_json('{"unit": "s", "low": 0, "high": 9, "measuring_error": 1, "error_source": "x"}')
    for one in ('"measuring_error": 1', '"error_source": "x"'):
        with pytest.raises(ValidationError, match="go together"):
            Number.model_validate_json(f'{{"unit": "s", "low": 0, "high": 9, {one}}}')


@pytest.mark.parametrize("name", bundled_procedures())
def test_every_code_of_a_bundled_file_stands_with_its_source(name):
    procedure = load_bundle(name).procedure
    fields = [field for step in procedure.steps for field in step.fields]
    for field in fields:
        if field.code is not None:
            assert "LOINC" in procedure.sources[field.code.source]
    coded = {field.id for field in fields if field.code is not None}
    assert coded <= {"refill", "rest"}


def test_a_field_of_that_name_without_a_code_has_none():
    field = StepField.model_validate_json(
        '{"id": "refill", "label": "refill", "number": {"unit": "s", "low": 0, "high": 999}}'
    )
    assert field.code is None
