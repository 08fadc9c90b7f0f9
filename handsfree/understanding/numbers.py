"""Tags of a spoken number to a value. Digits join and are never added.

Sources of the rules: ISMP and the Pennsylvania patient-safety advisory of June 2006 (15 heard as 50: say the number,
then the digits); ICAO Doc 9432 (digit by digit, "decimal"); the rest, common practice without a source.
"""

from dataclasses import dataclass
from decimal import Decimal

from handsfree.model.commands import NumberSlot
from handsfree.model.readings import Ambiguous, Between, Beyond, Exact, HowToSay, NeedsAsking, Refused, SpokenValue

_TENS_OF_TEEN = {13: 30, 14: 40, 15: 50, 16: 60, 17: 70, 18: 80, 19: 90}
_SOUNDS_LIKE = _TENS_OF_TEEN | {tens: teen for teen, tens in _TENS_OF_TEEN.items()}
_DIGIT_BY_DIGIT = HowToSay.DIGIT_BY_DIGIT


@dataclass(frozen=True, slots=True)
class _Whole:
    """A whole number, and the one that it sounds like."""

    value: int
    sounds_like: int | None = None


@dataclass(frozen=True, slots=True)
class _Amount:
    """A number with its possible other reading, before the slot's own rules."""

    value: Decimal
    decimals: int
    other: Decimal | None = None


_Doubt = NeedsAsking | Refused


def read_number(tags: tuple[str, ...], slot: NumberSlot) -> SpokenValue:
    """The value of a number's tags.

    Args:
        tags: Tags of the number alone: neither slot nor side.
        slot: What is asked for; gives range, decimals and unit.

    Returns:
        `Exact` in range, or why it is not that. A number outside the slot's range is `Refused`.
    """
    special = _special(tags)
    if special is not None:
        return special
    units = {tag.removeprefix("unit:") for tag in tags if tag.startswith("unit:")}
    if units - {slot.unit}:
        return NeedsAsking(HowToSay.ANOTHER_UNIT, (slot.unit,))
    unit = slot.unit if units else None
    words = tuple(tag for tag in tags if not tag.startswith("unit:"))
    if "restate" in words:
        cut = words.index("restate")
        return _checked(_agreeing(words[:cut], words[cut + 1 :]), slot, unit)
    if "to" in words:
        cut = words.index("to")
        return _between(words[:cut], words[cut + 1 :], slot, unit)
    if words and words[0] in ("below", "above"):
        limit = _checked(_amount(words[1:]), slot, unit)
        if isinstance(limit, Exact):
            return Beyond("<" if words[0] == "below" else ">", limit.value, unit)
        return limit if isinstance(limit, Refused) else NeedsAsking(_DIGIT_BY_DIGIT)
    return _checked(_amount(words), slot, unit)


def _special(tags: tuple[str, ...]) -> _Doubt | None:
    for tag in tags:
        kind, _, rest = tag.partition(":")
        if kind == "refuse":
            return Refused(HowToSay(rest))
        if kind == "ask":
            return NeedsAsking(HowToSay(rest))
        if kind == "homophone":
            return NeedsAsking(HowToSay.MEANT_THE_DIGIT, (rest,))
        if kind == "about":
            return NeedsAsking(HowToSay.ABOUT_IS_NO_READING)
    return None


def _agreeing(said: tuple[str, ...], again: tuple[str, ...]) -> _Amount | _Doubt:
    """A number and its digits: taken only where both agree."""
    first, second = _amount(said), _amount(again)
    if isinstance(first, Refused | NeedsAsking):
        return first
    if isinstance(second, Refused | NeedsAsking):
        return second
    if second.other is not None:
        return NeedsAsking(_DIGIT_BY_DIGIT)
    if second.value not in (first.value, first.other):
        return Refused(HowToSay.DIGITS_DISAGREE)
    return second if second.value == first.value else Refused(HowToSay.DIGITS_DISAGREE)


def _between(low: tuple[str, ...], high: tuple[str, ...], slot: NumberSlot, unit: str | None) -> SpokenValue:
    ends = _checked(_amount(low), slot, unit), _checked(_amount(high), slot, unit)
    for end in ends:
        if isinstance(end, Refused):
            return end
    first, second = ends
    if not isinstance(first, Exact) or not isinstance(second, Exact):
        return NeedsAsking(_DIGIT_BY_DIGIT)
    if first.value >= second.value:
        return NeedsAsking(HowToSay.SMALLER_END_FIRST)
    return Between(first.value, second.value, unit)


def _checked(amount: _Amount | _Doubt, slot: NumberSlot, unit: str | None) -> Exact | Ambiguous | _Doubt:
    """Apply what the slot allows."""
    if isinstance(amount, Refused | NeedsAsking):
        return amount
    if amount.decimals > slot.decimals:
        if slot.decimals == 0:
            return NeedsAsking(HowToSay.WHOLE_NUMBER)
        return NeedsAsking(HowToSay.TOO_MANY_DECIMALS, (str(slot.decimals),))
    # Thirteen and thirty sound alike; where only one of them can be, it is that one.
    if amount.other is not None and not (
        slot.low <= amount.value <= slot.high and not slot.low <= amount.other <= slot.high
    ):
        return Ambiguous((amount.value, amount.other))
    if not slot.low <= amount.value <= slot.high:
        return Refused(HowToSay.IMPLAUSIBLE, (str(slot.low), str(slot.high), str(amount.value)))
    return Exact(amount.value, amount.decimals, unit)


def _amount(words: tuple[str, ...]) -> _Amount | _Doubt:
    """A signed number with an optional fraction."""
    if words and words[0] == "minus":
        amount = _amount(words[1:])
        if isinstance(amount, _Amount):
            other = None if amount.other is None else -amount.other
            return _Amount(-amount.value, amount.decimals, other)
        return amount
    if words == ("half",):
        return _Amount(Decimal("0.5"), 1)
    if words[-2:] == ("and", "half"):
        return _joined(words[:-2], "5")
    if words.count("point") > 1:
        return Refused(HowToSay.ONE_POINT)
    if "point" not in words:
        return _joined(words, "")
    cut = words.index("point")
    fraction = _digits(words[cut + 1 :])
    if fraction is None:
        return NeedsAsking(HowToSay.DIGITS_AFTER_POINT)
    if cut == 0:
        return NeedsAsking(HowToSay.ZERO_BEFORE_POINT, tuple(fraction))
    return _joined(words[:cut], fraction)


def _joined(whole_words: tuple[str, ...], fraction: str) -> _Amount | _Doubt:
    whole = _whole(whole_words)
    if not isinstance(whole, _Whole):
        return whole
    tail = fraction.rstrip("0")

    def with_fraction(number: int) -> Decimal:
        return Decimal(f"{number}.{tail}" if tail else str(number))

    other = None if whole.sounds_like is None else with_fraction(whole.sounds_like)
    return _Amount(with_fraction(whole.value), len(fraction), other)


def _digits(words: tuple[str, ...]) -> str | None:
    """Single digits joined, or None if anything else is there."""
    if not words or not all(word.startswith("digit:") for word in words):
        return None
    return "".join(word.removeprefix("digit:") for word in words)


def _whole(words: tuple[str, ...]) -> _Whole | _Doubt:
    """A whole number without a sign."""
    digits = _digits(words)
    if digits is not None:
        if len(digits) > 1 and digits[0] == "0":
            return NeedsAsking(HowToSay.LEADING_ZERO)
        return _Whole(int(digits))
    restated = _number_then_digits(words)
    if restated is not None:
        return restated
    if "thousand" in words:
        cut = words.index("thousand")
        return _scaled(words[:cut], 1000, words[cut + 1 :])
    if "hundred" in words:
        cut = words.index("hundred")
        return _scaled(words[:cut], 100, words[cut + 1 :])
    return _below_hundred(words)


def _number_then_digits(words: tuple[str, ...]) -> _Whole | None:
    """The form "fifteen, one five": a teen or a ten, then two digits that spell it."""
    kind, _, number = words[0].partition(":") if words else ("", "", "")
    if kind in ("teen", "tens") and len(words) == 3 and _digits(words[1:]) == number:
        return _Whole(int(number))
    return None


def _scaled(count_words: tuple[str, ...], scale: int, rest_words: tuple[str, ...]) -> _Whole | _Doubt:
    count = _below_hundred(count_words)
    if not isinstance(count, _Whole) or count.value == 0 or count.sounds_like is not None:
        return NeedsAsking(_DIGIT_BY_DIGIT)
    rest_words = rest_words[1:] if rest_words[:1] == ("and",) else rest_words
    if not rest_words:
        return _Whole(count.value * scale)
    rest = _whole(rest_words)
    if not isinstance(rest, _Whole) or rest.value >= scale:
        return NeedsAsking(_DIGIT_BY_DIGIT)
    base = count.value * scale
    return _Whole(base + rest.value, None if rest.sounds_like is None else base + rest.sounds_like)


def _below_hundred(words: tuple[str, ...]) -> _Whole | _Doubt:
    kinds = [word.partition(":")[0] for word in words]
    numbers = [int(number) for number in (word.partition(":")[2] for word in words) if number]
    if kinds in (["teen"], ["tens"]):
        return _Whole(numbers[0], _SOUNDS_LIKE.get(numbers[0]))
    if kinds == ["digit"]:
        return _Whole(numbers[0])
    if kinds == ["tens", "digit"] and numbers[1] > 0:
        return _Whole(numbers[0] + numbers[1])
    return NeedsAsking(_DIGIT_BY_DIGIT)
