"""Writing a file that somebody asked for."""

from pathlib import Path

from handsfree.errors import UsageError


def write_output(file: Path, text: str, *, private: bool = True) -> None:
    """Write text to a file.

    Args:
        file: Made where it is not there, else written anew.
        text: What to write, as UTF-8, with its line ends as they are.
        private: Whether a new file can be read by its owner alone.

    Raises:
        UsageError: It cannot be written.
    """
    try:
        if private:
            file.touch(mode=0o600)
        file.write_bytes(text.encode())
    except OSError as error:
        raise UsageError(f"cannot write {file}: {error.strerror}; give a file in a writable folder") from error
