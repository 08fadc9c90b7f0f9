"""What weights of another family make of a text."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Opinion:
    """How likely a text is.

    Attributes:
        logprob: Natural-log probability of its text, the end included.
        gap: How much less likely its pieces are than the likeliest in each place, nats.
        end_gap: The share of it where the text ends.
    """

    logprob: float
    gap: float
    end_gap: float
