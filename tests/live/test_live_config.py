"""The configuration file: every setting, every fault on a line of its own at its place, and who wins."""

from pathlib import Path

import pytest

from handsfree.cli import main
from handsfree.config import Config, EngineName, Verbosity, VoiceName, read_config
from handsfree.errors import UsageError
from handsfree.model.commands import Control
from handsfree.record.clips import Retention

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
locale = "en-US"
attention = "Blue lantern"
talk_over = false

[records]
folder = "~/visits"
retention = "until_attested"
"""


def config_of(folder: Path, text: str) -> Config:
    path = folder / "config.toml"
    path.write_text(text, encoding="utf-8")
    return read_config(path)


def faults_of(folder: Path, text: str) -> list[str]:
    with pytest.raises(UsageError) as caught:
        config_of(folder, text)
    return [line.removeprefix(f"{folder}/") for line in str(caught.value).splitlines()]


def test_every_setting_is_read(tmp_path: Path) -> None:
    config = config_of(tmp_path, WHOLE)
    assert (config.devices.microphone, config.devices.loudspeaker) == ("Headset", "Desk")
    assert (config.voice.name, config.voice.rate, config.voice.verbosity) == (VoiceName.SYSTEM, 130, Verbosity.EXPERT)
    assert (config.listening.engine, config.listening.locale) == (EngineName.VOSK, "en-US")
    assert (config.listening.phrase, config.listening.talk_over) == (("blue", "lantern"), False)
    assert (config.records.place, config.records.retention) == (Path("~/visits").expanduser(), Retention.UNTIL_ATTESTED)


def test_an_empty_file_is_a_good_one(tmp_path: Path) -> None:
    assert config_of(tmp_path, "") == Config()
    assert Config().listening.phrase == ()
    assert Config().records.place is None


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (
            "[device]\n",
            "config.toml:1: device: there is no such setting "
            "(there are: devices, voice, listening, records, working, screen, keys, approval)",
        ),
        (
            "[voice]\nspeed = 3\n",
            "config.toml:2: voice.speed: there is no such setting (there are: name, rate, verbosity)",
        ),
        ("[voice]\nrate = 300\n", "config.toml:2: voice.rate: 300 is outside 90 to 220 words a minute"),
        ("[voice]\nrate = 20\n", "config.toml:2: voice.rate: 20 is outside 90 to 220 words a minute"),
        ('[voice]\n\nname = "robot"\n', "config.toml:3: voice.name: 'robot' is none of 'neural' or 'system'"),
        ('[voice]\nverbosity = "loud"\n', "config.toml:2: voice.verbosity: 'loud' is none of 'novice' or 'expert'"),
        ('[listening]\nlocale = "de-DE"\n', "config.toml:2: listening.locale: 'de-DE' is not known (en-US is)"),
        (
            '[listening]\nattention = "Hey"\n',
            "config.toml:2: listening.attention: 'Hey' is no phrase of two to four words",
        ),
        (
            '[listening]\nattention = "blue 7"\n',
            "config.toml:2: listening.attention: 'blue 7' is no phrase of two to four words",
        ),
        (
            '[listening]\nengine = "magic"\n',
            "config.toml:2: listening.engine: 'magic' is none of 'neural', 'neural-base', 'neural-tuned', "
            "'pocketsphinx' or 'vosk'",
        ),
        (
            '[records]\nretention = "forever"\n',
            "config.toml:2: records.retention: 'forever' is none of 'off', 'until_attested' or 'keep'",
        ),
        ('devices.microphone = ""\n', "config.toml:1: devices.microphone: '': string should have at least 1 character"),
        (
            '[voice]\nrate = "fast"\n',
            "config.toml:2: voice.rate: 'fast': input should be a valid integer",
        ),
        (
            "[listening]\ntalk_over = 1\n",
            "config.toml:2: listening.talk_over: 1: input should be a valid boolean",
        ),
        (
            '[screen]\naddress = "10.0.0.12"\n',
            "config.toml:1: screen: address 10.0.0.12 is reached by others: "
            "give certificate and key of the site, or leave it out",
        ),
        (
            '[screen]\ncertificate = "room.pem"\n',
            "config.toml:1: screen: certificate and key belong together: give both, or none",
        ),
        (
            '[screen]\naddress = "room.example"\n',
            "config.toml:2: screen.address: 'room.example' is no address by number, such as 10.0.0.12",
        ),
        ("[screen]\nport = 70000\n", "config.toml:2: screen.port: 70000 is no port from 0 to 65535"),
        (
            '[keys]\naffirm = "f5"\nstop = "f5"\n',
            "config.toml:1: keys: one key is named for two things; give each a key of its own",
        ),
    ],
)
def test_each_fault_is_one_line_that_says_where_and_what_would_be_right(tmp_path: Path, text: str, fault: str) -> None:
    assert faults_of(tmp_path, text) == [fault]


def test_a_key_that_types_a_character_cannot_be_set_because_a_scanner_types_it(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, '[keys]\naffirm = "b"\n')
    assert fault.startswith("config.toml:2: keys.affirm: 'b' is none of f1, ")
    assert fault.endswith("page-down; keys that type characters are a scanner's")
    assert config_of(tmp_path, '[keys]\nagain = "page-up"\n').keys.by_key == {"page-up": Control.SAY_AGAIN}


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    text = '[voice]\nrate = 1\nname = "x"\n\n[records]\nfolder = ""\nextra = 1\n'
    assert [fault.split(": ")[0] for fault in faults_of(tmp_path, text)] == [
        "config.toml:3",
        "config.toml:2",
        "config.toml:6",
        "config.toml:7",
    ]


def test_what_is_no_toml_no_text_or_no_file_is_said_in_one_line(tmp_path: Path) -> None:
    assert len(faults_of(tmp_path, "[voice\n")) == 1
    (tmp_path / "config.toml").write_bytes(b"\xff\xfe[voice]")
    with pytest.raises(UsageError, match="is not UTF-8 text"):
        read_config(tmp_path / "config.toml")
    with pytest.raises(UsageError, match=r"cannot be read: No such file or directory \(give a TOML file\)"):
        read_config(tmp_path / "none.toml")


def run(*arguments: str) -> int | str | None:
    with pytest.raises(SystemExit) as left:
        main(["run", *arguments])
    return left.value.code


def test_the_command_takes_the_file_and_its_faults_exit_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "config.toml"
    path.write_text("[voice]\nrate = 1\n")
    assert run("light-output-check", "--typed", "--record", str(tmp_path / "r"), "--config", str(path)) == 2
    assert capsys.readouterr().err.strip() == (
        f"handsfree: {path}:2: voice.rate: 1 is outside 90 to 220 words a minute"
    )
    assert not (tmp_path / "r").exists()


def test_the_command_line_wins_over_the_file_and_says_what_is_wrong_with_itself(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "config.toml"
    path.write_text(WHOLE)
    assert run("light-output-check", "--typed", "--config", str(path), "--voice", "robot") == 2
    assert "Invalid value for '--voice': 'robot' is not one of 'neural', 'system'." in capsys.readouterr().err
