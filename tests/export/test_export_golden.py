"""Records that version 0.1.0 wrote are exported as that version exported them (tests/golden/README.md).

What is otherwise is named here: the CSV calls each kind of value as the record does now, and FHIR notes at a procedure
what did not go as it says, who answered for it, and what was left open.
"""

import re

import pytest
from golden_records import beside, having, unpacked

from handsfree.application.words_for_export import export_words
from handsfree.export.choose import ExportForm, export

TYPES = {",spelledtext,": ",spelled_text,", ",spokendate,": ",spoken_date,"}
ADDED = "amended_class,amended_class_reason"
"""Columns that came since, empty where nothing was amended."""


def as_before(name, form, tmp_path):
    return export(unpacked(name, tmp_path / "record"), form, export_words, allow_practice=True)


NOTED = re.compile(
    r',\n +"note": \[(?:\n +\{\n +"time": "[^"]+",\n +"text": "(?:Override|Deviation): [^"]+"\n +\},?)+\n +\]'
)
"""Notes of a procedure that came since, where nothing else was noted."""


@pytest.mark.parametrize("name", having("fhir.json.gz"))
def test_fhir_is_the_same_to_the_byte_but_for_what_did_not_go_as_the_procedure_says(name, tmp_path):
    told = as_before(name, ExportForm.FHIR, tmp_path)
    assert NOTED.sub("", told) == beside(name, "fhir.json.gz")


@pytest.mark.parametrize("name", having("readings.csv.gz"))
def test_the_table_has_the_same_cells_and_other_names_of_two_types(name, tmp_path):
    expected = beside(name, "readings.csv.gz")
    for old, new in TYPES.items():
        expected = expected.replace(old, new)
    head, *rows = expected.split("\r\n")
    lines = [f"{head},{ADDED}", *(f"{row},," for row in rows if row), ""]
    assert as_before(name, ExportForm.CSV, tmp_path) == "\r\n".join(lines)


@pytest.mark.parametrize("name", having("note.txt"))
def test_the_note_says_the_same(name, tmp_path):
    assert as_before(name, ExportForm.NOTE, tmp_path) == beside(name, "note.txt")
