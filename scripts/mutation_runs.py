"""Runs mutants in copies of the tree, each against the tests that pass its line, quickest first."""

import multiprocessing
import os
import shutil
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from cosmic_ray.mutating import mutate_and_test
from cosmic_ray.work_item import MutationSpec, TestOutcome, WorkerOutcome
from mutation_places import Mutant

ROUNDS_S = (5.0, 60.0, 180.0)
"""Measured seconds of tests up to which a mutant that still lives is tried again, with the tests not yet run."""
GRACE_S = 30.0
SLOWER = 8.0
"""A round may take this many times what its tests took unchanged, and a grace to start: machines are shared."""


class Fate(StrEnum):
    """What became of a mutant."""

    KILLED = "killed"
    TIMED_OUT = "timed out"
    SURVIVED = "survived"


def copy_tree(root: Path, to: Path) -> Path:
    """A copy of what git knows and of new files, without what it ignores."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=root, capture_output=True, check=True,
    )  # fmt: skip
    for name in filter(None, listed.stdout.decode().split("\0")):
        if (root / name).is_file():
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(root / name, to / name)
    return to


def environment(root: Path) -> dict[str, str]:
    """Variables under which Python imports the copy."""
    return {**os.environ, "PYTHONPATH": str(root)}


def watch(root: Path, out: Path, paths: list[str]) -> None:
    """Run the tests of a package unchanged; see `mutation_tests.watch`."""
    out.parent.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "scripts/mutation_tests.py", "watch", str(out), *paths]
    done = subprocess.run(command, cwd=root, env=environment(root), capture_output=True, text=True, check=False)
    if not out.is_file():
        sys.exit(f"the tests could not be run:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")


def settle_bytecode(root: Path) -> None:
    """Make compiled modules depend on their text: a change within one second of another must not run the other."""
    command = [sys.executable, "-m", "compileall", "-q", "-f", "--invalidation-mode", "checked-hash", "handsfree"]
    subprocess.run(command, cwd=root, check=True)


@dataclass(frozen=True, slots=True)
class Watched:
    """What the tests of one package did unchanged.

    Attributes:
        tests: Names of those that passed.
        seconds: What each took.
        loading: Seconds to load each file of tests.
        failed: Names of tests and files that failed unchanged; they are left out.
        lines: By module and line, the numbers of the tests that passed it.
    """

    tests: list[str]
    seconds: list[float]
    loading: dict[str, float]
    failed: list[str]
    lines: dict[str, dict[str, list[int]]]

    def about(self, mutant: Mutant) -> list[int]:
        """Tests that pass the statement, then others of their files; outside functions, of the module, then all."""
        module = self.lines.get(mutant.module, {})
        first, last = mutant.statement
        rows = [module.get(str(line), []) for line in range(first, last + 1)] if mutant.in_function else module.values()
        near = {test for row in rows for test in row}
        files = {self._file(test) for test in near}
        others = {n for n in range(len(self.tests)) if not mutant.in_function or self._file(n) in files} - near
        return [*self._quickest(near), *self._quickest(others)]

    def rounds(self, mutant: Mutant) -> Iterator[tuple[list[str], float]]:
        """Names of tests and the seconds that they took, in rounds that end at `ROUNDS_S`."""
        waiting, spent_s = self.about(mutant), 0.0
        for until_s in ROUNDS_S:
            taken: list[int] = []
            loaded: set[str] = set()
            while waiting:
                file = self._file(waiting[0])
                cost_s = self.seconds[waiting[0]] + (0.0 if file in loaded else self.loading.get(file, 0.0))
                if taken and spent_s + cost_s > until_s:
                    break
                loaded.add(file)
                spent_s += cost_s
                taken.append(waiting.pop(0))
            if taken:
                yield [self.tests[test] for test in taken], sum(self.seconds[test] for test in taken)

    def _file(self, number: int) -> str:
        return self.tests[number].split("::")[0]

    def _quickest(self, numbers: set[int]) -> list[int]:
        """File by file, first those that have the most to say for their time."""
        by_file: dict[str, list[int]] = defaultdict(list)
        for number in sorted(numbers, key=lambda one: self.seconds[one]):
            by_file[self._file(number)].append(number)

        def cost(file: str) -> float:
            spent_s = self.loading.get(file, 0.0) + sum(self.seconds[one] for one in by_file[file])
            return spent_s / len(by_file[file])

        return [number for file in sorted(by_file, key=cost) for number in by_file[file]]


def run_all(root: Path, work: list[tuple[Mutant, Watched]], jobs: int) -> Iterator[tuple[Mutant, Fate, str]]:
    """Try mutants in `jobs` copies at once.

    Yields:
        Each mutant, what became of it, and the name of the test that failed first.
    """
    copies = [shutil.copytree(root, root.parent / f"job-{number}", symlinks=True) for number in range(jobs)]
    free: multiprocessing.Queue[Path] = multiprocessing.Queue()
    for copy in copies:
        free.put(copy)
    with multiprocessing.Pool(jobs, _take_copy, (free, root)) as pool:
        tasks = ((place, mutant, list(watched.rounds(mutant))) for place, (mutant, watched) in enumerate(work))
        found = pool.imap_unordered(_try, tasks)
        for place, fate, test in found:
            yield work[place][0], fate, test


_HOME: list[Path] = []


def _take_copy(free: "multiprocessing.Queue[Path]", root: Path) -> None:
    copy = free.get()
    os.chdir(copy)
    os.environ.update(environment(copy))
    _HOME[:] = [copy, root]


def _try(task: tuple[int, Mutant, list[tuple[list[str], float]]]) -> tuple[int, Fate, str]:
    place, mutant, rounds = task
    copy, root = _HOME
    change = mutant.item.mutations[0]
    here = MutationSpec(
        copy / change.module_path.relative_to(root),
        change.operator_name, change.occurrence, change.start_pos, change.end_pos,
    )  # fmt: skip
    chosen = copy / "chosen.txt"
    for names, seconds in rounds:
        chosen.write_text("\n".join(names), encoding="utf-8")
        command = f'"{sys.executable}" scripts/mutation_tests.py chosen chosen.txt'
        result = mutate_and_test([here], command, GRACE_S + SLOWER * seconds)
        if result.worker_outcome is not WorkerOutcome.NORMAL or result.test_outcome is TestOutcome.INCOMPETENT:
            raise RuntimeError(f"{mutant}: {result.output}")
        if result.test_outcome is TestOutcome.KILLED:
            timed_out = result.output == "timeout"
            return place, Fate.TIMED_OUT if timed_out else Fate.KILLED, _failed_first(result.output or "")
    return place, Fate.SURVIVED, ""


def _failed_first(output: str) -> str:
    rows = [
        row.split(" - ")[0].split(" ", 1)[1] for row in output.splitlines() if row.startswith(("FAILED ", "ERROR "))
    ]
    return rows[0] if rows else ""
