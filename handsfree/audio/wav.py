"""Sound files in and out: WAV and FLAC of any rate, width and number of channels."""

import struct
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from handsfree.audio.resample import Blocks, check_rate
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import AudioBlock, Speech

if TYPE_CHECKING:
    import soundfile

CHUNK_FRAMES = 16_384
UNKNOWN_LENGTH = (0, 0x7FFFFFFF, 0xFFFFFFFF)
"""Data sizes that programs write into a WAV header when they stream and do not know the length."""
WANTED = "a WAV or FLAC file is needed"


def read_wav(path: Path) -> Iterator[AudioBlock]:
    """Read a sound file as 16 kHz mono blocks; several channels are averaged.

    The file is checked before this returns; the blocks are read as they are asked for. Session time is counted in
    samples from 0, and the last block is filled with silence.

    Raises:
        AudioDeviceError: The file is missing, empty, cut short or not a sound file. A compressed file that is cut
            short is noticed only when its end is read.
    """
    _check(path)
    import soundfile

    try:
        sound = soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, OSError) as error:
        raise AudioDeviceError(f"{path}: not a sound file that can be read ({WANTED})") from error
    if sound.frames == 0:
        sound.close()
        raise AudioDeviceError(f"{path}: holds no samples ({WANTED} with at least one)")
    try:
        check_rate(sound.samplerate, str(path))
    except AudioDeviceError:
        sound.close()
        raise
    return _blocks(path, sound)


def _blocks(path: Path, sound: "soundfile.SoundFile") -> Iterator[AudioBlock]:
    import soundfile

    with sound:
        cutter = Blocks(sound.samplerate)
        read = 0
        while read < sound.frames:
            try:
                frames = sound.read(CHUNK_FRAMES, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError as error:
                raise AudioDeviceError(f"{path}: damaged after {read / sound.samplerate:.2f} s of sound") from error
            if not len(frames):
                raise AudioDeviceError(
                    f"{path}: cut short: {read / sound.samplerate:.2f} s of sound where"
                    f" {sound.frames / sound.samplerate:.2f} s are promised"
                )
            read += len(frames)
            # A float file may hold anything: what is no number counts as silence, what is beyond full scale as that.
            mono = np.clip(np.nan_to_num(frames, nan=0.0), -1.0, 1.0).mean(axis=1)
            yield from cutter.feed(mono.astype(np.float32), last=read >= sound.frames)


def _check(path: Path) -> None:
    if not path.exists():
        raise AudioDeviceError(f"{path}: there is no such file ({WANTED})")
    if path.is_dir():
        raise AudioDeviceError(f"{path}: is a folder ({WANTED})")
    try:
        size = path.stat().st_size
        if size == 0:
            raise AudioDeviceError(f"{path}: is empty, 0 bytes ({WANTED})")
        _check_riff(path, size)
    except OSError as error:
        raise AudioDeviceError(f"{path}: cannot be read: {error.strerror}") from error


def _check_riff(path: Path, size: int) -> None:
    """Refuse a WAV file whose data ends before its header says; libsndfile would read what is there without a word."""
    with path.open("rb") as file:
        head = file.read(12)
        if head[:4] != b"RIFF":
            return
        if len(head) < 12 or head[8:12] != b"WAVE":
            raise AudioDeviceError(f"{path}: not a sound file that can be read ({WANTED})")
        while True:
            chunk = file.read(8)
            if len(chunk) < 8:
                raise AudioDeviceError(f"{path}: cut short: it ends before its sound begins ({WANTED})")
            name, length = struct.unpack("<4sI", chunk)
            if name == b"data":
                there = size - file.tell()
                if length not in UNKNOWN_LENGTH and there < length:
                    raise AudioDeviceError(
                        f"{path}: cut short: {there} bytes of sound where its header promises {length}"
                    )
                return
            file.seek(length + length % 2, 1)


def write_wav(path: Path, speech: Speech) -> None:
    """Write a sound as a 16-bit mono WAV file.

    Raises:
        AudioDeviceError: The file cannot be written.
    """
    try:
        with path.open("wb") as raw, wave.open(raw, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(speech.sample_rate_hz)
            file.writeframes(speech.pcm)
    except OSError as error:
        raise AudioDeviceError(f"{path}: cannot be written: {error.strerror}") from error
