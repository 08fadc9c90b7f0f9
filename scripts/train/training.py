"""Trains the low-rank additions and measures them on speech that was held back."""

import copy
import json
import math
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Protocol

import torch
from corpus import IGNORED, Batch, Corpus, Shares, TextPieces
from delta import load_delta, save_delta
from layers import Place, TunedLinear
from rooms import NONE, Chances
from torch import Tensor, nn
from torch.nn import functional

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
        pull: Weight in the loss of how far the additions went from where they began.
        stretch: See `network.FirstNetwork`.
        clip: Longest gradient.
        measure_every: Updates between two measurements.
        shares: Of each kind of speech, see `corpus.Shares`.
        room: What happens to a clip, see `rooms.Chances`; keys that are missing have their defaults.
        start: File of additions in the work folder to begin with, of at most this rank; "" begins with none.
        doubtful: Share of the recorded digits that is left out, see `Corpus.leave_out`; judged by the weights to begin
            with, which should know digits.
        family: Which weights, see `family_of`.
        half: Whether to compute in 16-bit floats where that is enough.
    """

    steps: int
    batch: int
    rank: int
    rate: float
    warm_up: int
    averaging: float
    smoothing: float
    pull: float
    clip: float
    measure_every: int
    shares: dict[str, float]
    room: dict[str, float]
    start: str = ""
    doubtful: float = 0.0
    stretch: float = 1.0
    family: str = "first"
    half: bool = False


class Learner(Protocol):
    """A network with additions to train; a `torch.nn.Module`."""

    @property
    def tuned_layers(self) -> dict[str, TunedLinear]:
        """Every layer with an addition, by the name of its weights."""

    def encode(self, sound: Tensor, ends: Tensor) -> Tensor:
        """Hear sounds of one length, (sounds, samples), and the sample at which each ends."""

    def scores(self, encoded: Tensor, tokens: Tensor) -> Tensor:
        """Scores of the piece after each piece, (sounds, pieces, vocabulary)."""


class Family(Protocol):
    """Weights to train: `network.First`, the default ones, or `third_network.Third`."""

    @property
    def pieces(self) -> TextPieces:
        """Text to what is to be written."""

    def build(self, rank: int, stretch: float) -> Any:  # noqa: ANN401 - a module that is a `Learner` too
        """The network, a `Learner`."""

    def places(self, layers: Mapping[str, TunedLinear]) -> dict[str, Place]:
        """Where each layer lies in the files."""


def family_of(name: str, work: Path) -> Family:
    """The weights to train, by their name in a configuration."""
    # Each needs packages that the other does not.
    if name == "third":
        from third_network import Third

        return Third(work)
    from network import First

    return First(work)


def written(network: Learner, batch: Batch) -> Tensor:
    """Scores of every piece, (utterances, pieces, vocabulary)."""
    return network.scores(network.encode(batch.sound, batch.ends), batch.before).float()


@torch.no_grad()
def losses_of(network: Learner, corpus: Corpus, clips: list[int]) -> list[float]:
    """How unlikely the texts of clips are, nats, in the order of the clips."""
    found: list[float] = []
    for batch in corpus.measured(clips, NONE):
        out = written(network, batch).transpose(1, 2)
        found += functional.cross_entropy(out, batch.after, ignore_index=IGNORED, reduction="none").sum(1).tolist()
    order = sorted(range(len(clips)), key=lambda place: corpus.lines[clips[place]].samples)
    return [loss for _, loss in sorted(zip(order, found, strict=True))]


@torch.no_grad()
def measure(network: Learner, corpus: Corpus) -> dict[str, dict[str, float]]:
    """By group and room: share of clips of which every piece is the likeliest, and mean loss a clip in nats."""
    found: dict[str, dict[str, float]] = {}
    for room, chances in MEASURES.items():
        # Every measurement hears the same rooms.
        chance = corpus.rooms._chance
        corpus.rooms._chance = torch.Generator(corpus.rooms.device).manual_seed(7)
        for group, clips in corpus.held_back().items():
            right, loss = 0.0, 0.0
            for batch in corpus.measured(clips, chances):
                out, after = written(network, batch), batch.after
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
        work: Holds `pack/`, `people/` if there are any, and what the family reads.
        config: The whole configuration.
        device: "cpu" or "cuda".
        name: Of the result.
    """
    settings, seed = Settings(**config["train"]), config["seed"]
    torch.manual_seed(seed)
    torch.set_float32_matmul_precision("high")
    family = family_of(settings.family, work)
    packs = [folder for folder in (work / "pack", work / "people") if folder.is_dir()]
    corpus = Corpus(packs, family.pieces, device, seed)
    network = family.build(settings.rank, settings.stretch)
    if settings.start:
        first = load_delta(work / settings.start)
        for layer, own in network.tuned_layers.items():
            own.start_from(*(torch.from_numpy(values) for values in first[layer]))
    network = network.to(device).eval()
    if settings.doubtful:
        left_out = corpus.leave_out(settings.doubtful, lambda clips: losses_of(network, corpus, clips))
        print(name, "left out", sorted(corpus.lines[index].text for index in left_out), flush=True)
    averaged = copy.deepcopy(network)
    learned = [parameter for parameter in network.parameters() if parameter.requires_grad]
    optimizer = torch.optim.AdamW(learned, lr=settings.rate, betas=(0.9, 0.98), weight_decay=0.0)
    history: list[dict[str, Any]] = [{"step": 0, "held back": measure(network, corpus)}]
    began, losses = time.perf_counter(), []
    batches = corpus.batches(settings.batch, Shares(**settings.shares), Chances(**settings.room))
    for step, batch in zip(range(1, settings.steps + 1), batches, strict=False):
        for group in optimizer.param_groups:
            group["lr"] = settings.rate * _pace(step, settings)
        with torch.autocast(device, torch.bfloat16, enabled=settings.half):
            out = written(network, batch)
        loss = functional.cross_entropy(
            out.transpose(1, 2), batch.after, ignore_index=IGNORED, label_smoothing=settings.smoothing
        )
        pull = torch.stack([layer.pull() for layer in network.tuned_layers.values()]).sum()
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
            layers = averaged.tuned_layers
            save_delta(work / f"{name}.npz", family.places(layers), layers)
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
