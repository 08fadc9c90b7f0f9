"""The tests of a mutation run, inside a copy of the tree.

`watch` runs the tests unchanged and writes down how long each took and which lines it passed; `chosen` runs some of
them in the order given and stops at the first failure. Tests that need weights or real time are left out.

Use: python scripts/mutation_tests.py watch OUT PATH...
     python scripts/mutation_tests.py chosen LIST
"""

import json
import sys
import time
from collections import defaultdict
from collections.abc import Generator
from pathlib import Path

import coverage
import pytest

OPTIONS = ("-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not sound and not live", "--hypothesis-seed=0")


class Watch:
    """Notes of every test: its seconds, whether it passed, and the seconds that its file took to load."""

    def __init__(self, cover: coverage.Coverage) -> None:
        self._cover = cover
        self._since_s = 0.0
        self.seconds: dict[str, float] = defaultdict(float)
        self.failed: set[str] = set()
        self.loading: dict[str, float] = {}

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(self, collector: pytest.Collector) -> Generator[None, pytest.CollectReport, object]:
        """Time the loading of a file; one that cannot be loaded counts as failed."""
        begun_s = time.perf_counter()
        report = yield
        if isinstance(collector, pytest.Module):
            self.loading[collector.nodeid] = time.perf_counter() - begun_s
        if report.failed:
            self.failed.add(collector.nodeid)
        return report

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        """Lines passed from here on belong to this test."""
        self._cover.switch_context(item.nodeid)
        return (yield)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Add up setup, call and teardown."""
        self.seconds[report.nodeid] += report.duration
        if report.failed:
            self.failed.add(report.nodeid)


class Chosen:
    """Keeps the tests of a list, in its order; a test that the change has renamed away is left out."""

    def __init__(self, order: list[str]) -> None:
        self._place = {node: place for place, node in enumerate(order)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Choose and sort."""
        items[:] = sorted((item for item in items if item.nodeid in self._place), key=lambda i: self._place[i.nodeid])


def watch(out: Path, paths: list[str]) -> None:
    """Write what each test took and passed to `out`, as JSON.

    Args:
        out: The file to write: `seconds` and `loading` by name, `failed` names, `lines` of each module with the numbers
            of the tests that passed them.
        paths: Folders or files of tests.
    """
    cover = coverage.Coverage(data_file=None, source=["handsfree"], config_file=False)
    notes = Watch(cover)
    cover.start()
    pytest.main([*OPTIONS, "--continue-on-collection-errors", *paths], plugins=[notes])
    cover.stop()
    order = sorted(set(notes.seconds) - notes.failed)
    number = {name: place for place, name in enumerate(order)}
    data = cover.get_data()
    lines = {
        str(Path(file).relative_to(Path.cwd())): {
            line: [number[name] for name in names if name in number]
            for line, names in data.contexts_by_lineno(file).items()
        }
        for file in data.measured_files()
    }
    found = {
        "tests": order,
        "seconds": [notes.seconds[name] for name in order],
        "loading": notes.loading,
        "failed": sorted(notes.failed),
        "lines": lines,
    }
    out.write_text(json.dumps(found), encoding="utf-8")


def chosen(order: list[str]) -> int:
    """Run the tests of a list.

    Returns:
        0 when all passed or none is left, 1 when one failed or a file could not be loaded.
    """
    files = list(dict.fromkeys(name.split("::")[0] for name in order))
    status = pytest.main([*OPTIONS, "-x", *files], plugins=[Chosen(order)])
    return 0 if status in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED) else 1


if __name__ == "__main__":
    sys.path.insert(0, str(Path.cwd()))
    if sys.argv[1] == "watch":
        watch(Path(sys.argv[2]), sys.argv[3:])
    else:
        sys.exit(chosen(Path(sys.argv[2]).read_text(encoding="utf-8").splitlines()))
