"""Puts clips into rooms: speed, echo, noise, babble, knocks, bands, level; and makes sounds that are no speech.

Everything happens on whole batches on the training device. There is no padding: what a clip leaves free is filled
with the sound of its room, because the front end of the network hears padding.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import torch
from torch import Tensor

RATE_HZ = 16_000
CLIP_LEVEL = 0.1
FLOOR = 8 / 32768
ECHO_SAMPLES = 8000
LENGTH_STEP = 8000
MU = 255.0


@dataclass(frozen=True, slots=True)
class Chances:
    """How often what happens to a clip, and how far it goes.

    Attributes:
        speed: Share of clips that are played slower or faster, from `slowest` to `fastest`.
        slowest: Factor.
        fastest: Factor.
        echo: Share with echo.
        noise: Share with steady noise at `noise_from_db` to `noise_to_db` of speech over noise.
        noise_from_db: Least.
        noise_to_db: Most.
        babble: Share with three to six other talkers at 0 to `babble_to_db`.
        babble_to_db: Most.
        knocks: Share with taps.
        tones: Share with beeps.
        telephone: Share through a band that ends at 3.2 to 3.95 kHz, half of them without low tones too.
        coarse: Of those, share in the 8 bits of a telephone line (ITU-T G.711, mu-law).
        dull: Share through a low-pass at 2 to 7 kHz.
        clipped: Share driven into clipping.
        notched: Share that lacks a band of frequencies, or two.
    """

    speed: float = 0.85
    slowest: float = 0.78
    fastest: float = 1.28
    echo: float = 0.45
    noise: float = 0.6
    noise_from_db: float = -2.0
    noise_to_db: float = 30.0
    babble: float = 0.22
    babble_to_db: float = 25.0
    knocks: float = 0.1
    tones: float = 0.06
    telephone: float = 0.12
    coarse: float = 0.0
    dull: float = 0.22
    clipped: float = 0.05
    notched: float = 0.0


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of the pack in an utterance.

    Attributes:
        start: First sample.
        samples: How many.
        after: Samples from where the utterance begins.
        gain: Factor.
    """

    start: int
    samples: int
    after: int = 0
    gain: float = 1.0


@dataclass(frozen=True, slots=True)
class Utterance:
    """What is said without a stop: one clip, or several joined.

    Attributes:
        parts: In their order.
        tokens: Pieces to be written.
    """

    parts: tuple[Part, ...]
    tokens: tuple[int, ...]

    @property
    def samples(self) -> int:
        """Length at the speed at which it was said."""
        return max(part.after + part.samples for part in self.parts)


NONE = Chances(0, 1, 1, *[0] * 13)


class Rooms:
    """Batches of sound.

    Args:
        sound: All samples of a pack.
        starts: First sample of each clip.
        lengths: Samples of each clip.
        talkers: Clips that may babble in the background.
        noises: Clips of real background noise.
        seed: Of chance.
    """

    def __init__(
        self, sound: Tensor, starts: Tensor, lengths: Tensor, talkers: Tensor, noises: Tensor, seed: int
    ) -> None:
        self.sound, self.starts, self.lengths = sound, starts, lengths
        self.talkers, self.noises = talkers, noises
        self.device = sound.device
        self._chance = torch.Generator(self.device).manual_seed(seed)

    def uniform(self, low: float, high: float, *shape: int) -> Tensor:
        """Random numbers between two bounds."""
        return low + (high - low) * torch.rand(shape, generator=self._chance, device=self.device)

    def happens(self, share: float, count: int) -> Tensor:
        """1 for that share of rows and 0 for the others, (rows, 1)."""
        return (self.uniform(0, 1, count, 1) < share).float()

    def drawn(self, choices: Tensor, *shape: int) -> Tensor:
        """Random elements."""
        return choices[(self.uniform(0, 1, *shape) * len(choices)).long().clamp(max=len(choices) - 1)]

    def speech(self, said: Sequence[Utterance], chances: Chances) -> tuple[Tensor, Tensor]:
        """Utterances in rooms, (utterances, samples), and the sample shortly after which each has ended."""
        count = len(said)
        moves = self.happens(chances.speed, count)[:, 0]
        speed = 1 + moves * (self.uniform(chances.slowest, chances.fastest, count) - 1)
        lead = self.uniform(0.12, 0.45, count) * RATE_HZ
        tail = self.uniform(0.15, 0.35, count) * RATE_HZ
        lengths = torch.tensor([one.samples for one in said], device=self.device)
        # Few different lengths: each costs a plan of the Fourier transform, and a prime one is slow.
        samples = LENGTH_STEP * math.ceil(float((lead + lengths / speed + tail).max()) / LENGTH_STEP)
        clean = torch.zeros(count, samples, device=self.device)
        for place in range(max(len(one.parts) for one in said)):
            rows = torch.tensor([row for row, one in enumerate(said) if len(one.parts) > place], device=self.device)
            parts = [one.parts[place] for one in said if len(one.parts) > place]
            starts, sizes, after = (
                torch.tensor([getattr(part, name) for part in parts], device=self.device)
                for name in ("start", "samples", "after")
            )
            gains = torch.tensor([part.gain for part in parts], device=self.device)
            sound = self._placed(starts, sizes, lead[rows] + after / speed[rows], speed[rows], samples)
            clean[rows] += gains[:, None] * sound
        return self.in_room(clean, chances), lead + lengths / speed + tail

    def in_room(self, clean: Tensor, chances: Chances) -> Tensor:
        """Sounds at `CLIP_LEVEL` in rooms."""
        count, samples = clean.shape
        wet = clean
        if chances.echo:
            echoes = self.happens(chances.echo, count)
            wet = clean * (1 - echoes) + echoes * self._echoed(clean)
        if chances.noise:
            over = self.uniform(chances.noise_from_db, chances.noise_to_db, count, 1)
            level = CLIP_LEVEL * 10 ** (-over / 20) * self.happens(chances.noise, count)
            wet = wet + level * self._noise(count, samples)
        if chances.babble:
            level = CLIP_LEVEL * 10 ** (-self.uniform(0, chances.babble_to_db, count, 1) / 20)
            wet = wet + level * self.happens(chances.babble, count) * self._babble(count, samples)
        if chances.knocks:
            wet = wet + self.happens(chances.knocks, count) * self._knocks(count, samples)
        if chances.tones:
            wet = wet + self.happens(chances.tones, count) * self._tones(count, samples)
        wet = self._filtered(wet, chances)
        wet = wet * 10 ** (self.uniform(-18, 6, count, 1) / 20) if chances.speed else wet
        if chances.clipped:
            drive = 1 + self.happens(chances.clipped, count) * self.uniform(2, 12, count, 1)
            wet = torch.clamp(wet * drive, -0.9, 0.9)
        return wet + FLOOR * self._normal(count, samples)

    def no_speech(self, count: int, samples: int) -> Tensor:
        """Sounds that hold no words: steady noise, fan, saw, breath, taps, beeps, speech backwards, babble."""
        kinds = torch.randint(0, 7, (count, 1), generator=self._chance, device=self.device)
        steady = self._noise(count, samples)
        backwards = self.drawn(self.talkers, count)
        lead = self.uniform(0.1, 0.4, count) * RATE_HZ
        flipped = self._placed(
            self.starts[backwards] + self.lengths[backwards] - 1, self.lengths[backwards], lead,
            -torch.ones(count, device=self.device), samples,
        )  # fmt: skip
        sounds = (
            steady * CLIP_LEVEL * 0.5,
            (self._hum(count, samples, 40, 120) + steady) * CLIP_LEVEL * 0.3,
            self._swelling(count, samples, 1, 4) * self._hum(count, samples, 80, 400) * CLIP_LEVEL,
            self._swelling(count, samples, 0.3, 1.2) * steady * CLIP_LEVEL,
            3 * self._knocks(count, samples),
            flipped,
            self._babble(count, samples) * CLIP_LEVEL * 0.3,
        )
        found = torch.zeros(count, samples, device=self.device)
        for kind, sound in enumerate(sounds):
            found = found + (kinds == kind).float() * sound
        return found

    def _normal(self, *shape: int) -> Tensor:
        return torch.randn(shape, generator=self._chance, device=self.device)

    def _placed(self, starts: Tensor, lengths: Tensor, leads: Tensor, speeds: Tensor, samples: int) -> Tensor:
        """Pieces of the pack at their places, read between samples where the speed asks for it."""
        along = (torch.arange(samples, device=self.device)[None] - leads[:, None]) * speeds.abs()[:, None]
        inside = (along >= 0) & (along < (lengths - 1)[:, None])
        along = along * inside
        whole = along.floor()
        steps = torch.sign(speeds).long()[:, None]
        first = (starts[:, None] + steps * whole.long()).clamp(0, len(self.sound) - 1)
        second = (first + steps).clamp(0, len(self.sound) - 1)
        part = along - whole
        return (self.sound[first] * (1 - part) + self.sound[second] * part) * inside

    def _echoed(self, clean: Tensor) -> Tensor:
        count, samples = clean.shape
        time = torch.arange(ECHO_SAMPLES, device=self.device)[None] / RATE_HZ
        decay = torch.exp(-6.9 * time / self.uniform(0.12, 0.7, count, 1))
        late = self._normal(count, ECHO_SAMPLES) * decay * (time > self.uniform(0.001, 0.02, count, 1))
        late = late / late.norm(dim=1, keepdim=True).clamp(min=1e-6) * 10 ** (self.uniform(-14, 2, count, 1) / 20)
        late[:, 0] = 1.0
        size = samples + ECHO_SAMPLES
        wet = torch.fft.irfft(torch.fft.rfft(clean, size) * torch.fft.rfft(late, size), size)[:, :samples]
        return wet * (clean.norm(dim=1, keepdim=True) / wet.norm(dim=1, keepdim=True).clamp(min=1e-6))

    def _noise(self, count: int, samples: int) -> Tensor:
        """Coloured noise of level 1 from white to brown, a fifth of it real background noise."""
        spectrum = torch.fft.rfft(self._normal(count, samples))
        hertz = torch.arange(spectrum.shape[1], device=self.device)[None] * (RATE_HZ / samples)
        # A third white, a third pink, the rest anything between white and brown.
        slope = self.drawn(torch.tensor([0.0, 0.5, -1.0], device=self.device), count, 1)
        slope = torch.where(slope < 0, self.uniform(0, 1, count, 1), slope)
        coloured = torch.fft.irfft(spectrum * hertz.clamp(min=20) ** -slope, samples)
        if len(self.noises):
            chosen = self.drawn(self.noises, count)
            lead = -self.uniform(0, 1, count) * RATE_HZ
            looped = self._looped(self.starts[chosen], self.lengths[chosen], lead, samples)
            real = self.happens(0.2, count)
            coloured = real * _level_1(looped) + (1 - real) * _level_1(coloured)
        return _level_1(coloured)

    def _looped(self, starts: Tensor, lengths: Tensor, leads: Tensor, samples: int) -> Tensor:
        along = torch.arange(samples, device=self.device)[None] - leads[:, None].long()
        return self.sound[starts[:, None] + along % lengths[:, None]]

    def _babble(self, count: int, samples: int) -> Tensor:
        talkers = 6
        loud = (torch.arange(talkers, device=self.device) < self.drawn(
            torch.arange(3, talkers + 1, device=self.device), count)[:, None]).float()  # fmt: skip
        found = torch.zeros(count, samples, device=self.device)
        for talker in range(talkers):
            chosen = self.drawn(self.talkers, count)
            lead = -self.uniform(0, 3, count) * RATE_HZ
            voice = self._looped(self.starts[chosen], self.lengths[chosen], lead, samples)
            found = found + loud[:, talker : talker + 1] * voice
        return _level_1(found)

    def _knocks(self, count: int, samples: int) -> Tensor:
        found = torch.zeros(count, samples, device=self.device)
        time = torch.arange(samples, device=self.device)[None] / RATE_HZ
        for _ in range(3):
            since = time - self.uniform(0, samples / RATE_HZ, count, 1)
            decay = torch.exp(-since.clamp(min=0) / self.uniform(0.002, 0.03, count, 1)) * (since >= 0)
            ring = torch.sin(6.2832 * since * self.uniform(200, 4000, count, 1))
            found = found + decay * (0.5 * ring + 0.3 * self._normal(count, samples)) * self.uniform(
                0.02, 0.3, count, 1
            )
        return found

    def _tones(self, count: int, samples: int) -> Tensor:
        time = torch.arange(samples, device=self.device)[None] / RATE_HZ
        since = time - self.uniform(0, samples / RATE_HZ, count, 1)
        on = (since >= 0) & (since < self.uniform(0.05, 0.5, count, 1))
        return torch.sin(6.2832 * since * self.uniform(500, 4500, count, 1)) * on * self.uniform(0.01, 0.1, count, 1)

    def _hum(self, count: int, samples: int, low: float, high: float) -> Tensor:
        """A buzz rich in overtones, its pitch wavering."""
        time = torch.arange(samples, device=self.device)[None] / RATE_HZ
        waver = torch.sin(6.2832 * time * self.uniform(0.3, 5, count, 1)) * self.uniform(0, 3, count, 1)
        turns = time * self.uniform(low, high, count, 1) + waver
        return _level_1(2 * (turns - turns.floor()) - 1)

    def _swelling(self, count: int, samples: int, low: float, high: float) -> Tensor:
        time = torch.arange(samples, device=self.device)[None] / RATE_HZ
        return torch.sin(3.1416 * time * self.uniform(low, high, count, 1) + self.uniform(0, 3, count, 1)) ** 2

    def _filtered(self, sound: Tensor, chances: Chances) -> Tensor:
        if not (chances.telephone or chances.dull or chances.notched):
            return sound
        count, samples = sound.shape
        spectrum = torch.fft.rfft(sound)
        hertz = torch.arange(spectrum.shape[1], device=self.device)[None] * (RATE_HZ / samples)
        low, high = torch.zeros(count, 1, device=self.device), torch.full((count, 1), 9000.0, device=self.device)
        dull, telephone = self.happens(chances.dull, count), self.happens(chances.telephone, count)
        high = torch.where(dull > 0, self.uniform(2000, 7000, count, 1), high)
        high = torch.where(telephone > 0, self.uniform(3200, 3950, count, 1), high)
        low = torch.where(telephone * self.happens(0.5, count) > 0, self.uniform(150, 320, count, 1), low)
        passed = torch.sigmoid((high - hertz) / 100) * torch.where(low > 0, torch.sigmoid((hertz - low) / 20), 1.0)
        for _ in range(2 if chances.notched else 0):
            middle = self.uniform(200, 6000, count, 1)
            half = middle * self.uniform(0.05, 0.25, count, 1)
            inside = torch.sigmoid((hertz - middle + half) / 30) * torch.sigmoid((middle + half - hertz) / 30)
            passed = passed * (1 - self.happens(chances.notched, count) * inside)
        heard = torch.fft.irfft(spectrum * passed, samples)
        if not chances.coarse:
            return heard
        coarse = telephone * self.happens(chances.coarse, count)
        return coarse * _in_8_bits(heard) + (1 - coarse) * heard


def _in_8_bits(sound: Tensor) -> Tensor:
    """As a telephone line carries it, at its own peak: steps of a 128th on the logarithmic scale of mu-law."""
    peak = sound.abs().amax(dim=1, keepdim=True).clamp(min=1e-6)
    scaled = torch.log1p(MU * sound.abs() / peak) / math.log1p(MU)
    return sound.sign() * torch.expm1((scaled * 128).round() / 128 * math.log1p(MU)) / MU * peak


def _level_1(sound: Tensor) -> Tensor:
    return sound / sound.square().mean(dim=1, keepdim=True).sqrt().clamp(min=1e-6)
