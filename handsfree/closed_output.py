"""An output that nobody reads any more, as after `handsfree records FOLDER | head -1`: the program ends quietly."""

import contextlib
import io
import os
import select
import sys
from collections.abc import Iterator
from typing import TextIO


class OutputClosedError(Exception):
    """Standard output or standard error was closed by whoever read it."""


@contextlib.contextmanager
def closed_output_told() -> Iterator[None]:
    """Let no broken pipe out but as what it is: click and rich would end the program with the code of a bug.

    Raises:
        OutputClosedError: It was the output; what is left of it goes nowhere.
        RuntimeError: It was another pipe, so this is a bug.
    """
    try:
        yield
    except BrokenPipeError as error:
        if not _let_go():
            raise RuntimeError("a pipe broke, and not that of the output") from error
        raise OutputClosedError from error
    except SystemExit as left:
        if not isinstance(left.__context__, BrokenPipeError):
            raise
        _let_go()
        raise OutputClosedError from left


def _let_go() -> bool:
    """Whether an output is closed. It then leads nowhere, so that nothing fails when the interpreter empties it."""
    closed = [stream for stream in (sys.stdout, sys.stderr) if stream is not None and _is_closed(stream)]
    for stream in closed:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
    return bool(closed)


def _is_closed(stream: TextIO) -> bool:
    """Whether nobody reads a stream any more; where the system cannot say (Windows), it is taken to be so."""
    try:
        handle = stream.fileno()
    except io.UnsupportedOperation:
        return False
    if sys.platform == "win32":
        return True
    asked = select.poll()
    asked.register(handle, 0)
    return any(state & (select.POLLERR | select.POLLHUP) for _, state in asked.poll(0))
