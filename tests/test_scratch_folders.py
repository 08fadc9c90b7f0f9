"""What a killed program was making is found and taken away by the next; what a living one makes is not."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import handsfree
from handsfree import scratch_folders
from handsfree.scratch_folders import PREFIX, scratch_folder, sweep

HOLDING = """
import sys
from pathlib import Path
from handsfree.scratch_folders import scratch_folder
with scratch_folder(Path(sys.argv[1])) as folder:
    (folder / "half").write_text("what was being made")
    print(folder, flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def holding(tmp_path):
    """A process in the middle of making something."""
    environment = {**os.environ, "PYTHONPATH": str(Path(handsfree.__path__[0]).parent)}
    with subprocess.Popen(
        [sys.executable, "-c", HOLDING, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    ) as process:
        process.folder = Path(process.stdout.readline().strip())
        yield process
        process.kill()


def test_a_folder_is_gone_after_its_block_also_after_a_failure(tmp_path):
    def failing():
        with scratch_folder(tmp_path) as folder:
            (folder / "half").write_text("x")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        failing()
    assert list(tmp_path.iterdir()) == []


def test_what_a_killed_program_left_is_taken_away_by_the_next(tmp_path, holding):
    assert sweep(tmp_path) == 0  # it lives
    holding.send_signal(signal.SIGKILL)
    holding.wait(30)
    assert (holding.folder / "half").exists()
    with scratch_folder(tmp_path) as folder:
        assert [path for path in tmp_path.iterdir() if path.name.startswith(PREFIX)] == [folder]


def test_links_and_folders_of_others_are_left_alone(tmp_path, monkeypatch):
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "held").touch()
    place = tmp_path / "place"
    place.mkdir()
    (place / f"{PREFIX}link").symlink_to(mine)
    (place / f"{PREFIX}beginning").mkdir()
    dead = place / f"{PREFIX}dead"
    dead.mkdir()
    (dead / "held").touch()
    monkeypatch.setattr(os, "getuid", lambda: 1_000_000)
    assert sweep(place) == 0
    monkeypatch.undo()
    assert sweep(place) == 1
    assert sorted(path.name for path in place.iterdir()) == [f"{PREFIX}beginning", f"{PREFIX}link"]
    assert (mine / "held").exists()


def test_a_prompt_that_was_being_kept_is_not_left_behind(tmp_path):
    from handsfree.model.audio import Speech
    from handsfree.voice.prompt_cache import CachedSynthesizer

    class Speaker:
        name = "speaker"

        def render(self, text):
            return Speech(b"\0\0" * 160, 16_000)

    left = tmp_path / f"{PREFIX}left"
    left.mkdir()
    (left / "held").touch()
    (left / "prompt").write_bytes(b"half")
    scratch_folders._swept.discard(tmp_path)
    CachedSynthesizer(Speaker(), tmp_path, ("say",)).render("say")
    assert [path.suffix for path in tmp_path.iterdir()] == [".wav"]
