"""The virtual sound card, a mouth that speaks into its microphone, and an ear at its loudspeaker or microphone."""

import fcntl
import os
import queue
import subprocess
import threading
import time
from collections import deque
from contextlib import suppress
from pathlib import Path
from typing import IO, Any

import numpy as np
import numpy.typing as npt

from handsfree.clock import SystemClock
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ

SCRIPTS = Path(__file__).parent
CLOCK = SystemClock()
RAW = ("--raw", "--format=s16le", f"--rate={SAMPLE_RATE_HZ}", "--channels=1", "--latency-msec=20")
BLOCK_S = BLOCK_SAMPLES / SAMPLE_RATE_HZ
LOUD = 60
"""Peak of 16 bits from which a block of the loudspeaker counts as sound; prompts peak at thousands."""

Samples = npt.NDArray[np.int16]


def pipe(stream: IO[Any] | None) -> IO[Any]:
    """A pipe that was asked for."""
    if stream is None:
        raise RuntimeError("the process has no such pipe")
    return stream


class SoundCard:
    """The virtual sound card of `scripts/soundcard`; can be killed and started again.

    Args:
        folder: Where it keeps its socket.
        self_heard: Whether the microphone hears the loudspeaker, 10 dB softer.
    """

    def __init__(self, folder: Path, *, self_heard: bool = False) -> None:
        self._command = [str(SCRIPTS / "soundcard"), str(folder), *(["--self-heard"] if self_heard else [])]
        self._process: subprocess.Popen[str] | None = None
        self.environment: dict[str, str] = {}

    def start(self) -> None:
        """Start it and wait until it answers."""
        self._process = subprocess.Popen(
            self._command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, start_new_session=True
        )
        variables = pipe(self._process.stdout).readline().removeprefix("export ").split()
        self.environment = {**os.environ, **dict(item.split("=", 1) for item in variables)}
        for _ in range(500):
            # pactl waits for the answer by itself; only the moment before the socket is there is polled.
            if not subprocess.run(["pactl", "info"], env=self.environment, capture_output=True, check=False).returncode:
                return
            time.sleep(0.02)
        self.kill()
        raise RuntimeError("pulseaudio did not start")

    def kill(self) -> None:
        """End it at once, as a crash would."""
        self._end(kill=True)

    def stop(self) -> None:
        """End it."""
        self._end(kill=False)

    def _end(self, *, kill: bool) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill() if kill else process.terminate()
            process.wait(10)
            pipe(process.stdout).close()


class Mouth:
    """Speaks into the microphone, block by block in real time; silence where nothing is to be said."""

    def __init__(self, card: SoundCard) -> None:
        self._player = subprocess.Popen(
            ["pacat", "--playback", "--device=mic_feed", "--client-name=mouth", *RAW],
            env=card.environment,
            stdin=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self._blocks: queue.Queue[bytes] = queue.Queue()
        self._ended = threading.Event()
        # What lies in the pipe is delay: a small one, and nothing in it before the player reads.
        fcntl.fcntl(pipe(self._player.stdin), fcntl.F_SETPIPE_SZ, 4096)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def put(self, block: bytes) -> None:
        """Say this after what is waiting."""
        self._blocks.put(block)

    def say(self, samples: Samples) -> None:
        """Say this; returns at once."""
        for at in range(0, len(samples), BLOCK_SAMPLES):
            part = samples[at : at + BLOCK_SAMPLES]
            self.put(np.pad(part, (0, BLOCK_SAMPLES - len(part))).tobytes())

    def _run(self) -> None:
        stdin = pipe(self._player.stdin)
        self._ended.wait(0.5)
        due_s = CLOCK.monotonic_s()
        try:
            while not self._ended.is_set():
                try:
                    block = self._blocks.get_nowait()
                except queue.Empty:
                    block = bytes(2 * BLOCK_SAMPLES)
                stdin.write(block)
                stdin.flush()
                due_s = max(due_s + BLOCK_S, CLOCK.monotonic_s() - 0.1)
                self._ended.wait(max(0.0, due_s - CLOCK.monotonic_s()))
        except BrokenPipeError:
            pass

    def close(self) -> None:
        """End it."""
        self._ended.set()
        self._thread.join(2)
        self._player.kill()
        self._player.wait()
        with suppress(BrokenPipeError):
            pipe(self._player.stdin).close()


class Listener:
    """Hears what a sink plays and remembers when it was loud.

    Args:
        card: Running.
        device: A monitor of it.
        loud: Peak of 16 bits from which it counts.
    """

    def __init__(self, card: SoundCard, device: str = "speaker.monitor", loud: int = LOUD) -> None:
        self._loud = loud
        self._recorder = subprocess.Popen(
            ["parec", f"--device={device}", "--client-name=listener", *RAW],
            env=card.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self.loud_s: deque[float] = deque(maxlen=200_000)
        """Arrival of each loud block, on the machine's monotonic clock."""
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        stdout = pipe(self._recorder.stdout)
        while pcm := stdout.read(BLOCK_SAMPLES):
            if int(np.abs(np.frombuffer(pcm[: len(pcm) // 2 * 2], "<i2").astype(int)).max(initial=0)) > self._loud:
                self.loud_s.append(CLOCK.monotonic_s())

    @property
    def last_s(self) -> float:
        """When it was loud last."""
        return self.loud_s[-1] if self.loud_s else float("-inf")

    def first_after(self, at_s: float) -> float | None:
        """When it became loud after this time."""
        return next((loud_s for loud_s in list(self.loud_s) if loud_s > at_s), None)

    def last_before(self, at_s: float) -> float | None:
        """When it was loud last before this time."""
        return next((loud_s for loud_s in reversed(list(self.loud_s)) if loud_s < at_s), None)

    def close(self) -> None:
        """End it."""
        self._recorder.kill()
        self._recorder.wait()
        self._thread.join(2)
        pipe(self._recorder.stdout).close()
