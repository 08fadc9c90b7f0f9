"""Whether a unit is a code of UCUM, by the grammar of its standard. Loads a parser only for a unit that is not at hand."""

from functools import cache

from handsfree.definition.verbalization import UNITS


@cache
def is_ucum(code: str) -> bool:
    """Whether a text is a UCUM code (case-sensitive form): N.m is, Nm is not.

    Source: the UCUM grammar and its table of units, as ucumvert has them.
    """
    if code in UNITS:
        return True
    from lark.exceptions import LarkError  # noqa: PLC0415 - half a second that no bundled unit needs
    from ucumvert import get_ucum_parser  # noqa: PLC0415

    try:
        get_ucum_parser().parse(code)
    except (LarkError, ValueError):
        return False
    return True
