"""What may be said now, as one word graph: only what is legal, so that nothing else can be heard."""

from dataclasses import replace
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from handsfree.errors import GrammarError
from handsfree.model.commands import (
    Control,
    DateSlot,
    IdentifierSlot,
    NumberSlot,
    OptionSlot,
    Slot,
    Wanted,
)
from handsfree.model.graph import WordGraph
from handsfree.model.readings import Side
from handsfree.understanding.graphs import compile_smallest
from handsfree.understanding.jsgf import (
    NULL,
    Choice,
    Embedded,
    Expansion,
    Grammars,
    Reference,
    Repeat,
    Sequence,
    Tagged,
    Word,
    load,
    optional,
)

_CRIES = ("controls.hot_while_lit", "controls.pain_while_lit")
"""Whole sentences that mean a stop word, listened for beside `Control.CRY`."""
ASIDE = "aside"
"""First tag of what is listened for beside cries so that it is not taken for one; it means nothing."""
_BARE = ("controls.yes", "controls.no")
"""What recognisers take other words for, listened for only where `Wanted.yes_or_no` says so."""
_UNIT_RULES = {
    "cm": ("centimeter", "millimeter", "inch"),
    "mm": ("millimeter", "centimeter", "inch"),
    "[in_i]": ("inch", "centimeter", "millimeter"),
    "s": ("second", "minute"),
    "min": ("minute", "second"),
    "deg": ("degree",),
    "Cel": ("celsius", "fahrenheit"),
    "%": ("percent",),
    "m": ("meter", "centimeter"),
    "kg": ("kilogram", "gram", "pound"),
    "[lb_av]": ("pound", "kilogram"),
    "g": ("gram", "kilogram"),
    "mL": ("milliliter", "liter"),
    "L": ("liter", "milliliter"),
    "h": ("hour", "minute"),
    "mm[Hg]": ("mercury",),
    "/min": ("per_minute",),
    "mW/cm2": ("milliwatt",),
}
"""Rules of the units grammar by UCUM code: the unit itself, then those said for it by mistake, to be heard as such.
A unit that is not here has no spoken form."""
_TYPED_DIGITS = 9
"""A typed number may have so many digits before the point: one that is too large is refused as such."""


@lru_cache(maxsize=4)
def grammars_for(locale: str = "en-US") -> Grammars:
    """The bundled grammars of a language: of its own region, else of another one (as RFC 4647 section 3.4 looks up).

    Raises:
        GrammarError: There are none for this locale, or a file has faults.
    """
    packaged = Path(str(files("handsfree").joinpath("data", "grammars")))
    checkout = Path(str(files("handsfree"))).parent / "grammars"
    language = locale.partition("-")[0]
    for name in (locale, f"{language}-*"):
        for place in (packaged, checkout):
            for folder in sorted(place.glob(name)) if language.isalpha() else ():
                return load(folder)
    raise GrammarError(f"no grammars for the locale {locale} (en-US is bundled)")


def graph_for(wanted: Wanted, locale: str = "en-US") -> WordGraph:
    """What may be said now, for a recogniser.

    Raises:
        GrammarError: The locale has no grammars, or a grammar file has faults.
    """
    return _graph(_grammatical(wanted), locale, written=False)


def typed_graph_for(wanted: Wanted, locale: str = "en-US") -> WordGraph:
    """What may be typed now: `graph_for` and spellings that a recogniser must not be offered.

    Raises:
        GrammarError: As `graph_for`.
    """
    return _graph(_grammatical(wanted), locale, written=True)


def _grammatical(wanted: Wanted) -> Wanted:
    """What the graph is made of."""
    return replace(wanted, hint="", going_on=())


@lru_cache(maxsize=256)
def _graph(wanted: Wanted, locale: str, *, written: bool) -> WordGraph:
    controls = tuple(Reference(f"controls.{control.value}") for control in sorted(wanted.all_controls))
    alternatives: list[Expansion] = [*controls]
    if Control.CRY in wanted.controls:
        alternatives += [*(Reference(rule) for rule in _CRIES), *_asides(wanted)]
    if wanted.yes_or_no:
        alternatives += [Reference(rule) for rule in _BARE]
    if not wanted.dictation:
        alternatives += _answers(wanted.slots, locale, written=written)
    return _small(Choice(tuple(alternatives)), locale).graph


def _asides(wanted: Wanted) -> list[Expansion]:
    """What is no cry; nothing of it where more than one of a list may be answered, which may be said in these words."""
    if not all(isinstance(slot, OptionSlot) for slot in wanted.slots):
        return []
    return [Sequence((Tagged(NULL, (ASIDE,)), Choice((Reference("cries.counted"), Reference("cries.aside")))))]


def _small(expansion: Expansion, locale: str) -> Embedded:
    """The part as a small graph: what is built in small parts stays small and quick to build."""
    return Embedded(compile_smallest(expansion, grammars_for(locale)))


def _answers(slots: tuple[Slot, ...], locale: str, *, written: bool) -> list[Expansion]:
    if not slots:
        return []
    if len(slots) == 1:
        return [_answer(slots[0], locale, written=written, label_required=False)]
    each = Choice(tuple(_answer(slot, locale, written=written, label_required=True) for slot in slots))
    return [Sequence((optional(_leading_side(slots)), Repeat(each, at_least=1)))]


def _leading_side(slots: tuple[Slot, ...]) -> Expansion:
    """A side said once, before the first label: it is about every value of the breath that can have one."""
    sides = dict.fromkeys(
        side for slot in slots if isinstance(slot, NumberSlot | OptionSlot) and slot.labels for side in slot.sides
    )
    return Choice(tuple(Reference(f"answers.{side.value}") for side in sides)) if sides else NULL


def _answer(slot: Slot, locale: str, *, written: bool, label_required: bool) -> Expansion:
    """One slot's answer, with its own name in front as a tag."""
    match slot:
        case NumberSlot():
            value: Expansion = _number(replace(slot, slot="", labels=(), sides=()), locale, written=written)
        case OptionSlot():
            value = _options(slot)
        case IdentifierSlot():
            value = _identifier(locale, written=written)
        case DateSlot():
            value = _date(locale)
    named: tuple[Expansion, ...] = (Tagged(NULL, (f"slot:{slot.slot}",)),)
    if slot.labels:
        label = Choice(tuple(_phrase(label) for label in slot.labels))
        named += (label if label_required else optional(label),)
    if isinstance(slot, NumberSlot | OptionSlot):
        others: tuple[Expansion, ...] = (Reference("answers.refused"),)
        if slot.allow_absent:
            others += (Reference("answers.absent"),)
        return Sequence((*named, _sided(Choice((value, *others)), slot.sides)))
    return Sequence((*named, value))


def _sided(value: Expansion, sides: tuple[Side, ...]) -> Expansion:
    """The value with its side before it; after it is understood as well, to be asked about."""
    if not sides:
        return value
    side = Choice(tuple(Reference(f"answers.{side.value}") for side in sides))
    forms: list[Expansion] = [Sequence((optional(side), value)), Sequence((value, side))]
    if len(sides) > 1:
        forms.append(Sequence((side, value, side, value)))
    return Choice(tuple(forms))


def _phrase(text: str) -> Expansion:
    return Sequence(tuple(Word(word) for word in text.lower().split()))


def _options(slot: OptionSlot) -> Expansion:
    return Choice(
        tuple(
            Tagged(_phrase(phrase), (f"option:{option.value}",)) for option in slot.options for phrase in option.phrases
        )
    )


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
def _number(slot: NumberSlot, locale: str, *, written: bool) -> Embedded:
    """A number as the slot takes it. Its name, labels and sides play no part."""
    largest = max(abs(slot.low), abs(slot.high))
    length = _TYPED_DIGITS if written else max(2, len(str(int(largest))))
    digit, later = _rule("digit"), _digit_or_oh()
    digits: Expansion = Sequence((digit, _up_to(later, length - 1)))
    fraction = Sequence((_rule("point"), _fraction_digits(later, slot.decimals, written=written)))
    unit = _unit(slot.unit, written=written)
    if slot.digit_by_digit:
        sign = optional(_rule("minus")) if slot.low < 0 else NULL
        return _small(Sequence((sign, digits, optional(fraction) if slot.decimals else NULL, unit)), locale)
    digitwise = Sequence((digits, optional(fraction)))
    digits = Choice((digits, Sequence((_rule("oh"), digit))))
    cardinals: list[Expansion] = [_rule("below_hundred"), _rule("hundreds")]
    cardinals += [_rule("thousands")] if largest >= 1000 else []
    spoken = Choice((digits, *cardinals, _rule("run_together")))
    tails: list[Expansion] = [NULL, fraction]
    tails += [_rule("and_a_half")] if slot.allow_fractions else []
    tails += [Sequence((fraction, fraction))] if written else []
    amounts: list[Expansion] = [Sequence((spoken, Choice(tuple(tails)))), fraction]
    amounts += [_rule("half")] if slot.allow_fractions else []
    amount = _small(Sequence((optional(_rule("minus")), Choice(tuple(amounts)))), locale)
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
        return _small(Choice((whole, Sequence((amount, unit, _rule("short_of"))))), locale)
    return _small(whole, locale)


def _fraction_digits(digit: Expansion, decimals: int, *, written: bool) -> Expansion:
    """More digits after the point than are taken, to be refused as such: one where it is said, any number if typed.

    Said, a second one more could be the "to" of a range.
    """
    return Repeat(digit, at_least=1) if written else Sequence((digit, _up_to(digit, decimals)))


def _unit(code: str, *, written: bool) -> Expansion:
    names = _UNIT_RULES.get(code, ())
    rules = [Reference(f"units.{name}") for name in names]
    rules += [Reference("units.written")] if written and rules else []
    return optional(Choice(tuple(rules))) if rules else NULL


@lru_cache(maxsize=8)
def _identifier(locale: str, *, written: bool) -> Embedded:
    parts: list[Expansion] = [
        Reference("spelling.letter"),
        _rule("digit"),
        _rule("teen"),
        _rule("tens"),
    ]
    parts += [Reference("spelling.plain_letter")] if written else []
    return _small(Repeat(Choice(tuple(parts)), at_least=1), locale)


@lru_cache(maxsize=4)
def _date(locale: str) -> Embedded:
    """Year, month by name and day, in any order that names the month; or numbers alone, which are asked about."""
    digit = _digit_or_oh()
    pair = Choice((Sequence((digit, digit)), _rule("teen"), Sequence((_rule("tens"), optional(_rule("nonzero"))))))
    year = Choice((Sequence((digit, digit, digit, digit)), Sequence((_rule("tens"), pair))))
    day = Choice((digit, pair))
    month = Reference("dates.month")
    ordinal = Sequence((optional(Word("the")), Reference("dates.ordinal")))
    forms = Choice(
        (
            Sequence((year, month, optional(day))),
            Sequence((optional(day), month, year)),
            Sequence((month, day, year)),
            Sequence((month, ordinal, year)),
            Sequence((ordinal, optional(Word("of")), month, year)),
            Repeat(Choice((digit, _rule("teen"), _rule("tens"))), at_least=1),
        )
    )
    return _small(forms, locale)
