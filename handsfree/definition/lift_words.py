"""What would be right where the form of `lift` is not: only what the file's own roles and reasons make true. Pure."""

from collections.abc import Mapping, Sequence
from difflib import get_close_matches

_LISTS = {"by": "roles", "reasons": "override_reasons", "second_person": "override_reasons"}
"""Where the names stand that a key takes."""
_WRONG_KIND = frozenset({"dict_type", "model_type", "model_attributes_type", "literal_error"})
At = tuple[str | int, ...]


def lift_fault(kind: str, where: At, value: object, data: object) -> str | None:
    """What is wrong with a part of `lift`, and what would be right.

    Args:
        kind: The kind of fault, by pydantic.
        where: The place in the file.
        value: What stands there.
        data: The whole file.

    Returns:
        None where the place is of something else, or the fault says by itself what would be right.
    """
    if "lift" not in where:
        return None
    keys = [part for part in where[where.index("lift") :] if isinstance(part, str)]
    if kind == "string_pattern_mismatch" and keys[-1] in _LISTS:
        return _name_fault(str(value), _LISTS[keys[-1]], data)
    near = isinstance(value, str) and get_close_matches(value, ["never"], 1)
    if kind not in _WRONG_KIND or near:
        return None
    rule = _rule(value, data)
    if where == ("lift",):
        return f"needs what is lifted, by whom, and why: {{red: {rule}, stop: {rule}}}"
    return f"needs by whom and why, or never: {rule}"


def _name_fault(said: str, listed: str, data: object) -> str:
    """A phrase where the name of a role or a reason is due."""
    known = _phrases(data, listed)
    meant = [name for name, phrases in known.items() if said in phrases]
    there = f"the name before it under {listed}: {meant[0]}" if meant else f"a name listed under {listed}"
    names = "" if meant or not known else f" (there are: {', '.join(known)})"
    return f"{said!r} is what is said; write {there}{names}"


def _rule(value: object, data: object) -> str:
    """A rule that would pass: with what was written where that is a phrase or a name, else with all that there is."""
    said = [value] if isinstance(value, str) else value if isinstance(value, Sequence) else []
    parts = []
    for key, listed in (("by", "roles"), ("reasons", "override_reasons")):
        known = _phrases(data, listed)
        meant = [name for name, phrases in known.items() if name in said or any(one in said for one in phrases)]
        parts.append(f"{key}: [{', '.join(meant or known) or f'names listed under {listed}'}]")
    return f"{{{', '.join(parts)}}}"


def _phrases(data: object, listed: str) -> Mapping[str, Sequence[str]]:
    found = data.get(listed) if isinstance(data, Mapping) else None
    if not isinstance(found, Mapping):
        return {}
    return {str(name): said for name, said in found.items() if isinstance(said, Sequence) and not isinstance(said, str)}
