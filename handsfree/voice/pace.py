"""How fast each sentence of a prompt is spoken.

150 words a minute for prompts, and slower where a number must be kept in mind; common practice, no source for the
second figure.
"""

import re

PROMPT_WPM = 150
NUMBER_WPM = 125

_SENTENCE_END = re.compile(r"(?<=[.!?])\s+")
_NUMBER = re.compile(
    r"\d|\b(zero|one|two|three|four|five|six|seven|eight|nine|niner|ten|eleven|twelve|\w+teen|twenty|thirty|forty|fifty"
    r"|sixty|seventy|eighty|ninety|hundred|thousand|point)\b",
    re.IGNORECASE,
)


def paced(text: str) -> tuple[tuple[str, int], ...]:
    """Cut a prompt into sentences, each with its rate in words a minute."""
    sentences = [sentence for sentence in _SENTENCE_END.split(text.strip()) if sentence]
    return tuple((sentence, NUMBER_WPM if _NUMBER.search(sentence) else PROMPT_WPM) for sentence in sentences)
