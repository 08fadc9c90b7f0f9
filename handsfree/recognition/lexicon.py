"""How a word may be written: "17.5 cm" where "seventeen point five centimeters" was said.

Every word has its spoken spelling and, for the words of numbers and units, written forms whose use depends on what was
written before them. `After` is what the text so far ends in; it decides what may follow with no blank between.
"""

from dataclasses import dataclass
from enum import Enum, auto
from functools import lru_cache


class After(Enum):
    """What the text ends in."""

    START = auto()
    WORD = auto()
    DIGIT = auto()
    """One digit, "7"."""
    NUMBER = auto()
    """A number of two digits or more, "17"."""
    TENS = auto()
    """The first digit of "21"; the second must follow."""
    HUNDRED = auto()
    """The "1" of "175" with "hundred" not written; two digits must follow."""
    HUNDRED_ZERO = auto()
    """The "10" of "105"; one digit must follow."""
    POINT = auto()
    """A decimal point; a digit must follow."""
    SIGN = auto()
    """A minus sign; a number must follow."""
    HALF = auto()
    """The point of "17.5" for "seventeen and a half"; the 5 must follow."""
    DEGREE = auto()
    """The degree sign."""


FREE = frozenset({After.START, After.WORD, After.DIGIT, After.NUMBER, After.DEGREE})
"""Where a blank may follow, and the next word after it."""
MAY_END = FREE - {After.START}
"""Where the text may end."""
_NUMERIC = frozenset({After.DIGIT, After.NUMBER})
_BEFORE_NUMBER = frozenset({After.DIGIT, After.NUMBER, After.POINT, After.SIGN})

# Of two readings of one text the cheaper is taken, so these costs only need to be in the right order: a number of
# two digits as one word, then single digits, then "hundred" left unwritten, then numbers run together.
_AS_NUMBER = 0.05
_DIGITS_JOINED = 0.1
_UNWRITTEN = 0.5
_RUN_TOGETHER = 0.6
_ZERO_ADDED = 0.2
_RARER_WORD = 0.01


@dataclass(frozen=True, slots=True)
class WrittenForm:
    """One way to write a word at one place.

    Attributes:
        text: Lower-case characters; "" if nothing is written for the word.
        after: What the text then ends in.
        cost: Order of preference among readings of the same text, 0 is best.
    """

    text: str
    after: After
    cost: float = 0.0


_DIGITS = {
    "zero": "0", "oh": "0", "one": "1", "two": "2", "three": "3", "tree": "3", "four": "4", "fower": "4", "five": "5",
    "fife": "5", "six": "6", "seven": "7", "eight": "8", "nine": "9", "niner": "9",
}  # fmt: skip
_RARE = frozenset({"oh", "tree", "fower", "fife", "niner", "decimal"})
_PRIORS = {"oh": -2.0, "tree": -2.0, "fower": -2.0, "fife": -2.0}
"""Natural log of how much rarer a way to say a digit is than the plain one. Set by hand on 200 readings of three digits
by real people (FSDD), of whom none says "oh", yet in which "four" and "zero" were taken for it."""
_TEENS = {
    "ten": "10", "eleven": "11", "twelve": "12", "thirteen": "13", "fourteen": "14", "fifteen": "15", "sixteen": "16",
    "seventeen": "17", "eighteen": "18", "nineteen": "19",
}  # fmt: skip
_TENS = {
    "twenty": "2", "thirty": "3", "forty": "4", "fifty": "5", "sixty": "6", "seventy": "7", "eighty": "8",
    "ninety": "9",
}  # fmt: skip
_UNITS = {
    "centimeter": "cm", "centimeters": "cm", "millimeter": "mm", "millimeters": "mm", "inch": "in", "inches": "in",
    "second": "sec", "seconds": "sec", "minute": "min", "minutes": "min", "percent": "%", "milliwatt": "mw",
    "milliwatts": "mw", "celsius": "c", "fahrenheit": "f", "kilogram": "kg", "kilograms": "kg", "gram": "g",
    "grams": "g", "milliliter": "ml", "milliliters": "ml", "pounds": "lbs",
}  # fmt: skip
_SPELLINGS = {
    "alfa": ("alpha",), "alpha": ("alfa",), "juliett": ("juliet", "juliette"), "juliet": ("juliett", "juliette"),
    "whiskey": ("whisky",), "xray": ("x-ray", "x ray"), "foxtrot": ("fox trot",), "oh": ("o",), "niner": ("9er",),
    "centimeter": ("centimetre",), "centimeters": ("centimetres",), "millimeter": ("millimetre",),
    "millimeters": ("millimetres",), "colour": ("color",), "color": ("colour",), "grey": ("gray",), "gray": ("grey",),
    "cannot": ("can not",), "okay": ("ok",), "half": ("1/2", "½"),
}  # fmt: skip


def word_prior(word: str) -> float:
    """Natural log of how often the word is said, relative to a plain one; at most 0."""
    return _PRIORS.get(word, 0.0)


def takes_two_digits(word: str) -> bool:
    """Whether the word is a number of two digits, so that its figures could as well be two words."""
    return word in _TEENS or word in _TENS


@lru_cache(maxsize=4096)
def spellings(word: str) -> tuple[str, ...]:
    """The word written out, and other spellings of it."""
    found = [word, *_SPELLINGS.get(word, ())]
    if "'" in word:
        found.append(word.replace("'", ""))
    if "-" in word:
        found += [word.replace("-", " "), word.replace("-", "")]
    return tuple(dict.fromkeys(found))


@lru_cache(maxsize=8192)
def spaced_forms(word: str, before: After) -> tuple[WrittenForm, ...]:
    """Forms that may begin a text or follow a blank."""
    if before not in FREE:
        return ()
    forms = [WrittenForm(text, After.WORD) for text in spellings(word)]
    if word in _DIGITS:
        forms.append(WrittenForm(_DIGITS[word], After.DIGIT, _rarity(word)))
    elif word in _TEENS:
        forms.append(WrittenForm(_TEENS[word], After.NUMBER, _AS_NUMBER))
    elif word in _TENS:
        forms += [
            WrittenForm(_TENS[word] + "0", After.NUMBER, _AS_NUMBER),
            WrittenForm(_TENS[word], After.TENS, _AS_NUMBER),
        ]
    elif word in ("point", "decimal"):
        forms += _points(word)
    elif word == "minus":
        forms += [WrittenForm(sign, After.SIGN) for sign in "-–−"]
    elif word in _UNITS:
        forms.append(WrittenForm(_UNITS[word], After.WORD))
    if word in ("degree", "degrees"):
        forms.append(WrittenForm("°", After.DEGREE))
    return tuple(forms)


@lru_cache(maxsize=8192)
def joined_forms(word: str, before: After) -> tuple[WrittenForm, ...]:
    """Forms that follow what was written with no blank between."""
    if word in _DIGITS:
        return _joined_digit(_DIGITS[word], before, _rarity(word))
    if word in _TEENS:
        return tuple(WrittenForm(_TEENS[word], After.NUMBER, cost) for cost in _joined_number(before))
    if word in _TENS:
        ten = _TENS[word]
        return tuple(
            form
            for cost in _joined_number(before)
            for form in (WrittenForm(ten + "0", After.NUMBER, cost), WrittenForm(ten, After.TENS, cost))
        )
    if before in _NUMERIC:
        return _joined_to_number(word, before)
    return _joined_inside(word, before)


def _rarity(word: str) -> float:
    """A cost for words that are said less often than the plain word written the same."""
    return _RARER_WORD if word in _RARE else 0.0


def _points(word: str) -> tuple[WrittenForm, ...]:
    """A decimal point with no whole part before it, as said or with the zero that writers add."""
    return WrittenForm(".", After.POINT, _rarity(word)), WrittenForm("0.", After.POINT, _rarity(word) + _ZERO_ADDED)


def _joined_digit(digit: str, before: After, rarity: float) -> tuple[WrittenForm, ...]:
    if before in (After.TENS, After.HUNDRED_ZERO):
        return (WrittenForm(digit, After.NUMBER, rarity),) if digit != "0" else ()
    if before in (After.POINT, After.SIGN):
        return (WrittenForm(digit, After.DIGIT, rarity),)
    if before is After.DIGIT:
        return (WrittenForm(digit, After.DIGIT, rarity + _DIGITS_JOINED),)
    return (WrittenForm(digit, After.DIGIT, rarity + _RUN_TOGETHER),) if before is After.NUMBER else ()


def _joined_number(before: After) -> tuple[float, ...]:
    """The cost of a number of two digits here; empty where there can be none."""
    if before is After.HUNDRED:
        return (0.0,)
    if before is After.SIGN:
        return (_AS_NUMBER,)
    return (_RUN_TOGETHER,) if before in _BEFORE_NUMBER else ()


def _joined_to_number(word: str, before: After) -> tuple[WrittenForm, ...]:
    """What follows digits that are a number already."""
    match word:
        case "hundred" if before is After.DIGIT:
            return (
                WrittenForm("00", After.NUMBER, _UNWRITTEN),
                WrittenForm("0", After.HUNDRED_ZERO, _UNWRITTEN),
                WrittenForm("", After.HUNDRED, _UNWRITTEN),
            )
        case "thousand":
            return WrittenForm("000", After.NUMBER, _UNWRITTEN), WrittenForm(",000", After.NUMBER, _UNWRITTEN)
        case "and":
            return (WrittenForm(".", After.HALF, _UNWRITTEN),)
        case "point" | "decimal":
            return (WrittenForm(".", After.POINT, _rarity(word)),)
        case "degree" | "degrees":
            return (WrittenForm("°", After.DEGREE),)
        case _:
            return (WrittenForm(_UNITS[word], After.WORD),) if word in _UNITS else ()


def _joined_inside(word: str, before: After) -> tuple[WrittenForm, ...]:
    """What follows the beginning of a number or of a unit."""
    match word, before:
        case "and", After.HUNDRED | After.HUNDRED_ZERO:
            return (WrittenForm("", before),)
        case "a", After.HALF:
            return (WrittenForm("", before),)
        case "half", After.HALF:
            return (WrittenForm("5", After.DIGIT),)
        case "point" | "decimal", After.SIGN:
            return _points(word)
        case "celsius" | "fahrenheit", After.DEGREE:
            return (WrittenForm(_UNITS[word], After.WORD),)
        case _:
            return ()
