"""Records that version 0.1.0 wrote are exported as that version exported them (tests/golden/README.md).

What is otherwise is named here: the CSV calls each kind of value as the record does now, and the note no longer repeats
what the procedure file tells to do about a hold, because a record holds why it was held and not what was said.
"""

import re

import pytest
from golden_records import beside, having, unpacked

from handsfree.export.choose import ExportForm, export
from handsfree.session.prompts.reason_words import reason_words

TYPES = {",spelledtext,": ",spelled_text,", ",spokendate,": ",spoken_date,"}
ADDED = "amended_class,amended_class_reason"
"""Columns that came since, empty where nothing was amended."""
TOLD = re.compile(r"\. Told: .*(?=  \(entry \d+\)$)", re.MULTILINE)


def as_before(name, form, tmp_path):
    return export(unpacked(name, tmp_path / "record"), form, reason_words, allow_practice=True)


@pytest.mark.parametrize("name", having("fhir.json.gz"))
def test_fhir_is_the_same_to_the_byte(name, tmp_path):
    assert as_before(name, ExportForm.FHIR, tmp_path) == beside(name, "fhir.json.gz")


@pytest.mark.parametrize("name", having("readings.csv.gz"))
def test_the_table_has_the_same_cells_and_other_names_of_two_types(name, tmp_path):
    expected = beside(name, "readings.csv.gz")
    for old, new in TYPES.items():
        expected = expected.replace(old, new)
    head, *rows = expected.split("\r\n")
    lines = [f"{head},{ADDED}", *(f"{row},," for row in rows if row), ""]
    assert as_before(name, ExportForm.CSV, tmp_path) == "\r\n".join(lines)


@pytest.mark.parametrize("name", having("note.txt"))
def test_the_note_says_the_same_but_for_what_was_told(name, tmp_path):
    assert as_before(name, ExportForm.NOTE, tmp_path) == TOLD.sub("", beside(name, "note.txt"))
