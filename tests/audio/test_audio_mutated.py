"""Samples that no microphone gives: read within full scale, whatever stands in the file or comes through the pipe.

IEEE 754 numbers in a WAV file are format 3 of the RIFF specification (WAVE_FORMAT_IEEE_FLOAT).
`HANDSFREE_THOROUGH=1` tries ten times as many.
"""

import io
import struct
import sys
from pathlib import Path

import pytest

pytest.importorskip("soundfile", reason="sound files need the speech packages")

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

sys.path.append(str(Path(__file__).resolve().parents[1]))

from mutators import read_or_refused, tried

from handsfree.audio.levels import SILENCE_DBFS, level_dbfs
from handsfree.audio.pipe import read_pipe
from handsfree.audio.wav import read_wav
from handsfree.model.audio import SAMPLE_RATE_HZ

ODD = (float("nan"), float("inf"), float("-inf"), 3.4e38, -3.4e38, 1e-45, -0.0, 1.0, -1.0, 0.5)
SAMPLES = st.lists(st.one_of(st.sampled_from(ODD), st.floats(width=32)), min_size=1, max_size=60)
RATES = st.sampled_from((8000, 11_025, 16_000, 44_100, 48_000, 96_000))


def wav_of(samples, width, rate, channels):
    data = np.asarray(samples, dtype=f"<f{width}").tobytes()
    data += bytes(-len(data) % (width * channels))
    form = struct.pack("<IHHIIHH", 16, 3, channels, rate, rate * width * channels, width * channels, 8 * width)
    whole = b"WAVEfmt " + form + b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(whole)) + whole


def within_full_scale(blocks):
    for block in blocks:
        heard = np.frombuffer(block.pcm, dtype="<i2")
        assert SILENCE_DBFS <= level_dbfs(heard) <= 0
        assert block.end_s >= block.start_s >= 0


@tried(500)
@given(
    samples=SAMPLES, repeated=st.integers(1, 400), width=st.sampled_from((4, 8)), rate=RATES, channels=st.integers(1, 3)
)
def test_odd_numbers_in_a_sound_file_are_read_within_full_scale(tmp_path, samples, repeated, width, rate, channels):
    (tmp_path / "odd.wav").write_bytes(wav_of(samples * repeated, width, rate, channels))
    read_or_refused(lambda: within_full_scale(read_wav(tmp_path / "odd.wav")))


@tried(500)
@given(samples=st.lists(st.sampled_from((float("nan"), 0.0)), min_size=1, max_size=40), repeated=st.integers(1, 400))
def test_what_is_no_number_is_silence(tmp_path, samples, repeated):
    (tmp_path / "odd.wav").write_bytes(wav_of(samples * repeated, 4, SAMPLE_RATE_HZ, 1))
    assert all(not any(block.pcm) for block in read_wav(tmp_path / "odd.wav"))


@tried(500)
@given(
    pcm=st.binary(max_size=4000),
    rate=st.sampled_from((-1, 0, 1, 999, 8000, 16_000, 44_100, 48_000, 2**31)),
    bits=st.sampled_from((0, 8, 12, 16, 24, 32, 64, -16)),
    channels=st.sampled_from((-1, 0, 1, 2, 3, 32, 33)),
)
def test_any_bytes_through_the_pipe_are_read_or_refused(pcm, rate, bits, channels):
    read_or_refused(lambda: within_full_scale(read_pipe(io.BytesIO(pcm), rate, bits, channels)))
