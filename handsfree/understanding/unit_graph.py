"""What may be said for the unit of a number: its own name, those said for it by mistake, what the file calls it."""

from handsfree.model.commands import NumberSlot
from handsfree.understanding.jsgf import NULL, Choice, Expansion, Reference, Tagged, optional
from handsfree.understanding.phrase_book import phrase

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
    "{score}": ("out_of_ten",),
}
"""Rules of the units grammar by UCUM code: the unit itself, then those said for it by mistake, to be heard as such.
A unit that is not here has no spoken form."""


def unit_words(slot: NumberSlot, *, written: bool) -> Expansion:
    """The unit after a number, which may be left out.

    Args:
        slot: The number; its unit, and what the file calls that.
        written: Whether signs of units may be typed as well.
    """
    names = _UNIT_RULES.get(slot.unit, ())
    rules: list[Expansion] = [Reference(f"units.{name}") for name in names]
    rules += [Tagged(phrase(slot.spoken_unit), (f"unit:{slot.unit}",))] if slot.spoken_unit else []
    rules += [Reference("units.written")] if written and rules else []
    return optional(Choice(tuple(rules))) if rules else NULL
