"""Whether a unit is a code of UCUM, by the grammar of its standard. The parser is loaded for unknown units alone."""

from functools import cache

from handsfree.definition.verbalization import UNITS


@cache
def is_ucum(code: str) -> bool:
    """Whether a text is a UCUM code (case-sensitive form): N.m is, Nm is not.

    Source: the UCUM grammar and its table of units, as ucumvert has them.
    """
    if code in UNITS:
        return True
    from lark.exceptions import LarkError
    from ucumvert import get_ucum_parser

    try:
        get_ucum_parser().parse(code)
    except (LarkError, ValueError):
        return False
    return True
