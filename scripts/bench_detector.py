"""Bench of the speech detector alone: what of the spoken time reaches the network, and what it takes noise for.

Three words of one speaker are joined to a reading, silence cut, all at one level; then the first and the last word are
made softer by 0, 10, 15 and 20 dB, as people speak who are tired or turn away. Spoken are the 20 ms frames of the clean
words within 25 dB of the loudest of their word; a frame has reached the network if any segment holds it. A word counts
as lost where less than seven tenths of it did. Noise is set against the active level of the whole reading.

False segments are counted in rooms without speech, at three levels: every sound file of --rooms, white and pink noise.

Use: python scripts/bench_detector.py --manifest CSV [--only valid/] [--rooms FOLDER] [--limit N] [--json]
"""

import argparse
import json
import sys
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_counts import share
from bench_sounds import AFTER_S, BEFORE_S, FLOOR, clips_of, frame_levels_db, noise_of, read_manifest

from handsfree.audio.resample import to_pcm
from handsfree.errors import HandsfreeError
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock
from handsfree.recognition.endpointing import Endpointer, Segment
from handsfree.simulation.mixing import Signal, active_level

DIGITS = frozenset(["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"])
SOFTER_DB = (0.0, 10.0, 15.0, 20.0)
ROOMS: tuple[tuple[str, float | None], ...] = (("quiet", None), ("pink", 10.0), ("babble", 10.0))
ROOM_LEVELS_DB = (-50.0, -40.0, -30.0)
SPOKEN_WITHIN_DB = 25.0
KEPT = 0.7
JOIN = 3
FRAME_S = 0.02


@dataclass(frozen=True)
class Reading:
    """Three words before anything is done to them."""

    speaker: str
    words: tuple[Signal, ...]
    gaps: tuple[int, ...]


@dataclass
class Reached:
    """Counts of one level in one room."""

    frames: int = 0
    reached: int = 0
    words: int = 0
    lost: list[int] = field(default_factory=lambda: [0] * JOIN)
    readings: int = 0
    whole: int = 0
    cut: int = 0
    before_s: list[float] = field(default_factory=list)


def readings_of(rows: list[dict[str, str]], limit: int | None, seed: int) -> list[Reading]:
    """Words of one speaker, three by three; of each speaker as many as its clips allow."""
    random = np.random.default_rng(seed)
    found: list[Reading] = []
    for speaker in sorted({row["speaker"] for row in rows}):
        own = [row for row in rows if row["speaker"] == speaker]
        order = random.permutation(len(own))
        for start in range(0, len(own) - JOIN + 1, JOIN):
            chosen = [own[int(index)] for index in order[start : start + JOIN]]
            gaps = tuple(int(random.uniform(0.05, 0.15) * SAMPLE_RATE_HZ) for _ in chosen[1:])
            found.append(Reading(speaker, tuple(clips_of(chosen, trim=True, even=True)), (*gaps, 0)))
    picked = random.permutation(len(found))[:limit]
    return [found[int(index)] for index in sorted(picked)]


def segments(endpointer: Endpointer, signal: Signal) -> list[Segment]:
    """What the detector cuts out of a sound."""
    endpointer.reset()
    pcm = to_pcm(signal.astype(np.float32))
    size = 2 * BLOCK_SAMPLES
    cut = [
        segment
        for start in range(0, len(pcm) - size + 1, size)
        for segment in endpointer.accept(AudioBlock(pcm[start : start + size], start / 2 / SAMPLE_RATE_HZ))
    ]
    return cut + endpointer.flush()


def hear(endpointer: Endpointer, reading: Reading, softer_db: float, room: tuple[str, float | None], seed: int,
         into: Reached) -> None:  # fmt: skip
    """Play one reading and count."""
    soft = 10 ** (-softer_db / 20)
    words = (reading.words[0] * soft, *reading.words[1:-1], reading.words[-1] * soft)
    parts: list[Signal] = [np.zeros(round(BEFORE_S * SAMPLE_RATE_HZ))]
    spoken: list[Signal] = []
    at = len(parts[0])
    for word, gap in zip(words, reading.gaps, strict=True):
        levels = frame_levels_db(word)
        spoken.append(at / SAMPLE_RATE_HZ + FRAME_S * np.flatnonzero(levels >= levels.max() - SPOKEN_WITHIN_DB))
        parts += [word, np.zeros(gap)]
        at += len(word) + gap
    clean = np.concatenate([*parts, np.zeros(round(AFTER_S * SAMPLE_RATE_HZ))])
    sound = clean + np.random.default_rng(seed).normal(0, FLOOR, len(clean))
    kind, snr_db = room
    if snr_db is not None:
        sound = sound + active_level(clean) * 10 ** (-snr_db / 20) * noise_of(kind, len(clean), seed)
    found = segments(endpointer, sound)
    kept = []
    for frames in spoken:
        inside = np.zeros(len(frames), dtype=bool)
        for one in found:
            middle = frames + FRAME_S / 2
            inside |= (middle >= one.start_s) & (middle < one.start_s + len(one.pcm) / 2 / SAMPLE_RATE_HZ)
        into.frames += len(frames)
        into.reached += int(inside.sum())
        kept.append(float(inside.mean()))
    for number, share_kept in enumerate(kept):
        into.words += 1
        into.lost[number] += share_kept < KEPT
    into.readings += 1
    into.whole += min(kept) >= KEPT and len(found) == 1
    into.cut += len(found) > 1
    if found:
        into.before_s.append(float(spoken[0][0]) - found[0].start_s)


def false_segments(endpointer: Endpointer, rooms: list[str], minutes: float) -> dict[str, dict[str, float]]:
    """Segments cut out of rooms in which nobody speaks, for each room and level."""
    found: dict[str, dict[str, float]] = {}
    for kind in rooms:
        noise = noise_of(kind, round(60 * minutes * SAMPLE_RATE_HZ), 1)
        counts = {}
        for level_db in ROOM_LEVELS_DB:
            counts[f"{level_db:.0f} dB"] = len(segments(endpointer, noise * 10 ** (level_db / 20)))
        found[Path(kind).stem] = {name: count * 60 / minutes for name, count in counts.items()}
    return found


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--manifest", type=Path, required=True)
    parser.add_argument("--only", default="", help="only rows whose path contains this")
    parser.add_argument("--limit", type=int, help="only so many readings, drawn at random")
    parser.add_argument("--rooms", type=Path, help="folder of sounds without speech")
    parser.add_argument("--minutes", type=float, default=1.0, help="of each room at each level")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    try:
        rows = [r for r in read_manifest(options.manifest) if options.only in r["path"] and r["spoken"] in DIGITS]
        endpointer = Endpointer()
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    readings = readings_of(rows, options.limit, options.seed)
    speakers = len({reading.speaker for reading in readings})
    table: dict[str, dict[str, Reached]] = {}
    for room in ROOMS:
        for softer_db in SOFTER_DB:
            into = table.setdefault(room[0], {}).setdefault(f"{softer_db:.0f} dB", Reached())
            for number, reading in enumerate(readings):
                hear(endpointer, reading, softer_db, room, options.seed + number, into)
    rooms = ["white", "pink", *(str(path) for path in sorted(options.rooms.iterdir()))] if options.rooms else []
    false = false_segments(endpointer, rooms, options.minutes)
    if options.json:
        counts = {room: {name: vars(one) for name, one in found.items()} for room, found in table.items()}
        print(json.dumps({"readings": len(readings), "speakers": speakers, "reached": counts,
                          "false_segments_per_hour": false}, indent=1))  # fmt: skip
        return 0
    print(f"{options.manifest.name} {options.only}: {len(readings)} readings of {JOIN} digits, {speakers} speakers, "
          "first and last word softer by")  # fmt: skip
    for name, found in table.items():
        for softer, one in found.items():
            lost = "/".join(str(count) for count in one.lost)
            print(f"{name:7} {softer:6} spoken time reached {one.reached / one.frames:.4f}, first/middle/last word "
                  f"lost {lost}, one whole segment {share(one.whole, one.readings)}, cut {one.cut}, "
                  f"sound before it {np.median(one.before_s):.2f} s")  # fmt: skip
    for room_name, per_hour in false.items():
        print(f"no speech, {room_name}: false segments an hour {per_hour}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
