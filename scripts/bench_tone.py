"""Bench of the lamp-beep detector: hits at a stated level in made-up clinic noise with speech over it, and false hits.

Noise: pink noise, mains hum and its overtones, a fan's rumble, clatter at random. Other machines beep at other pitches.
Signal to noise: beep power over the power of the steady noise, both over the full band. Speech: recordings from the
folder given (WAV or FLAC, 16 kHz mono), at the stated level against the beep, without a pause. The noise is synthetic;
no recording of a clinic was to hand, so the figures are for this noise only.

Use: python scripts/bench_tone.py SPEECH_FOLDER [--beeps 1000] [--minutes 60] [--snr 10] [--speech-db 0]
"""

import argparse
from pathlib import Path

import numpy as np
import soundfile

from handsfree.exposure.profiles import ToneProfile
from handsfree.exposure.tone import Beep, ToneDetector
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock

RATE = SAMPLE_RATE_HZ
PIECE_S = 60


def noise(rng: np.random.Generator, seconds: int) -> np.ndarray:
    """Steady noise of power 1 and clatter on top."""
    n = seconds * RATE
    spectrum = np.fft.rfft(rng.standard_normal(n))
    frequencies = np.fft.rfftfreq(n, 1 / RATE)
    pink = np.fft.irfft(spectrum / np.sqrt(np.maximum(frequencies, 40)), n)
    pink /= pink.std()
    t = np.arange(n) / RATE
    hum = sum(np.sin(2 * np.pi * 50 * k * t + rng.uniform(0, 6.3)) / k for k in (1, 2, 3, 4, 6))
    steady = pink + 0.5 * hum
    steady /= steady.std()
    for at in rng.integers(0, n - RATE // 2, seconds // 5):
        length = int(rng.integers(200, RATE // 4))
        decay = np.exp(-np.arange(length) / (length / 5))
        steady[at : at + length] += rng.uniform(2, 8) * rng.standard_normal(length) * decay
    return steady


def other_beeps(rng: np.random.Generator, seconds: int, level: float, pitch_hz: float) -> np.ndarray:
    """Beeps of other machines, at least 200 Hz away."""
    sound = np.zeros(seconds * RATE)
    for at in rng.integers(0, len(sound) - RATE, seconds // 6):
        other = rng.uniform(500, 4000)
        if abs(other - pitch_hz) < 200:
            continue
        length = int(rng.uniform(0.08, 0.5) * RATE)
        sound[at : at + length] += level * np.sin(2 * np.pi * other * np.arange(length) / RATE)
    return sound


def voices(folder: Path) -> list[np.ndarray]:
    """All recordings of the folder, each of power 1."""
    clips = []
    for file in sorted((*folder.rglob("*.wav"), *folder.rglob("*.flac"))):
        clip, rate = soundfile.read(file)
        if rate != RATE or clip.ndim != 1:
            continue
        if clip.std() > 0:
            clips.append(clip / clip.std())
    return clips


def speech(rng: np.random.Generator, clips: list[np.ndarray], seconds: int) -> np.ndarray:
    """Recordings in random order without a pause."""
    parts: list[np.ndarray] = []
    length = 0
    while length < seconds * RATE:
        parts.append(clips[rng.integers(len(clips))])
        length += len(parts[-1])
    return np.concatenate(parts)[: seconds * RATE]


def detect(profile: ToneProfile, sound: np.ndarray) -> list[Beep]:
    """Beeps that the detector finds in one piece."""
    pcm = np.clip(sound * 1200, -32768, 32767).astype("<i2").tobytes()
    detector = ToneDetector(profile)
    found: list[Beep] = []
    for start in range(0, len(pcm), 640):
        found += detector.feed(AudioBlock(pcm[start : start + 640], start / 2 / RATE))
    return found


def main() -> None:
    """Run and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--beeps", type=int, default=1000)
    parser.add_argument("--minutes", type=int, default=60)
    parser.add_argument("--snr", type=float, default=10.0)
    parser.add_argument("--speech-db", type=float, default=0.0)
    parser.add_argument("--pitch", type=float, default=2700.0)
    parser.add_argument("--duration", type=float, default=0.2)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    profile = ToneProfile(options.pitch, options.duration, 25.0, options.duration * 0.35)
    clips = voices(options.folder)
    if not clips:
        parser.error(f"{options.folder} holds no WAV or FLAC file with {RATE} Hz, mono")
    amplitude = np.sqrt(2 * 10 ** (options.snr / 10))
    voice_level = 10 ** ((options.snr + options.speech_db) / 20)
    hits = made = extra = 0
    ends: list[float] = []
    while made < options.beeps:
        sound = noise(rng, PIECE_S) + voice_level * speech(rng, clips, PIECE_S)
        sound += other_beeps(rng, PIECE_S, amplitude, options.pitch)
        starts = np.arange(1.0, PIECE_S - 1.5, 1.5) + rng.uniform(0, 0.4, len(np.arange(1.0, PIECE_S - 1.5, 1.5)))
        for start_s in starts:
            length = int(options.duration * RATE)
            pitch = options.pitch + rng.uniform(-20, 20)
            beep = amplitude * np.sin(2 * np.pi * pitch * np.arange(length) / RATE + rng.uniform(0, 6.3))
            at = int(start_s * RATE)
            sound[at : at + length] += beep
        found = detect(profile, sound)
        taken = set()
        for start_s in starts:
            near = [k for k, b in enumerate(found) if k not in taken and abs(b.from_s - start_s) < 0.15]
            if near:
                taken.add(near[0])
                hits += 1
                ends.append(found[near[0]].to_s - start_s - options.duration)
        made += len(starts)
        extra += len(found) - len(taken)
    false = 0
    for _ in range(options.minutes):
        sound = noise(rng, PIECE_S) + voice_level * speech(rng, clips, PIECE_S)
        false += len(detect(profile, sound + other_beeps(rng, PIECE_S, amplitude, options.pitch)))
    print(f"beep {options.pitch:g} Hz {options.duration:g} s, {options.snr:g} dB over made-up noise, "
          f"speech {options.speech_db:+g} dB against the beep, {len(clips)} clips, seed {options.seed}")  # fmt: skip
    print(f"hits {hits}/{made} = {hits / made:.4f}; extra among them {extra}; "
          f"end off by {np.mean(ends) * 1000:+.0f} ms, sd {np.std(ends) * 1000:.0f} ms")  # fmt: skip
    print(f"false hits {false} in {options.minutes} min = {false / options.minutes * 10:.2f} in 10 min")


if __name__ == "__main__":
    main()
