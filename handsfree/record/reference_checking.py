"""Whether a text may stand for a patient in a record, as the command line says it."""

import re
from datetime import date

from handsfree.errors import UsageError
from handsfree.model.patient_reference import DEFAULT_PATTERN, ReferenceFault, reference_fault

REFERENCE_PATTERN = re.compile(DEFAULT_PATTERN)
"""What a reference of a person looks like where no configuration says otherwise."""
_USUAL = "3 to 32 capitals, digits or inner - / . with at least one digit (DEMO-0001), never a name"


def check_reference(text: str, pattern: str = DEFAULT_PATTERN, today: date = date.max) -> str:
    """A patient reference as typed or scanned.

    Args:
        text: The reference.
        pattern: Regular expression that the whole of it must match.
        today: Local date of the visit.

    Raises:
        UsageError: It does not look like a reference; it may be a name or a date of birth.
    """
    fault = reference_fault(text, pattern, today)
    form = _USUAL if pattern == DEFAULT_PATTERN else f"a code of this site, {pattern}"
    match fault:
        case ReferenceFault.LIKE_A_BIRTH_DATE:
            raise UsageError(f"the patient reference reads like a date of birth; it must be {form}")
        case ReferenceFault.LIKE_A_NAME | ReferenceFault.NOT_OF_THIS_SITE:
            raise UsageError(f"the patient reference must be {form}")
        case None:
            return text
