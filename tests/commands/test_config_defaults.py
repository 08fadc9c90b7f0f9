"""Options that are left out come from the configuration file; what stands on the command line wins.

Expected behaviour: the help of each command; no outside source.
"""

import importlib
from pathlib import Path

import pytest

from handsfree.application.run_visit import VisitEnd
from handsfree.cli import SECTIONS, main
from handsfree.config import Config, option_defaults
from handsfree.errors import AudioDeviceError
from handsfree.model.working import Working
from handsfree.record.clips import Retention

pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")

WHOLE = """\
[devices]
microphone = "Headset"
loudspeaker = "Desk"

[voice]
name = "system"
rate = 130
verbosity = "expert"

[listening]
engine = "vosk"
attention = "Blue lantern"
talk_over = false

[records]
folder = "visits"
retention = "until_attested"
recall_list = "lots.csv"
"""


@pytest.fixture
def usual(tmp_path, monkeypatch):
    """The usual configuration file of a user who has none yet."""
    path = tmp_path / "usual.toml"
    monkeypatch.setattr("handsfree.options.usual_config", lambda: path)
    return path


@pytest.fixture
def file(tmp_path, usual):
    path = tmp_path / "config.toml"
    path.write_text(WHOLE)
    return str(path)


@pytest.fixture
def visits(monkeypatch):
    """What `run` asks for, in place of a visit."""
    seen = []

    def hold_visit(asked, source):
        seen.append((asked, source))
        return VisitEnd(Path("folder"), "completed")

    monkeypatch.setattr("handsfree.commands.run.hold_visit", hold_visit)
    return seen


def exit_code(*arguments):
    try:
        main(list(arguments))
    except SystemExit as left:
        return int(left.code or 0)
    return 0


def test_every_default_is_an_option_of_its_command():
    modules = {name: module for section in SECTIONS.values() for name, (module, _) in section.items()}
    for name, defaults in option_defaults(Config.model_validate({"records": {"recall_list": "x"}})).items():
        command = getattr(importlib.import_module(f"handsfree.commands.{modules[name]}"), name)
        assert set(defaults) <= {parameter.name for parameter in command.params}


def test_a_live_visit_is_held_as_the_file_says(file, visits):
    assert exit_code("run", "light-output-check", "--config", file) == 0
    ((asked, source),) = visits
    chosen = source.settings
    assert (chosen.microphone, chosen.loudspeaker, chosen.engine, chosen.voice) == ("Headset", "Desk", "vosk", "system")
    assert (chosen.rate_wpm, chosen.phrase, chosen.talk_over) == (130, ("blue", "lantern"), False)
    assert (asked.expert, asked.clips, asked.retention) == (True, True, Retention.UNTIL_ATTESTED)
    assert (asked.place, asked.recall_list) == (Path("visits"), Path("lots.csv"))


def test_what_stands_on_the_command_line_wins(file, visits):
    options = ["--microphone", " Lapel ", "--loudspeaker", "Shelf", "--engine", "neural", "--voice", "neural"]
    options += ["--novice", "--no-clips", "--recall-list", "mine.csv", "--record", "folder"]
    assert exit_code("run", "light-output-check", *options, "--config", file) == 0
    ((asked, source),) = visits
    chosen = source.settings
    assert (chosen.microphone, chosen.loudspeaker, chosen.engine, chosen.voice) == (
        "Lapel",
        "Shelf",
        "neural",
        "neural",
    )
    assert (asked.expert, asked.clips, asked.recall_list) == (False, False, Path("mine.csv"))
    assert asked.folder == Path("folder")


def test_without_a_file_everything_is_as_usual(usual, visits):
    assert exit_code("run", "light-output-check", "--record", "folder") == 0
    ((asked, source),) = visits
    assert (source.settings.microphone, source.settings.engine, source.settings.voice) == (None, None, None)
    assert (bool(asked.expert), bool(asked.clips), asked.recall_list, asked.place) == (False, False, None, None)


def test_the_usual_file_is_read_where_none_is_named(usual, visits):
    usual.write_text(WHOLE)
    assert exit_code("run", "light-output-check") == 0
    assert visits[0][1].settings.microphone == "Headset"


def test_a_record_that_goes_on_is_held_against_the_command_line_alone(file, visits):
    assert exit_code("run", "light-output-check", "--resume", "--record", "folder", "--config", file) == 0
    asked = visits[0][0]
    assert (asked.expert, asked.clips, asked.recall_list) == (None, None, None)
    options = ["--expert", "--clips", "--recall-list", "x.csv"]
    assert exit_code("run", "light-output-check", "--resume", "--record", "folder", *options, "--config", file) == 0
    asked = visits[1][0]
    assert (asked.expert, asked.clips, asked.recall_list) == (True, True, Path("x.csv"))


def test_devices_and_clips_of_the_file_are_no_fault_of_a_typed_visit(file, visits, capsys):
    assert exit_code("run", "light-output-check", "--typed", "--config", file) == 0
    assert visits[0][1].voice == "system"
    assert exit_code("run", "light-output-check", "--typed", "--clips", "--config", file) == 2
    assert exit_code("run", "light-output-check", "--typed", "--microphone", "x", "--config", file) == 2
    assert len(visits) == 1


def test_an_empty_name_of_a_device_is_refused(usual, visits, capsys):
    assert exit_code("run", "light-output-check", "--microphone", "") == 2
    assert "the name is empty" in capsys.readouterr().err
    assert not visits


def test_faults_of_the_usual_file_are_told_at_once_and_help_comes_all_the_same(usual, visits, capsys):
    usual.write_text('[voice]\nrate = 1\nname = "x"\n')
    for command in (["run", "light-output-check"], ["soundcheck"], ["rate", "r", "--by", "r1"]):
        assert exit_code(*command) == 2
        assert len(capsys.readouterr().err.splitlines()) == 2
    assert not visits
    assert exit_code("run", "--help") == 0
    assert exit_code("verify", "--help") == 0


def test_a_sound_check_listens_as_the_visit_will(file, monkeypatch, capsys):
    asked = []

    def microphone(clock, name):
        asked.append(name)
        raise AudioDeviceError("none")

    monkeypatch.setattr("handsfree.recognition.choose.make_recognizer", asked.append)
    monkeypatch.setattr("handsfree.audio.microphone.Microphone", microphone)
    monkeypatch.setattr("handsfree.application.echo_check.check_devices", lambda clock, *names: asked.append(names[:2]))
    assert exit_code("soundcheck", "--config", file) == 6
    assert exit_code("soundcheck", "--config", file, "--microphone", "Lapel", "--engine", "neural") == 6
    assert asked == ["vosk", ("Headset", "Desk"), "Headset", "neural", ("Lapel", "Desk"), "Lapel"]


def test_who_practises_at_a_microphone_has_the_settings_and_a_scripted_learner_has_not(file, monkeypatch, tmp_path):
    seen = {}

    class EnoughSeen(Exception):  # noqa: N818 - it ends the command where the visit would begin
        pass

    def at_microphone(case, folder, trainee, trainer, console, sound, settings, screen):
        assert screen is None
        seen["person"] = (sound, settings)
        raise EnoughSeen

    def scripted(case, folder, trainee, learner, wall, console, sound, *, typed):
        seen["script"] = sound
        raise EnoughSeen

    monkeypatch.setattr("handsfree.commands.practice.practise_at_microphone", at_microphone)
    monkeypatch.setattr("handsfree.commands.practice.practise_scripted", scripted)
    asked = ["practice", "light-output-check", "--scenario", "low-battery", "--record", str(tmp_path / "r"), "--quiet"]
    with pytest.raises(EnoughSeen):
        main([*asked, "--config", file])
    with pytest.raises(EnoughSeen):
        main([*asked, "--config", file, "--learner", "good"])
    sound, settings = seen["person"]
    assert (sound.engine, sound.voice, sound.expert) == ("vosk", "system", True)
    assert (settings.microphone, settings.engine, settings.voice, settings.rate_wpm) == (
        "Headset",
        "vosk",
        "system",
        130,
    )
    assert (seen["script"].engine, seen["script"].voice, seen["script"].expert) == (None, None, False)


def test_who_leads_and_how_findings_are_confirmed_stand_in_the_file_and_on_the_command_line(tmp_path, usual, visits):
    assert exit_code("run", "light-output-check", "--record", "folder") == 0
    assert (visits[-1][0].working, visits[-1][0].going_on) == (Working.GUIDED, True)
    file = tmp_path / "working.toml"
    file.write_text('[working]\nway = "narrated"\nconfirm = "each"\n')
    assert exit_code("run", "light-output-check", "--record", "folder", "--config", str(file)) == 0
    assert (visits[-1][0].working, visits[-1][0].going_on) == (Working.NARRATED, False)
    options = ["--working", "guided", "--going-on"]
    assert exit_code("run", "light-output-check", "--record", "folder", *options, "--config", str(file)) == 0
    assert (visits[-1][0].working, visits[-1][0].going_on) == (Working.GUIDED, True)
    assert exit_code("run", "light-output-check", "--resume", "--record", "folder", "--config", str(file)) == 0
    assert (visits[-1][0].working, visits[-1][0].going_on) == (None, None)
