"""Which weights hear which graph, as was measured to be better."""

import tomllib
from importlib.resources import files

from handsfree.errors import ModelError
from handsfree.model.graph import WordGraph
from handsfree.recognition.look_ahead import STOP_TAGS
from handsfree.understanding.heat_words import CRY_TAG

KINDS = ("stop", "cries", "spelled", "figures", "words")
"""Kinds of graphs in `weights.toml`; the first that fits counts."""
WEIGHTS = ("base", "tuned", "both", "three")


def kind_of(graph: WordGraph) -> str:
    """What may be said in a graph, one of `KINDS`."""
    tags = {tag for arc in graph.arcs for tag in arc.tags}
    if tags and tags <= STOP_TAGS:
        return "stop"
    if CRY_TAG in tags:
        return "cries"
    kinds = {tag.partition(":")[0] for tag in tags}
    if "letter" in kinds:
        return "spelled"
    return "figures" if kinds & {"digit", "teen", "tens"} else "words"


def choice() -> dict[str, str]:
    """Which weights each kind of graph is heard with, one of `WEIGHTS`.

    Raises:
        ModelError: The list is damaged.
    """
    text = files("handsfree.recognition").joinpath("weights.toml").read_text(encoding="utf-8")
    use = tomllib.loads(text).get("use", {})
    if set(use) != set(KINDS) or not set(use.values()) <= set(WEIGHTS):
        raise ModelError(f"weights.toml: [use] must name {', '.join(KINDS)}, each one of {', '.join(WEIGHTS)}")
    return {kind: str(name) for kind, name in use.items()}
