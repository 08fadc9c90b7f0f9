"""What is wrong with a file in one line each, and what would be right: faults of its YAML and of its form. Pure."""

import re
import types
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, Tag, ValidationError

from handsfree.definition.lift_words import lift_fault

At = tuple[str | int, ...]
_MOST_KEYS = 24
"""How many keys are listed where none is near."""
_LONGEST = 60
_DEEPEST = 12
_SIMILAR = 0.7
_NAMES = {"steps": "a step", "fields": "a field", "items": "an item", "zones": "a zone", "blocks": "a block"}
_PATTERNS = (
    (
        re.compile(r"left\|right.*\\\."),
        "{found} is no step.field (place.ward; of one side or one number: pain@left.score, bolt@3.torque)",
    ),
    (re.compile(r"left\|right"), "{found} is no step (its name; of one side or one number: pain@left, bolt@3)"),
    (re.compile(r"\\\.\[a-z\]"), "{found} is no step.field (write the step, a point and the field: place.ward)"),
    (re.compile(r"\\\.\\d"), '{found} is no version (three numbers in quotes: "0.1.0")'),
    (re.compile(r"\^today"), '{found} is no day from today (today, "today - 2 years" or "today + 30 days")'),
    (re.compile(r"a-z0-9_"), "{found} is no name (small letters, digits, underscores; a letter first: {better})"),
    (re.compile(r"a-z0-9-"), "{found} is no name (small letters, digits, hyphens; a letter first: {better})"),
    (re.compile(r"a-z' -"), "{found} cannot be said so (words in small letters, numbers written out: {better})"),
    (re.compile(r"\\d\{4\}-"), '{found} is no day (in quotes, year first: "2026-05-03")'),
)
"""What each kind of pattern of the forms asks for, by a piece of the pattern."""
_MISSING = {
    "source": "name where the rule is from: a key under sources",
    "version": 'three numbers in quotes: "0.1.0"',
    "form": "form: 1",
    "steps": "steps: and a list, each begun with - id:",
    "sources": "sources: {local: who decided it, and when}",
    "cautions": "cautions: and a list of what is said as a visit begins",
    "roles": "roles: {nurse: [ward nurse]}",
    "prompt": 'prompt: "What is asked?"',
    "is": "is: [option]",
}
"""What may be written where a key is missing."""


def yaml_fault(problem: str, text: str, line: int, begun: int) -> tuple[int, str]:
    """What is wrong with the YAML of a file.

    Args:
        problem: What the parser says.
        text: The file.
        line: Line at which it gave up, from 1.
        begun: Line at which what it was reading began, from 1.

    Returns:
        The line to look at, and what is wrong and would be right.
    """
    lines = text.splitlines()
    here = lines[line - 1].strip() if 0 < line <= len(lines) else ""
    key, _, rest = here.removeprefix("- ").partition(":")
    quoted = f'{key}: "{rest.strip()}"'
    if "\\t" in problem or "\t" in (lines[line - 1] if 0 < line <= len(lines) else ""):
        return line, "not YAML: a tab (indent with blanks)"
    if "mapping values are not allowed" in problem:
        return line, f"not YAML: a colon inside plain text (put the text in quotes: {quoted})"
    if "cannot start any token" in problem:
        return line, f"not YAML: a sign that begins no plain text (put the text in quotes: {quoted})"
    if "expected <block end>" in problem and "'<scalar>'" in problem:
        return line, f"not YAML: text behind a brace, a bracket or a quote (put the whole text in quotes: {quoted})"
    if "expected <block end>" in problem or "could not find expected ':'" in problem:
        return line, "not YAML: indented otherwise than its neighbours (keys of one step begin in one column)"
    if "expected ',' or" in problem:
        closing = "}" if "'}'" in problem.partition("but got")[0] else "]"
        return begun, f"not YAML: a list or braces without an end, or without a comma (close it with {closing})"
    if "unexpected end of stream" in problem:
        return begun, "not YAML: a quote without an end (close it)"
    return line, f"not YAML: {problem}"


def form_faults(error: ValidationError, model: type[BaseModel], data: object) -> Iterator[tuple[At, str]]:
    """Every fault of the form of a file, with its place in the file.

    Args:
        error: What pydantic found.
        model: The form.
        data: What was checked.
    """
    items = error.errors(include_url=False)
    extra = {tuple(item["loc"]) for item in items if item["type"] == "extra_forbidden"}
    places = [tuple(item["loc"]) for item in items]
    for item in items:
        where = tuple(item["loc"])
        value = item["input"]
        forms, at = _forms_at(model, where, data)
        if at is None or (item["type"] == "too_short" and any(one[: len(where)] == where != one for one in places)):
            continue  # of another form than the one that was meant, or said of its parts already
        match item["type"]:
            case "extra_forbidden":
                yield at, _extra(str(where[-1]), model, where, forms, data)
            case "missing":
                siblings = [str(one[-1]) for one in extra if one[:-1] == where[:-1]]
                if not get_close_matches(str(where[-1]), siblings, 1, _SIMILAR):
                    yield at, _missing(str(where[-1]), forms)
            case kind:
                told = lift_fault(kind, at, value, data)
                yield at, told or _wrong(kind, where, value, item["msg"], item.get("ctx", {}))


def _missing(key: str, forms: Sequence[type[BaseModel]]) -> str:
    options = [option for form in forms for option in _literals(_annotation(form, key))]
    hint = _MISSING.get(key) or (f"one of {', '.join(map(str, options))}" if options else "")
    return f"is missing ({hint})" if hint else "is missing"


def _wrong(kind: str, where: At, value: object, message: str, context: Mapping[str, Any]) -> str:
    found = repr(value)[:_LONGEST] if not isinstance(value, bool) else str(value).lower()
    match kind:
        case "value_error":
            return message.removeprefix("Value error, ")
        case "string_pattern_mismatch":
            return _pattern(str(context.get("pattern")), value, found)
        case "literal_error" | "enum":
            options = re.findall(r"'([^']*)'|(\d+)", str(context.get("expected")))
            names = [text or number for text, number in options]
            near = get_close_matches(str(value), names, 1)
            return f"{found} is none of {', '.join(names)}" + (f" (did you mean {near[0]}?)" if near else "")
        case "string_type" if where[-1] == "version":
            return 'needs three numbers in quotes, such as "0.1.0"'
        case "string_type" if isinstance(value, bool | int | float):
            return f'needs text: put it in quotes ("{found}")'
        case "string_type":
            return "needs text: put it in quotes, without brackets or braces"
        case "tuple_type" | "list_type" if where[-1] == "steps":
            return "needs a list: begin each step with - id:"
        case "tuple_type" | "list_type":
            return f"needs a list: [{value}]" if isinstance(value, str | int | float) else "needs a list in brackets"
        case "dict_type" | "model_type" | "model_attributes_type" if isinstance(value, list):
            named = ", ".join(f"{_as_name(str(one))}: [{one}]" for one in value[:2])
            return f"needs names with their words: {{{named}}}"
        case "dict_type" | "model_type" | "model_attributes_type":
            return f"needs keys with values in braces, or on lines of their own (found {found})"
        case "bool_type" | "bool_parsing":
            return f"{found} is neither true nor false (write true or false, without quotes)"
        case "decimal_parsing" | "decimal_type" | "int_type" | "float_type" | "int_from_float" | "float_parsing":
            return f"{found} is no number (the number alone, with a point: 45.5)"
        case "greater_than_equal" | "greater_than" | "less_than_equal" | "less_than":
            signs = {"ge": "{} or more", "gt": "more than {}", "le": "at most {}", "lt": "less than {}"}
            limits = [signs[name].format(limit) for name, limit in context.items() if name in signs]
            return f"{found} is out of range ({', '.join(limits)})"
        case "too_short" | "string_too_short":
            return f"is too short (needs {context.get('min_length', 1)} or more)"
        case "string_too_long":
            return f"is longer than {context.get('max_length')} characters"
        case _:
            return f"{message} (found {found})"


def _pattern(pattern: str, value: object, found: str) -> str:
    for piece, text in _PATTERNS:
        if piece.search(pattern):
            sign = " " if "' -" in pattern else "-" if "a-z0-9-" in pattern else "_"
            return text.format(found=found, better=_as_name(str(value), sign))
    return f"{found} does not fit"


def _as_name(text: str, sign: str = "_") -> str:
    """A likely spelling that the forms take."""
    return (
        re.sub(r"[^a-z0-9]+" if sign != " " else r"[^a-z']+", sign, text.lower()).strip(f"{sign}0123456789") or "name"
    )


def _extra(key: str, model: type[BaseModel], where: At, forms: Sequence[type[BaseModel]], data: object) -> str:
    """A key that stands where none of this name belongs: where it does, or what it may be a slip of."""
    here = _name(where[:-1])
    if key.isdecimal():
        return "is the rest of a number with a comma (write a point: 45.5)"
    for depth in range(len(where) - 2, -1, -1):
        if isinstance(where[depth], int) or depth == 0:
            outer, _ = _forms_at(model, (*where[: depth + (1 if isinstance(where[depth], int) else 0)], key), data)
            if any(key in keys_of(form) for form in outer):
                beside = next(part for part in where[depth:] if isinstance(part, str))
                owner = _name(where[: depth + 1]) if isinstance(where[depth], int) else "the top of the file"
                return f"is a key of {owner}, not of {here}: write it further out, beside {beside}"
    known = [name for form in forms for name in keys_of(form)]
    near = get_close_matches(key, known, 1, _SIMILAR)
    if near:
        return f"is not a key of {here} (did you mean {near[0]}?)"
    for form in forms:
        for inner, annotation in keys_of(form).items():
            if any(key in keys_of(part) for part in _models(annotation)):
                return f"is not a key of {here}: it belongs into {_NAMES.get(inner, inner)}"
    listed = ", ".join(known[:_MOST_KEYS]) + (", …" if len(known) > _MOST_KEYS else "")
    return f"is not a key of {here} (there are: {listed})"


def _name(where: At) -> str:
    """What the part of a file at a place is called."""
    keys = [part for part in where if isinstance(part, str)]
    if not keys:
        return "the top of the file"
    return _NAMES.get(keys[-1], keys[-1]) if where and isinstance(where[-1], int) else keys[-1]


def _forms_at(model: type[BaseModel], where: At, data: object) -> tuple[list[type[BaseModel]], At | None]:
    """The forms that hold the last key of a place, and the place as the file has it.

    Where a value may have one of several forms pydantic names the form in the place. It is None where the value that
    was written is of another kind than that form.
    """
    if not where:
        return [model], ()
    now: list[Any] = [model]
    written: list[str | int] = []
    value = data
    for part in where[:-1]:
        following = [one for annotation in now for one in _inside(annotation, part)]
        inside = (isinstance(value, dict) and part in value) or (isinstance(value, list) and isinstance(part, int))
        tagged = [one for annotation in now for one in _tagged(annotation, part)]
        if not inside and tagged:
            now = tagged  # the shape that the value itself has chosen
            continue
        if not inside:
            # The name of a form or of a shape, put in by pydantic: a mapping is meant to be a form, nothing else is.
            if forms := _called(now, part):
                now = list(forms)
                if not isinstance(value, dict):
                    return [], None
            continue
        written.append(part)
        value = value[part] if isinstance(value, dict | list) else None  # type: ignore[index]  # of either kind
        now = following
    last = where[-1]
    if any(True for annotation in now for _ in _tagged(annotation, last)):
        return [], tuple(written)
    if isinstance(last, str) and _called(now, last) and not (isinstance(value, dict) and last in value):
        return [], tuple(written) if isinstance(value, dict) else None
    if isinstance(last, str) and "[" in last:  # an alternative of a union that is no form
        return [], None if isinstance(value, dict) else tuple(written)
    if isinstance(last, str) and not isinstance(value, dict):  # a shape that was meant, where there are several
        return [], tuple(written)
    return [form for annotation in now for form in _models(annotation)], (*written, last)


def _tagged(annotation: Any, part: str | int) -> Iterator[Any]:  # noqa: ANN401 - any annotation
    """What in something annotated so is tagged with a part of a place (`pydantic.Tag`)."""
    arguments = get_args(annotation)
    if get_origin(annotation) is Annotated:
        if any(isinstance(one, Tag) and one.tag == part for one in arguments[1:]):
            yield arguments[0]
        yield from _tagged(arguments[0], part)
    elif get_origin(annotation) in {Union, types.UnionType}:
        for option in arguments:
            yield from _tagged(option, part)


def _called(annotations: Sequence[Any], part: str | int) -> list[type[BaseModel]]:
    """The forms that pydantic means by a part of a place: "Lift", or "function-after[…, Lift]"."""
    forms = [form for annotation in annotations for form in _models(annotation)]
    return [form for form in forms if re.search(rf"\b{form.__name__}\b", str(part))]


def _inside(annotation: Any, part: str | int) -> list[Any]:  # noqa: ANN401 - any annotation
    """What the value under a key, or at a position, of something annotated so is annotated as."""
    origin = get_origin(annotation)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        inner = keys_of(annotation).get(str(part))
        return [inner] if inner is not None else []
    if origin is Annotated:
        return _inside(get_args(annotation)[0], part)
    if origin in {Union, types.UnionType}:
        return [one for option in get_args(annotation) for one in _inside(option, part)]
    if origin is dict:
        return [get_args(annotation)[1]] if isinstance(part, str) else []
    if origin in {tuple, list}:
        return [get_args(annotation)[0]] if isinstance(part, int) else []
    return []


def _models(annotation: Any, depth: int = 0) -> list[type[BaseModel]]:  # noqa: ANN401 - any annotation
    """The forms that something annotated so may be, or be a list or a mapping of."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    if depth > _DEEPEST or get_origin(annotation) is Literal:
        return []
    return [form for one in get_args(annotation) for form in _models(one, depth + 1)]


def _literals(annotation: Any) -> list[object]:  # noqa: ANN401 - any annotation
    return list(get_args(annotation)) if get_origin(annotation) is Literal else []


def _annotation(form: type[BaseModel], key: str) -> Any:  # noqa: ANN401 - any annotation
    return keys_of(form).get(key)


def forms_of_key(form: type[BaseModel], key: str) -> list[type[BaseModel]]:
    """The forms that the value of a key may be, or be a list or a mapping of."""
    return _models(keys_of(form)[key])


def keys_of(form: type[BaseModel]) -> dict[str, Any]:
    """The keys of a form as they are written, with their annotations."""
    return {info.alias or name: info.annotation for name, info in form.model_fields.items()}
