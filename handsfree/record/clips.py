"""Sound of utterances beside the journal: lossless FLAC, named by its own SHA-256, readable by its owner only."""

import hashlib
import io
import os
import re
from collections.abc import Container, Iterable
from enum import StrEnum
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.record.private_files import sync_folder
from handsfree.regular_files import names_within, open_within, read_within, rename_within, unlink_within

CLIPS_FOLDER = "clips"
LARGEST_CLIP = 32_000_000
"""Bytes of one utterance. Chosen here, no source: a quarter of an hour without any packing."""
_MADE = ".flac.part"
_HASH = re.compile("[0-9a-f]{64}")


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
    place = folder / CLIPS_FOLDER
    try:
        first = not os.path.lexists(place)
        if first:
            place.mkdir(mode=0o700, exist_ok=True)
        handle = open_within(folder, _name(digest, _MADE), os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        with os.fdopen(handle, "wb") as file:
            file.write(packed)
            file.flush()
            os.fsync(file.fileno())
        rename_within(folder, _name(digest, _MADE), _name(digest))
        # Their names too: a line names this file, and without the name the record would be broken.
        sync_folder(place)
        if first:
            sync_folder(folder)
    except OSError as error:
        raise RecordError(f"cannot keep the sound in {place}: {error.strerror}") from error
    return digest


def read_clip(folder: Path, sha256: str) -> bytes:
    """The sound with this hash.

    Raises:
        RecordError: It is missing, no regular file, behind a link, too large or altered.
    """
    name = f"{sha256}.flac"
    if _HASH.fullmatch(sha256) is None:
        raise RecordError("its sound is named by no hash")
    try:
        content = read_within(folder, _name(sha256), LARGEST_CLIP)
    except FileNotFoundError as error:
        raise RecordError(f"its sound {name} is missing") from error
    except OSError as error:
        raise RecordError(f"its sound {name} cannot be read: {error.strerror}") from error
    if hashlib.sha256(content).hexdigest() != sha256:
        raise RecordError(f"its sound {name} was altered")
    return content


def clip_fault(folder: Path, sha256: str) -> str | None:
    """What is wrong with a kept clip, or None."""
    try:
        read_clip(folder, sha256)
    except RecordError as error:
        return str(error)
    return None


def unnamed_clips(folder: Path, named: Container[str]) -> tuple[str, ...]:
    """Hashes of whole sound that no line names: what a crash left between keeping the sound and the line.

    Only files whose name is the hash of what they hold; anything else in the folder is not this program's.

    Raises:
        OSError: The folder of clips cannot be read.
    """
    stems = (name.removesuffix(".flac") for name in names_within(folder, CLIPS_FOLDER) if name.endswith(".flac"))
    return tuple(
        stem
        for stem in stems
        if _HASH.fullmatch(stem) is not None and stem not in named and clip_fault(folder, stem) is None
    )


def remove_clips(folder: Path, hashes: Iterable[str]) -> None:
    """Take away the sound with these hashes, and nothing else.

    Raises:
        OSError: The folder of clips is a link, or a file cannot be taken away.
    """
    for sha256 in hashes:
        if _HASH.fullmatch(sha256) is not None:
            unlink_within(folder, _name(sha256))


def remove_unfinished_clips(folder: Path) -> None:
    """Take away sound that a killed program was still writing.

    Raises:
        OSError: It cannot be taken away.
    """
    for name in names_within(folder, CLIPS_FOLDER):
        if name.endswith(_MADE) and _HASH.fullmatch(name.removesuffix(_MADE)) is not None:
            unlink_within(folder, f"{CLIPS_FOLDER}/{name}")


def _name(sha256: str, suffix: str = ".flac") -> str:
    return f"{CLIPS_FOLDER}/{sha256}{suffix}"
