"""The packs on the training device: batches to train on, and clips that are held back.

Strings of digits are joined anew for each batch from recordings of one person. Hardly any of these people said a six, a
seven or a nine; so that those are not learned to be rare, they are put in from others, people and voices.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from typing import Protocol

import numpy as np
import torch
from clips import STRINGS, Clip, unpack
from rooms import Chances, Part, Rooms, Utterance
from said import DIGIT_KIND, DIGITS, ONE_DIGIT, written
from torch import Tensor

RATE_HZ = 16_000
LONGEST_S = 14.0
BREATHS = "breaths"
BREATH_GAP_S = (0.05, 0.7)
"""Silence between sentences that are joined."""
IGNORED = -100
RARE = ("six", "seven", "nine")
"""Digits that few real people said."""
LENT = {digit: 0.6 if digit in RARE else 0.15 for digit in DIGITS}
"""How often a digit that a person never said is put in from somebody else, and not another drawn. So all are about as
often in strings: most people said a third of the digits."""
BY_A_VOICE = 0.5
"""Share of rare digits and of those put in that a voice says."""
LENGTHS = {2: 0.2, 3: 0.4, 4: 0.25, 5: 0.15}
"""Digits in a string, and how often."""
GAPS_S = (((0.0, 0.15), 0.5), ((0.1, 0.4), 0.28), ((0.35, 0.95), 0.22))
"""Silence between digits, from and to, and how often: quick, at ease, slow."""
WITH_ROOM = 0.3
"""Share of strings in which the digits keep the room that was recorded around them."""
UNEVEN_DB = 3.0
SOFT_BEGINNING, SOFT_END = 0.2, 0.08
SOFT_BEGINNING_DB, SOFT_END_DB = (-20.0, -8.0), (-14.0, -6.0)
"""Share of strings that begin or end softly, and how softly."""
_SEPARATE = {DIGIT_KIND, "short", "noise"}


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of a batch; the rest is synthetic sentences.

    Attributes:
        short: Real recordings of short words.
        digits: Real recordings of one digit.
        strings: Digits joined.
        voices: Of those strings, in synthetic voices.
        nothing: No speech.
        breaths: Two or three synthetic sentences of one voice, one after the other.
    """

    short: float
    digits: float
    strings: float
    voices: float
    nothing: float
    breaths: float = 0.0


class TextPieces(Protocol):
    """A vocabulary: `begin` stands before every text and `end` after it."""

    begin: tuple[int, ...]
    end: int

    def of(self, text: str) -> list[int]:
        """The pieces of a text; none for ""."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Utterances of one length.

    Attributes:
        sound: (utterances, samples).
        ends: Sample at which each ends; what follows is the sound of its room.
        before: Pieces so far, (utterances, pieces).
        after: The pieces that follow them, or `IGNORED`.
    """

    sound: Tensor
    ends: Tensor
    before: Tensor
    after: Tensor


class Corpus:
    """Packs on the training device.

    Args:
        folders: The packs.
        pieces: Text to pieces.
        device: Where.
        seed: Of chance.
    """

    def __init__(self, folders: Sequence[Path], pieces: TextPieces, device: str, seed: int) -> None:
        sounds: list[np.ndarray] = []
        lines: list[Clip] = []
        for folder in folders:
            sound, own = unpack(folder)
            at = sum(len(other) for other in sounds)
            lines += [replace(line, start=line.start + at) for line in own]
            sounds.append(sound)
        self.lines = [line for line in lines if line.samples < LONGEST_S * RATE_HZ]
        self._pieces = pieces
        self.tokens = [tuple(pieces.of(line.text)) for line in self.lines]
        train = [index for index, line in enumerate(self.lines) if line.use == "train"]
        talkers = [index for index in train if self.lines[index].kind != "noise"]
        noises = [index for index in train if self.lines[index].kind == "noise"]
        numbers = {"dtype": torch.long, "device": device}
        self.rooms = Rooms(
            torch.from_numpy(np.concatenate(sounds)).to(device),
            torch.tensor([line.start for line in self.lines], **numbers),
            torch.tensor([line.samples for line in self.lines], **numbers),
            torch.tensor(talkers, **numbers),
            torch.tensor(noises, **numbers),
            seed,
        )
        self._chance = Random(seed)
        self._sort(train)

    def _sort(self, train: Sequence[int]) -> None:
        self._groups: dict[str, list[int]] = defaultdict(list)
        speakers: dict[bool, dict[str, list[int]]] = {True: defaultdict(list), False: defaultdict(list)}
        for index in train:
            line = self.lines[index]
            if line.kind == ONE_DIGIT or (line.real and line.kind == DIGIT_KIND):
                speakers[bool(line.real)][line.speaker].append(index)
            else:
                self._groups[line.kind if line.real else "synthetic"].append(index)
        talking: dict[str, list[int]] = defaultdict(list)
        for index in self._groups["synthetic"]:
            talking[self.lines[index].speaker].append(index)
        self._talking = list(talking.values())
        self._train = list(train)
        self._people, self._voices = (
            [Digits(own, self.lines) for own in speakers[real].values()] for real in (True, False)
        )

    def leave_out(self, share: float, loss_of: Callable[[list[int]], Sequence[float]]) -> list[int]:
        """Do not train on the recordings of digits that are least like what they are said to be: some are mislabelled.

        Args:
            share: Of all.
            loss_of: How unlikely the texts of clips are, nats.

        Returns:
            Those left out.
        """
        digits = [index for index in self._train if self.lines[index].real and self.lines[index].kind == DIGIT_KIND]
        losses = dict(zip(digits, loss_of(digits), strict=True))
        worst = sorted(digits, key=losses.__getitem__)[len(digits) - round(share * len(digits)) :]
        self._sort(sorted(set(self._train).difference(worst)))
        return worst

    def batches(self, size: int, shares: Shares, chances: Chances) -> Iterator[Batch]:
        """Without end; utterances of like length share a batch."""
        draw: dict[str, tuple[float, Callable[[], Utterance | None]]] = {
            "short": (shares.short, lambda: self._one("short")),
            DIGIT_KIND: (shares.digits, self._digit),
            STRINGS: (shares.strings, lambda: self._string(shares)),
            BREATHS: (shares.breaths, self._breath),
            "noise": (shares.nothing, lambda: None),
        }
        missing = () if self._people else ("short", DIGIT_KIND, STRINGS)
        draw = {kind: one for kind, one in draw.items() if kind not in missing}
        draw["synthetic"] = (1 - sum(share for share, _ in draw.values()), lambda: self._one("synthetic"))
        kinds, weights = list(draw), [share for share, _ in draw.values()]
        together = 4
        while True:
            drawn = [draw[kind][1]() for kind in self._chance.choices(kinds, weights, k=size * together)]
            speech = [utterance for utterance in drawn if utterance is not None]
            nothing = len(drawn) - len(speech)
            speech.sort(key=lambda utterance: utterance.samples)
            parts = [speech[len(speech) * part // together : len(speech) * (part + 1) // together]
                     for part in range(together)]  # fmt: skip
            self._chance.shuffle(parts)
            for part in parts:
                yield self._batch(part, nothing // together, chances)

    def _one(self, group: str) -> Utterance:
        index = self._chance.choice(self._groups[group])
        return whole(self.lines[index], self.tokens[index])

    def _digit(self) -> Utterance:
        digit = self._chance.choice(DIGITS)
        voice = digit in RARE and self._chance.random() < BY_A_VOICE
        index = self._chance.choice(self._somebody(digit, voice).said[digit])
        line = self.lines[index]
        # Not always with as much of its room.
        lead, tail = (round(side * self._chance.random()) for side in (line.lead, line.tail))
        return Utterance((Part(line.start + lead, line.samples - lead - tail),), self.tokens[index])

    def _somebody(self, digit: str, voice: bool) -> "Digits":
        """Who said a digit: a voice or a person."""
        order = (self._voices, self._people) if voice else (self._people, self._voices)
        able = next(found for everybody in order if (found := [one for one in everybody if digit in one.said]))
        return self._chance.choice(able)

    def _string(self, shares: Shares) -> Utterance:
        chance = self._chance
        speaker = chance.choice(self._voices if chance.random() < shares.voices else self._people)
        chosen: list[int] = []
        for _ in range(chance.choices(list(LENGTHS), list(LENGTHS.values()))[0]):
            digit = chance.choice(DIGITS)
            while digit not in speaker.said and chance.random() >= LENT[digit]:
                digit = chance.choice(DIGITS)
            own = speaker if digit in speaker.said else self._somebody(digit, chance.random() < BY_A_VOICE)
            chosen.append(chance.choice(own.said[digit]))
        words = [self.lines[index].text.rstrip(".").lower() for index in chosen]
        return Utterance(self._laid(chosen), tuple(self._pieces.of(", ".join(words).capitalize() + ".")))

    def _breath(self) -> Utterance:
        chance = self._chance
        # The more a voice says, the oftener it is drawn.
        own = chance.choices(self._talking, [len(clips) for clips in self._talking])[0]
        parts, words, at = [], [], 0
        for index in chance.choices(own, k=chance.choice((2, 2, 3))):
            line = self.lines[index]
            if parts and at + line.samples > LONGEST_S * RATE_HZ:
                break
            parts.append(Part(line.start, line.samples, at, 10 ** (chance.uniform(-UNEVEN_DB, UNEVEN_DB) / 20)))
            words += line.text.rstrip(".").replace(",", "").lower().split()
            at += line.samples + round(chance.uniform(*BREATH_GAP_S) * RATE_HZ)
        return Utterance(tuple(parts), tuple(self._pieces.of(written(words))))

    def _laid(self, chosen: Sequence[int]) -> tuple[Part, ...]:
        """The digits one after the other; where they keep their rooms, those lie over each other."""
        chance = self._chance
        low, high = chance.choices([gap for gap, _ in GAPS_S], [often for _, often in GAPS_S])[0]
        rooms = chance.random() < WITH_ROOM
        loud = [chance.uniform(-UNEVEN_DB, UNEVEN_DB) for _ in chosen]
        if chance.random() < SOFT_BEGINNING:
            loud[0] = chance.uniform(*SOFT_BEGINNING_DB)
        if chance.random() < SOFT_END:
            loud[-1] = chance.uniform(*SOFT_END_DB)
        parts, at = [], 0
        for index, gain_db in zip(chosen, loud, strict=True):
            line = self.lines[index]
            lead, tail = (line.lead, line.tail) if rooms else (0, 0)
            word = line.samples - line.lead - line.tail
            # The room of the first may begin before the utterance does: it is shifted below.
            parts.append(Part(line.start + line.lead - lead, lead + word + tail, at - lead, 10 ** (gain_db / 20)))
            at += word + round(chance.uniform(low, high) * RATE_HZ)
        first = min(part.after for part in parts)
        return tuple(replace(part, after=part.after - first) for part in parts)

    def _batch(self, said: list[Utterance], nothing: int, chances: Chances) -> Batch:
        rooms = self.rooms
        sound, ends = rooms.speech(said, chances)
        tokens = [utterance.tokens for utterance in said]
        if nothing:
            empty = rooms.in_room(rooms.no_speech(nothing, sound.shape[1]), replace(chances, echo=0.0, babble=0.0))
            sound = torch.cat([sound, empty])
            ends = torch.cat([ends, rooms.uniform(RATE_HZ // 2, sound.shape[1], nothing)])
            tokens += [()] * nothing
        return Batch(sound, ends, *self._targets(tokens))

    def held_back(self) -> dict[str, list[int]]:
        """Clips that are not trained on, by what they show; digits that few people said stand apart too."""
        found: dict[str, list[int]] = defaultdict(list)
        for index, line in enumerate(self.lines):
            if line.use == "held back" and line.kind != "noise":
                group = f"real {line.kind}" if line.real else f"voices {line.kind}"
                found[group].append(index)
                if line.real and line.kind == DIGIT_KIND and line.text in ("Six.", "Seven.", "Nine."):
                    found[f"{group} {line.text.lower()}"].append(index)
        return dict(found)

    def measured(self, clips: list[int], chances: Chances, size: int = 48) -> Iterator[Batch]:
        """Batches of clips as they are, the shortest first."""
        ordered = sorted(clips, key=lambda index: self.lines[index].samples)
        for begin in range(0, len(ordered), size):
            part = [whole(self.lines[index], self.tokens[index]) for index in ordered[begin : begin + size]]
            sound, ends = self.rooms.speech(part, chances)
            yield Batch(sound, ends, *self._targets([utterance.tokens for utterance in part]))

    def _targets(self, tokens: Sequence[Sequence[int]]) -> tuple[Tensor, Tensor]:
        begin, end = self._pieces.begin, self._pieces.end
        first = len(begin) - 1
        longest = first + max(len(own) for own in tokens) + 1
        before = torch.full((len(tokens), longest), end)
        after = torch.full((len(tokens), longest), IGNORED)
        for row, own in enumerate(tokens):
            before[row, : first + 1 + len(own)] = torch.tensor([*begin, *own])
            after[row, first : first + 1 + len(own)] = torch.tensor([*own, end])
        return before.to(self.rooms.device), after.to(self.rooms.device)


class Digits:
    """What digits somebody said.

    Args:
        clips: Of this person or voice.
        lines: Of the packs.
    """

    def __init__(self, clips: Sequence[int], lines: Sequence[Clip]) -> None:
        self.said: dict[str, list[int]] = defaultdict(list)
        for index in clips:
            self.said[lines[index].text.rstrip(".").lower()].append(index)
        self.said = dict(self.said)


def whole(line: Clip, tokens: tuple[int, ...]) -> Utterance:
    """A clip as it is."""
    return Utterance((Part(line.start, line.samples),), tokens)
