"""The developer's log: what it tells, and that it tells no word and no value of a visit unless asked for.

Expected behaviour: the help of the program; no outside source.
"""

import csv
import logging
import re
import stat
from contextlib import suppress
from pathlib import Path

import pytest
from typed_visits import command, visit

from handsfree.cli import main
from handsfree.definition.loader import load_bundle
from handsfree.developer_log import LogFormatter, begin_log, end_log, private, timed
from handsfree.errors import HandsfreeError, UsageError

SCENARIO = Path(__file__).resolve().parents[2] / "scripts" / "scenarios" / "light-output-check.yaml"
LINE = re.compile(
    r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z \d+\.\d{3} (?:DEBUG|INFO|WARNING|ERROR) handsfree\.[a-z_.]+ "
    r"[a-z_]+(?: [a-z_]+=\S+)*"
)
FIXED = re.compile(r" (?:steps_done|effects|exit_code|at_s|from_s|to_s|ms|priority)=\S+|^\S+ \S+ ")
"""Counts and times, which no person said."""


@pytest.fixture(autouse=True)
def closed():
    """No log is left open for the test after."""
    yield
    end_log()


def tokens(text):
    return {token.lower().strip(".,;:'\"()[]") for token in re.split(r"[\s=/|@]+", text)} - {""}


def betrayed(log, said, values, procedure):
    """Words and values that stand in a log, elsewhere than in the names that the procedure's file gives its steps."""
    steps = "|".join(step.id for step in load_bundle(procedure).procedure.steps)
    open_text = "\n".join(re.sub(rf" step=(?:{steps})(?= )", " ", FIXED.sub(" ", line)) for line in log.splitlines())
    spoken = {word for line in said for word in tokens(line)}
    whole = {value.lower() for value in values if " " in value and value.lower() in open_text.lower()}
    return whole | (tokens(open_text) & (spoken | {value.lower() for value in values}))


def values_of(folder, tmp_path):
    """Every value that a record holds, as the table of readings has it."""
    main(["export", str(folder), "--to", "csv", "--output", str(tmp_path / "readings.csv")])
    with (tmp_path / "readings.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {row[name] for row in rows for name in ("value", "side", "absent", "words", "runner_up")} - {""}


@pytest.fixture
def typed(tmp_path):
    """Holds a whole typed visit with a log; what was said, which values it has, and the log."""

    def hold(*options):
        folder, log, lines = tmp_path / "record", tmp_path / "visit.log", visit()
        run = ["run", "neurovascular-check", "--typed", "--practice", "--record", folder]
        done = command(["--log", log, *options, *run], lines)
        assert done.exit_code == 0, done.output
        return lines, values_of(folder, tmp_path), log.read_text(encoding="utf-8")

    return hold


@pytest.mark.parametrize("detail", [(), ("--debug",)])
def test_the_log_of_a_whole_typed_visit_holds_no_word_and_no_value(typed, detail):
    lines, values, log = typed(*detail)
    assert {"left", "1.4", "usual"} <= values
    assert betrayed(log, lines, values, "neurovascular-check") == set()
    assert all(LINE.fullmatch(line) for line in log.splitlines())
    assert log.count("utterance_heard") == len(lines)


def test_with_words_asked_for_every_one_of_them_is_there(typed):
    # Shows as well that the search above finds what there is to find.
    lines, values, log = typed("--log-words")
    assert betrayed(log, lines, values, "neurovascular-check") >= {word for line in lines for word in tokens(line)}


@pytest.mark.sound
def test_the_log_of_a_rehearsed_visit_holds_no_word_and_no_value(tmp_path):
    pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
    from handsfree.recognition.choose import make_engine
    from handsfree.simulation.script import load_script
    from handsfree.voice.choose import choose_synthesizer

    try:
        make_engine("neural")
        choose_synthesizer("system")
    except HandsfreeError as error:
        pytest.skip(str(error))
    folder, log = tmp_path / "record", tmp_path / "visit.log"
    main(["--debug", "--log", str(log), "rehearse", str(SCENARIO), "--record", str(folder), "--quiet"])
    script, text = load_script(SCENARIO), log.read_text(encoding="utf-8")
    said = [line.say for line in script.lines]
    values = values_of(folder, tmp_path)
    assert {"L3", "48", "51"} <= values
    assert betrayed(text, said, values, "light-output-check") == set()
    assert all(LINE.fullmatch(line) for line in text.splitlines())
    heard = [line for line in text.splitlines() if "utterance_heard" in line and "outcome=accepted" in line]
    assert len(heard) >= len(said)
    for part in ("engine=neural", "average_logprob=", "margin=", "speech_s=", "signal_to_noise_db=", "late_s="):
        assert all(part in line for line in heard)
    assert re.search(r"recogniser_loaded engine=neural ms=\d", text)
    assert re.search(r"DEBUG handsfree.recognition.utterance_recognizer utterance_searched ms=\d", text)


def test_records_are_opened_and_closed_by_their_identifier(typed, tmp_path):
    _, _, log = typed()
    with (tmp_path / "readings.csv").open(encoding="utf-8", newline="") as file:
        identifier = next(csv.DictReader(file))["record_id"]
    opened = re.findall(r"record_opened record=(\S+) procedure=(\S+)", log)
    assert opened == [(identifier, "neurovascular-check")]
    assert re.findall(r"record_closed record=(\S+) outcome=(\S+)", log) == [(identifier, "completed")]
    assert str(tmp_path) not in log


def test_a_record_that_is_broken_off_and_goes_on_keeps_its_identifier_in_the_log(tmp_path):
    log, record = tmp_path / "a.log", tmp_path / "record"
    run = ["--log", log, "run", "light-output-check", "--typed", "--record", record]
    assert command(run, ["practice session"]).exit_code == 0
    ending = ["stop", "override", "hand therapist", "technical decision", "affirmative"]
    assert command([*run, "--resume"], ending).exit_code == 0
    text = log.read_text(encoding="utf-8")
    identifiers = set(re.findall(r"record=(\S+)", text))
    assert len(identifiers) == 1
    assert re.findall(r"record_closed record=\S+ outcome=(\S+)", text) == ["left_open", "stopped"]
    assert text.count("record_resumed") == 1
    # A file is added to: both runs are in it, each with its begin and its end.
    assert [text.count(what) for what in ("program_started", "program_ended exit_code=0")] == [2, 2]


def test_without_an_option_nothing_is_logged(tmp_path, capsys):
    command(["run", "light-output-check", "--typed", "--record", tmp_path / "r"], ["practice session"])
    with suppress(SystemExit):
        main(["verify", str(tmp_path / "none")])
    assert "handsfree.cli" not in capsys.readouterr().err
    assert logging.getLogger("handsfree").getEffectiveLevel() == logging.WARNING


def test_debug_alone_logs_on_standard_error(tmp_path, capsys):
    with pytest.raises(SystemExit):
        main(["--debug", "verify", str(tmp_path / "none")])
    captured = capsys.readouterr()
    assert "INFO handsfree.cli command_begun command=verify" in captured.err
    assert "ERROR handsfree.cli command_failed error=RecordError" in captured.err
    assert captured.err.splitlines()[-1].endswith("INFO handsfree.cli program_ended exit_code=8")
    assert captured.out == ""


@pytest.mark.parametrize("words", [False, True])
def test_what_an_error_says_is_words(tmp_path, words, capsys):
    log = tmp_path / "a.log"
    with pytest.raises(SystemExit):
        main(["--log", str(log), *(["--log-words"] if words else []), "verify", str(tmp_path / "of-miller")])
    assert ("of-miller" in log.read_text(encoding="utf-8")) is words


@pytest.mark.parametrize("words", [False, True])
def test_a_bug_is_logged_by_its_place_and_kind(tmp_path, monkeypatch, words):
    def broken(*_, **__):
        try:
            raise KeyError("miller")
        except KeyError as error:
            raise ValueError("seventeen") from error

    monkeypatch.setattr("handsfree.commands.summary.verify_and_replay", broken)
    log = tmp_path / "a.log"
    with pytest.raises(ValueError, match="seventeen"):
        main(["--log", str(log), *(["--log-words"] if words else []), "summary", "x"])
    text = log.read_text(encoding="utf-8")
    assert "CRITICAL handsfree.cli program_failed\n  ValueError" in text
    assert re.search(r"  at summary\.py:\d+ in summary\n", text)
    assert "  KeyError" in text
    assert (": seventeen" in text) is words
    assert ("miller" in text) is words
    assert str(tmp_path) not in text


def test_the_log_is_for_its_owner_alone(typed, tmp_path):
    typed()
    assert stat.S_IMODE((tmp_path / "visit.log").stat().st_mode) == 0o600


@pytest.mark.parametrize("place", ["none/a.log", "."])
def test_a_log_that_cannot_be_written_is_one_line_and_exits_2(tmp_path, capsys, place):
    with pytest.raises(SystemExit) as left:
        main(["--log", str(tmp_path / place), "verify", str(tmp_path)])
    assert left.value.code == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"handsfree: cannot write the log {tmp_path / place}: ")
    assert line.endswith("; give a file in a writable folder")


def test_a_full_disk_ends_the_log_and_not_the_visit(tmp_path, capsys):
    if not Path("/dev/full").exists():
        pytest.skip("this system has no device that is always full")
    folder = tmp_path / "record"
    ending = ["stop", "override", "hand therapist", "technical decision", "affirmative"]
    done = command(["--log", "/dev/full", "run", "light-output-check", "--typed", "--record", folder], ending)
    assert done.exit_code == 0
    assert done.output.splitlines()[-1] == "handsfree: the log /dev/full is not whole: No space left on device"
    assert "Traceback" not in done.output
    assert command(["verify", folder], []).exit_code == 0


def test_words_without_a_log_are_wrong_usage(capsys, tmp_path):
    with pytest.raises(SystemExit) as left:
        main(["--log-words", "verify", str(tmp_path)])
    assert left.value.code == 2
    assert "--log FILE or --debug" in capsys.readouterr().err


def test_a_stage_is_timed_also_where_it_fails(tmp_path):
    begin_log(tmp_path / "a.log", debug=False, words=False)
    log = logging.getLogger("handsfree.test")
    with timed(log, "stage_done"):
        pass
    with pytest.raises(UsageError), timed(log, "stage_done"):
        raise UsageError("miller")
    with timed(log, "fine_stage_done", logging.DEBUG):
        pass
    end_log()
    ends = [line.partition("handsfree.test ")[2] for line in (tmp_path / "a.log").read_text().splitlines()][1:]
    assert len(ends) == 2
    assert re.fullmatch(r"stage_done ms=\d+\.\d", ends[0])
    assert re.fullmatch(r"stage_done ms=\d+\.\d failed=UsageError", ends[1])


def test_private_parts_that_are_not_there_are_left_out():
    record = logging.LogRecord("handsfree.test", logging.INFO, "", 0, "heard", None, None)
    record.__dict__.update(private(words="one two", runner_up=None))
    assert LogFormatter(words=True).format(record).endswith(" handsfree.test heard words='one two'")
    assert LogFormatter(words=False).format(record).endswith(" handsfree.test heard")
