"""The developer's log, set up in one place; written with the standard library's `logging`.

Each module logs with a logger of its own name. A message is what happened, in the past tense, and parts `name=value`.
A message holds no word that was said, no prompt, no reading, no name and no path: those go along as `private(...)`, and
are written only where somebody asked for them. The record of a visit is for its users and is no part of this.
"""

import logging
import platform
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from traceback import extract_tb

from handsfree import __version__
from handsfree.build import build
from handsfree.clock import SystemClock
from handsfree.errors import UsageError
from handsfree.stamps import stamp

ROOT = "handsfree"
"""Logger above all of this program. Libraries log elsewhere: nobody knows what their messages hold."""
_PRIVATE = "private"
_LOG = logging.getLogger(__name__)
# Without a log that was asked for nothing is to be said on standard error.
logging.getLogger(ROOT).addHandler(logging.NullHandler())


def private(**parts: object) -> dict[str, object]:
    """Parts of a message that are written only where words are asked for; give them as `extra`."""
    return {_PRIVATE: parts}


@contextmanager
def timed(log: logging.Logger, what: str, level: int = logging.INFO) -> Iterator[None]:
    """Log how long a stage took, also where it failed.

    Args:
        log: Logger of the module.
        what: The stage, in the past tense.
        level: As of `logging`.
    """
    clock = SystemClock()
    began_s = clock.monotonic_s()
    try:
        yield
    except BaseException as error:
        log.log(level, "%s ms=%.1f failed=%s", what, (clock.monotonic_s() - began_s) * 1000, type(error).__name__)
        raise
    log.log(level, "%s ms=%.1f", what, (clock.monotonic_s() - began_s) * 1000)


class LogFormatter(logging.Formatter):
    """One line for each message: wall time in UTC, seconds since the start, level, module, message.

    Args:
        words: Whether private parts are written.
    """

    def __init__(self, *, words: bool) -> None:
        super().__init__()
        self._words = words

    def format(self, record: logging.LogRecord) -> str:
        """See `logging.Formatter.format`."""
        wall = stamp(datetime.fromtimestamp(record.created, UTC))
        line = f"{wall} {record.relativeCreated / 1000:.3f} {record.levelname} {record.name} {record.getMessage()}"
        parts = getattr(record, _PRIVATE, {})
        if self._words and isinstance(parts, dict):
            line += "".join(f" {name}={value!r}" for name, value in parts.items() if value is not None)
        error = record.exc_info[1] if record.exc_info else None
        while error is not None:
            line += f"\n{self._trace(error)}"
            error = error.__cause__ or error.__context__
        return line

    def _trace(self, error: BaseException) -> str:
        """Where it happened. What an exception says may hold a word or a path."""
        told = f": {error}" if self._words else ""
        frames = (f"  at {Path(at.filename).name}:{at.lineno} in {at.name}" for at in extract_tb(error.__traceback__))
        return "\n".join([f"  {type(error).__name__}{told}", *frames])


class _LogFile(logging.FileHandler):
    """Writes to a file; a disk that takes no more ends the log, not the visit."""

    fault: str | None = None

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: ARG002, N802 - the standard library's name
        """Give up, and keep why."""
        error = sys.exc_info()[1]
        self.fault = (error.strerror if isinstance(error, OSError) else None) or type(error).__name__
        self.setLevel(logging.CRITICAL + 1)

    def close(self) -> None:
        """See `logging.FileHandler.close`; what is left to be written is lost where the disk takes no more."""
        with suppress(OSError):
            super().close()


class _StandardError(logging.Handler):
    """Writes to standard error as it is at that moment."""

    def emit(self, record: logging.LogRecord) -> None:
        """See `logging.Handler.emit`; where nobody reads any more, nothing is written."""
        with suppress(OSError, ValueError):
            sys.stderr.write(f"{self.format(record)}\n")
            sys.stderr.flush()


def begin_log(file: Path | None, *, debug: bool, words: bool) -> None:
    """Begin to log, if a log is asked for: into a file, which only its owner can read, or to standard error.

    Args:
        file: Added to where it is there already.
        debug: Whether the finest steps are logged too; without a file, whether there is a log at all.
        words: Whether private parts are written.

    Raises:
        UsageError: The file cannot be written, or words are asked for without a log.
    """
    end_log()
    if file is None and not debug:
        if words:
            raise UsageError("--log-words says what a log may hold; give --log FILE or --debug with it")
        return
    handler: logging.Handler
    if file is None:
        handler = _StandardError()
    else:
        try:
            file.touch(mode=0o600)
            handler = _LogFile(file, encoding="utf-8")
        except OSError as error:
            raise UsageError(
                f"cannot write the log {file}: {error.strerror}; give a file in a writable folder"
            ) from error
    handler.setFormatter(LogFormatter(words=words))
    root = logging.getLogger(ROOT)
    root.addHandler(handler)
    root.setLevel(logging.DEBUG if debug else logging.INFO)
    _LOG.info(
        "program_started version=%s build=%s python=%s system=%s machine=%s",
        __version__,
        build(),
        platform.python_version(),
        platform.system(),
        platform.machine(),
    )


def end_log() -> str | None:
    """End the log that `begin_log` began.

    Returns:
        Why the log is not whole, or None.
    """
    root = logging.getLogger(ROOT)
    root.setLevel(logging.NOTSET)
    fault = None
    for handler in [one for one in root.handlers if isinstance(one, _LogFile | _StandardError)]:
        root.removeHandler(handler)
        handler.close()
        if isinstance(handler, _LogFile) and handler.fault is not None:
            fault = f"the log {handler.baseFilename} is not whole: {handler.fault}"
    return fault
