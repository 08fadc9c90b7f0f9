"""Clips from a manifest, put into a room and played to a recogniser, for the recognition benches."""

import csv
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from bench_tasks import OTHER

from handsfree.audio.resample import to_pcm
from handsfree.audio.wav import read_wav
from handsfree.errors import UsageError
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.port import Recognizer
from handsfree.simulation.mixing import Signal, active_level, noise

BEFORE_S = 0.6
AFTER_S = 1.2
FLOOR = 8 / 32768
"""Level of the faint noise around a clip where no room is asked for, of full scale."""
EVEN_LEVEL = 0.05
"""Level that clips are brought to where all are to be as loud, of full scale: 26 dB under it."""
WITHIN_DB = 30.0
"""How far under its loudest frame a word may be."""


@dataclass(frozen=True)
class Item:
    """One utterance to be played.

    Attributes:
        signal: Clean samples at 16 kHz, full scale -1 to 1.
        spoken: The words; "" for noise, `OTHER` for speech outside the grammar.
        speaker: Who.
        group: A name to count it under beside its speaker; "" for none.
    """

    signal: Signal
    spoken: str
    speaker: str
    group: str = ""


@cache
def sound_of(path: Path) -> Signal:
    """A clip in any common format and rate, as samples at 16 kHz."""
    pcm = b"".join(block.pcm for block in read_wav(path))
    return np.frombuffer(pcm, dtype="<i2").astype(np.float64) / 32768.0


def read_manifest(path: Path) -> list[dict[str, str]]:
    """The rows of a manifest, their paths made absolute.

    Raises:
        UsageError: A column is missing or a file is not there.
    """
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    missing = {"path", "spoken", "speaker"} - set(rows[0] if rows else ())
    if missing:
        raise UsageError(f"{path}: needs rows with the columns {', '.join(sorted(missing))}")
    for row in rows:
        row["path"] = str((path.parent / row["path"]).resolve())
        row["spoken"] = (row["spoken"] or "").strip()
    lost = [row["path"] for row in rows if not Path(row["path"]).is_file()]
    if lost:
        raise UsageError(f"{path}: {len(lost)} files are not there, the first: {lost[0]}")
    return rows


def single(rows: list[dict[str, str]]) -> list[Item]:
    """One item a row."""
    return [Item(sound_of(Path(row["path"])), row["spoken"], row["speaker"]) for row in rows]


def frame_levels_db(signal: Signal) -> Signal:
    """Level of each whole 20 ms frame, dB of full scale."""
    size = SAMPLE_RATE_HZ // 50
    power = np.mean(signal[: len(signal) - len(signal) % size].reshape(-1, size) ** 2, axis=1)
    levels: Signal = 10 * np.log10(power + 1e-12)
    return levels


def trimmed(signal: Signal) -> Signal:
    """A clip without the silence around its word, but for 50 ms; what counts is the level over the clip's own noise."""
    levels = frame_levels_db(signal)
    floor, loudest = float(np.percentile(levels, 10)), float(levels.max())
    word = np.flatnonzero(levels >= max(loudest - WITHIN_DB, floor + 0.35 * (loudest - floor)))
    size, margin = SAMPLE_RATE_HZ // 50, SAMPLE_RATE_HZ // 20
    return signal[max(0, int(word[0]) * size - margin) : int(word[-1] + 1) * size + margin]


def clips_of(rows: list[dict[str, str]], *, trim: bool = False, even: bool = False) -> list[Signal]:
    """The sounds of rows.

    Args:
        rows: Of a manifest.
        trim: Without the silence around each word.
        even: All at one level.
    """
    clips = [trimmed(sound_of(Path(row["path"]))) if trim else sound_of(Path(row["path"])) for row in rows]
    return [clip * (EVEN_LEVEL / max(active_level(clip), 1e-9)) for clip in clips] if even else clips


def joined(
    rows: list[dict[str, str]], count: int, seed: int, *, trim: bool = False, even: bool = False, gaps: bool = True
) -> list[Item]:
    """Clips of one speaker joined by `count` with gaps of 50 to 150 ms, every clip at least once.

    Noise and speech outside the grammar stay as they are.

    Args:
        rows: Of a manifest; a speaker with fewer clips is left out.
        count: How many make a reading.
        seed: Draws order and gaps.
        trim: Cut the silence around each word first.
        even: Bring all clips to one level.
        gaps: Whether any gap is added; whole clips of a second are slow speech without one.
    """
    random = np.random.default_rng(seed)
    items: list[Item] = []
    words = [row for row in rows if row["spoken"] not in ("", OTHER)]
    for speaker in sorted({row["speaker"] for row in words}):
        own = [row for row in words if row["speaker"] == speaker]
        if len(own) < count:
            continue
        order = [*random.permutation(len(own)), *random.permutation(len(own))]
        for start in range(0, len(own), count):
            chosen = [own[int(index)] for index in order[start : start + count]]
            parts: list[Signal] = []
            for clip in clips_of(chosen, trim=trim, even=even):
                parts += [clip, np.zeros(int(random.uniform(0.05, 0.15) * SAMPLE_RATE_HZ) if gaps else 0)]
            items.append(Item(np.concatenate(parts[:-1]), " ".join(row["spoken"] for row in chosen), speaker))
    return items + single([row for row in rows if row["spoken"] in ("", OTHER)])


def in_room(item: Item, snr_db: float | None, kind: str, seed: int) -> tuple[Signal, float]:
    """The item with a pause before and after it, in noise that fills both.

    Noise is set against the active level of the speech; an item of noise alone gets none.

    Returns:
        The sound, and the time in seconds at which the speech in it ends.
    """
    before, after = round(BEFORE_S * SAMPLE_RATE_HZ), round(AFTER_S * SAMPLE_RATE_HZ)
    end_s = BEFORE_S + speech_end_s(item.signal)
    signal = np.concatenate([np.zeros(before), item.signal, np.zeros(after)])
    floor = np.random.default_rng(seed).normal(0, FLOOR, len(signal))
    if snr_db is None or not item.spoken:
        return signal + floor, end_s
    level = active_level(item.signal) * 10 ** (-snr_db / 20)
    return signal + floor + level * noise_of(kind, len(signal), seed), end_s


def noise_of(kind: str, samples: int, seed: int) -> Signal:
    """Noise by name or from a sound file, of root mean square 1."""
    if kind in ("white", "pink", "babble"):
        return noise(kind, samples, seed)  # type: ignore[arg-type]
    loop = sound_of(Path(kind))
    loop = loop / max(float(np.sqrt(np.mean(loop**2))), 1e-9)
    return np.resize(np.roll(loop, int(np.random.default_rng(seed).integers(len(loop)))), samples)


def speech_end_s(signal: Signal) -> float:
    """Where the last 20 ms frame within 30 dB of the loudest ends, seconds."""
    if len(signal) < SAMPLE_RATE_HZ // 50:
        return len(signal) / SAMPLE_RATE_HZ
    levels = frame_levels_db(signal)
    return float((np.flatnonzero(levels >= levels.max() - WITHIN_DB)[-1] + 1) / 50)


@dataclass(frozen=True)
class Heard:
    """What came of one item.

    Attributes:
        hypotheses: All that was reported, with the session time of the sound that led to the report and the time after
            it until computing was done, that for earlier sound included, both in seconds.
        sound_s: Length of the sound.
        busy_s: Seconds of computing in all, on one thread of this machine when it does nothing else.
        longest_s: Seconds of computing in the longest call, which is the one that searched.
    """

    hypotheses: tuple[tuple[Hypothesis, float, float], ...]
    sound_s: float
    busy_s: float
    longest_s: float

    def of_item(self, end_s: float) -> tuple[tuple[Hypothesis, float, float], ...]:
        """What was reported of the item, which ends at `end_s`: of speech that began in its first half or before.

        Talk of the room goes on after it, and is reported too.
        """
        return tuple(one for one in self.hypotheses if one[0].spoken_from_s < (BEFORE_S + end_s) / 2)


def play(recognizer: Recognizer, signal: Signal) -> Heard:
    """Feed a sound block by block, from rest."""
    recognizer.reset()
    pcm = to_pcm(signal.astype(np.float32))
    found: list[tuple[Hypothesis, float, float]] = []
    spent: list[float] = []
    behind_s = 0.0
    for start in range(0, len(pcm) - 2 * BLOCK_SAMPLES + 1, 2 * BLOCK_SAMPLES):
        block = AudioBlock(pcm[start : start + 2 * BLOCK_SAMPLES], start / 2 / SAMPLE_RATE_HZ)
        # Processor time: other programs on the machine do not count.
        begun = time.process_time()
        heard = recognizer.accept(block)
        spent.append(time.process_time() - begun)
        behind_s = max(0.0, behind_s - BLOCK_SAMPLES / SAMPLE_RATE_HZ) + spent[-1]
        found += [(hypothesis, block.end_s, behind_s) for hypothesis in heard]
    begun = time.process_time()
    rest = recognizer.flush()
    spent.append(time.process_time() - begun)
    sound_s = len(pcm) / 2 / SAMPLE_RATE_HZ
    found += [(hypothesis, sound_s, behind_s + spent[-1]) for hypothesis in rest]
    return Heard(tuple(found), sound_s, sum(spent), max(spent))
