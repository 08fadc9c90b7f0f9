"""Every key that a file may have: what it means, by the docstring of its form, and an example from a bundled file.

The page `procedures/KEYS.md` is written by it (`scripts/write_keys_page`), and a test holds one against the other: a
key without words, or without an example in a file that is checked, cannot be released.
"""

import inspect
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from handsfree.authoring.schema import KINDS
from handsfree.definition.blocks import BlockFile, Use
from handsfree.definition.fault_words import forms_of_key, keys_of
from handsfree.definition.loader import read_expanded
from handsfree.definition.source_lines import SourceLines, read_source

_LONGEST_EXAMPLE = 110
_TITLES = {
    "procedure": "A procedure",
    "blocks": "A file of blocks, and the blocks of a procedure",
    "device": "A device profile",
    "light": "A light profile",
    "translation": "Other words for a procedure",
}
_ENTRY = re.compile(r"^    (\w+): (.*(?:\n {8,}.*)*)", re.MULTILINE)
_PLAIN = re.compile(r"[A-Za-z][\w .'°/-]*")


@dataclass(frozen=True, slots=True)
class KeyEntry:
    """A key of a form.

    Attributes:
        form: The form that has it.
        key: As it is written.
        needed: Whether it must be there.
        meaning: What it means.
        example: The key with a value from a bundled file; "" where none has it.
    """

    form: type[BaseModel]
    key: str
    needed: bool
    meaning: str
    example: str


def entries(kind: str, sources: Iterable[SourceLines]) -> tuple[KeyEntry, ...]:
    """Every key of a kind of file, form by form, the file itself first.

    Args:
        kind: A key of `authoring.schema.KINDS`.
        sources: Files of that kind, to take examples from.
    """
    found = examples_in(KINDS[kind], sources)
    made = []
    for form in _forms(KINDS[kind]) + ([Use] if kind == "blocks" else []):
        meanings = _meanings(form)
        for name, info in form.model_fields.items():
            key = info.alias or name
            shown = found.get((form, key), "")
            made.append(KeyEntry(form, key, info.is_required(), meanings.get(name, ""), shown))
    return tuple(made)


def page(folder: Path) -> str:
    """The whole page.

    Args:
        folder: The folder of the bundled procedures.
    """
    lines = [
        "# Every key",
        "",
        "Written by `scripts/write_keys_page` from the forms that files are checked against; every example stands in a "
        "bundled file that is checked by a test. **Bold** keys must be there. `GUIDE.md` says how to begin.",
    ]
    for kind, sources in bundled_sources(folder).items():
        lines += ["", f"## {_TITLES[kind]}"]
        before: type[BaseModel] | None = None
        for entry in entries(kind, sources):
            if entry.form is not before:
                before = entry.form
                told = inspect.cleandoc(entry.form.__doc__ or "").partition("\n")[0]
                lines += [
                    "",
                    f"### {_heading(kind, entry.form)}",
                    "",
                    told,
                    "",
                    "| key | means | example |",
                    "|---|---|---|",
                ]
            key = f"**`{entry.key}`**" if entry.needed else f"`{entry.key}`"
            lines.append(f"| {key} | {_cell(entry.meaning)} | `{_cell(entry.example)}` |")
    return "\n".join(lines) + "\n"


def bundled_sources(folder: Path) -> Mapping[str, tuple[SourceLines, ...]]:
    """The bundled files of each kind, those of the guide among them; procedures with their blocks put in."""
    files = [*sorted(folder.glob("*.yaml")), *sorted((folder / "guide").glob("*.yaml"))]
    raw = {path: read_source(path) for path in files}
    steps = [path for path, source in raw.items() if isinstance(source.data, dict) and "steps" in source.data]
    other = [path for path in steps if "translates" in _mapping(raw[path].data)]
    own = [path for path in steps if path not in other and "procedure" not in _mapping(raw[path].data)]
    profiles = [
        read_source(path) for path in sorted([*folder.glob("profiles/*.yaml"), *folder.glob("guide/profiles/*.yaml")])
    ]
    return {
        "procedure": tuple(read_expanded(path) for path in own),
        "blocks": (
            *(read_source(path) for path in sorted((folder / "blocks").glob("*.yaml"))),
            *(raw[path] for path in own),
        ),
        "device": tuple(one for one in profiles if "zones" in _mapping(one.data)),
        "light": tuple(one for one in profiles if "irradiance" in _mapping(one.data)),
        "translation": tuple(raw[path] for path in other),
    }


def _mapping(data: object) -> Mapping[str, object]:
    return data if isinstance(data, dict) else {}


def examples_in(model: type[BaseModel], sources: Iterable[SourceLines]) -> dict[tuple[type[BaseModel], str], str]:
    """The shortest example of each key that says something, by its form."""
    found: dict[tuple[type[BaseModel], str], str] = {}
    for source in sources:
        for form, key, value in _uses(model, source.data):
            if value in (None, [], {}):
                continue
            shown = f"{key}: {flow(value)}"
            if len(shown) > _LONGEST_EXAMPLE:
                shown = f"{shown[: _LONGEST_EXAMPLE - 2].rpartition(' ')[0]} …"
            if (form, key) not in found or len(shown) < len(found[form, key]):
                found[form, key] = shown
    return found


def _uses(model: type[BaseModel], data: object) -> Iterator[tuple[type[BaseModel], str, object]]:
    """Every key of a file with its form and value."""
    if not isinstance(data, dict):
        return
    form = Use if "use" in data else model
    for key, value in data.items():
        if form is BlockFile and key == "steps":  # of a procedure that has blocks of its own
            for step in value:
                yield from _uses(Use, step) if "use" in step else ()
        if key in keys_of(form):
            yield form, key, value
            for inner in forms_of_key(form, key):
                for part in _parts(value):
                    if isinstance(part, dict) and (
                        set(part) <= set(keys_of(inner)) or "use" in part or "<" in str(part)
                    ):
                        yield from _uses(inner, part)


def _parts(value: object) -> Iterator[object]:
    """What may be a form in a value: itself, the items of a list, the values of a mapping."""
    yield value
    if isinstance(value, list):
        yield from value
    elif isinstance(value, dict):
        yield from value.values()


def _forms(model: type[BaseModel]) -> list[type[BaseModel]]:
    """A form and all that stand in it, from the outside in, each once."""
    found = [model]
    for form in found:
        for key in keys_of(form):
            found += [inner for inner in dict.fromkeys(forms_of_key(form, key)) if inner not in found]
    return found


def _meanings(form: type[BaseModel]) -> dict[str, str]:
    """What the docstring of a form says of each key."""
    doc = inspect.cleandoc(form.__doc__ or "").partition("Attributes:\n")[2]
    return {name: " ".join(text.split()) for name, text in _ENTRY.findall(doc)}


def flow(value: object) -> str:
    """A value in one line of YAML."""
    if isinstance(value, dict):
        return f"{{{', '.join(f'{key}: {flow(one)}' for key, one in value.items())}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(flow, value))}]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str) and not (_PLAIN.fullmatch(value) and value not in {"true", "false", "null"}):
        return json.dumps(value, ensure_ascii=False)
    return str(value)


def _heading(kind: str, form: type[BaseModel]) -> str:
    where = [key for outer in _forms(KINDS[kind]) for key in keys_of(outer) if form in forms_of_key(outer, key)]
    return f"`{'`, `'.join(dict.fromkeys(where))}`" if where else "use" if form is Use else "The file"


def _cell(text: Any) -> str:  # noqa: ANN401 - any text
    return str(text).replace("|", "\\|").replace("\n", " ")
