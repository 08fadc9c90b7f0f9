"""What may stand for a patient in a record: a reference, never a name."""

import re

from handsfree.errors import UsageError

REFERENCE_PATTERN = re.compile(r"(?=.*[0-9])[A-Z0-9](?:[A-Z0-9]|[-/.](?=[A-Z0-9])){2,31}")
"""Capitals, digits and single separators inside, 3 to 32 characters, at least one digit. A convention of ours."""


def check_reference(text: str) -> str:
    """A patient reference as typed or scanned.

    Raises:
        UsageError: It does not look like a reference; it may be a name.
    """
    if not REFERENCE_PATTERN.fullmatch(text):
        raise UsageError(
            "the patient reference must be 3 to 32 capitals, digits or inner - / . with at least one digit "
            "(DEMO-0001), never a name"
        )
    return text
