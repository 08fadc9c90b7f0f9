"""Several sets of weights hear one utterance: one searches, the others judge the candidates.

Neither is right alone: the tuned weights hear more in noise but take other talk for commands, and the base knows
ordinary speech but hears less. Where both find the same text likely it is seldom wrong. Both are of one family and
share some mistakes; weights of another family are asked too.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.recognition.candidates import Candidate, Ranked
from handsfree.recognition.opinion import Opinion

RIVALS = 3
RIVAL_NATS = 4.0
"""At most so many meanings are judged, and none that is this much less likely than the likeliest."""
JUDGE_SHARE = 0.4
"""Weight of the judge's log-probability of a text in its score; the rest is the searcher's."""
THIRD_SHARE = 0.6
"""What the log-probability of the third weights counts, beside the pooled score of the two: of utterances of people and
voices, quiet and in noise, 2,419, 2,455, 2,461 and 2,463 came first right at shares of 0, 0.3, 0.6 and 1."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one set of weights makes of a text.

    Attributes:
        logprob: Natural-log probability of the text.
        gap: How much less likely its pieces are than the likeliest in each place, nats; 0 for what these weights would
            have written themselves.
        end_gap: The share of it where the text ends: large where they would have gone on.
    """

    logprob: float
    gap: float
    end_gap: float


def to_judge(ranked: Ranked) -> list[Candidate]:
    """The candidates that a judge is asked about; the first of all is always one of them."""
    best = ranked[0][1]
    return [candidate for candidate, score in ranked[:RIVALS] if score > best - RIVAL_NATS]


def rescored(ranked: Ranked, asked: Sequence[Candidate], judgements: Sequence[Judgement]) -> Ranked:
    """The candidates ranked anew by what the judge makes of them.

    Args:
        ranked: By the searcher.
        asked: What was judged, from `to_judge`.
        judgements: Of each of them.
    """
    judged = {candidate.tokens: one for candidate, one in zip(asked, judgements, strict=True)}
    first = ranked[0][0]
    # What is not judged is taken to be as much likelier or less likely to the judge as the first.
    unjudged = judged[first.tokens].logprob - first.logprob
    result = [
        (candidate, score + JUDGE_SHARE * (one.logprob - candidate.logprob if one is not None else unjudged))
        for candidate, score, one in ((candidate, score, judged.get(candidate.tokens)) for candidate, score in ranked)
    ]
    result.sort(key=lambda item: item[1], reverse=True)
    return result


def with_third(ranked: Ranked, asked: Sequence[Candidate], opinions: Sequence[Opinion]) -> Ranked:
    """The candidates ranked anew by what the third weights make of some of them.

    Args:
        ranked: By the two others.
        asked: What was judged; the first of all among it.
        opinions: Of each of them.
    """
    judged = {candidate.tokens: one.logprob for candidate, one in zip(asked, opinions, strict=True)}
    # What is not judged stays as far behind the first as it was.
    of_first = judged[ranked[0][0].tokens]
    result = [(text, score + THIRD_SHARE * judged.get(text.tokens, of_first)) for text, score in ranked]
    result.sort(key=lambda item: item[1], reverse=True)
    return result
