"""Sound files and pipes against files written by other programs' code: the standard library's wave, and libsndfile."""

import io
import wave
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("numpy")
soundfile = pytest.importorskip("soundfile")
pytest.importorskip("soxr")

from handsfree.audio.pipe import read_pipe  # noqa: E402
from handsfree.audio.resample import Blocks, to_pcm, to_rate  # noqa: E402
from handsfree.audio.wav import read_wav, write_wav  # noqa: E402
from handsfree.errors import AudioDeviceError  # noqa: E402
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, Speech  # noqa: E402


def tone(rate_hz: int, seconds: float = 1.0, pitch_hz: float = 440.0, level: float = 0.5) -> np.ndarray:
    return (level * np.sin(2 * np.pi * pitch_hz * np.arange(round(rate_hz * seconds)) / rate_hz)).astype(np.float32)


def pcm_of(blocks) -> np.ndarray:
    return from_pcm(b"".join(block.pcm for block in blocks))


def from_pcm(pcm: bytes) -> np.ndarray:
    return np.frombuffer(pcm, dtype="<i2").astype(np.float32) / np.float32(32768)


def pitch_of(samples: np.ndarray, rate_hz: int) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum) * rate_hz / len(samples))


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
@pytest.mark.parametrize("rate_hz", [8_000, 16_000, 22_050, 44_100, 48_000])
def test_every_rate_and_width_keeps_pitch_level_and_length(tmp_path: Path, subtype: str, rate_hz: int) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(rate_hz), rate_hz, subtype=subtype)
    blocks = list(read_wav(path))
    samples = pcm_of(blocks)
    assert {block.sample_count for block in blocks} == {BLOCK_SAMPLES}
    assert len(samples) == pytest.approx(SAMPLE_RATE_HZ, abs=BLOCK_SAMPLES)
    middle = samples[4_000:12_000]
    assert pitch_of(middle, SAMPLE_RATE_HZ) == pytest.approx(440, abs=2)
    assert float(np.sqrt(np.mean(middle**2))) == pytest.approx(0.5 / np.sqrt(2), rel=0.02)


def test_flac_gives_the_same_blocks_as_wav(tmp_path: Path) -> None:
    for name in ("a.wav", "a.flac"):
        samples = np.frombuffer(to_pcm(tone(16_000)), "<i2")
        soundfile.write(tmp_path / name, samples, 16_000, subtype="PCM_16")
    assert list(read_wav(tmp_path / "a.wav")) == list(read_wav(tmp_path / "a.flac"))


def test_sixteen_bit_mono_at_16_khz_passes_bit_exact(tmp_path: Path) -> None:
    noise = np.random.default_rng(7).integers(-32768, 32768, 3_200).astype("<i2")
    path = tmp_path / "noise.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes(noise.tobytes())
    assert b"".join(block.pcm for block in read_wav(path)) == noise.tobytes()


def test_channels_are_averaged(tmp_path: Path) -> None:
    path = tmp_path / "stereo.wav"
    soundfile.write(path, np.column_stack([tone(16_000), np.zeros(16_000)]), 16_000, subtype="PCM_16")
    assert float(np.abs(pcm_of(read_wav(path))).max()) == pytest.approx(0.25, abs=0.001)


def test_session_time_counts_samples(tmp_path: Path) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(48_000, 0.1), 48_000)
    assert [block.start_s for block in read_wav(path)] == pytest.approx([0.0, 0.02, 0.04, 0.06, 0.08])


def test_the_last_block_is_filled_with_silence(tmp_path: Path) -> None:
    path = tmp_path / "short.wav"
    soundfile.write(path, np.full(100, 0.5, dtype=np.float32), 16_000)
    (block,) = read_wav(path)
    assert not any(block.pcm[200:])
    assert any(block.pcm[:200])


def test_a_file_of_not_a_number_is_silence(tmp_path: Path) -> None:
    path = tmp_path / "nan.wav"
    soundfile.write(path, np.full(640, np.nan, dtype=np.float32), 16_000, subtype="FLOAT")
    assert not any(any(block.pcm) for block in read_wav(path))


def whole(tmp_path: Path, suffix: str = ".wav") -> bytes:
    path = tmp_path / f"whole{suffix}"
    soundfile.write(path, tone(16_000), 16_000, subtype="PCM_16")
    return path.read_bytes()


@pytest.mark.parametrize(
    ("content", "complaint"),
    [
        (b"", "is empty, 0 bytes"),
        (b"hello, this is a letter and no sound", "not a sound file"),
        (b"RIFF", "not a sound file"),
        (b"RIFF\x10\x00\x00\x00WAVEfmt ", "cut short"),
    ],
)
def test_what_is_no_sound_file_is_refused_in_one_line(tmp_path: Path, content: bytes, complaint: str) -> None:
    path = tmp_path / "odd.wav"
    path.write_bytes(content)
    with pytest.raises(AudioDeviceError, match=complaint) as caught:
        read_wav(path)
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)


def test_missing_file_and_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(AudioDeviceError, match="no such file"):
        read_wav(tmp_path / "none.wav")
    with pytest.raises(AudioDeviceError, match="is a folder"):
        read_wav(tmp_path)


def test_no_samples_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "nothing.wav"
    soundfile.write(path, np.zeros(0, dtype=np.float32), 16_000)
    with pytest.raises(AudioDeviceError, match="holds no samples"):
        read_wav(path)


def test_a_wav_cut_short_is_refused_before_a_block_is_given(tmp_path: Path) -> None:
    path = tmp_path / "cut.wav"
    path.write_bytes(whole(tmp_path)[:20_000])
    with pytest.raises(AudioDeviceError, match="cut short"):
        read_wav(path)


def test_a_flac_cut_short_is_refused(tmp_path: Path) -> None:
    data = whole(tmp_path, ".flac")
    path = tmp_path / "cut.flac"
    path.write_bytes(data[: len(data) // 2])
    with pytest.raises(AudioDeviceError, match=r"cut short|damaged|not a sound file"):
        list(read_wav(path))


def test_a_streamed_wav_of_unknown_length_is_read(tmp_path: Path) -> None:
    data = bytearray(whole(tmp_path))
    at = data.index(b"data") + 4
    data[at : at + 4] = b"\xff\xff\xff\xff"
    path = tmp_path / "streamed.wav"
    path.write_bytes(bytes(data))
    assert len(pcm_of(read_wav(path))) == pytest.approx(16_000, abs=BLOCK_SAMPLES)


def test_written_wav_reads_back(tmp_path: Path) -> None:
    speech = Speech(to_pcm(tone(24_000, 0.5)), 24_000)
    write_wav(tmp_path / "out.wav", speech)
    with wave.open(str(tmp_path / "out.wav")) as file:
        assert (file.getframerate(), file.getnchannels(), file.readframes(file.getnframes())) == (24_000, 1, speech.pcm)
    with pytest.raises(AudioDeviceError, match="cannot be written"):
        write_wav(tmp_path / "no" / "out.wav", speech)


@pytest.mark.parametrize("width_bits", [8, 16, 24, 32])
def test_the_pipe_gives_the_same_sound_as_the_file(tmp_path: Path, width_bits: int) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(16_000), 16_000, subtype="PCM_U8" if width_bits == 8 else f"PCM_{width_bits}")
    with wave.open(str(path)) as file:
        raw = file.readframes(file.getnframes())
    assert list(read_pipe(io.BytesIO(raw), 16_000, width_bits)) == list(read_wav(path))


class Dribble(io.RawIOBase):
    """A pipe whose every read gives seven bytes."""

    def __init__(self, data: bytes) -> None:
        self._data = data

    def read(self, size: int = -1) -> bytes:
        taken = self._data[: min(7, size)]
        self._data = self._data[len(taken) :]
        return taken


def test_a_pipe_that_dribbles_loses_nothing() -> None:
    raw = to_pcm(tone(16_000, 0.2))
    assert b"".join(block.pcm for block in read_pipe(Dribble(raw + b"\x01"))) == raw  # type: ignore[arg-type]


def test_odd_pipes_are_refused() -> None:
    with pytest.raises(AudioDeviceError, match="without a sample"):
        list(read_pipe(io.BytesIO(b"")))
    with pytest.raises(AudioDeviceError, match="12 bits"):
        read_pipe(io.BytesIO(b""), width_bits=12)
    with pytest.raises(AudioDeviceError, match="outside"):
        read_pipe(io.BytesIO(b""), sample_rate_hz=50)
    with pytest.raises(AudioDeviceError, match="0 channels"):
        read_pipe(io.BytesIO(b""), channels=0)


def test_cutting_does_not_depend_on_how_the_stream_is_fed() -> None:
    sound = tone(44_100, 0.5)
    once = b"".join(block.pcm for block in Blocks(44_100).feed(sound, last=True))
    cutter = Blocks(44_100)
    pieces = [block.pcm for part in np.array_split(sound, 37) for block in cutter.feed(part)]
    pieces += [block.pcm for block in cutter.feed(np.zeros(0, dtype=np.float32), last=True)]
    difference = from_pcm(b"".join(pieces)) - from_pcm(once)
    assert float(np.abs(difference).max()) <= 1 / 32768


def test_full_scale_is_clipped_not_wrapped() -> None:
    assert np.frombuffer(to_pcm(np.array([2.0, -2.0, 1.0], dtype=np.float32)), "<i2").tolist() == [32767, -32768, 32767]


def test_to_rate_keeps_length_and_pitch() -> None:
    samples = np.frombuffer(to_pcm(tone(24_000)), "<i2")
    out = to_rate(samples, 24_000, 48_000)
    assert out.dtype == np.int16
    assert len(out) == 48_000
    assert pitch_of(out / 32768, 48_000) == pytest.approx(440, abs=2)
    assert to_rate(samples, 24_000, 24_000) is samples
    assert len(to_rate(samples[:0], 24_000, 48_000)) == 0
