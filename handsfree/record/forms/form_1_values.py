"""Form 1: how it wrote values, and what it said where words were not taken as one."""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from handsfree.errors import RecordError
from handsfree.model.effects import Json
from handsfree.model.fact_base import KeptValue
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Between,
    Beyond,
    Exact,
    HowToSay,
    Option,
    SpelledText,
    SpokenDate,
    SpokenValue,
    value_text,
)

_NUMBER = r"-?[0-9]+(?:\.[0-9]+)?"
_FORMS: tuple[tuple[str, type[KeptValue]], ...] = (
    (_NUMBER, Exact),
    (f"({_NUMBER})-({_NUMBER})", Between),
    (f"([<>])({_NUMBER})", Beyond),
    (r"[0-9]{4}-[0-9]{2}-[0-9]{2}", SpokenDate),
    (r"[a-z][a-z0-9_]*", Option),
)
_TYPES: dict[str, type[KeptValue]] = {
    "exact": Exact,
    "between": Between,
    "beyond": Beyond,
    "absent": Absent,
    "option": Option,
    "spelledtext": SpelledText,
    "spokendate": SpokenDate,
}
_SAID: dict[str, HowToSay] = {
    "say the month by its name, and the year in four digits": HowToSay.SAY_MONTH_BY_NAME,
    "say the day as well": HowToSay.SAY_DAY_TOO,
    "thirteen and thirty sound alike; say the day digit by digit": HowToSay.THIRTEEN_OR_THIRTY,
    "there is no such day in that month": HowToSay.NO_SUCH_DAY,
    "spell it one letter and one digit at a time": HowToSay.SPELL_ONE_BY_ONE,
    r"a code has at most ([0-9]+) characters; spell it in short groups": HowToSay.CODE_TOO_LONG,
    "say one of the listed answers": HowToSay.ONE_OF_THE_LIST,
    "it was said twice; say it once": HowToSay.SAID_TWICE,
    "say the side first, then the value": HowToSay.SIDE_FIRST,
    "say it digit by digit": HowToSay.DIGIT_BY_DIGIT,
    r"this reading is taken in (.+), without another unit": HowToSay.ANOTHER_UNIT,
    r"did you mean the digit (.+)": HowToSay.MEANT_THE_DIGIT,
    "about is not a reading; say the number alone": HowToSay.ABOUT_IS_NO_READING,
    "say the smaller end of the range first": HowToSay.SMALLER_END_FIRST,
    "this reading is a whole number": HowToSay.WHOLE_NUMBER,
    r"this reading is at most ([0-9]+) digits after the point": HowToSay.TOO_MANY_DECIMALS,
    "say each digit after the point by itself": HowToSay.DIGITS_AFTER_POINT,
    r"say zero point ([0-9](?: [0-9])*)": HowToSay.ZERO_BEFORE_POINT,
    "a leading zero is not clear; say the digits of the number": HowToSay.LEADING_ZERO,
    "say minus or plus, then the digits": HowToSay.SIGN_THEN_DIGITS,
    "the number and its digits do not agree": HowToSay.DIGITS_DISAGREE,
    rf"outside the plausible range, ({_NUMBER}) to ({_NUMBER})": HowToSay.IMPLAUSIBLE,
    "a number has one decimal point": HowToSay.ONE_POINT,
    "an earlier value is never copied": HowToSay.NO_EARLIER_VALUE,
    "a value is never copied across sides": HowToSay.NO_OTHER_SIDE,
}
"""The words of form 1, as patterns."""


def how_to_say(text: str) -> tuple[HowToSay, tuple[str, ...]]:
    """The code of what was said where words were not taken as a value, with what it speaks of."""
    for pattern, code in _SAID.items():
        found = re.fullmatch(pattern, text)
        if found is not None:
            spelled = code is HowToSay.ZERO_BEFORE_POINT
            return code, tuple(found[1].split()) if spelled else tuple(str(group) for group in found.groups())
    return HowToSay.AS_WRITTEN, (text,)


def stated_value(data: Mapping[str, Json]) -> KeptValue:
    """A value by the members `type`, `value` and `decimals` of a reading.

    Raises:
        RecordError: They do not go together.
    """
    kind, text, decimals = data.get("type"), data.get("value"), data.get("decimals")
    if not isinstance(kind, str) or kind not in _TYPES or not isinstance(text, str):
        raise RecordError("a reading has no value of form 1")
    return value_of(_TYPES[kind], text, decimals if type(decimals) is int else 0)


def value_of(kind: type[KeptValue], text: str, decimals: int = 0) -> KeptValue:
    """A value of a known kind by its text.

    Raises:
        RecordError: It is not written so.
    """
    try:
        return _read(kind, text, decimals)
    except (ValueError, ArithmeticError) as error:
        raise RecordError(f"{text!r} is no value of the kind {kind.__name__.lower()}") from error


def _read(kind: type[KeptValue], text: str, decimals: int) -> KeptValue:
    pattern = next((pattern for pattern, one in _FORMS if one is kind and kind is not Option), ".*")
    found = re.fullmatch(pattern, text, re.DOTALL)
    if found is None:
        raise ValueError(text)
    if kind is Exact:
        return Exact(with_decimals(Decimal(text), decimals), decimals)
    if kind is Between:
        return Between(Decimal(found[1]), Decimal(found[2]))
    if kind is Beyond:
        return Beyond(found[1], Decimal(found[2]))
    if kind is SpokenDate:
        return SpokenDate(date.fromisoformat(text))
    if kind is Absent:
        return Absent(AbsentReason(text))
    return Option(text) if kind is Option else SpelledText(text)


def with_decimals(number: Decimal, decimals: int) -> Decimal:
    """The number with as many digits after the point as were spoken; form 1 wrote them without the last zeros."""
    exponent = number.as_tuple().exponent
    lacking = isinstance(exponent, int) and 0 < decimals < 10 and -exponent < decimals
    return number.quantize(Decimal(1).scaleb(-decimals)) if lacking else number


def value_by_look(text: str) -> KeptValue:
    """A value of which form 1 kept the text only, where nothing else tells its kind."""
    if text in list(AbsentReason):
        return Absent(AbsentReason(text))
    kind = next((kind for pattern, kind in _FORMS if re.fullmatch(pattern, text)), SpelledText)
    try:
        return value_of(kind, text, len(text.partition(".")[2]) if kind is Exact else 0)
    except RecordError:
        return SpelledText(text)


def as_said(value: KeptValue, said: SpokenValue | None) -> KeptValue:
    """The value as its event gives it, which holds more (a unit, a month without a day), where both are the same."""
    same = type(said) is type(value) and said is not None and value_text(said) == value_text(value)
    return said if same and isinstance(said, KeptValue) else value
