"""Sound of utterances beside the journal: lossless FLAC, named by its own SHA-256, readable by its owner only."""

import hashlib
import io
import os
from enum import StrEnum
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.record.private_files import open_private, sync_folder

CLIPS_FOLDER = "clips"


class Retention(StrEnum):
    """How long sound is kept."""

    OFF = "off"
    UNTIL_ATTESTED = "until_attested"
    KEEP = "keep"


def clip_file(folder: Path, sha256: str) -> Path:
    """Where the sound with this hash lies."""
    return folder / CLIPS_FOLDER / f"{sha256}.flac"


def flac(pcm: bytes) -> bytes:
    """Samples as a FLAC file.

    Args:
        pcm: 16-bit little-endian mono samples at `SAMPLE_RATE_HZ`.

    Raises:
        RecordError: The speech packages are not installed.
    """
    try:
        import numpy as np
        import soundfile
    except ImportError as error:
        raise RecordError(
            "keeping sound needs the speech packages; install handsfree[speech] or turn it off"
        ) from error
    packed = io.BytesIO()
    soundfile.write(packed, np.frombuffer(pcm, dtype="<i2"), SAMPLE_RATE_HZ, format="FLAC", subtype="PCM_16")
    return packed.getvalue()


def keep_clip(folder: Path, pcm: bytes) -> str:
    """Write one utterance and make it survive a power loss.

    Args:
        folder: Folder of the record.
        pcm: As in `flac`.

    Returns:
        SHA-256 of the file.

    Raises:
        RecordError: It cannot be written; a part may be left, which no line of the record names.
    """
    packed = flac(pcm)
    digest = hashlib.sha256(packed).hexdigest()
    path = clip_file(folder, digest)
    try:
        first = not path.parent.is_dir()
        path.parent.mkdir(mode=0o700, exist_ok=True)
        handle = open_private(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        with os.fdopen(handle, "wb") as file:
            file.write(packed)
            file.flush()
            os.fsync(file.fileno())
        # Their names too: a line names this file, and without the name the record would be broken.
        sync_folder(path.parent)
        if first:
            sync_folder(folder)
    except OSError as error:
        raise RecordError(f"cannot keep the sound in {path.parent}: {error.strerror}") from error
    return digest


def clip_fault(folder: Path, sha256: str) -> str | None:
    """What is wrong with a kept clip, or None."""
    path = clip_file(folder, sha256)
    try:
        found = hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return f"its sound {path.name} is missing"
    except OSError as error:
        return f"its sound {path.name} cannot be read: {error.strerror}"
    return None if found == sha256 else f"its sound {path.name} was altered"
