"""What the commands say of a record that is broken: what and where, and no more lines than somebody reads."""

import json

import pytest
from golden_records import unpacked

from handsfree.cli import main
from handsfree.record.line_checking import RECORD_FILE

MOST = 20
"""Fault lines that `verify` prints unless asked for all."""
REST = "What follows is what can be read; it may not be all that was recorded."


@pytest.fixture
def record(tmp_path):
    return unpacked("light-output-check", tmp_path / "record")


def run(capsys, *arguments):
    try:
        main(list(map(str, arguments)))
        code = 0
    except SystemExit as left:
        code = int(left.code or 0)
    out = capsys.readouterr()
    return code, out.out.splitlines(), out.err.splitlines()


def lines_of(record):
    return (record / RECORD_FILE).read_bytes().splitlines(keepends=True)


def keep(record, lines):
    (record / RECORD_FILE).write_bytes(b"".join(lines))


def test_a_record_that_was_cut_off_is_summed_up_with_what_is_missing(capsys, record):
    kept = lines_of(record)
    keep(record, kept[:-30])
    code, out, err = run(capsys, "summary", "--all", record)
    assert (code, err) == (0, [])
    assert f"BROKEN: line {len(kept) - 29}: {len(kept)} lines were sealed and {len(kept) - 30} are left: cut off" in out
    assert out.index(REST) < out.index("FIRST") < out.index("READINGS")
    assert any(line.startswith("  session_kind.kind: practice") for line in out)


def test_a_record_that_ends_in_the_middle_of_an_event_says_so(capsys, record):
    keep(record, lines_of(record)[:-30])
    (record / "record.end").unlink()
    _, out, _ = run(capsys, "summary", "--all", record)
    assert "INTERRUPTED: line 20: the file ends 3 facts before the end of the last event" in out


def test_a_whole_record_has_no_such_line(capsys, record):
    _, out, _ = run(capsys, "summary", "--all", record)
    assert REST not in out
    assert not any(line.startswith(("BROKEN", "COMPLETE")) for line in out)


def alter(record, count):
    """Change one character in each of the last lines but one."""
    kept = lines_of(record)
    where = range(len(kept) - 1 - count, len(kept) - 1)
    keep(record, [line.replace(b'"at":"2026', b'"at":"2027') if n in where else line for n, line in enumerate(kept)])
    return [number + 1 for number in where]


@pytest.mark.parametrize(("command", "words"), [("summary", "cannot be summarised"), ("report", "cannot be shown")])
def test_an_altered_record_is_not_shown_and_one_line_says_why(capsys, record, tmp_path, command, words):
    first = alter(record, 30)[0]
    more = ["--output", tmp_path / "page.html"] if command == "report" else []
    code, out, err = run(capsys, command, record, *more)
    assert (code, out, len(err)) == (8, [], 1)
    assert f"{words}: line {first}: " in err[0]
    assert "more; `handsfree verify --all` lists every one (an unaltered copy would be right" in err[0]
    assert err[0].count("line ") == 3


def test_verify_prints_the_first_faults_and_all_when_asked(capsys, record):
    alter(record, 46)
    code, out, _ = run(capsys, "verify", record, "--all")
    faults = out[1:]
    assert code == 8
    assert len(faults) > MOST + 5
    code, out, _ = run(capsys, "verify", record)
    assert code == 8
    assert out[1:] == [*faults[:MOST], f"and {len(faults) - MOST} more; `handsfree verify --all` lists every one"]
    _, out, _ = run(capsys, "verify", record, "--json")
    assert len(json.loads("".join(out))["faults"]) == len(faults)
