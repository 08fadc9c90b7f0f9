"""What may be said for a value: numbers, dates, codes and answers of a list, each kind made once and kept."""

from dataclasses import replace
from functools import lru_cache

from handsfree.model.commands import DateSlot, IdentifierSlot, NumberSlot, OptionSlot, Slot
from handsfree.understanding.bundled_grammars import small
from handsfree.understanding.jsgf import NULL, Choice, Embedded, Expansion, Reference, Repeat, Sequence, Word, optional
from handsfree.understanding.phrase_book import options_of, takes_a_half
from handsfree.understanding.unit_graph import unit_words

_TYPED_DIGITS = 9
"""A typed number may have so many digits before the point: one that is too large is refused as such."""


def value_of(slot: Slot, locale: str, *, written: bool, own: bool) -> Expansion:
    """What may be said for the value of a slot."""
    match slot:
        case NumberSlot():
            bare = replace(slot, slot="", labels=(), sides=(), allow_absent=False)
            return number(bare, locale, written=written)
        case OptionSlot():
            return options_of(slot, own=own)
        case IdentifierSlot():
            return _identifier(locale, written=written)
        case DateSlot():
            return _date(locale, counted=slot.today is not None and not slot.month_only, month_only=slot.month_only)


def _rule(name: str) -> Reference:
    return Reference(f"numbers.{name}")


def _digit_or_oh() -> Expansion:
    return Choice((_rule("digit"), _rule("oh")))


def _up_to(part: Expansion, count: int) -> Expansion:
    """The part said between 0 and `count` times."""
    result: Expansion = NULL
    for _ in range(count):
        result = optional(Sequence((part, result)))
    return result


@lru_cache(maxsize=128)
def number(slot: NumberSlot, locale: str, *, written: bool) -> Embedded:
    """A number as the slot takes it. Its name, labels and sides play no part."""
    largest = max(abs(slot.low), abs(slot.high))
    length = _TYPED_DIGITS if written else max(2, len(str(int(largest))))
    digit, later = _rule("digit"), _digit_or_oh()
    digits: Expansion = Sequence((digit, _up_to(later, length - 1)))
    fraction = Sequence((_rule("point"), _fraction_digits(later, slot.decimals, written=written)))
    unit = unit_words(slot, written=written)
    if slot.digit_by_digit:
        sign = optional(_rule("minus")) if slot.low < 0 else NULL
        return small(Sequence((sign, digits, optional(fraction) if slot.decimals else NULL, unit)), locale)
    digitwise = Sequence((digits, optional(fraction)))
    digits = Choice((digits, Sequence((_rule("oh"), digit))))
    cardinals: list[Expansion] = [_rule("below_hundred"), _rule("hundreds")]
    cardinals += [_rule("thousands")] if largest >= 1000 else []
    spoken = Choice((digits, *cardinals, _rule("run_together")))
    tails: list[Expansion] = [NULL, fraction]
    tails += [_rule("and_a_half")] if takes_a_half(slot) else []
    tails += [Sequence((fraction, fraction))] if written else []
    amounts: list[Expansion] = [Sequence((spoken, Choice(tuple(tails)))), fraction]
    amounts += [_rule("half")] if slot.allow_fractions else []
    amount = small(Sequence((optional(_rule("minus")), Choice(tuple(amounts)))), locale)
    forms: list[Expansion] = [
        amount,
        Sequence((Choice((_rule("below"), _rule("above"), _rule("about"))), amount)),
        Sequence((amount, _rule("to"), amount)),
        Sequence((amount, _rule("restate"), optional(_rule("minus")), digitwise)),
        Sequence((Choice((_rule("teen"), _rule("tens"))), digit, later)),
    ]
    forms += [_rule("homophone")] if written else []
    whole = Sequence((Choice(tuple(forms)), unit))
    if slot.unit == "deg":
        return small(Choice((whole, Sequence((amount, unit, _rule("short_of"))))), locale)
    return small(whole, locale)


def _fraction_digits(digit: Expansion, decimals: int, *, written: bool) -> Expansion:
    """More digits after the point than are taken, to be refused as such: one where it is said, any number if typed.

    Said, a second one more could be the "to" of a range.
    """
    return Repeat(digit, at_least=1) if written else Sequence((digit, _up_to(digit, decimals)))


@lru_cache(maxsize=8)
def _identifier(locale: str, *, written: bool) -> Embedded:
    parts: list[Expansion] = [
        Reference("spelling.letter"),
        _rule("digit"),
        _rule("teen"),
        _rule("tens"),
    ]
    parts += [Reference("spelling.plain_letter")] if written else []
    return small(Repeat(Choice(tuple(parts)), at_least=1), locale)


@lru_cache(maxsize=4)
def _date(locale: str, *, counted: bool, month_only: bool) -> Embedded:
    """Year, month by name and day, in any order that names the month; or numbers alone, which are asked about.

    A day without its year is asked about as well; days counted from today are taken where that is known.
    """
    digit = _digit_or_oh()
    pair = Choice((Sequence((digit, digit)), _rule("teen"), Sequence((_rule("tens"), optional(_rule("nonzero"))))))
    year = Choice((Sequence((digit, digit, digit, digit)), Sequence((_rule("tens"), pair))))
    day = Choice((digit, pair))
    month = Reference("dates.month")
    ordinal = Sequence((optional(Word("the")), Reference("dates.ordinal")))
    forms: list[Expansion] = [
        Sequence((year, month, optional(day))),
        Sequence((optional(day), month, year)),
        Sequence((month, day, year)),
        Sequence((month, ordinal, optional(year))),
        Sequence((ordinal, optional(Word("of")), month, optional(year))),
        Repeat(Choice((digit, _rule("teen"), _rule("tens"))), at_least=1),
    ]
    forms += [Reference("dates.from_today")] if counted else []
    before = Reference("dates.end_of") if month_only else Reference("dates.on")
    return small(Sequence((optional(before), Choice(tuple(forms)))), locale)
