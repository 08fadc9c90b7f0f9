"""Figures that a command works out: the same for programs and for people."""

from collections.abc import Mapping
from dataclasses import dataclass

from handsfree.model.effects import Json


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures with their cautions.

    Attributes:
        data: For programs, JSON-ready.
        lines: For people; each caution is a line that says so.
    """

    data: Mapping[str, Json]
    lines: tuple[str, ...]
