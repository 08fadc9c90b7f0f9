"""Two sets of weights for the neural engine, each used where it was measured to be the better one."""

import tomllib
from dataclasses import replace
from importlib.resources import files

from handsfree.errors import ModelError
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import Engine

KINDS = ("spelled", "figures", "words")
"""Kinds of graphs in `weights.toml`; the first that fits counts."""
_LETTER = "letter:"


def kind_of(graph: WordGraph) -> str:
    """What may be said in a graph, one of `KINDS`."""
    tags = {tag.partition(":")[0] for arc in graph.arcs for tag in arc.tags}
    if "letter" in tags:
        return "spelled"
    return "figures" if tags & {"digit", "teen", "tens"} else "words"


def choice() -> dict[str, str]:
    """Which weights each kind of graph is heard with: "base" or "tuned".

    Raises:
        ModelError: The list is damaged.
    """
    text = files("handsfree.recognition").joinpath("weights.toml").read_text(encoding="utf-8")
    use = tomllib.loads(text).get("use", {})
    if set(use) != set(KINDS) or not set(use.values()) <= {"base", "tuned"}:
        raise ModelError(f'weights.toml: [use] must name {", ".join(KINDS)}, each "base" or "tuned"')
    return {kind: str(name) for kind, name in use.items()}


class WeightPair:
    """An engine that hears each graph with the weights chosen for its kind.

    Args:
        base: Writes notes down, and hears what is not chosen for `tuned`.
        tuned: The other one. Where codes may be spelled it is believed only if it heard a letter; whatever else it
            heard, a command or figures alone, the base hears again: other talk becomes "stop" less often.
        use: By kind of graph, from `choice`.
    """

    def __init__(self, base: Engine, tuned: Engine, use: dict[str, str]) -> None:
        self._engines = {"base": base, "tuned": tuned}
        self._use = use
        self._chosen: dict[str, Engine] = {}

    @property
    def name(self) -> str:
        """See `Engine.name`."""
        return self._engines["base"].name

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""
        for engine in {self._engines["base"], self._for(graph)}:
            engine.prepare(graph)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """See `Engine.recognise`."""
        base, engine = self._engines["base"], self._for(graph)
        heard = engine.recognise(segment, graph)
        if (
            engine is not base
            and kind_of(graph) == "spelled"
            and not any(tag.startswith(_LETTER) for tag in heard.tags)
        ):
            return base.recognise(segment, graph)
        # Text without a grammar is the base's: the tuned weights are worse at it.
        return heard if engine is base else replace(heard, free_text=None)

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        return self._engines["base"].write_down(pcm)

    def _for(self, graph: WordGraph) -> Engine:
        if graph.key not in self._chosen:
            self._chosen[graph.key] = self._engines[self._use[kind_of(graph)]]
        return self._chosen[graph.key]
