"""A record whose hashes are right and whose values do not follow from its words: what is shown of it says so first."""

import shutil

import pytest
from forgery import forged, values_changed
from record_visits import Visit

from handsfree.cli import main
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.verify import RecordState, verify

FAULT = "the command does not follow from the words"


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("whole") / "r"
    Visit("neurovascular-check", folder).start().finish()
    return folder


@pytest.fixture
def record(whole, tmp_path):
    """The value in event and facts is another than the words beside it; every hash was made right again."""

    def change(lines):
        for seq, line in enumerate(lines):
            if b'"value":"1.4"' in line.raw:
                lines[seq] = values_changed(line, '"value":"1.4"', '"value":"1.3"')

    folder = forged(shutil.copytree(whole, tmp_path / "r"), change)
    assert verify(folder).state is RecordState.COMPLETE
    return folder


def run(capsys, *arguments):
    try:
        main(list(map(str, arguments)))
        code = 0
    except SystemExit as left:
        code = int(left.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


def test_it_is_not_amended(capsys, record, tmp_path):
    entry = next(one.recorded.seq for one in verify(record).record.readings)
    before = (record / RECORD_FILE).read_bytes()
    more = ("--by", "therapist", "--reason", "misread", "--key-file", tmp_path / "key")
    code, out, err = run(capsys, "amend", record, "--entry", entry, "--value", "not-performed", *more)
    assert (code, out, err.count("\n")) == (8, "", 1)
    assert "is broken: what it states does not follow from what was heard: line " in err
    assert (record / RECORD_FILE).read_bytes() == before


def test_its_page_says_so_first(capsys, record, whole, tmp_path):
    page = tmp_path / "page.html"
    assert run(capsys, "report", record, "--output", page)[0] == 0
    text = page.read_text(encoding="utf-8")
    assert (
        text.index("BROKEN: altered or incomplete")
        < text.index("The record is broken: line ")
        < text.index('<section id="readings"')
    )
    assert FAULT in text
    assert "gives every fact of this record again" not in text
    assert run(capsys, "report", whole, "--output", page)[0] == 0
    honest = page.read_text(encoding="utf-8")
    assert "The record is broken" not in honest
    assert "gives every fact of this record again" in honest


def test_its_summary_says_so_at_the_top(capsys, record, whole):
    code, out, err = run(capsys, "summary", "--all", record)
    assert (code, err) == (0, "")
    assert ", broken, " in out.splitlines()[1]
    assert out.index("BROKEN: line ") < out.index("What follows is what can be read") < out.index("READINGS")
    assert FAULT in out
    assert "BROKEN" not in run(capsys, "summary", "--all", whole)[1]
