"""The two ways in which one procedure is worked through."""

from enum import StrEnum


class Working(StrEnum):
    """Who leads: the tool, which asks step by step, or the person, who says what there is to say as it comes."""

    GUIDED = "guided"
    NARRATED = "narrated"
