"""Values of the types of the model, made from the types alone."""

import dataclasses
import functools
import types
import typing
from datetime import date
from decimal import Decimal
from enum import Enum

from hypothesis import strategies as st

TEXT = st.text(alphabet=st.characters(codec="utf-8"), max_size=12)
FLOAT = st.floats(-1e15, 1e15)
WHOLE = st.integers(-(2**53) + 1, 2**53 - 1)
PLAIN = {
    str: TEXT,
    float: FLOAT,
    int: WHOLE,
    bool: st.booleans(),
    bytes: st.just(b""),
    date: st.dates(),
    Decimal: st.decimals(allow_nan=False, allow_infinity=False, places=2),
    type(None): st.none(),
    typing.Any: st.none() | TEXT | WHOLE | st.lists(WHOLE, max_size=2),
}
BOUNDED = {"local_offset_minutes": st.integers(-1439, 1439)}
"""Members whose type says less than what is read: bounds do not show in a plain type."""


@functools.cache
def of(hint):
    """Values of a type of the model, made from the type alone."""
    if hint in PLAIN:
        return PLAIN[hint]
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Literal:
        return st.sampled_from(arguments)
    if origin in (types.UnionType, typing.Union):
        return st.one_of(*map(of, arguments))
    if origin is tuple and arguments[-1] is Ellipsis:
        return st.lists(of(arguments[0]), max_size=2).map(tuple)
    if origin is tuple:
        return st.tuples(*map(of, arguments))
    if origin is dict:
        return st.dictionaries(TEXT, of(arguments[1]), max_size=2)
    if issubclass(hint, Enum):
        return st.sampled_from(hint)
    hints = typing.get_type_hints(hint)  # without their annotations: plain types
    # What is never written into a line does not come back from one.
    kept = [item.name for item in dataclasses.fields(hint) if item.name not in ("clip", "goes_on", "heat", "is_part")]
    members = {name: BOUNDED[name] if name in BOUNDED else of(hints[name]) for name in kept}
    return st.builds(hint, **members)
