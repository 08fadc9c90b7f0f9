"""Accept, ask or ignore: how sure is sure enough, by what a mistake would cost.

A false stop costs seconds and a missed stop costs skin, so stop words are accepted on weak evidence. A wrong reading is
caught by its read-back only if somebody listens, so readings are accepted on strong evidence only.

The probability is a product of two logistic functions of the evidence: that the speech was one of the sentences that
are listened for at all, and that it was this one among them. Both are fitted on recordings by
`scripts/fit_acceptance.py`; their weights, and where they come from, are in `acceptance.toml`, for each engine, because
engines have scales of their own.
"""

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from importlib.resources import files

from handsfree.model.commands import STOP_CONTROLS, Command, Control, ControlCommand, DictateText, GiveValues, Wanted
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.model.readings import Absent, Option
from handsfree.understanding.speaking_rate import pace, syllables

INSIDE = ("certainty", "gap", "far_gap", "second_gap", "second_far_gap", "third_gap")
WHICH = (
    "certainty", "margin", "gap", "second_gap", "second_end", "third_margin", "third_gap", "third_end", "pace", "quiet",
)  # fmt: skip
"""What either probability can be made of; each is better the larger it is, so that no weight may be negative. An engine
has weights for those that it gives."""
QUIET_DB = 20.0
"""Level of speech over the noise from which more makes nothing surer."""
_DEFAULT_ENGINE = "neural"


class DecisionOutcome(StrEnum):
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

    outcome: DecisionOutcome
    probability: float


@lru_cache(maxsize=1)
def _parameters() -> tuple[dict[str, dict[str, float]], dict[str, dict[str, dict[str, float]]]]:
    """Least probabilities of each kind, and weights of each engine."""
    parsed = tomllib.loads(files("handsfree.understanding").joinpath("acceptance.toml").read_text(encoding="utf-8"))
    return parsed["least"], parsed["engine"]


def decide(hypothesis: Hypothesis, command: Command, wanted: Wanted) -> Decision:
    """Decide on one utterance.

    Args:
        hypothesis: What was heard; typed lines carry no evidence and are accepted.
        command: Its meaning, from `interpret`.
        wanted: What is legal now; a control that is not is ignored.
    """
    if isinstance(command, ControlCommand) and command.control not in wanted.all_controls:
        return Decision(DecisionOutcome.IGNORE, 0.0)
    if hypothesis.evidence is None:
        return Decision(DecisionOutcome.ACCEPT, 1.0)
    probability = probability_right(hypothesis)
    least = _parameters()[0][kind_of(command)]
    if probability >= least["accept"] and not hypothesis.is_part:
        return Decision(DecisionOutcome.ACCEPT, probability)
    return Decision(DecisionOutcome.ASK if probability >= least["ask"] else DecisionOutcome.IGNORE, probability)


def least_for_cry() -> float:
    """Least probability of words of heat or pain from which they may be a cry, where cries count."""
    return _parameters()[0]["cry"]["ask"]


def least_for_stop() -> float:
    """Least probability from which a stop word is taken."""
    return _parameters()[0]["stop"]["accept"]


def least_heat() -> float:
    """Least probability of a word of heat or pain anywhere in what was said from which it may be a cry."""
    return _parameters()[0]["cry"]["heat"]


def bears_out_cry(probability: float, heat: float, *, whole: bool) -> bool:
    """Whether words of heat or pain that were matched may be a cry where others were looked for all over the text.

    Args:
        probability: That what was matched was said.
        heat: Of a word of heat or pain anywhere.
        whole: Whether what was matched may be all that was said.
    """
    least = _parameters()[0]["cry"]
    if heat >= least["trace"]:
        return probability >= least["ask_with_a_trace"]
    return whole and probability >= least["ask_without"]


def kind_of(command: Command) -> str:
    """By what a mistake costs.

    "stop" and "cry" cost seconds, "navigation" a step back, "answer" (one of a list) a wrong finding that its read-back
    shows, "reading" (a number, code or date, or whatever names a side) a wrong record that sounds right, "text" none.
    """
    if isinstance(command, ControlCommand):
        if command.control is Control.CRY:
            return "cry"
        return "stop" if command.control in STOP_CONTROLS else "navigation"
    if isinstance(command, DictateText):
        return "text"
    values = command.values if isinstance(command, GiveValues) else ()
    listed = values and all(item.side is None and isinstance(item.value, Option | Absent) for item in values)
    return "answer" if listed else "reading"


def features(words: Sequence[str], evidence: Evidence) -> dict[str, float]:
    """The evidence on even scales, by the names in `INSIDE` and `WHICH`; each kept within what recordings show.

    Args:
        words: What was heard; at least one.
        evidence: How sure the engine is.
    """
    # A long sentence that nobody would write ("ulnar strong") has a wide gap and is right all the same.
    length = sum(syllables(word) for word in words)
    gap, second_gap = evidence.free_gap / length, (evidence.second_free_gap or 0.0) / length
    # An unknown ratio is one without sound before the speech, as at the beginning of a recording.
    ratio_db = QUIET_DB if evidence.signal_to_noise_db is None else evidence.signal_to_noise_db
    return {
        "certainty": _within(evidence.average_logprob, -5.0, 0.0),
        "gap": -_within(gap, 0.0, 3.0),
        "far_gap": -_within(gap - 3.0, 0.0, 6.0),
        "second_gap": -_within(second_gap, 0.0, 3.0),
        "second_end": -_within(evidence.second_end_gap or 0.0, 0.0, 6.0) / 2,
        "second_far_gap": -_within(second_gap - 3.0, 0.0, 6.0),
        "third_margin": _within(evidence.third_margin or 0.0, -6.0, 6.0) / 2,
        "third_gap": -_within((evidence.third_gap or 0.0) / len(words), 0.0, 3.0),
        "third_end": -_within(evidence.third_end_gap or 0.0, 0.0, 6.0) / 2,
        "margin": _within(evidence.margin, 0.0, 4.0) / 2,
        "quiet": -_within(QUIET_DB - ratio_db, 0.0, 15.0) / 5,
        "pace": -_within(abs(pace(words, evidence.speech_s)) - 0.3, 0.0, 1.5) * 2,
    }


def probability_right(hypothesis: Hypothesis) -> float:
    """Estimated probability that what was heard was said, 0 … 1; typed lines are taken at their word."""
    if hypothesis.evidence is None:
        return 1.0
    if not hypothesis.words:
        return 0.0
    engines = _parameters()[1]
    weights = engines.get(hypothesis.engine, engines[_DEFAULT_ENGINE])
    found = features(hypothesis.words, hypothesis.evidence)
    return _logistic(weights["inside"], found) * _logistic(weights["which"], found)


def _logistic(weights: dict[str, float], found: dict[str, float]) -> float:
    odds = sum(weight * found.get(name, 1.0) for name, weight in weights.items())
    return 1.0 / (1.0 + math.exp(-_within(odds, -30.0, 30.0)))


def _within(value: float, low: float, high: float) -> float:
    return min(high, max(low, value))
