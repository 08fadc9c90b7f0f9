"""Without the speech packages, what needs them says so in one line; typed sessions run. In processes of their own."""

import subprocess
import sys
from pathlib import Path

import pytest

from handsfree.cli import SPEECH_PARTS

BLOCKED = f"""
import sys
for name in {sorted(SPEECH_PARTS)!r}:
    sys.modules[name] = None
from handsfree.cli import main
main(sys.argv[1:])
"""


def run(*arguments: str, typed: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", BLOCKED, *arguments],
        input=typed,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.mark.parametrize(
    "arguments",
    [
        ("run", "light-output-check", "--wav", "visit.wav"),
        ("run", "light-output-check", "--stdin-pcm"),
        ("run", "light-output-check"),
        ("devices",),
    ],
)
def test_one_line_says_what_to_install_and_the_exit_code_is_that_of_sound(
    tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    more = ("--record", str(tmp_path / "record")) if arguments[0] == "run" else ()
    done = run(*arguments, *more)
    assert done.returncode == 6
    (line,) = done.stderr.splitlines()
    assert line.startswith("handsfree: ")
    assert "pip install" in line
    assert not (tmp_path / "record").exists()


def test_a_typed_session_runs_without_them(tmp_path: Path) -> None:
    done = run("run", "light-output-check", "--typed", "--record", str(tmp_path / "record"), typed="practice session\n")
    assert done.returncode == 0
    assert "Practice session." in done.stdout
