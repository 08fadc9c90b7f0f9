"""A command on a terminal of its own (a pseudo-terminal), with somebody who answers when asked."""

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
from dataclasses import dataclass
from pathlib import Path

from handsfree.clock import SystemClock

CLOCK = SystemClock()
CTRL_C, CTRL_D = "\x03", "\x04"
LONGEST_S = 90.0
"""How long a question is waited for: the machine may be busy."""


@dataclass(frozen=True)
class TerminalRun:
    """What a command on a terminal came to.

    Attributes:
        code: Its exit code.
        shown: All that stood on the terminal, answers as they were echoed, lines ended by a newline alone.
    """

    code: int
    shown: str


def _at_a_terminal() -> None:
    """Ctrl-C reaches the program, also where these tests run in the background, which ignores it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


def on_terminal(arguments, turns, folder, columns=80):
    """Run `handsfree` with its input, output and errors on a terminal.

    Args:
        arguments: The command line.
        turns: Pairs of words to wait for and the answer to type then; an answer is ended by Enter, keys are not.
        folder: The working folder.
        columns: Width of the terminal.

    Raises:
        AssertionError: It did not ask what was waited for, or did not end.
    """
    leader, follower = pty.openpty()
    fcntl.ioctl(follower, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2]), "TERM": "xterm"}
    environment.pop("COLUMNS", None)
    running = subprocess.Popen(
        [sys.executable, "-m", "handsfree", *arguments],
        stdin=follower,
        stdout=follower,
        stderr=follower,
        cwd=folder,
        env=environment,
        start_new_session=True,
        preexec_fn=_at_a_terminal,
    )
    os.close(follower)
    shown, seen, waiting = b"", 0, list(turns)
    latest_s = CLOCK.monotonic_s() + LONGEST_S
    try:
        while CLOCK.monotonic_s() < latest_s:
            if waiting and (place := shown.find(waiting[0][0].encode(), seen)) >= 0:
                seen = place + len(waiting[0][0].encode())
                answer = waiting.pop(0)[1]
                os.write(leader, (answer if answer in {CTRL_C, CTRL_D} else f"{answer}\n").encode())
            if select.select([leader], [], [], 0.05)[0]:
                try:
                    some = os.read(leader, 4096)
                except OSError:  # it has ended
                    break
                shown += some
            elif running.poll() is not None:
                break
        code = running.wait(timeout=max(0.1, latest_s - CLOCK.monotonic_s()))
    finally:
        running.kill()
        running.wait()
        os.close(leader)
    told = shown.decode().replace("\r\n", "\n")
    assert not waiting, f"was never asked {waiting[0][0]!r}: {told}"
    return TerminalRun(code, told)
