"""Notes that a person has read: by the command line, in the summary, in the chart note."""

import pytest
from report_visits import ended_early

from handsfree.application.words_for_export import export_words
from handsfree.cli import main
from handsfree.export.choose import ExportForm, export
from handsfree.record.verify import verify
from handsfree.report.summary import summary_lines

HEADING = "Notes that a person has read and verified"


@pytest.fixture(scope="module")
def visit(tmp_path_factory):
    folder = tmp_path_factory.mktemp("visit")
    ended_early(folder, understood=True)
    return folder, str(verify(folder).record.notes[0].recorded.seq)


def note_of(folder):
    return export(folder, ExportForm.NOTE, export_words)


def amend(visit, value, member="verified"):
    folder, entry = visit
    given = ["--entry", entry, "--member", member, "--value", value, "--by", "technician", "--reason", "read"]
    main(["amend", str(folder), *given, "--key-file", str(folder.parent / f"{folder.name}.key")])


def test_a_note_is_verified_corrected_and_unverified_in_the_open(visit, capsys):
    folder, entry = visit
    assert "cable tie is missing (not verified)" in "\n".join(summary_lines(verify(folder).record, "complete"))
    assert HEADING not in note_of(folder)
    amend(visit, "true")
    assert f"entry {entry} amended by entry" in capsys.readouterr().out
    assert "cable tie is missing (verified)" in "\n".join(summary_lines(verify(folder).record, "complete"))
    assert f"{HEADING}\n- cable tie is missing" in note_of(folder)
    amend(visit, "strap is missing", member="text")
    assert HEADING not in note_of(folder)
    assert "- strap is missing" in note_of(folder)


def test_what_is_neither_true_nor_false_is_refused(visit, capsys):
    with pytest.raises(SystemExit) as left:
        amend(visit, "perhaps")
    assert left.value.code == 2
    assert "true or false would be right" in capsys.readouterr().err
