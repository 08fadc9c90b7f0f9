"""Makes tuned weights: sentences, speech, training, the file that is shipped. One command, a configuration, a seed.

The work folder holds what the stages pass on: `sentences.csv`, `pack/` (synthetic speech), `people/` (real people and
rooms), `base.npz` (weights to start from), `delta.npz` (the result). The stages `speech`, `people` and `train` need
nothing of the product beyond plain modules, so that they can run on another machine: the first two need numpy,
soundfile, soxr and the voices, `train` PyTorch and transformers.

Use: python scripts/train/run.py CONFIG --work FOLDER [--speech FOLDER] [--stage sentences speech people base train]
"""

import argparse
import sys
import tomllib
from collections.abc import Iterable
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from clips import Said

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]
STAGES = ("sentences", "speech", "people", "base", "train")


def draw_sentences(options: argparse.Namespace, config: dict[str, Any]) -> None:
    """Draw what is said."""
    from said import save_sentences
    from sentences import classes, sentences

    found = sentences(config["data"]["sentences"], config["data"]["shares"], config["seed"])
    print("sentences", dict(classes(found)), flush=True)
    save_sentences(found, options.work / "sentences.csv")


def make_speech(options: argparse.Namespace, config: dict[str, Any]) -> None:
    """Render and pack the synthetic speech."""
    from clips import VoiceShare, rendered
    from said import load_sentences

    data = config["data"]
    voices = [VoiceShare(*voice, use=use.replace("_", " ")) for use, those in data["voices"].items() for voice in those]
    found = load_sentences(options.work / "sentences.csv")
    _pack(((said, 0) for said in rendered(found, voices, config["seed"], options.jobs)), options.work / "pack")


def pack_people(options: argparse.Namespace, config: dict[str, Any]) -> None:
    """Pack the recordings, and strings of digits of people who are held back."""
    from clips import recorded, strings

    if options.speech is None:
        return
    people = list(recorded(HERE / "real_clips.csv", options.speech))
    measured = [said for said in people if said.kind == "digits" and said.use == "held back"]
    joined = strings(measured, config["data"]["joined_digits"], config["seed"])
    _pack(((said, 1) for said in chain(people, joined)), options.work / "people")


def _pack(clips: "Iterable[tuple[Said, int]]", into: Path) -> None:
    from clips import SAMPLE_RATE_HZ, pack

    lines = pack(clips, into)
    size = sum(path.stat().st_size for path in into.iterdir())
    seconds = sum(line.samples for line in lines) / SAMPLE_RATE_HZ
    print(f"{into.name}: {len(lines)} clips, {seconds:.0f} s of sound, {size / 1e6:.1f} MB", flush=True)


def make_base(options: argparse.Namespace, config: dict[str, Any]) -> None:
    """Read the pinned weights; of the third ones what the speech that was made needs."""
    from base import read_base, save_base

    from handsfree.recognition.models import locate

    if config["train"].get("family") == "third":
        from third_base import TABLE, save_third, texts_of

        folder = options.untrained
        packs = [pack for pack in (options.work / "pack", options.work / "people") if pack.is_dir()]
        save_third(folder, texts_of(packs), options.work / "third.npz")
        (options.work / TABLE).write_bytes((folder / TABLE).read_bytes())
        return
    folder = locate()
    save_base(read_base(folder), options.work / "base.npz")
    (options.work / "tokenizer.bin").write_bytes((folder / "tokenizer.bin").read_bytes())


def make_delta(options: argparse.Namespace, config: dict[str, Any]) -> None:
    """Train."""
    from training import train

    train(options.work, config, options.device, options.name)


STEPS = dict(zip(STAGES, (draw_sentences, make_speech, pack_people, make_base, make_delta), strict=True))


def main() -> int:
    """Run the stages asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("config", type=Path)
    parser.add_argument("--work", type=Path, required=True, help="folder for everything that is made")
    parser.add_argument(
        "--speech", type=Path, help="folder of the recordings in real_clips.csv; without: synthetic only"
    )
    parser.add_argument("--stage", nargs="+", choices=STAGES, default=STAGES)
    parser.add_argument(
        "--untrained", type=Path, help="folder of the third weights as their package holds them, for the stage base"
    )
    parser.add_argument("--jobs", type=int, default=2, help="processes that speak")
    parser.add_argument("--device", default="cpu", help="cpu or cuda")
    parser.add_argument("--name", default="delta", help="name of the result")
    parser.add_argument("--seed", type=int, help="instead of the configuration's")
    parser.add_argument("--set", nargs="*", default=[], metavar="KEY=VALUE", help="instead of a key of [train]")
    options = parser.parse_args()
    config = tomllib.loads(options.config.read_text(encoding="utf-8"))
    if options.seed is not None:
        config["seed"] = options.seed
    for setting in options.set:
        for key, value in tomllib.loads(setting).items():
            own = config["train"]
            own[key] = {**own[key], **value} if isinstance(value, dict) else value
    options.work.mkdir(parents=True, exist_ok=True)
    for stage in options.stage:
        STEPS[stage](options, config)
    return 0


if __name__ == "__main__":
    sys.exit(main())
