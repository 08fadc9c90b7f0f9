"""Raw PCM from a pipe, such as standard input fed by another program."""

from collections.abc import Iterator
from typing import BinaryIO

import numpy as np

from handsfree.audio.resample import Blocks, Samples, check_rate
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock

WIDTHS_BITS = (8, 16, 24, 32)
CHUNK_S = 0.02


def read_pipe(
    stream: BinaryIO, sample_rate_hz: int = SAMPLE_RATE_HZ, width_bits: int = 16, channels: int = 1
) -> Iterator[AudioBlock]:
    """Read headerless little-endian integer PCM until the stream ends.

    8-bit samples are unsigned, as in WAV files; wider ones are signed. Several channels are interleaved and averaged.
    Session time is counted in samples from 0. An unfinished last frame is left out.

    Args:
        stream: Opened for bytes.
        sample_rate_hz: Samples a second and channel.
        width_bits: One of `WIDTHS_BITS`.
        channels: Number of channels, 1 to 32.

    Raises:
        AudioDeviceError: The format is not one that can be read, or (while reading) the stream held no sound.
    """
    check_rate(sample_rate_hz, "sound from the pipe")
    if width_bits not in WIDTHS_BITS:
        raise AudioDeviceError(f"sound from the pipe: {width_bits} bits a sample are not read (8, 16, 24 or 32 are)")
    if not 1 <= channels <= 32:
        raise AudioDeviceError(f"sound from the pipe: {channels} channels are not read (1 to 32 are)")
    return _blocks(stream, sample_rate_hz, width_bits // 8, channels)


def _blocks(stream: BinaryIO, sample_rate_hz: int, width: int, channels: int) -> Iterator[AudioBlock]:
    cutter = Blocks(sample_rate_hz)
    frame = width * channels
    chunk = max(1, round(sample_rate_hz * CHUNK_S)) * frame
    held = b""
    heard = False
    while data := stream.read(chunk - len(held)):
        held += data
        whole = len(held) - len(held) % frame
        if whole:
            heard = True
            yield from cutter.feed(_mono(held[:whole], width, channels))
            held = held[whole:]
    if not heard:
        raise AudioDeviceError("sound from the pipe: it ended without a sample (is the program that feeds it running?)")
    yield from cutter.feed(np.zeros(0, dtype=np.float32), last=True)


def _mono(data: bytes, width: int, channels: int) -> Samples:
    if width == 1:
        samples = (np.frombuffer(data, dtype=np.uint8).astype(np.float64) - 128) / 128
    elif width == 3:
        # 24 bits become the high three bytes of 32, so that the sign comes out by itself.
        padded = np.zeros((len(data) // 3, 4), dtype=np.uint8)
        padded[:, 1:] = np.frombuffer(data, dtype=np.uint8).reshape(-1, 3)
        samples = padded.view("<i4").reshape(-1).astype(np.float64) / 2**31
    else:
        samples = np.frombuffer(data, dtype=f"<i{width}").astype(np.float64) / 2 ** (8 * width - 1)
    mono: Samples = samples.reshape(-1, channels).mean(axis=1).astype(np.float32)
    return mono
