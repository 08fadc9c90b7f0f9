"""Speech for training: synthetic voices and listed recordings of real people, packed for the machine that trains.

A pack is a folder: `clips.csv` (one line a clip: where its samples begin, how many, what is to be written, who speaks,
what it is for) and `sound-NN.ogg`, Opus in pieces of a few minutes, because encoding one long piece takes ages.
"""

import csv
import random
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, fields
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from said import WORD_BY_WORD, Sentence

SAMPLE_RATE_HZ = 16_000
LEVEL = 0.1
"""Root mean square of the loud part of every clip, of full scale."""
PIECE_S = 120
COMPRESSION = 0.88
"""About 35 kbit/s."""
RATES = (0.8, 0.9, 1.0, 1.0, 1.1, 1.25)
WRITERS = 8
AROUND = SAMPLE_RATE_HZ * 3 // 20
"""At most so much of its room is kept on each side of a recorded digit."""
NOISE_PIECE = 8 * SAMPLE_RATE_HZ
STRINGS = "strings"
"""Class of strings of digits joined from recordings, to measure on."""
_GAP = 1600
Sound = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Clip:
    """One line of a pack.

    Attributes:
        start: First sample, counted over all pieces.
        samples: How many.
        text: What the network is to write; "" for sound that is no speech.
        kind: Class of the sentence, or "noise".
        speaker: Voice or person.
        real: 1 for a recording of a real person or room, else 0.
        use: "train" or "held back".
        lead: Samples before the word, of a recording of one word; its own room is heard there.
        tail: Samples after it.
    """

    start: int
    samples: int
    text: str
    kind: str
    speaker: str
    real: int
    use: str
    lead: int = 0
    tail: int = 0


@dataclass(frozen=True, slots=True)
class VoiceShare:
    """A voice and how often it speaks; `practice.voices.render` takes it with a rate.

    Attributes:
        engine: Engine.
        voice: Its name, "" for the engine's first.
        share: Of all clips that are rendered.
        use: "train" or "held back".
    """

    engine: str
    voice: str
    share: float
    use: str = "train"


@dataclass(frozen=True, slots=True)
class _Rated:
    engine: str
    voice: str
    rate: float


@dataclass(frozen=True, slots=True)
class Said:
    """Something said, before it is packed; see `Clip`.

    Attributes:
        sound: Samples.
        text: What the network is to write.
        kind: Class.
        speaker: Voice or person.
        use: "train" or "held back".
        lead: Samples before the word.
        tail: Samples after it.
    """

    sound: Sound
    text: str
    kind: str
    speaker: str
    use: str
    lead: int = 0
    tail: int = 0


def rendered(found: Sequence[Sentence], voices: Sequence[VoiceShare], seed: int, jobs: int) -> Iterator[Said]:
    """Each sentence by one voice, drawn by its share; the same whatever the number of processes."""
    chance = random.Random(seed)
    work = []
    for sentence in found:
        voice = chance.choices(voices, [voice.share for voice in voices])[0]
        work.append((sentence, voice, round(chance.choice(RATES), 2), chance.random()))
    with get_context("spawn").Pool(jobs) as pool:
        yield from pool.imap(_one, work, chunksize=8)


def _one(work: tuple[Sentence, VoiceShare, float, float]) -> Said:
    sentence, voice, rate, seed = work
    parts = [_said(_Rated(voice.engine, voice.voice, rate), words) for words in sentence.words.split(WORD_BY_WORD)]
    sound = parts[0] if len(parts) == 1 else joined(parts, random.Random(seed))
    return Said(sound, sentence.text, sentence.kind, f"{voice.engine}:{voice.voice}", voice.use)


@lru_cache(maxsize=4096)
def _said(voice: _Rated, words: str) -> Sound:
    from handsfree.simulation.voices import render

    speech = render(voice, words)
    sound = np.frombuffer(speech.pcm, "<i2").astype(np.float32) / 32768
    return trimmed(at_rate(sound, speech.sample_rate_hz))


def recorded(listing: Path, folder: Path) -> Iterator[Said]:
    """The recordings of a listing: digits with little of their room around them, long noise in pieces."""
    with listing.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            sound, rate = soundfile.read(folder / row["path"], dtype="float32")
            sound = levelled(at_rate(sound, rate))
            text = row["spoken"] and f"{row['spoken'].capitalize()}."
            own = (text, row["kind"], row["speaker"], row["use"])
            if not text:
                for begin in range(0, max(1, len(sound) - SAMPLE_RATE_HZ + 1), NOISE_PIECE):
                    yield Said(sound[begin : begin + NOISE_PIECE], *own)
            elif row["kind"] == "digits":
                first, last = _word(sound)
                begin, end = max(0, first - AROUND), min(len(sound), last + AROUND)
                yield Said(sound[begin:end], *own, first - begin, end - last)
            else:
                yield Said(sound, *own)


def _word(sound: Sound) -> tuple[int, int]:
    """Where the word of a recording begins and ends, samples; what counts is the level over the clip's own noise."""
    size = SAMPLE_RATE_HZ // 50
    power = np.mean(sound[: len(sound) // size * size].reshape(-1, size) ** 2, axis=1)
    levels = 10 * np.log10(power + 1e-12)
    floor, loudest = float(np.percentile(levels, 10)), float(levels.max())
    loud = np.flatnonzero(levels >= max(loudest - 30, floor + 0.35 * (loudest - floor)))
    margin = SAMPLE_RATE_HZ // 25
    return max(0, int(loud[0]) * size - margin), min(len(sound), int(loud[-1] + 1) * size + margin)


def strings(digits: Sequence[Said], count: int, seed: int) -> Iterator[Said]:
    """Strings of two to four digits joined from recordings of one person."""
    chance = random.Random(seed)
    people: dict[str, list[Said]] = {}
    for said in digits:
        people.setdefault(said.speaker, []).append(said)
    several = [own for own in people.values() if len(own) > 1]
    for _ in range(count):
        chosen = chance.choices(chance.choice(several), k=chance.randint(2, 4))
        text = ", ".join(said.text.rstrip(".").lower() for said in chosen)
        sound = joined([levelled(said.sound[said.lead : len(said.sound) - said.tail]) for said in chosen], chance)
        yield Said(sound, f"{text.capitalize()}.", STRINGS, chosen[0].speaker, chosen[0].use)


def joined(parts: Sequence[Sound], chance: random.Random) -> Sound:
    """Parts with gaps between them."""
    whole: list[Sound] = []
    for part in parts:
        whole += [np.zeros(round(chance.uniform(0.03, 0.3) * SAMPLE_RATE_HZ), np.float32), part]
    return np.concatenate(whole[1:])


def at_rate(sound: Sound, rate_hz: int) -> Sound:
    """At the rate of the network."""
    if rate_hz == SAMPLE_RATE_HZ:
        return sound
    import soxr

    return np.asarray(soxr.resample(sound, rate_hz, SAMPLE_RATE_HZ), dtype=np.float32)


def trimmed(sound: Sound) -> Sound:
    """Without the silence before and after."""
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max(initial=1e-9))
    return levelled(sound[loud[0] : loud[-1] + 1] if len(loud) else sound)


def levelled(sound: Sound) -> Sound:
    """With its loud part at `LEVEL`."""
    size = 320
    power = np.mean(sound[: len(sound) // size * size].reshape(-1, size) ** 2, axis=1)
    loud = power[power >= power.max(initial=0) / 1000]
    return (sound * (LEVEL / max(float(np.sqrt(loud.mean())) if len(loud) else 0.0, 1e-6))).astype(np.float32)


def pack(clips: Iterable[tuple[Said, int]], into: Path) -> list[Clip]:
    """Write a pack; each clip comes with 1 where it is real and 0 where it is not."""
    into.mkdir(parents=True, exist_ok=True)
    for old in into.glob("sound-*.ogg"):
        old.unlink()
    lines: list[Clip] = []
    piece: list[Sound] = []
    number, begun, at = 0, 0, 0
    with ThreadPoolExecutor(WRITERS) as writers:
        written = []
        for said, real in clips:
            samples = len(said.sound)
            lines.append(Clip(at, samples, said.text, said.kind, said.speaker, real, said.use, said.lead, said.tail))
            piece += [np.clip(said.sound, -1, 1), np.zeros(_GAP, np.float32)]
            at += samples + _GAP
            if at - begun > PIECE_S * SAMPLE_RATE_HZ:
                written.append(writers.submit(_write, into, number, piece))
                number, piece, begun = number + 1, [], at
        if piece:
            written.append(writers.submit(_write, into, number, piece))
        for one in written:
            one.result()
    with (into / "clips.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, [field.name for field in fields(Clip)])
        writer.writeheader()
        writer.writerows(asdict(line) for line in lines)
    return lines


def _write(into: Path, number: int, piece: list[Sound]) -> None:
    path = into / f"sound-{number:03}.ogg"
    soundfile.write(
        path, np.concatenate(piece), SAMPLE_RATE_HZ, format="OGG", subtype="OPUS", compression_level=COMPRESSION
    )


def unpack(folder: Path) -> tuple[Sound, list[Clip]]:
    """All samples and lines of a pack.

    Raises:
        ValueError: Sound and list do not belong together.
    """
    pieces = [soundfile.read(path, dtype="float32")[0] for path in sorted(folder.glob("sound-*.ogg"))]
    with (folder / "clips.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    whole = dict.fromkeys(("start", "samples", "real", "lead", "tail"), int)
    lines = [Clip(**{key: whole.get(key, str)(value) for key, value in row.items()}) for row in rows]  # type: ignore[arg-type]
    sound = np.concatenate(pieces)
    if len(sound) != lines[-1].start + lines[-1].samples + _GAP:
        raise ValueError(f"{folder}: the sound has {len(sound)} samples, its list says otherwise")
    return sound, lines
