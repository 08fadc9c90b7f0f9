"""YAML 1.2 text to plain data with the place of every value, so that each fault can be named as file:line."""

import json
import math
import warnings
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple, TypeVar

from pydantic import BaseModel, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.error import ReusedAnchorWarning, YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from handsfree.definition.fault_words import form_faults, yaml_fault
from handsfree.errors import ProcedureFileError
from handsfree.regular_files import read_named

Path_ = tuple[str | int, ...]
Model = TypeVar("Model", bound=BaseModel)
MOST_VALUES = 100_000
"""Values in one file, aliases counted each time; a file of more is a mistake or a trap."""
MOST_DEPTH = 40
"""How deep values may lie in each other; the longest bundled procedure needs seven."""
TEXTS_KEPT = 64
"""Texts whose nodes are kept: all bundled files twice over. Blocks and profiles are shared by several procedures."""
LONGEST_NUMBER = 100
"""Characters of a number; one of more is taken as text, which fits nowhere that a number is wanted."""
_TOO_DEEP = f"lists and mappings lie more than {MOST_DEPTH} deep in each other (write them flat)"
_NO_NUMBERS = {".inf", "-.inf", "+.inf", ".nan"}


class Origin(NamedTuple):
    """Where a value is written.

    Attributes:
        file: How the file is called in messages.
        line: Line, from 1.
        path: Keys and positions that lead to it in that file.
    """

    file: str
    line: int
    path: Path_


@dataclass
class SourceLines:
    """A parsed file, or one with its blocks put in.

    Attributes:
        name: How the file is called in messages.
        data: Plain JSON-ready data.
        origins: Where each value is written, by its path in `data`.
        faults: What is wrong so far.
        parts: Files that were read for it, itself first.
        words_for: Identifier, version and language of the procedure that it says in other words, or None.
    """

    name: str
    data: object = None
    origins: dict[Path_, Origin] = field(default_factory=dict)
    faults: list[tuple[Origin, str]] = field(default_factory=list)
    parts: tuple[str, ...] = ()
    words_for: tuple[str, str, str] | None = None

    def origin_of(self, path: Path_) -> Origin:
        """Where a path is written, or would be: the nearest part of it that is in a file has the line."""
        known = path
        while known and known not in self.origins:
            known = known[:-1]
        origin = self.origins.get(known, Origin(self.name, 1, ()))
        return origin._replace(path=(*origin.path, *path[len(known) :]))

    def line_of(self, path: Path_) -> int:
        """Line of a path, or of the nearest part of it that is in the file."""
        return self.origin_of(path).line

    def fault(self, path: Path_, text: str) -> None:
        """Note a fault at a path."""
        self.faults.append((self.origin_of(path), text))

    def described_faults(self) -> list[str]:
        """Everything noted so far in the order of the files, as file:line: path: text."""
        order = {name: number for number, name in enumerate(self.parts)}
        lines = {(order.get(origin.file, 0), origin.line, describe(origin, text)) for origin, text in self.faults}
        return [text for _, _, text in sorted(lines)]


def describe(origin: Origin, text: str) -> str:
    """One fault as a line: file:line: path: text."""
    where = ".".join(str(part) for part in origin.path)
    return f"{origin.file}:{origin.line}: {where}: {text}" if where else f"{origin.file}:{origin.line}: {text}"


def read_source(path: Path) -> SourceLines:
    """Read a YAML file.

    Raises:
        ProcedureFileError: It cannot be read, or is not YAML.
    """
    try:
        text = read_named(path).decode("utf-8")
    except OSError as error:
        raise ProcedureFileError(f"{path}: cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ProcedureFileError(f"{path}: is not UTF-8 text (a procedure is a YAML file)") from error
    return parse_source(text, str(path))


def parse_source(text: str, name: str) -> SourceLines:
    """Parse YAML text. See `read_source`."""
    try:
        node = _composed(text)
    except ReusedAnchorWarning as error:
        anchor = str(error).partition("'")[2].partition("'")[0]
        raise ProcedureFileError(f"{name}:1: the anchor {anchor} stands twice (give each a name of its own)") from error
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        problem = getattr(error, "problem", None) or str(error).splitlines()[0]
        line = mark.line + 1 if mark is not None else 1
        begun = getattr(error, "context_mark", None)
        line, told = yaml_fault(problem, text, line, begun.line + 1 if begun is not None else line)
        raise ProcedureFileError(f"{name}:{line}: {told}") from error
    except RecursionError as error:
        raise ProcedureFileError(f"{name}:1: {_TOO_DEEP}") from error
    except ValueError as error:  # a character by a number that is none
        raise ProcedureFileError(f"{name}:1: not YAML: {error}") from error
    if not isinstance(node, MappingNode):
        raise ProcedureFileError(f"{name}:1: has no keys with values (begin with form: 1, or with handsfree new)")
    source = SourceLines(name, parts=(name,))
    _Reader(source).read(node)
    return source


@lru_cache(maxsize=TEXTS_KEPT)
def _composed(text: str) -> Node | None:
    """The nodes of a text, which nobody changes: composing them takes nearly all the time that reading a file takes.

    Raises:
        YAMLError: It is not YAML.
        ReusedAnchorWarning: An anchor stands twice.
        RecursionError: It is too deep.
        ValueError: A character is given by a number that is none.
    """
    yaml = YAML(typ="safe", pure=True)
    yaml.version = (1, 2)
    with warnings.catch_warnings():
        warnings.simplefilter("error", ReusedAnchorWarning)
        node: Node | None = yaml.compose(text)
    return node


class _Reader:
    """Turns nodes to plain data; knows which nodes it is inside of."""

    def __init__(self, source: SourceLines) -> None:
        self._source = source
        self._inside: list[int] = []
        self._count = 0

    def read(self, node: Node) -> None:
        self._source.data = self._plain(node, ())

    def _plain(self, node: Node, path: Path_) -> object:
        line = node.start_mark.line + 1
        self._count += 1
        if id(node) in self._inside:
            raise ProcedureFileError(f"{self._source.name}:{line}: an anchor stands inside itself (write it out)")
        if len(self._inside) > MOST_DEPTH:
            raise ProcedureFileError(f"{self._source.name}:{line}: {_TOO_DEEP}")
        if self._count > MOST_VALUES:
            raise ProcedureFileError(f"{self._source.name}:{line}: more than {MOST_VALUES} values (split the file)")
        self._source.origins.setdefault(path, Origin(self._source.name, line, path))
        if isinstance(node, ScalarNode):
            return _scalar(str(node.value), str(node.tag).rpartition(":")[2])
        self._inside.append(id(node))
        value: object
        if isinstance(node, MappingNode):
            value = self._mapping(node, path)
        else:
            assert isinstance(node, SequenceNode)  # noqa: S101 - YAML has no fourth kind
            value = [self._plain(item, (*path, index)) for index, item in enumerate(node.value)]
        self._inside.pop()
        return value

    def _mapping(self, node: MappingNode, path: Path_) -> dict[str, object]:
        mapping: dict[str, object] = {}
        for key_node, value_node in node.value:
            key = str(key_node.value)
            at = Origin(self._source.name, key_node.start_mark.line + 1, (*path, key))
            if key in mapping:
                self._source.faults.append((at._replace(path=(key,)), "stands twice (give it once)"))
            # A value is found by the line of its key, also where it is an alias of something far away.
            self._source.origins[at.path] = at
            mapping[key] = self._plain(value_node, at.path)
        return mapping


def _scalar(text: str, tag: str) -> object:
    match tag:
        case "null":
            return None
        case "bool":
            return text.lower() == "true"
        case "int" | "float" if len(text) <= LONGEST_NUMBER:
            try:
                return _number(text, whole=tag == "int")
            except ValueError:  # called a number by a tag, and none
                return text
        case _:
            return text


def _number(text: str, *, whole: bool) -> float | str:
    if whole:
        return int(text) if text.lstrip("+-").isdecimal() else int(text, 0)
    return text if text.lower() in _NO_NUMBERS or not math.isfinite(float(text)) else float(text)


def validate(source: SourceLines, model: type[Model]) -> Model | None:
    """Check data against a model; faults are noted in the source.

    Returns:
        The value, or None if there were faults.
    """
    return validate_part(source, (), source.data, model)


def validate_part(source: SourceLines, path: Path_, data: object, model: type[Model]) -> Model | None:
    """Check a part of a file against a model. See `validate`."""
    try:
        return model.model_validate_json(json.dumps(data))
    except ValidationError as error:
        for where, text in form_faults(error, model, data):
            source.fault((*path, *where), text)
        return None
