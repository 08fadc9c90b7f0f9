"""Whether two paths through a graph mean the same, so that "fourteen" and "one four" do not count as rivals."""

from itertools import groupby


def same_meaning_key(tags: tuple[str, ...]) -> tuple[str, ...]:
    """Tags with plain numbers spelled as digits: equal keys, equal meaning.

    A run of number tags that can be read in more than one way ("one eighty") stays as it is, since it means a question.
    Only in a date is it read in turn: "twenty twenty seven" is the year 2027.
    """
    result: list[str] = []
    is_date = any(tag.startswith("month:") for tag in tags)
    said = [tag for before, tag in zip(("", *tags), tags, strict=False) if (before, tag) != ("hundred", "and")]
    for numeric, run in groupby(said, key=_is_number):
        part = tuple(run)
        result += ((_in_turn(part) if is_date else _digits(part)) or part) if numeric else part
    return tuple(result)


def _is_number(tag: str) -> bool:
    return tag == "hundred" or tag.startswith(("digit:", "teen:", "tens:"))


def _in_turn(run: tuple[str, ...]) -> tuple[str, ...] | None:
    """Digits one after the other; a digit after tens takes the place of their zero."""
    text = ""
    after_tens = False
    for tag in run:
        kind, _, value = tag.partition(":")
        if not value:
            return None
        text = text[:-1] + value if after_tens and kind == "digit" and value != "0" else text + value
        after_tens = kind == "tens"
    return _tagged(text)


def _digits(run: tuple[str, ...]) -> tuple[str, ...] | None:
    kinds = [tag.partition(":")[0] for tag in run]
    values = [tag.partition(":")[2] for tag in run]
    if all(kind == "digit" for kind in kinds):
        return run
    if kinds[:2] == ["digit", "hundred"]:
        rest = "00" if len(run) == 2 else _below_hundred(kinds[2:], values[2:])
        return None if rest is None else _tagged(values[0] + rest)
    number = _below_hundred(kinds, values)
    return None if number is None else _tagged(number)


def _below_hundred(kinds: list[str], values: list[str]) -> str | None:
    match kinds:
        case ["digit"]:
            return "0" + values[0]
        case ["teen"] | ["tens"]:
            return values[0]
        case ["tens", "digit"] if values[1] != "0":
            return values[0][0] + values[1]
        case _:
            return None


def _tagged(digits: str) -> tuple[str, ...]:
    return tuple(f"digit:{digit}" for digit in digits)
