"""The house rules that a reader relies on: names that are found, modules that are read at once, facts read by type.

All bounds are this project's own.
"""

import ast
import dataclasses
import importlib
import inspect
import pkgutil
import re
from collections import defaultdict
from pathlib import Path

import pytest

import handsfree

PACKAGE = Path(handsfree.__file__).parent
ROOT = PACKAGE.parent
LONGEST = 400
SAME_MEANING = {
    "__init__",
    "baseline",  # the readings that a visit is compared with: as values, on record, as a command's option
    "choose",  # which of several kinds is used
    "day",
    "devices",
    "light",
    "models",
    "port",  # what the rest of the program asks of a part
    "progress",
    "schema",
    "summary",
}
"""Names of modules that stand more than once and mean the same thing on different floors."""
CHANGING = {"ChainRead", "ChainedFile", "Journal", "LineChain", "LinesRead", "Override", "Reply", "SessionState"}
"""States and collections under way; every other data class is a value."""
OPEN = {"EventContext", "Override", "Reply", "SessionState", "Visit"}
"""Data classes without slots; of each there is one in a visit, or one while an event is handled."""


def modules():
    return sorted(path for path in PACKAGE.rglob("*.py"))


def test_class_names_are_unique():
    homes = defaultdict(list)
    for path in modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                homes[node.name].append(str(path.relative_to(PACKAGE)))
    assert {name: places for name, places in homes.items() if len(places) > 1} == {}


def test_module_names_repeat_only_where_they_mean_the_same():
    homes = defaultdict(list)
    for path in modules():
        homes[path.stem].append(str(path.relative_to(PACKAGE)))
    assert {name: places for name, places in homes.items() if len(places) > 1 and name not in SAME_MEANING} == {}


def test_every_module_can_be_read_at_once():
    folders = [PACKAGE, ROOT / "tests", ROOT / "scripts"]
    paths = [path for folder in folders if folder.is_dir() for path in folder.rglob("*.py")]
    lengths = {str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines()) for path in paths}
    assert {name: length for name, length in lengths.items() if length > LONGEST} == {}


def test_facts_are_read_by_type():
    asked = re.compile(r"\bdata\.get\(|\.data\[\"|\bheader\.get\(")
    files = [path for path in modules() if path.parts[-2] not in {"definition", "forms"}]
    found = [
        f"{path.relative_to(PACKAGE)}:{number}"
        for path in files
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if asked.search(line) and path.relative_to(PACKAGE).parts[0] not in {"authoring"}
    ]
    assert found == []


@pytest.mark.parametrize("held", [{"state", "visit", "ledger", "guidance", "event", "wording", "heard"}])
def test_no_function_takes_a_context_and_what_the_context_holds(held):
    found = []
    for path in (PACKAGE / "session").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                names = {argument.arg for argument in [*node.args.args, *node.args.kwonlyargs]}
                if "now" in names and names & held:
                    found.append(f"{path.stem}.{node.name}: {sorted(names & held)}")
    assert found == []


def data_classes(package):
    for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        module = importlib.import_module(info.name)
        for _, found in inspect.getmembers(module, inspect.isclass):
            if found.__module__ == module.__name__ and dataclasses.is_dataclass(found):
                yield found


@pytest.mark.parametrize("name", ["exposure", "record", "session"])
def test_values_cannot_be_changed_and_take_no_field_that_is_not_theirs(name):
    found = list(data_classes(importlib.import_module(f"handsfree.{name}")))
    changing = {one.__name__ for one in found if not one.__dataclass_params__.frozen}
    unslotted = {one.__name__ for one in found if "__slots__" not in vars(one)}
    assert len(found) > 5
    assert changing <= CHANGING
    assert unslotted <= OPEN


@pytest.mark.parametrize("module", ["header", "own_lines"])
def test_what_stands_on_a_records_lines_is_given_by_name(module):
    # Two strings that change places would be on file for ever.
    home = importlib.import_module(f"handsfree.record.{module}")
    fields = [
        field
        for one in vars(home).values()
        if dataclasses.is_dataclass(one) and one.__module__ == home.__name__
        for field in dataclasses.fields(one)
    ]
    assert fields
    assert [field.name for field in fields if field.init and not field.kw_only] == []
