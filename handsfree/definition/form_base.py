"""What all file forms are made of: names, versions, words to be said and heard."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Identifier = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
"""A name that goes into the record: small letters, digits, underscores: "pain_before"."""
FileId = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$", max_length=60)]
"""Name of a file, without its ending: small letters, digits, hyphens: "dressing-change"."""
Version = Annotated[str, Field(pattern=r"^\d+\.\d+\.\d+$")]
"""Three numbers, in quotes: "0.1.0"."""
Phrase = Annotated[str, Field(pattern=r"^[a-z][a-z' -]*$")]
"""Words that people say, in small letters: "hand therapist"."""
Phrases = Annotated[tuple[Phrase, ...], Field(min_length=1)]
"""Ways to say one thing; the first is the one that is read back."""
Spoken = Annotated[str, Field(min_length=1, max_length=160)]
"""Words that the tool says."""
SentenceCode = Annotated[str, Field(pattern=r"^[a-z_]+\.[a-z_]+$")]
"""A sentence of the tool itself, as the catalogue of `handsfree.session.prompts` names it: "fixed.waiting"."""
STOP_WORDS = frozenset({"stop", "hot", "pain", "painful", "hurts"})
"""Words that act at once whoever says them; no phrase of a file may hold one."""
STOP_PHRASES = frozenset({"light off"})
"""Longer commands that act at once."""


class Strict(BaseModel):
    """Refuses unknown keys and silent conversions; frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)
