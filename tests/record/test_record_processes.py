"""Real processes: killed at any moment, out of room, out of permission."""

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from record_samples import CLOSING, HEADER, again

from handsfree.model.facts import LightStillOn
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.verify import RecordState, verify

WRITER = """
import os, resource, sys
from pathlib import Path
from handsfree.errors import RecordError
from handsfree.model.effects import Append
from handsfree.model.events import ClockTicked, SessionInterrupted
from handsfree.model.facts import LightStillOn, VisitClosed
from handsfree.record.contents import RecordHeader
from handsfree.record.journal import Journal

HEADER = RecordHeader(
    record_id="5f0c7c1e-0000-4000-8000-000000000001",
    procedure="ulnar-splint-fitting",
    title="Fitting of an ulnar splint",
    procedure_sha256="ab" * 32,
    practice=False,
    versions={},
)
folder, total, limit = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
if "as-nobody" in sys.argv and os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
if limit:
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

def facts(number):
    return [Append(LightStillOn(zone=str(part), at_s=float(number), cues=())) for part in range(number % 4)]

def wall(number):
    return f"2026-11-25T10:{number // 60:02}:{number % 60:02}.000Z"

try:
    if (folder / "record.jsonl").exists():
        journal, found = Journal.reopen(folder)
        ticks = [event for event in found.events if isinstance(event, ClockTicked)]
        last = found.events[-1] if found.events else None
        done = round(ticks[-1].at_s) if ticks else -1
        journal.resume(facts(done) if isinstance(last, ClockTicked) else [])
        journal.append(SessionInterrupted(at_s=max(done, 0), wall=wall(max(done, 0)), gap_s=found.gap_s), [])
    else:
        journal, done = Journal.create(folder, HEADER), -1
    for number in range(done + 1, total):
        journal.append(ClockTicked(at_s=float(number), wall=wall(number)), facts(number))
        print(number, flush=True)   # said only once it is on the disk
    closing = VisitClosed(outcome="completed", open_items=(), zones=(), practice=False, stages_done=0, notes=0)
    journal.append(None, [Append(closing)])
except RecordError as error:
    print(error, file=sys.stderr)
    sys.exit(error.exit_code)
"""
TOTAL = 400


def command(folder, total=TOTAL, limit=0):
    return [sys.executable, "-c", WRITER, str(folder), str(total), str(limit)]


def test_killed_again_and_again_nothing_said_is_lost(tmp_path):
    rng = random.Random(20261125)
    folder = tmp_path / "r"
    said = -1
    kills = 0
    for _ in range(60):
        process = subprocess.Popen(command(folder), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert process.stdout is not None
        for _ in range(rng.randint(1, 60)):
            line = process.stdout.readline()
            if not line:
                break
            said = int(line)
        if process.poll() is None and kills < 12:
            time.sleep(rng.random() * 0.002)  # anywhere between and inside writes
            process.send_signal(signal.SIGKILL)
        rest, errors = process.communicate(timeout=60)
        assert not errors
        said = int(rest.split()[-1]) if rest.split() else said
        if process.returncode == 0:
            break
        assert process.returncode == -signal.SIGKILL
        found = verify(folder)
        if found.state is RecordState.COMPLETE:
            break
        kills += 1
        assert found.state is RecordState.INTERRUPTED
        values = [item.fact.at_s for item in found.record.of(LightStillOn)]
        assert all(number in values for number in range(said + 1) if number % 4)
    found = verify(folder)
    assert found.state is RecordState.COMPLETE, found.faults
    assert kills >= 5
    assert len(found.record.interruptions) == kills
    facts = [(item.fact.at_s, int(item.fact.zone)) for item in found.record.of(LightStillOn)]
    assert facts == [(number, part) for number in range(TOTAL) for part in range(number % 4)]


def test_a_full_disk_is_told_and_the_record_stays_whole(tmp_path):
    # RLIMIT_FSIZE makes the kernel refuse to let the file grow, as a full disk does.
    for limit in range(2_000, 6_000, 37 * 11):
        folder = tmp_path / str(limit)
        done = subprocess.run(command(folder, limit=limit), capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 8
        assert done.stderr.count("\n") == 1
        assert "nothing more is recorded" in done.stderr
        said = [int(line) for line in done.stdout.split()]
        found = verify(folder)
        assert found.state is RecordState.INTERRUPTED
        assert [str(fault) for fault in found.faults] == [
            f"line {found.lines}: the record ends without being closed"
        ]  # the part of the last batch that fitted was taken back
        assert [round(event.at_s) for event in found.record.events] == said
        # With room again it goes on.
        again = subprocess.run(command(folder, total=20), capture_output=True, text=True, timeout=60, check=False)
        assert again.returncode == 0, again.stderr
        assert verify(folder).state is RecordState.COMPLETE


def test_after_a_failed_write_nothing_more_is_taken(tmp_path, monkeypatch):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        handle = journal._file.handle
        full = os.open("/dev/full", os.O_WRONLY)
        write = os.write
        # From here every write to the record fails with "no space left on device".
        monkeypatch.setattr(os, "write", lambda to, content: write(full if to == handle else to, content))
        with pytest.raises(Exception, match="No space left on device"):
            journal.append(None, [again("a")])
        monkeypatch.setattr(os, "write", write)  # room again: still refused, for what was said is unknown
        with pytest.raises(Exception, match="takes nothing more"):
            journal.append(None, [again("b")])
        os.close(full)
    assert verify(tmp_path / "r").lines == 1


def test_a_read_only_folder_is_told(tmp_path):
    # Root ignores modes, so a writer started by root goes on as "nobody" (65534 by Debian policy 9.2.2).
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o555)
        done = subprocess.run(
            [*command(folder / "r"), "as-nobody"], capture_output=True, text=True, timeout=60, check=False
        )
        assert done.returncode == 8
        assert done.stderr.endswith("give a writable folder\n")
        assert done.stdout == ""


@pytest.mark.parametrize("left", [b"", b'{"at":"2026-11-2'])
def test_a_kill_at_creation_leaves_no_half_record_in_the_way(tmp_path, left):
    folder = tmp_path / "r"
    folder.mkdir()
    (folder / RECORD_FILE).write_bytes(left)
    found = verify(folder)
    assert not found.fine
    assert "not a record" in str(found.faults[0])
    with Journal.create(folder, HEADER) as journal:
        journal.append(None, [CLOSING])
    assert verify(folder).state is RecordState.COMPLETE
    assert [path.read_bytes() for path in folder.glob("torn-*.bin")] == ([left] if left else [])
