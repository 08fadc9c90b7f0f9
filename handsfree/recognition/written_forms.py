"""How somebody else would write a sentence down: a judge from another family has habits of its own.

The search spells most words out ("One, seven, five."); the third weights write figures, with or without commas, or run
together ("1, 7, 5", "175"). What speaks for any of these speaks for the sentence.
"""

from collections.abc import Sequence

from handsfree.recognition.lexicon import MAY_END, After, joined_forms, spaced_forms

_FIGURES = frozenset({After.DIGIT, After.NUMBER})
_APART = (", ", "")
"""What stands between figures that are said one by one."""
END_SIGN = "."


def written_forms(words: Sequence[str]) -> tuple[str, ...]:
    """The likeliest ways to write words, without a sign at the end; several only where numbers are said."""
    forms = [_written(words, apart) for apart in _APART]
    found = [form for form in forms if any(sign.isdigit() for sign in form)]
    return tuple(dict.fromkeys(found)) or (_sentence(" ".join(words)),)


def _written(words: Sequence[str], apart: str) -> str:
    """Figures for numbers, the shortest text in which they can be meant so.

    Args:
        words: What was said.
        apart: What stands between figures; "" runs them together.
    """
    texts = {After.START: ""}
    for word in words:
        following: dict[After, str] = {}
        for before, text in texts.items():
            for form in joined_forms(word, before):
                if not apart or before not in _FIGURES or not form.text.isdigit() or word == "hundred":
                    _keep(following, form.after, text + form.text)
            for form in spaced_forms(word, before):
                between = (apart or " ") if before in _FIGURES and form.text.isdigit() else " "
                _keep(following, form.after, text + (between if text else "") + form.text)
        texts = following
    whole = [text for after, text in texts.items() if after in MAY_END]
    return _sentence(min(whole, key=len, default=" ".join(words)))


def _keep(texts: dict[After, str], after: After, text: str) -> None:
    """Figures before letters, then the shorter."""
    known = texts.get(after)
    if known is None or _letters(text) < _letters(known):
        texts[after] = text


def _letters(text: str) -> tuple[int, int]:
    return sum(sign.isalpha() for sign in text), len(text)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
