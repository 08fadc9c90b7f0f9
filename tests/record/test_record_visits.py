"""Real sessions on real journals: cut at every write and resumed, the visit ends with the same readings."""

import os

import pytest
from record_visits import Visit, ending, readings, scenario

from handsfree.application.words_for_export import export_words
from handsfree.export.choose import ExportForm, export
from handsfree.model.readings import value_text
from handsfree.record.comparison import differences
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.verify import RecordState, verify
from handsfree.session.session import Session

THOROUGH = "HANDSFREE_THOROUGH" in os.environ
"""Set it to cut the whole fitting at over 200 places instead of a few: ten minutes or so on a small machine."""


@pytest.mark.parametrize(
    ("name", "stride"),
    [("light-output-check", 1), ("neurovascular-check", 9), ("ulnar-fitting", 6 if THOROUGH else 109)],
)
def test_cut_at_every_write_the_visit_ends_with_the_same_readings(tmp_path, name, stride):
    whole = Visit(name, tmp_path / "whole").start().finish()
    assert whole.state is RecordState.COMPLETE, whole.faults
    expected = ending(whole.record)
    assert len(expected[0]) >= 5
    content = (tmp_path / "whole" / RECORD_FILE).read_bytes()
    ends = [index + 1 for index, byte in enumerate(content) if byte == 10]
    # After each line, so between and inside batches; and inside a line at places that differ from line to line.
    sizes = sorted({size for number, end in enumerate(ends[:-1]) for size in (end, end + 1 + 37 * number % 200)})[
        ::stride
    ]
    confirmed_after = {}
    for number, size in enumerate(sizes):
        folder = tmp_path / f"cut-{size}"
        folder.mkdir()
        (folder / RECORD_FILE).write_bytes(content[:size])
        before = verify(folder)
        assert before.state is RecordState.INTERRUPTED
        visit = Visit(name, folder)
        if before.record.events == ():
            continue  # nothing had been said yet
        visit.resume()
        after = verify(folder)
        for place, value in readings(before.record).items():
            assert readings(after.record)[place] == value
        if THOROUGH or stride > 1 or number % 8 == 0 or size == sizes[-1]:
            if not after.record.sealed:
                after = visit.finish()
            assert after.state is RecordState.COMPLETE, after.faults
            assert ending(after.record) == expected
            confirmed_after[size] = len(after.record.readings)
        visit.journal.close()
    assert len(sizes) * stride >= 90
    assert len(confirmed_after) >= 10


@pytest.mark.parametrize("name", ["neurovascular-check", "light-output-check"])
def test_a_visit_replays_to_itself_and_exports(tmp_path, name):
    record = Visit(name, tmp_path / "r").start().finish().record
    assert differences(record, Session(scenario(name)[1]).handle) == []
    bundle_model = pytest.importorskip("fhir.resources.R4B.bundle", reason="fhir.resources is a development tool")
    text = export(tmp_path / "r", ExportForm.FHIR, export_words, allow_practice=True)
    assert bundle_model.Bundle.model_validate_json(text).type == "collection"
    note = export(tmp_path / "r", ExportForm.NOTE, export_words)
    for item in record.readings:
        assert f"{item.stands.label} {value_text(item.stands.value).replace('_', ' ')}" in note
