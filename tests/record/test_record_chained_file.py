"""The file that the journal and the attempts of practice are kept in."""

import os
import subprocess
import sys

import pytest

from handsfree.errors import RecordError
from handsfree.record.chain_checking import ChainRead
from handsfree.record.chained_file import ChainedFile, FileTail, read_chain
from handsfree.record.record_line import FIRST_PREV, RecordLine

AT = "2026-11-25T10:00:00.000Z"


def chain(count, first=0, prev=FIRST_PREV):
    lines = []
    for seq in range(first, first + count):
        lines.append(RecordLine(seq, prev, AT, "noted", {"n": seq}))
        prev = lines[-1].hash
    return lines


@pytest.fixture
def path(tmp_path):
    return tmp_path / "lines.jsonl"


def written(path, count):
    with ChainedFile.claim(path, create=True) as file:
        file.append(chain(count))


def test_lines_are_read_back_and_the_next_ones_follow(path):
    written(path, 3)
    reading = read_chain(path)
    assert [line.data["n"] for line in reading.good] == [0, 1, 2]
    with ChainedFile.claim(path) as file:
        file.follow(reading)
        assert file.tail == FileTail(3, reading.good[-1].hash, path.stat().st_size)
        file.append(chain(2, file.tail.seq, file.tail.prev))
    assert [line.seq for line in read_chain(path).good] == [0, 1, 2, 3, 4]
    assert path.read_bytes().endswith(b"\n")


def test_a_file_that_is_not_there_holds_nothing_and_is_made_only_where_asked(path):
    assert read_chain(path) == ChainRead()
    with pytest.raises(FileNotFoundError):
        ChainedFile.claim(path)
    written(path, 1)
    assert path.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda raw: raw[:-1], "the last line is torn"),
        (lambda raw: raw.replace(b'"n":1', b'"n":7'), ":3: does not carry the hash"),
        (lambda raw: b"".join(raw.splitlines(keepends=True)[::2]), ":2: sequence number 2 where 1 was due"),
        (lambda raw: raw.replace(b'"kind"', b'"kinds"', 1), ":1: does not have exactly the members"),
        (lambda raw: raw.replace(b"\n", b"\r\n"), ":1: every line ends in CR LF"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(path, spoil, said):
    written(path, 3)
    path.write_bytes(spoil(path.read_bytes()))
    with pytest.raises(RecordError, match=said):
        read_chain(path)


def test_what_cannot_be_read_back_is_not_written(path):
    with ChainedFile.claim(path, create=True) as file:
        with pytest.raises(RecordError):
            file.append([RecordLine(0, FIRST_PREV, AT, "noted", {"n": 2.0**53})])
        file.append(chain(1))
    assert len(read_chain(path).good) == 1


def test_each_batch_is_on_the_disk_before_it_counts(path, monkeypatch):
    synced = []
    monkeypatch.setattr(os, "fsync", lambda handle: synced.append(os.fstat(handle).st_size))
    with ChainedFile.claim(path, create=True) as file:
        file.append(chain(2))
        assert synced == [file.tail.size] == [path.stat().st_size]


def test_after_a_failed_write_the_file_is_as_before_and_takes_nothing_more(path, monkeypatch):
    with ChainedFile.claim(path, create=True) as file:
        file.append(chain(1))
        before = path.read_bytes()
        more = chain(1, file.tail.seq, file.tail.prev)
        whole = os.write
        with monkeypatch.context() as failing:
            failing.setattr(os, "write", lambda handle, raw: whole(handle, raw[:7]))
            failing.setattr(os, "fsync", lambda handle: os.pread(-1, 1, 0))  # fails as a bad handle does
            with pytest.raises(RecordError, match="nothing more is recorded"):
                file.append(more)
        assert path.read_bytes() == before
        with pytest.raises(RecordError, match="takes nothing more"):
            file.append(more)


def test_one_process_at_a_time_and_a_killed_one_leaves_no_lock(path):
    hold = (
        "import sys\nfrom pathlib import Path\nfrom handsfree.record.chained_file import ChainedFile\n"
        "file = ChainedFile.claim(Path(sys.argv[1]), create=True)\nprint('held', flush=True)\nsys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout.readline() == "held\n"
        with pytest.raises(RecordError, match="written by another process"):
            ChainedFile.claim(path)
        other.kill()
        other.wait()
        ChainedFile.claim(path).close()


def test_closed_twice_and_then_written_is_told(path):
    file = ChainedFile.claim(path, create=True)
    file.close()
    file.close()
    with pytest.raises(RecordError, match="not open"):
        file.append(chain(1))


def test_a_file_that_is_not_there_yet_begins_at_its_beginning(path):
    reading = read_chain(path)
    with ChainedFile.claim(path, create=True) as file:
        file.follow(reading)
        assert file.tail == FileTail(0, FIRST_PREV, 0)
