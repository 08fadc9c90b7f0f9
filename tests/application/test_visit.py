"""A visit from end to end as the commands hold it; files that they write. Expected behaviour: the help; no source."""

import re
import stat
from contextlib import contextmanager
from types import SimpleNamespace

import pytest
from rich.console import Console

from handsfree.application.output_files import write_output
from handsfree.application.run_visit import VisitOptions, hold_visit
from handsfree.application.sources import Surrounding, TypedLines
from handsfree.application.terminal_outputs import PromptKeeper, TerminalOutputs
from handsfree.clock import ManualClock, SystemClock
from handsfree.display import ConversationView
from handsfree.errors import RecordError, UsageError
from handsfree.model.audio import Speech
from handsfree.model.effects import Priority
from handsfree.record.verify import RecordState, verify

PROCEDURE = "light-output-check"
TO_THE_END = ["stop", "override", "hand therapist", "technical decision", "affirmative"]


def quiet():
    return Console(quiet=True)


class Interrupted:
    """A source at which somebody presses Ctrl-C as soon as the session has begun."""

    sound = False
    beside = False
    engine_name = "typed"

    def __init__(self, live):
        self.live = live
        self.opened = 0

    def clock(self):
        return TypedLines(quiet()).clock()

    @contextmanager
    def open(self, clock, bundle):
        self.opened += 1

        def drive(runner):
            raise KeyboardInterrupt

        yield Surrounding(TerminalOutputs(ConversationView(quiet()), clock), drive)


def test_a_new_record_lies_in_the_configured_folder_under_its_time_and_procedure(tmp_path):
    end = hold_visit(VisitOptions(procedure=PROCEDURE, place=tmp_path), TypedLines(quiet(), lines=TO_THE_END))
    assert end.outcome == "stopped"
    assert end.folder.parent == tmp_path
    assert re.fullmatch(rf"\d{{4}}-\d\d-\d\d-\d{{6}}-{PROCEDURE}", end.folder.name)
    found = verify(end.folder)
    assert found.state is RecordState.COMPLETE
    assert found.record.header.versions["recogniser"] == "typed"


def test_without_a_folder_it_is_asked_for_and_a_record_that_goes_on_must_be_named(tmp_path):
    with pytest.raises(UsageError, match="give --record FOLDER"):
        hold_visit(VisitOptions(procedure=PROCEDURE), TypedLines(quiet(), lines=[]))
    with pytest.raises(UsageError, match="which record is to go on"):
        hold_visit(VisitOptions(procedure=PROCEDURE, place=tmp_path, resume=True), TypedLines(quiet(), lines=[]))
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_at_a_microphone_leaves_a_record_that_goes_on(tmp_path):
    folder = tmp_path / "record"
    end = hold_visit(VisitOptions(procedure=PROCEDURE, folder=folder), Interrupted(live=True))
    assert end.outcome is None
    assert verify(folder).state is RecordState.INTERRUPTED
    again = VisitOptions(procedure=PROCEDURE, folder=folder, resume=True)
    assert hold_visit(again, TypedLines(quiet(), lines=TO_THE_END)).outcome == "stopped"
    assert verify(folder).state is RecordState.COMPLETE


def test_ctrl_c_at_a_keyboard_ends_the_program_and_the_record_goes_on(tmp_path):
    with pytest.raises(KeyboardInterrupt):
        hold_visit(VisitOptions(procedure=PROCEDURE, folder=tmp_path / "r"), Interrupted(live=False))
    assert verify(tmp_path / "r").state is RecordState.INTERRUPTED


def test_what_cannot_be_read_is_said_before_a_device_is_opened(tmp_path):
    source = Interrupted(live=True)
    missing = tmp_path / "none"
    with pytest.raises(UsageError, match="recall list"):
        hold_visit(VisitOptions(procedure=PROCEDURE, folder=tmp_path / "r", recall_list=missing), source)
    compared = VisitOptions(procedure="neurovascular-check", folder=tmp_path / "r", baseline=missing)
    with pytest.raises(RecordError):
        hold_visit(compared, source)
    assert source.opened == 0
    assert not (tmp_path / "r").exists()


def test_prompts_are_kept_as_numbered_files(tmp_path, monkeypatch):
    pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
    voice = SimpleNamespace(render=lambda text: Speech(bytes(2 * len(text)), 16_000))
    monkeypatch.setattr("handsfree.voice.choose.choose_synthesizer", lambda name: voice)
    outputs = TerminalOutputs(
        ConversationView(quiet()), ManualClock(SystemClock().wall()), PromptKeeper(tmp_path / "prompts", None)
    )
    outputs.say("one", Priority.PROMPT)
    outputs.say("three", Priority.PROMPT)
    kept = sorted((tmp_path / "prompts").iterdir())
    assert [path.name for path in kept] == ["prompt-0001.wav", "prompt-0002.wav"]
    # A WAV file of 16-bit mono samples has a header of 44 bytes (RIFF/WAVE, PCM format chunk of 16 bytes).
    assert [path.stat().st_size for path in kept] == [44 + 2 * 3, 44 + 2 * 5]


def test_what_is_written_is_for_its_owner_alone_and_goes_in_as_it_is(tmp_path):
    write_output(tmp_path / "page", "ä\r\n")
    assert (tmp_path / "page").read_bytes() == b"\xc3\xa4\r\n"
    assert stat.S_IMODE((tmp_path / "page").stat().st_mode) == 0o600
    with pytest.raises(UsageError, match=r"cannot write .*none.*: No such file or directory; give a file"):
        write_output(tmp_path / "none" / "page", "")
