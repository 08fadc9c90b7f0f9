"""A software sound card for tests of the live devices."""

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / "scripts" / "soundcard"


def _start(folder: Path, *options: str) -> tuple[subprocess.Popen[str], dict[str, str]]:
    process = subprocess.Popen(
        [str(SCRIPT), str(folder), *options], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    assert process.stdout is not None
    variables = process.stdout.readline().removeprefix("export ").split()
    return process, {**os.environ, **dict(item.split("=", 1) for item in variables)}


@pytest.fixture
def soundcard(tmp_path: Path) -> Iterator[Callable[..., dict[str, str]]]:
    """Starts the card with the options given; returns the environment in which a process uses it."""
    for program in ("pulseaudio", "pactl", "paplay"):
        if shutil.which(program) is None:
            pytest.skip(f"{program} is not installed (apt-get install pulseaudio pulseaudio-utils)")
    pytest.importorskip("soundfile")
    try:
        import sounddevice  # noqa: F401
    except (ImportError, OSError) as error:
        pytest.skip(f"no PortAudio: {error}")
    running: list[subprocess.Popen[str]] = []

    def start(*options: str) -> dict[str, str]:
        process, environment = _start(tmp_path / "card", *options)
        running.append(process)
        environment["SOUNDCARD_PID"] = str(process.pid)
        for _ in range(500):
            # pactl itself waits for the server's answer; only the moment before the socket is there is polled.
            ready = subprocess.run(["pactl", "info"], env=environment, capture_output=True, check=False)
            if ready.returncode == 0:
                return environment
        pytest.skip("pulseaudio did not start here")

    yield start
    for process in running:
        process.terminate()
        process.wait(10)
        if process.stdout is not None:
            process.stdout.close()
