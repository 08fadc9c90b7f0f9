"""What a check has to say about a procedure, each with the place and what would be right."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from handsfree.definition.source_lines import Origin
from handsfree.model.effects import Json


class FindingLevel(StrEnum):
    """How grave a finding is: an error must be put right, a warning wants a look, a note is for information."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    Attributes:
        level: How grave.
        code: Which check found it, for programs.
        file: File.
        line: Line, from 1.
        path: What it is about, for example "steps.3.fields.0".
        text: What is wrong.
        advice: What would be right; empty where there is nothing to do.
    """

    level: FindingLevel
    code: str
    file: str
    line: int
    path: str
    text: str
    advice: str = ""

    @property
    def as_line(self) -> str:
        """file:line: level: path: text (advice)."""
        where = f"{self.path}: " if self.path else ""
        tail = f" ({self.advice})" if self.advice else ""
        return f"{self.file}:{self.line}: {self.level.value}: {where}{self.text}{tail}"

    @property
    def as_json(self) -> dict[str, Json]:
        """For programs."""
        return {
            "level": self.level.value,
            "code": self.code,
            "file": self.file,
            "line": self.line,
            "path": self.path,
            "text": self.text,
            "advice": self.advice,
        }


def finding_at(origin: Origin, level: FindingLevel, code: str, text: str, advice: str = "") -> Finding:
    """A finding at a place of a file."""
    return Finding(level, code, origin.file, origin.line, ".".join(map(str, origin.path)), text, advice)


def counted(found: Sequence[Finding], *, with_notes: bool) -> str:
    """How many findings of each level there are, in words; says so where notes are not shown."""
    counts = {level: sum(finding.level is level for finding in found) for level in FindingLevel}
    parts = [f"{count} {level.value}{'' if count == 1 else 's'}" for level, count in counts.items()]
    hidden = " (--notes shows them)" if counts[FindingLevel.NOTE] and not with_notes else ""
    return f"{', '.join(parts)}{hidden}"
