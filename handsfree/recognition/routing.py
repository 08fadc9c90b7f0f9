"""Which weights hear which graph, as was measured to be better."""

import tomllib
from importlib.resources import files

from handsfree.errors import ModelError
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import Engine
from handsfree.recognition.look_ahead import STOP_TAGS

KINDS = ("stop", "spelled", "figures", "words")
"""Kinds of graphs in `weights.toml`; the first that fits counts."""
WEIGHTS = ("base", "tuned", "both")


def kind_of(graph: WordGraph) -> str:
    """What may be said in a graph, one of `KINDS`."""
    tags = {tag for arc in graph.arcs for tag in arc.tags}
    if tags and tags <= STOP_TAGS:
        return "stop"
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


class RoutingEngine:
    """An engine that hears each graph with the weights chosen for its kind.

    Args:
        engines: By the names in `WEIGHTS`. "base" also writes notes down.
        use: By kind of graph, from `choice`.
    """

    def __init__(self, engines: dict[str, Engine], use: dict[str, str]) -> None:
        self._engines = engines
        self._use = use
        self._chosen: dict[str, Engine] = {}

    @property
    def name(self) -> str:
        """See `Engine.name`."""
        return self._engines["base"].name

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""
        self._for(graph).prepare(graph)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """See `Engine.recognise`."""
        return self._for(graph).recognise(segment, graph)

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        return self._engines["base"].write_down(pcm)

    def _for(self, graph: WordGraph) -> Engine:
        if graph.key not in self._chosen:
            self._chosen[graph.key] = self._engines[self._use[kind_of(graph)]]
        return self._chosen[graph.key]
