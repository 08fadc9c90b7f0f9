"""Where a module can be changed by one mutation, and which of those are drawn."""

import ast
import hashlib
import random
import warnings
from argparse import Namespace
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cosmic_ray.plugins
from cosmic_ray.commands.init import init
from cosmic_ray.config import serialize_config
from cosmic_ray.mutating import mutate_code
from cosmic_ray.tools.filters.operators_filter import OperatorsFilter
from cosmic_ray.work_db import WorkDB
from cosmic_ray.work_item import MutationSpec, WorkItem

ARITHMETIC = (
    "Add_Sub",
    "Sub_Add",
    "Mul_Div",
    "Div_Mul",
    "FloorDiv_Div",
    "Mod_FloorDiv",
    "Pow_Mul",
    "BitOr_BitAnd",
    "BitAnd_BitOr",
)
EXCLUDED = (
    # Arithmetic that no programmer writes by mistake ("seconds ^ 2") fails at once and proves nothing.
    rf"core/ReplaceBinaryOperator_(?!({'|'.join(ARITHMETIC)})$)",
    r"core/ReplaceUnaryOperator_(\w+_(Invert|Not)|Delete_\w+)$",
    # Members of an enumeration and None are equal exactly when they are the same.
    r"core/ReplaceComparisonOperator_(Eq_Is|Is_Eq|NotEq_IsNot|IsNot_NotEq)$",
)
"""Regular expressions of the tool's operators that are left out."""
Span = tuple[tuple[int, int], tuple[int, int]]
"""Begin and end, each a line from 1 and a column from 0; the end is not part of it."""
Places = dict[tuple[str, int, int], list[WorkItem]]
"""By module, line and column."""
Key = tuple[str, int, int, str, str]
"""Module, line, column, the tool's operator and the line as changed."""
SPEED_ALONE = {"cache", "lru_cache"}
"""Decorators whose loss changes how long something takes and nothing else."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change to one module.

    Attributes:
        item: The tool's own description.
        module: Path of the module in the tree.
        line: First line of the change.
        before: The text of the line.
        after: The same line, changed.
        statement: First and last line of the smallest statement (of a compound one: its head) round the change.
        in_function: False where the statement runs as the module is loaded.
    """

    item: WorkItem
    module: str
    line: int
    before: str
    after: str
    statement: tuple[int, int]
    in_function: bool

    @property
    def key(self) -> Key:
        """The same in every run over the same text."""
        change = self.item.mutations[0]
        return self.module, self.line, change.start_pos[1], change.operator_name, self.after.strip()

    def __str__(self) -> str:
        return f"{self.module}:{self.line}: {self.before.strip()} -> {self.after.strip()}"


def all_places(root: Path, modules: Iterable[Path], config: Path) -> Places:
    """Every place that can be changed, with the changes that it allows.

    Args:
        root: The tree.
        modules: Modules, inside the tree.
        config: Where to write the tool's configuration.
    """
    config.write_text(serialize_config({"filters": {"operators-filter": {"exclude-operators": list(EXCLUDED)}}}))
    database = WorkDB(":memory:", WorkDB.Mode.create)
    init(modules, database, {})
    OperatorsFilter().filter(database, Namespace(config=str(config)))
    items = sorted(database.pending_work_items, key=lambda item: _order(item.mutations[0]))
    database.close()
    places: Places = defaultdict(list)
    for item in items:
        change = item.mutations[0]
        if _of_interest(change.module_path, item):
            places[str(change.module_path.relative_to(root)), *change.start_pos].append(item)
    return places


def drawn(root: Path, places: Places, n: int | None, seed: int) -> list[Mutant]:
    """Mutants of places drawn by lot, one of each place, so that a comparison counts no more than a sign.

    The lot of a place hangs on its own text, so that a change elsewhere draws no other places.

    Args:
        root: The tree.
        places: From `all_places`.
        n: How many; None draws every mutant of every place.
        seed: Of the lot.
    """
    if n is None:
        return [mutant for items in places.values() for mutant in _whole(root, items)]
    found: list[Mutant] = []
    lots = _lots(root, places, seed)
    for place in sorted(places, key=lambda place: lots[place]):
        if len(found) == n:
            break
        lot = random.Random(lots[place])  # noqa: S311 - no secret
        found += list(_whole(root, lot.sample(places[place], len(places[place]))))[:1]
    return found


def _lots(root: Path, places: Places, seed: int) -> dict[tuple[str, int, int], str]:
    """The lot of each place: a hash of its line, and of how many like it stand before it in its module."""
    like: Counter[tuple[str, str, int]] = Counter()
    found: dict[tuple[str, int, int], str] = {}
    for module, line, column in sorted(places):
        text = _lines(root / module)[line - 1]
        like[module, text, column] += 1
        parts = (seed, module, text, column, like[module, text, column])
        found[module, line, column] = hashlib.sha256(repr(parts).encode()).hexdigest()
    return found


def _order(change: MutationSpec) -> tuple[object, ...]:
    return str(change.module_path), change.start_pos, change.operator_name, change.occurrence


def _whole(root: Path, items: Iterable[WorkItem]) -> Iterator[Mutant]:
    """Those that are still Python, and another text than before."""
    for item in items:
        change = item.mutations[0]
        text = change.module_path.read_text(encoding="utf-8")
        operator = cosmic_ray.plugins.get_operator(change.operator_name)()
        changed = mutate_code(text, operator, change.occurrence)
        if changed is None or changed == text:
            continue
        if not _compiles(changed):
            continue
        before, after = _first_difference(text, changed, change)
        statement, in_function = _statement_at(change.module_path, change.start_pos[0])
        module = str(change.module_path.relative_to(root))
        yield Mutant(item, module, change.start_pos[0], before, after, statement, in_function)


def _compiles(text: str) -> bool:
    """Without a warning, which the tests would take for an error."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            compile(text, "changed", "exec")
        except (SyntaxError, SyntaxWarning):
            return False
    return True


def _first_difference(text: str, changed: str, change: MutationSpec) -> tuple[str, str]:
    if change.operator_name == "core/RemoveDecorator":
        return text.splitlines()[change.start_pos[0] - 1], "(removed)"
    pairs = zip(text.splitlines(), changed.splitlines(), strict=True)
    return next((old, new) for old, new in pairs if old != new)


@cache
def _lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines()


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def _span(node: ast.AST, before: int = 0) -> Span:
    return (node.lineno, node.col_offset - before), (node.end_lineno, node.end_col_offset)


@cache
def _left_out(path: Path) -> list[Span]:
    """Parts in which a change changes no behaviour: annotations, unions of types, slots, log calls, caches."""
    found: list[Span] = []
    for node in ast.walk(_tree(path)):
        notes = (getattr(node, "annotation", None), getattr(node, "returns", None))
        found += [_span(note) for note in notes if note is not None]
        if (isinstance(node, ast.BinOp) and _is_union(node)) or (isinstance(node, ast.Call) and _is_log(node.func)):
            found.append(_span(node))
        if isinstance(node, ast.keyword) and node.arg == "slots":
            found.append(_span(node))  # memory, no behaviour
        # The tool's place of a decorator is its "@", one column before what is parsed.
        found += [_span(mark, before=1) for mark in getattr(node, "decorator_list", ()) if _is_cache(mark)]
    return found


def _of_interest(path: Path, item: WorkItem) -> bool:
    change = item.mutations[0]
    position = change.start_pos
    if change.operator_name.startswith("core/ReplaceBinaryOperator") and not any(
        begin <= position < end for begin, end in _sums(path)
    ):
        # A star in a signature or a call is no arithmetic.
        return False
    return not any(begin <= position < end for begin, end in _left_out(path))


@cache
def _sums(path: Path) -> list[Span]:
    return [_span(node) for node in ast.walk(_tree(path)) if isinstance(node, ast.BinOp)]


def _is_union(node: ast.expr) -> bool:
    """`A | B` of classes."""
    if isinstance(node, ast.BinOp):
        return isinstance(node.op, ast.BitOr) and _is_union(node.left) and _is_union(node.right)
    if isinstance(node, ast.Subscript):
        return _is_union(node.value)
    if isinstance(node, ast.Constant):
        return node.value is None
    name = node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""
    return name in {"str", "int", "float", "bool", "bytes", "dict", "list", "tuple"} or (
        name[:1].isupper() and not name.isupper()
    )


def _is_log(called: ast.expr) -> bool:
    return (
        isinstance(called, ast.Attribute)
        and isinstance(called.value, ast.Name)
        and called.value.id.lower().strip("_") in {"log", "logger"}
    )


def _is_cache(mark: ast.expr) -> bool:
    called = mark.func if isinstance(mark, ast.Call) else mark
    return isinstance(called, ast.Name) and called.id in SPEED_ALONE


def _statement_at(path: Path, line: int) -> tuple[tuple[int, int], bool]:
    """Lines of the smallest statement round a line, of a compound one its head; and whether a function holds it."""
    best, in_function = (line, line), False
    for node in ast.walk(_tree(path)):
        if not isinstance(node, ast.stmt | ast.ExceptHandler | ast.match_case):
            continue
        body = node.body if isinstance(getattr(node, "body", None), list) else []
        first = getattr(node, "lineno", None) or node.pattern.lineno  # type: ignore[attr-defined]
        last = getattr(node, "end_lineno", None) or body[-1].end_lineno
        if isinstance(node, ast.FunctionDef) and body and body[0].lineno <= line <= last:
            in_function = True
        last = max(first, body[0].lineno - 1) if body else last
        if first <= line <= last:
            best = (first, last)
    return best, in_function
