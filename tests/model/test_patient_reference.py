"""What may stand for a patient. No published list says it: every rule here is common practice, no source."""

from datetime import date

import pytest

from handsfree.errors import UsageError
from handsfree.model.patient_reference import DEFAULT_PATTERN, ReferenceFault, bare_code, reference_fault
from handsfree.record.reference_checking import check_reference

TODAY = date(2026, 11, 25)
SIX_DIGITS = "[0-9]{6}"


@pytest.mark.parametrize("text", ["DEMO-0001", "DEMO0001", "P-104", "A12", "1234567", "19001301", "MAR4", "999999"])
def test_codes_of_a_site_are_taken(text):
    assert reference_fault(text, DEFAULT_PATTERN, TODAY) is None
    assert check_reference(text, today=TODAY) == text


@pytest.mark.parametrize("text", ["SMITH", "ANNA", "J-SMITH", "SMITH.JOHN", "anna"])
def test_what_has_no_digit_reads_like_a_name(text):
    assert reference_fault(text, DEFAULT_PATTERN, TODAY) is ReferenceFault.LIKE_A_NAME
    with pytest.raises(UsageError, match="never a name"):
        check_reference(text, today=TODAY)


@pytest.mark.parametrize(
    "text",
    ["19840312", "12031984", "03121984", "12-03-1984", "1984/03/12", "120384", "840312", "12MAR84", "MARCH121984"],
)
def test_what_reads_as_a_day_is_a_birth_date(text):
    assert reference_fault(text, DEFAULT_PATTERN, TODAY) is ReferenceFault.LIKE_A_BIRTH_DATE
    with pytest.raises(UsageError, match="date of birth"):
        check_reference(text, today=TODAY)


def test_nobody_is_born_tomorrow_or_before_1900():
    assert reference_fault("20261125", DEFAULT_PATTERN, TODAY) is ReferenceFault.LIKE_A_BIRTH_DATE
    assert reference_fault("20261126", DEFAULT_PATTERN, TODAY) is None
    assert reference_fault("18991231", DEFAULT_PATTERN, TODAY) is None


def test_a_site_may_have_a_pattern_of_its_own():
    assert reference_fault("DEMO0001", "W[0-9]{5}", TODAY) is ReferenceFault.NOT_OF_THIS_SITE
    assert reference_fault("W10203", "W[0-9]{5}", TODAY) is None
    assert reference_fault("W102034", "W[0-9]{5}", TODAY) is ReferenceFault.NOT_OF_THIS_SITE
    assert reference_fault("SMITH", "[A-Z]+", TODAY) is ReferenceFault.LIKE_A_NAME
    # Of six digits one code in ten reads as a day: a site that has them says so by its pattern. Eight never pass.
    assert reference_fault("120384", SIX_DIGITS, TODAY) is None
    assert reference_fault("12031984", "[0-9]{8}", TODAY) is ReferenceFault.LIKE_A_BIRTH_DATE
    with pytest.raises(UsageError, match=r"a code of this site, W\[0-9\]"):
        check_reference("DEMO-0001", "W[0-9]{5}", TODAY)


def test_signs_between_letters_and_digits_make_no_other_reference():
    assert bare_code("demo-00/01") == bare_code("DEMO0001") != bare_code("DEMO0010")
