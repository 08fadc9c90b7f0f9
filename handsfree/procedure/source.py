"""YAML 1.2 text to plain data with the line of every value, so that each fault can be named as file:line."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from handsfree.errors import ProcedureFileError

Path_ = tuple[str | int, ...]
Model = TypeVar("Model", bound=BaseModel)


@dataclass
class Source:
    """A parsed file.

    Attributes:
        name: How the file is called in messages.
        data: Plain JSON-ready data.
        lines: Line (from 1) of each path.
        faults: What is wrong so far, as (line, text).
    """

    name: str
    data: object = None
    lines: dict[Path_, int] = field(default_factory=dict)
    faults: list[tuple[int, str]] = field(default_factory=list)

    def line_of(self, path: Path_) -> int:
        """Line of a path, or of the nearest part of it that is in the file."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def fault(self, path: Path_, text: str) -> None:
        """Note a fault at a path."""
        where = ".".join(str(part) for part in path)
        self.faults.append((self.line_of(path), f"{where}: {text}" if where else text))

    def described_faults(self) -> list[str]:
        """Everything noted so far in the order of the file, as file:line: path: text."""
        return [f"{self.name}:{line}: {text}" for line, text in sorted(set(self.faults))]


def read_source(path: Path) -> Source:
    """Read a YAML file.

    Raises:
        ProcedureFileError: It cannot be read, or is not YAML.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise ProcedureFileError(f"{path}: cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ProcedureFileError(f"{path}: is not UTF-8 text (a procedure is a YAML file)") from error
    return parse_source(text, str(path))


def parse_source(text: str, name: str) -> Source:
    """Parse YAML text. See `read_source`."""
    yaml = YAML(typ="safe", pure=True)
    yaml.version = (1, 2)
    source = Source(name)
    try:
        node = yaml.compose(text)
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        problem = getattr(error, "problem", None) or str(error).splitlines()[0]
        line = mark.line + 1 if mark is not None else 1
        raise ProcedureFileError(f"{name}:{line}: not YAML: {problem}") from error
    if not isinstance(node, MappingNode):
        raise ProcedureFileError(f"{name}:1: must be a mapping of keys to values")
    source.data = _plain(node, (), source)
    return source


def _plain(node: Node, path: Path_, source: Source) -> object:
    source.lines[path] = node.start_mark.line + 1
    if isinstance(node, MappingNode):
        mapping: dict[str, object] = {}
        for key_node, value_node in node.value:
            key = str(key_node.value)
            source.lines[(*path, key)] = key_node.start_mark.line + 1
            if key in mapping:
                source.faults.append((key_node.start_mark.line + 1, f"{key}: stands twice (give it once)"))
            value = _plain(value_node, (*path, key), source)
            source.lines[(*path, key)] = key_node.start_mark.line + 1
            mapping[key] = value
        return mapping
    if isinstance(node, SequenceNode):
        return [_plain(item, (*path, index), source) for index, item in enumerate(node.value)]
    assert isinstance(node, ScalarNode)  # noqa: S101 - YAML has no fourth kind
    return _scalar(str(node.value), str(node.tag).rpartition(":")[2])


def _scalar(text: str, tag: str) -> object:
    match tag:
        case "null":
            return None
        case "bool":
            return text.lower() == "true"
        case "int":
            return int(text, 0)
        case "float":
            return float(text)
        case _:
            return text


def validate(source: Source, model: type[Model]) -> Model | None:
    """Check data against a model; faults are noted in the source.

    Returns:
        The value, or None if there were faults.
    """
    try:
        return model.model_validate_json(json.dumps(source.data))
    except ValidationError as error:
        for path, text in _described(error):
            source.fault(path, text)
        return None


def _described(error: ValidationError) -> Iterator[tuple[Path_, str]]:
    for item in error.errors(include_url=False):
        text = item["msg"].removeprefix("Value error, ")
        if item["type"] == "extra_forbidden":
            text = "is not a key of this form (take it out, or look for a typing error)"
        elif item["type"] == "missing":
            text = "is missing"
        elif item["type"] not in {"value_error"}:
            text = f"{text} (found {str(item['input'])[:60]!r})"
        yield tuple(item["loc"]), text
