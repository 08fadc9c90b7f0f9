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


def paced(text: str, rate_wpm: int = PROMPT_WPM) -> tuple[tuple[str, int], ...]:
    """Cut a prompt into sentences, each with its rate in words a minute.

    Args:
        text: The prompt.
        rate_wpm: Rate of a sentence without a number; one with a number is slower in proportion.
    """
    sentences = [sentence for sentence in _SENTENCE_END.split(text.strip()) if sentence]
    slower = round(rate_wpm * NUMBER_WPM / PROMPT_WPM)
    return tuple((sentence, slower if _NUMBER.search(sentence) else rate_wpm) for sentence in sentences)
