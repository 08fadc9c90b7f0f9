"""What the steps of a procedure and their fields are called, where one is named among others. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class StepNames:
    """Names in the words of a procedure file; without them the file's own identifiers, as words.

    Attributes:
        steps: By step; of one that is repeated by its number too, "bolt@3".
        labels: By step and field, "circulation.refill".
        alone: The fields, as "step.field", whose label tells by itself what is meant.
    """

    steps: Mapping[str, str] = field(default_factory=dict)
    labels: Mapping[str, str] = field(default_factory=dict)
    alone: frozenset[str] = frozenset()

    def stage(self, stage: str) -> str:
        """A stage as a record names it: "step", "step@left", "step@3"."""
        step, _, part = stage.partition("@")
        if part.isdecimal():
            return self.steps.get(stage) or f"{_plain(step)} {part}"
        return f"{self.steps.get(step) or _plain(step)}{f', {part}' if part else ''}"

    def reading(self, stage: str, field_id: str) -> str:
        """A field of a stage."""
        part, label = stage.partition("@")[2], self.label(stage, field_id)
        if self.is_alone(stage, field_id):
            return f"{label}, {part}" if part else label
        return f"{self.stage(stage)}: {label}"

    def label(self, stage: str, field_id: str) -> str:
        """What a field is called; "" where there is none."""
        return self.labels.get(_named(stage, field_id)) or _plain(field_id)

    def is_alone(self, stage: str, field_id: str) -> bool:
        """Whether the label of a field tells by itself what is meant."""
        return _named(stage, field_id) in self.alone


def _named(stage: str, field_id: str) -> str:
    return f"{stage.partition('@')[0]}.{field_id}"


def _plain(identifier: str) -> str:
    return identifier.replace("_", " ")


NO_NAMES = StepNames()
"""Where no procedure is at hand."""
