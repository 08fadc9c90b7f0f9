"""A voice in a process of its own: what it computes cannot hold up the sound and the listening of a live session."""

import atexit
import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection

from handsfree.errors import VoiceError
from handsfree.model.audio import Speech
from handsfree.voice.port import Synthesizer

START_S = 30.0
"""Loading takes two to three seconds; longer on a machine that is busy with much else."""
TEXT_S = 5.0
"""The longest prompt takes less than one. Whoever speaks waits, so nothing that hangs may hold a session for long."""
END_S = 0.5
"""How long a process may take to end by itself before it is killed."""


class VoiceApart:
    """See `Synthesizer`. The process starts at once and makes itself ready; it ends with this one.

    A process that ended is started once more for the text that found it so; one that hangs is replaced, and its text is
    lost.

    Args:
        make: Makes the voice; must be picklable, and quick here, where only the name is asked for.

    Raises:
        VoiceError: The voice is not installed, or no process can be started.
    """

    def __init__(self, make: Callable[[], Synthesizer]) -> None:
        self._make = make
        self._name = make().name
        self._lock = threading.Lock()
        self._patience_s = START_S
        self._start()
        atexit.register(self.close)

    @property
    def name(self) -> str:
        """See `Synthesizer.name`."""
        return self._name

    def render(self, text: str) -> Speech:
        """See `Synthesizer.render`. Waits for the voice to be ready."""
        with self._lock:
            try:
                return self._ask(text)
            except (EOFError, OSError):
                self._start_again()
            try:
                return self._ask(text)
            except (EOFError, OSError) as error:
                status = self._start_again()
                raise VoiceError(f"the process of the voice ended (exit status {status})") from error

    def close(self) -> None:
        """End the process."""
        self._connection.close()
        self._process.join(END_S)
        # Not asked to end but killed: one that is stopped or stuck would not hear the question.
        self._process.kill()
        self._process.join(END_S)

    def _start(self) -> None:
        # Spawned, not forked: this process may already have threads and an open sound device.
        context = get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs, self._make), name="voice", daemon=True)
        try:
            with _interrupts_ignored():
                process.start()
        except OSError as error:
            ours.close()
            raise VoiceError(f"no process can be started for the voice: {error.strerror}") from error
        finally:
            # With its other end closed here, a process that died is seen as the end of the stream.
            theirs.close()
        self._connection, self._process = ours, process
        self._is_ready = False
        self._waited_s = 0.0
        self._fault: VoiceError | None = None

    def _start_again(self) -> int | None:
        """Returns the exit status of the process that was."""
        self.close()
        status = self._process.exitcode
        # A session is under way now, and must not wait long.
        self._patience_s = TEXT_S
        self._start()
        return status

    def _ask(self, text: str) -> Speech:
        self._wait_until_ready()
        if self._fault is not None:
            raise self._fault
        answer: Speech | VoiceError | None = None
        try:
            self._connection.send(text)
            if self._connection.poll(TEXT_S):
                answer = self._connection.recv()
        except KeyboardInterrupt:
            # The answer that was not waited for must not be taken for the one to another text.
            self._start_again()
            raise
        if answer is None:
            self._start_again()
            raise VoiceError(f"the voice gave nothing within {TEXT_S:.0f} s")
        if isinstance(answer, VoiceError):
            raise answer
        return answer

    def _wait_until_ready(self) -> None:
        if self._is_ready:
            return
        if not self._connection.poll(self._patience_s):
            self._waited_s += self._patience_s
            if self._waited_s >= START_S:
                self._start_again()
            raise VoiceError("the voice is not ready yet")
        self._fault = self._connection.recv()
        self._is_ready = True


@contextmanager
def _interrupts_ignored() -> Iterator[None]:
    """Let what is started meanwhile ignore Ctrl-C from its first moment, which reaches every process of a terminal."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _serve(connection: Connection, make: Callable[[], Synthesizer]) -> None:
    """Say whether the voice is ready (None, or why not), then answer texts with sound until the other side is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # The screen is not ours to write on, and an open stream would keep whoever reads the program's output waiting.
    nothing = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(nothing, stream)
    with suppress(EOFError, OSError):
        try:
            voice = make()
            voice.render("Ready.")
        except Exception as error:  # noqa: BLE001 - whatever it is, the other side must be told
            connection.send(_told(error))
            return
        connection.send(None)
        while True:
            text: str = connection.recv()
            try:
                answer: Speech | VoiceError = voice.render(text)
            except Exception as error:  # noqa: BLE001
                answer = _told(error)
            connection.send(answer)


def _told(error: Exception) -> VoiceError:
    return error if isinstance(error, VoiceError) else VoiceError(f"the voice failed: {type(error).__name__}: {error}")
