"""Offline means offline: no command reaches for an address, and none leaves a file where nobody asked for one.

Every command runs where there is no network and is watched by the kernel's own tracing (see `watched`). It may write
into the record, and what else it was told to write, into the tool's own data and cache folders (XDG Base Directory
Specification, 0.8), and into the folder for temporary files. `models install` alone fetches, because it is asked to.
"""

import ast
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from watched import NAME_SERVER, ROOT, why_not
from watched_place import PROCEDURE, REHEARSAL, Place

from handsfree.cli import SECTIONS
from handsfree.errors import AudioDeviceError, HandsfreeError

TYPED = "ward\naffirmative\naffirmative\n"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    reason = why_not()
    if reason is not None:
        pytest.skip(reason)
    found = Place(tmp_path_factory.mktemp("offline").resolve())
    for folder in (found.home, found.work, found.base / "temporary", found.base / "elsewhere"):
        folder.mkdir()
    (found.work / "shelf.yaml").write_text(PROCEDURE)
    (found.work / "look.yaml").write_text(REHEARSAL.format(procedure=found.work / "shelf.yaml"))
    return found


@pytest.fixture(scope="module")
def ears():
    """Skips where the recogniser or the voice is not installed."""
    pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
    from handsfree.recognition.choose import make_engine
    from handsfree.voice.choose import choose_synthesizer

    try:
        make_engine("neural")
        choose_synthesizer("neural")
    except HandsfreeError as error:
        pytest.skip(str(error))


@pytest.fixture(scope="module")
def rehearsed(place, ears):
    """A rehearsal, and its record with sound."""
    record = place.work / "rehearsed"
    return place.handsfree("rehearse", place.work / "look.yaml", "--record", record, "--clips"), record


@pytest.fixture(scope="module")
def typed_visit(place):
    """A typed visit, and its record."""
    record = place.work / "typed"
    return place.handsfree("run", place.work / "shelf.yaml", "--typed", "--record", record, said=TYPED), record


@pytest.fixture(scope="module")
def practised(place):
    """A typed practice session, and its record."""
    record = place.work / "practised"
    asked = ("light-output-check", "--scenario", "low-battery", "--typed", "--trainee", "L-01", "--record", record)
    said = "practice session\naffirmative\nstop\noverride\nhand therapist\ntechnical decision\naffirmative\n"
    return place.handsfree("practice", *asked, said=said), record


def kept_to_itself(found, place, *more):
    assert found.sent == []
    assert found.bound == []
    assert found.sockets == set()
    assert found.outside((*place.allowed, *more)) == []


def test_the_watch_sees_names_looked_up_addresses_reached_and_files_left(place):
    script = """
import os, socket, subprocess, sys, threading
from contextlib import suppress
def look_up():
    with suppress(OSError):
        socket.getaddrinfo("example.org", 443)
thread = threading.Thread(target=look_up)
thread.start()
thread.join()
subprocess.run([sys.executable, "-c", "import socket; socket.socket().connect_ex(('127.0.0.1', 9))"])
socket.socket(socket.AF_INET6).bind(("::", 0))
os.mkdir(os.path.expanduser("~/left"))
os.chdir(os.path.expanduser("~/left"))
os.close(os.open("one", os.O_CREAT | os.O_WRONLY))
os.rename("one", "two")
"""
    found = place.python("-c", script)
    assert found.code == 0, found.err
    assert any(NAME_SERVER in line and "htons(53)" in line for line in found.sent)
    assert any('inet_addr("127.0.0.1")' in line for line in found.sent)
    assert any("AF_INET6" in line for line in found.bound)
    assert found.sockets == {"AF_INET", "AF_INET6"}
    left = place.home / "left"
    assert {str(left), str(left / "one")} <= set(found.outside(place.allowed))
    # A path that is given as relative is told from the folder in which the command began.
    assert str(place.base / "elsewhere" / "two") in found.outside(place.allowed)


def test_a_typed_visit_keeps_to_itself(place, typed_visit):
    found, record = typed_visit
    assert found.code == 0, found.err
    assert "complete" in found.out
    assert record / "record.jsonl" in found.written
    kept_to_itself(found, place)


@pytest.mark.sound
def test_a_rehearsal_keeps_to_itself(place, rehearsed):
    found, record = rehearsed
    assert found.code == 0, found.err
    assert "completed" in found.out
    assert list((record / "clips").iterdir())
    kept_to_itself(found, place)


@pytest.mark.sound
def test_recordings_are_heard_without_a_network(place, rehearsed):
    clip = next((rehearsed[1] / "clips").iterdir())
    found = place.handsfree("soundcheck", "--listen", clip)
    assert "of 6 phrases" in found.out, found.err
    kept_to_itself(found, place)
    asked = ("run", place.work / "shelf.yaml", "--record")
    found = place.handsfree(*asked, place.work / "heard", "--wav", clip, "--clips")
    assert found.code == 0, found.err
    kept_to_itself(found, place)
    found = place.handsfree(*asked, place.work / "piped", "--stdin-pcm", said="\0" * 64_000)
    assert found.code == 0, found.err
    kept_to_itself(found, place)
    page = place.work / "heard.html"
    found = place.handsfree("report", rehearsed[1], "--procedure", place.work / "shelf.yaml", "--output", page)
    assert (found.code, "audio/flac" in page.read_text()) == (0, True), found.err
    kept_to_itself(found, place)


@pytest.mark.sound
def test_a_check_by_sound_keeps_to_itself(place, ears):
    found = place.handsfree("check", place.work / "shelf.yaml", "--acoustic", "--voices", "2")
    assert found.code == 0, found.err
    assert "utterances" in found.err
    assert place.home / ".cache" / "handsfree" / "acoustic.json" in {Path(path) for path in _kept(place)}
    kept_to_itself(found, place)


def _kept(place):
    return [path for path in place.home.rglob("*") if path.is_file()]


VOICE = """
from handsfree.voice.choose import choose_synthesizer
if __name__ == "__main__":
    voice = choose_synthesizer({name!r}, apart=True)
    print(len(voice.render("Hold still.").pcm) > 10_000)
"""


@pytest.mark.sound
@pytest.mark.parametrize("name", ["neural", "system"])
def test_a_voice_keeps_to_itself_in_its_own_process(place, name):
    found = place.python("-c", VOICE.format(name=name))
    if "is not installed" in found.err or "apt-get install" in found.err:
        pytest.skip(found.err.strip().splitlines()[-1])
    assert found.out == "True\n", found.err
    kept_to_itself(found, place)


REVIEWER = """
import fcntl, http.client, json, re, socket, struct, subprocess, sys
from urllib.parse import urlsplit
UP = 0x8914  # SIOCSIFFLAGS, netdevice(7)
with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_socket:
    fcntl.ioctl(any_socket, UP, struct.pack("16sh22x", b"lo", 1))
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.PIPE, text=True)
address = urlsplit(process.stdout.readline().strip())
def ask(method, path="", body=None):
    connection = http.client.HTTPConnection(address.hostname, address.port, timeout=60)
    origin = f"{address.scheme}://{address.netloc}"
    connection.request(method, address.path + path, body, {"Origin": origin, "Content-Type": "application/json"})
    answer = connection.getresponse()
    return answer.status, answer.read().decode(errors="replace")
status, page = ask("GET")
print(status, "<html" in page)
clip = re.search(r"clip/[0-9a-f]+\\.flac", page)
print(ask("GET", clip[0])[0] if clip else "no clip")
head = re.search(r'data-head="([0-9a-f]+)"', page)
print(ask("POST", "attest", json.dumps({"by": "ward nurse", "head": head[1]}))[0])
held = http.client.HTTPConnection(address.hostname, address.port, timeout=60)
held.request("GET", address.path + "window")
print(held.getresponse().status)
held.close()
sys.exit(process.wait(60))
"""


@pytest.mark.sound
def test_a_review_listens_on_loopback_alone_and_reaches_nothing(place, rehearsed):
    found = place.handsfree("review", rehearsed[1], "--no-browser", client=REVIEWER)
    assert (found.code, found.out.split("\n")[0]) == (0, "200 True"), found.err
    assert found.sent == []
    assert found.sockets == {"AF_INET"}
    assert len(found.bound) == 1
    assert 'inet_addr("127.0.0.1")' in found.bound[0]
    assert found.outside(place.allowed) == []


def test_a_screen_for_the_room_listens_on_loopback_alone(place):
    asked = ("run", place.work / "shelf.yaml", "--typed", "--screen", "--no-browser", "--record", place.work / "seen")
    found = place.handsfree(*asked, said=TYPED)
    assert (found.code, found.sent, found.sockets, len(found.bound)) == (0, [], {"AF_INET"}, 1), found.err
    assert 'inet_addr("127.0.0.1")' in found.bound[0]


def test_a_review_of_a_typed_visit_listens_on_loopback_alone(place, typed_visit):
    record = Path(shutil.copytree(typed_visit[1], place.work / "reviewed"))
    asked = ("review", record, "--procedure", place.work / "shelf.yaml", "--no-browser")
    found = place.handsfree(*asked, client=REVIEWER)
    assert (found.code, found.out.split()) == (0, ["200", "True", "no", "clip", "200", "200"]), found.err
    assert b'"kind":"attested"' in (record / "record.jsonl").read_bytes()
    assert (found.sent, found.sockets, len(found.bound)) == ([], {"AF_INET"}, 1)
    assert 'inet_addr("127.0.0.1")' in found.bound[0]
    assert found.outside(place.allowed) == []


def test_a_typed_visit_that_goes_on_keeps_to_itself(place):
    asked = ("run", place.work / "shelf.yaml", "--typed", "--record", place.work / "resumed")
    found = place.handsfree(*asked, said="ward\n")
    assert "not closed" in found.err
    kept_to_itself(found, place)
    found = place.handsfree(*asked, "--resume", said="affirmative\naffirmative\n")
    assert (found.code, "complete" in found.out) == (0, True), found.err
    kept_to_itself(found, place)


@pytest.mark.sound
def test_prompts_that_are_kept_as_sound_are_spoken_without_a_network(place):
    try:
        from handsfree.voice.choose import choose_synthesizer

        choose_synthesizer("neural")
    except (HandsfreeError, ImportError) as error:
        pytest.skip(str(error))
    prompts = place.work / "prompts"
    asked = ("run", place.work / "shelf.yaml", "--typed", "--voice", "neural", "--prompts", prompts)
    found = place.handsfree(*asked, "--record", place.work / "spoken", said=TYPED)
    assert found.code == 0, found.err
    assert list(prompts.glob("*.wav"))
    kept_to_itself(found, place)


def test_typed_practice_keeps_to_itself(place, practised):
    found, record = practised
    assert (record / "record.jsonl").is_file(), found.err
    assert place.home / ".local" / "share" / "handsfree" / "attempts.jsonl" in found.written
    kept_to_itself(found, place)


IN_TURN = """
import json, sys
from handsfree.cli import main
for asked in json.load(sys.stdin):
    try:
        main(asked)
        code = 0
    except SystemExit as left:
        code = left.code or 0
    print(json.dumps([asked, code]), file=sys.stderr)
"""
APART = frozenset({"run", "rehearse", "practice", "soundcheck", "review", "devices", "diagnose", "store"})
"""Commands with a test of their own."""


def _others(shelf, record, practised, out):
    yield from (["verify", record], ["summary", record], ["records", record.parent], ["day", record.parent])
    yield from (["summary", "--all", record], ["recall", record.parent, "A4B2"])
    yield ["tables", record.parent, "--output", out / "tables"]
    yield ["report", record, "--output", out / "report.html"]
    yield from (
        ["export", record, "--to", form, "--output", out / f"export.{form}"] for form in ("fhir", "csv", "note")
    )
    yield ["attest", record, "--by", "ward nurse"]
    rows = map(json.loads, (record / "record.jsonl").read_text(encoding="utf-8").splitlines())
    entry = [row["seq"] for row in rows if row["data"].get("field") == "place"][-1]
    changed = ("--entry", entry, "--value", "home", "--by", "ward nurse", "--reason", "misheard")
    yield ["amend", record, *changed, "--procedure", shelf]
    yield ["debrief", practised, "--page", out / "debrief.html"]
    yield ["rate", practised, "--by", "R-01", "--marks", "2,3,3,4,2,3,4", "--overall", "failed"]
    yield ["progress", "show", "L-01", "--page", out / "progress.html"]
    yield ["progress", "csv"]
    yield ["progress", "sign", "L-01", "--by", "A-01", "--role", "senior therapist", "--outcome", "more_practice"]
    yield from (["check", shelf], ["chart", shelf], ["card", shelf, "--out", out / "card.html"], ["schema"])
    yield from (["new", "begun", "--folder", out], ["approve", shelf, "--name", "A-01", "--role", "ward nurse"])
    yield from (["models", "list"], ["scenario", "list"])
    profiles = ("--device", "example-ulnar-sleeve", "--light", "example-blue-light")
    yield ["exposure", "plan", *profiles, "--circumference", "17.5 cm"]
    yield ["exposure", "hazard", "--light", "example-blue-light"]
    yield ["exposure", "heat", "--burn-points"]


def test_every_other_command_keeps_to_itself(place, typed_visit, practised):
    asked = [
        [str(part) for part in command]
        for command in _others(place.work / "shelf.yaml", typed_visit[1], practised[1], place.work)
    ]
    assert {command[0] for command in asked} | APART == {name for section in SECTIONS.values() for name in section}
    found = place.python("-c", IN_TURN, said=json.dumps(asked))
    codes = [json.loads(line) for line in found.err.splitlines() if line.startswith("[[")]
    assert [command for command, _ in codes] == asked
    assert [command for command, code in codes if code] == []
    kept_to_itself(found, place)


@pytest.mark.sound
def test_where_sound_devices_are_looked_for_only_the_sound_server_is_asked(place, ears):
    found = place.handsfree("devices")
    assert found.code in {0, HandsfreeError.exit_code, AudioDeviceError.exit_code}, found.err
    kept_to_itself(found, place, *place.sound_server)
    found = place.handsfree("diagnose", "--output", place.work / "diagnosis.json")
    assert found.code == 0, found.err
    kept_to_itself(found, place, *place.sound_server)
    asked = ("run", place.work / "shelf.yaml", "--microphone", "no such microphone")
    found = place.handsfree(*asked, "--record", place.work / "live")
    assert found.code == AudioDeviceError.exit_code, found.err
    kept_to_itself(found, place, *place.sound_server)


ENGINES = """
import handsfree
from handsfree.recognition.choose import ENGINES, make_engine
from handsfree.errors import HandsfreeError
import vosk
for name in ENGINES:
    try:
        print(make_engine(name).name)
    except HandsfreeError as error:
        print(error)
"""


@pytest.mark.sound
def test_every_recogniser_is_loaded_without_reaching_out(place, ears):
    pytest.importorskip("vosk", reason="vosk is not installed: pip install 'handsfree[speech]'")
    found = place.python("-c", ENGINES)
    assert found.code == 0, found.err
    # vosk brings in a library that tries whether it could listen at an IPv6 address of this machine itself.
    assert all('inet_pton(AF_INET6, "::1"' in line for line in found.bound)
    assert found.sockets <= {"AF_INET6"}
    assert found.sent == []
    assert found.outside(place.allowed) == []


def test_a_library_that_reports_its_use_is_told_not_to_before_it_is_loaded(tmp_path):
    # Holds on every system, and where nothing can be traced.
    pytest.importorskip("onnxruntime", reason="onnxruntime is not installed: pip install 'handsfree[speech]'")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("ORT_", "XDG_"))}
    own = {"HOME": str(tmp_path), "TMPDIR": str(tmp_path), "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}
    for module in ("handsfree.clock", "handsfree.voice.system_worker", "handsfree.recognition.neural_network"):
        script = f"import {module}, onnxruntime, os; print(os.environ['ORT_DISABLE_TELEMETRY'])"
        done = subprocess.run(
            [sys.executable, "-c", script], env=kept | own, capture_output=True, text=True, check=True
        )
        assert done.stdout == "1\n"
    assert list(tmp_path.iterdir()) == []


def test_no_script_loads_that_library_before_this_package():
    found = 0
    for path in (ROOT / "scripts").rglob("*.py"):
        names = [
            alias.name if isinstance(node, ast.Import) else str(node.module)
            for node in sorted(
                (
                    node
                    for node in ast.walk(ast.parse(path.read_text()))
                    if isinstance(node, ast.Import | ast.ImportFrom)
                ),
                key=lambda node: node.lineno,
            )
            for alias in node.names
        ]
        loads = [number for number, name in enumerate(names) if name.partition(".")[0] == "onnxruntime"]
        if loads:
            found += 1
            assert any(name.partition(".")[0] == "handsfree" for name in names[: loads[0]]), path.name
    assert found
