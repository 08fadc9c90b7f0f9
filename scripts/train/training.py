"""Trains the low-rank additions and measures them on speech that was held back."""

import copy
import json
import math
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import torch
from base import load_base
from clips import Clip, unpack
from delta import save_delta
from network import BEGIN, END, build, encode, scores, tuned_layers
from pieces import Pieces
from rooms import NONE, Chances, Rooms
from torch import Tensor, nn
from torch.nn import functional

LONGEST_S = 9.0
IGNORED = -100
NOISY = replace(NONE, noise=1.0, noise_from_db=10.0, noise_to_db=10.0)
MEASURES = {"clean": NONE, "10 dB": NOISY}


@dataclass(frozen=True, slots=True)
class Settings:
    """The [train] table of a configuration.

    Attributes:
        steps: Updates.
        batch: Clips an update.
        rank: Of each addition.
        rate: Highest learning rate.
        warm_up: Updates until it is reached; it then falls as a cosine.
        averaging: Share by which the averaged weights follow at each update; those are what ships.
        smoothing: Share of the label that is spread over all pieces.
        pull: Weight of the size of the additions in the loss.
        stretch: See `network.TunedLinear`.
        clip: Longest gradient.
        real_short: Share of clips that are real recordings of short words.
        real_digits: Share that are real recordings of digits.
        nothing: Share that hold no speech.
        measure_every: Updates between two measurements.
        room: What happens to a clip, see `rooms.Chances`; keys that are missing have their defaults.
    """

    steps: int
    batch: int
    rank: int
    rate: float
    warm_up: int
    averaging: float
    smoothing: float
    pull: float
    stretch: float
    clip: float
    real_short: float
    real_digits: float
    nothing: float
    measure_every: int
    room: dict[str, float]


class Corpus:
    """A pack on the training device.

    Args:
        folder: The pack.
        pieces: Text to pieces.
        device: Where.
        seed: Of chance.
    """

    def __init__(self, folder: Path, pieces: Pieces, device: str, seed: int) -> None:
        sound, lines = unpack(folder)
        self.lines = [line for line in lines if line.samples < LONGEST_S * 16_000]
        self.tokens = [pieces.of(line.text) for line in self.lines]
        numbers = {"dtype": torch.long, "device": device}
        train = [index for index, line in enumerate(self.lines) if line.use == "train"]
        talkers = [index for index in train if self.lines[index].kind != "noise"]
        noises = [index for index in train if self.lines[index].kind == "noise"]
        self.rooms = Rooms(
            torch.from_numpy(sound).to(device),
            torch.tensor([line.start for line in self.lines], **numbers),
            torch.tensor([line.samples for line in self.lines], **numbers),
            torch.tensor(talkers, **numbers),
            torch.tensor(noises, **numbers),
            seed,
        )
        self._groups: dict[str, list[int]] = defaultdict(list)
        for index in train:
            self._groups[_group(self.lines[index])].append(index)
        self._chance = torch.Generator().manual_seed(seed)

    def batches(self, settings: Settings) -> Iterator[tuple[Tensor, Tensor, Tensor]]:
        """Sound, pieces so far and pieces to come, without end; clips of like length share a batch."""
        shares = {"digits": settings.real_digits, "short": settings.real_short, "noise": settings.nothing}
        shares = {name: share for name, share in shares.items() if self._groups.get(name) or name == "noise"}
        shares["synthetic"] = 1 - sum(shares.values())
        names = list(shares)
        weights = torch.tensor([shares[name] for name in names])
        together = 4
        while True:
            count = settings.batch * together
            drawn = torch.multinomial(weights, count, replacement=True, generator=self._chance).tolist()
            nothing = sum(names[group] == "noise" for group in drawn)
            speech = [self._one(names[group]) for group in drawn if names[group] != "noise"]
            speech.sort(key=lambda index: self.lines[index].samples)
            parts = [speech[len(speech) * part // together : len(speech) * (part + 1) // together]
                     for part in range(together)]  # fmt: skip
            for part in torch.randperm(together, generator=self._chance).tolist():
                yield self._batch(parts[part], nothing // together, Chances(**settings.room))

    def _one(self, group: str) -> int:
        own = self._groups[group]
        return own[int(torch.randint(len(own), (1,), generator=self._chance))]

    def _batch(self, clips: list[int], nothing: int, chances: Chances) -> tuple[Tensor, Tensor, Tensor]:
        rooms = self.rooms
        sound = rooms.speech(torch.tensor(clips, device=rooms.device), chances)
        tokens = [self.tokens[index] for index in clips]
        if nothing:
            empty = rooms.in_room(rooms.no_speech(nothing, sound.shape[1]), replace(chances, echo=0.0, babble=0.0))
            sound = torch.cat([sound, empty])
            tokens += [[]] * nothing
        return sound, *_targets(tokens, rooms.device)

    def held_back(self) -> dict[str, list[int]]:
        """Clips that are not trained on, by what they show."""
        found: dict[str, list[int]] = defaultdict(list)
        for index, line in enumerate(self.lines):
            if line.use == "held back" and line.kind != "noise":
                found[f"real {line.kind}" if line.real else f"voices {line.kind}"].append(index)
        return dict(found)

    def measured(self, clips: list[int], chances: Chances, size: int = 48) -> Iterator[tuple[Tensor, Tensor, Tensor]]:
        """Batches of held-back clips."""
        ordered = sorted(clips, key=lambda index: self.lines[index].samples)
        for begin in range(0, len(ordered), size):
            part = ordered[begin : begin + size]
            sound = self.rooms.speech(torch.tensor(part, device=self.rooms.device), chances)
            yield sound, *_targets([self.tokens[index] for index in part], self.rooms.device)


def _group(line: Clip) -> str:
    return line.kind if line.real else "synthetic"


def _targets(tokens: list[list[int]], device: torch.device) -> tuple[Tensor, Tensor]:
    longest = max(len(own) for own in tokens) + 1
    before = torch.full((len(tokens), longest), END)
    after = torch.full((len(tokens), longest), IGNORED)
    for row, own in enumerate(tokens):
        before[row, : len(own) + 1] = torch.tensor([BEGIN, *own])
        after[row, : len(own) + 1] = torch.tensor([*own, END])
    return before.to(device), after.to(device)


@torch.no_grad()
def measure(network: nn.Module, corpus: Corpus) -> dict[str, dict[str, float]]:
    """By group and room: share of clips of which every piece is the likeliest, and mean loss a clip in nats."""
    found: dict[str, dict[str, float]] = {}
    for room, chances in MEASURES.items():
        # Every measurement hears the same rooms.
        chance = corpus.rooms._chance
        corpus.rooms._chance = torch.Generator(corpus.rooms.device).manual_seed(7)
        for group, clips in corpus.held_back().items():
            right, loss = 0.0, 0.0
            for sound, before, after in corpus.measured(clips, chances):
                out = scores(network, encode(network, sound), before)
                likeliest = (out.argmax(-1) == after) | (after == IGNORED)
                right += likeliest.all(1).sum().item()
                loss += functional.cross_entropy(
                    out.transpose(1, 2), after, ignore_index=IGNORED, reduction="sum"
                ).item()
            found[f"{group}, {room}"] = {"n": len(clips), "right": right / len(clips), "loss": loss / len(clips)}
        corpus.rooms._chance = chance
    return found


def train(work: Path, config: dict[str, Any], device: str, name: str) -> None:
    """Train and write `work/NAME.npz` and what was measured, `work/NAME.json`.

    Args:
        work: Holds `pack/`, `base.npz` and `tokenizer.bin`.
        config: The whole configuration.
        device: "cpu" or "cuda".
        name: Of the result.
    """
    settings, seed = Settings(**config["train"]), config["seed"]
    torch.manual_seed(seed)
    torch.set_float32_matmul_precision("high")
    base = load_base(work / "base.npz")
    corpus = Corpus(work / "pack", Pieces(work / "tokenizer.bin"), device, seed)
    network = build(base, settings.rank, settings.stretch).to(device).eval()
    averaged = copy.deepcopy(network)
    learned = [parameter for parameter in network.parameters() if parameter.requires_grad]
    optimizer = torch.optim.AdamW(learned, lr=settings.rate, betas=(0.9, 0.98), weight_decay=0.0)
    history: list[dict[str, Any]] = [{"step": 0, "held back": measure(network, corpus)}]
    began, losses = time.perf_counter(), []
    for step, (sound, before, after) in zip(range(1, settings.steps + 1), corpus.batches(settings), strict=False):
        for group in optimizer.param_groups:
            group["lr"] = settings.rate * _pace(step, settings)
        out = scores(network, encode(network, sound), before)
        loss = functional.cross_entropy(
            out.transpose(1, 2), after, ignore_index=IGNORED, label_smoothing=settings.smoothing
        )
        pull = torch.stack([layer.pull() for layer in tuned_layers(network).values()]).sum()
        optimizer.zero_grad(set_to_none=True)
        (loss + settings.pull * pull).backward()
        nn.utils.clip_grad_norm_(learned, settings.clip)
        optimizer.step()
        follow = max(settings.averaging, 1 / (1 + step))
        with torch.no_grad():
            for own, other in zip(averaged.parameters(), network.parameters(), strict=True):
                if other.requires_grad:
                    own.lerp_(other, follow)
        losses.append(loss.detach())
        if step % settings.measure_every == 0 or step == settings.steps:
            entry = {"step": step, "loss": torch.stack(losses).mean().item(), "pull": pull.item(),
                     "seconds": time.perf_counter() - began, "held back": measure(averaged, corpus)}  # fmt: skip
            losses = []
            history.append(entry)
            save_delta(work / f"{name}.npz", base, tuned_layers(averaged))
            print(name, json.dumps({key: value for key, value in entry.items() if key != "held back"}), flush=True)
    (work / f"{name}.json").write_text(
        json.dumps({"config": config, "history": history}, indent=1) + "\n", encoding="utf-8"
    )
    _show(name, history)


def _show(name: str, history: list[dict[str, Any]]) -> None:
    for group, first in history[0]["held back"].items():
        last = history[-1]["held back"][group]
        print(f"{name:12} {group:28} n {first['n']:4} right {first['right']:.3f} -> {last['right']:.3f} "
              f"loss {first['loss']:6.2f} -> {last['loss']:6.2f}")  # fmt: skip


def _pace(step: int, settings: Settings) -> float:
    if step < settings.warm_up:
        return step / settings.warm_up
    along = (step - settings.warm_up) / max(1, settings.steps - settings.warm_up)
    return 0.5 * (1 + math.cos(math.pi * along))
