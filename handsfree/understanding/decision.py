"""Accept, ask or ignore: how sure is sure enough, by what a mistake would cost.

A false stop costs seconds and a missed stop costs skin, so stop words are accepted on weak evidence. A wrong reading is
caught by its read-back only if somebody listens, so readings are accepted on strong evidence only.
"""

import math
import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from importlib.resources import files

from handsfree.model.commands import STOP_CONTROLS, Command, ControlCommand, DictateText, Wanted
from handsfree.model.hypotheses import Evidence, Hypothesis


class Outcome(StrEnum):
    """What to do with an utterance."""

    ACCEPT = "accept"
    ASK = "ask"
    IGNORE = "ignore"


@dataclass(frozen=True, slots=True)
class Decision:
    """The outcome for one utterance.

    Attributes:
        outcome: What to do.
        probability: Estimated probability that the meaning is right, 0 … 1.
    """

    outcome: Outcome
    probability: float


@lru_cache(maxsize=1)
def _parameters() -> dict[str, dict[str, float]]:
    text = files("handsfree.understanding").joinpath("decision.toml").read_text(encoding="utf-8")
    return {name: table for name, table in tomllib.loads(text).items() if isinstance(table, dict)}


def decide(hypothesis: Hypothesis, command: Command, wanted: Wanted) -> Decision:
    """Decide on one utterance.

    Args:
        hypothesis: What was heard; typed lines carry no evidence and are accepted.
        command: Its meaning, from `interpret`.
        wanted: What is legal now; a control that is not is ignored.
    """
    if isinstance(command, ControlCommand) and command.control not in wanted.all_controls:
        return Decision(Outcome.IGNORE, 0.0)
    if hypothesis.evidence is None:
        return Decision(Outcome.ACCEPT, 1.0)
    probability = probability_right(hypothesis.evidence)
    least = _parameters()[_kind(command)]
    if probability >= least["accept"]:
        return Decision(Outcome.ACCEPT, probability)
    return Decision(Outcome.ASK if probability >= least["ask"] else Outcome.IGNORE, probability)


def _kind(command: Command) -> str:
    match command:
        case ControlCommand(control=control):
            return "stop" if control in STOP_CONTROLS else "navigation"
        case DictateText():
            return "text"
        case _:
            return "value"


def probability_right(evidence: Evidence) -> float:
    """Estimated probability that what was heard was said, 0 … 1.

    Each feature adds to or takes from the log odds by its distance from its gate; a feature far on the good side does
    not make up for one on the bad side: the worst one decides.
    """
    gates, curve = _parameters()["gates"], _parameters()["logistic"]
    steps = (
        (evidence.average_logprob - gates["average_logprob_at_least"]) / curve["average_logprob_step"],
        (gates["free_gap_at_most"] - evidence.free_gap) / curve["free_gap_step"],
        (evidence.margin - gates["margin_at_least"]) / curve["margin_step"],
    )
    most = curve["most_log_odds"]
    return 1.0 / (1.0 + math.exp(-max(-most, min(most, *steps))))
