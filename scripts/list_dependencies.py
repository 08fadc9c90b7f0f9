"""Writes scripts/DEPENDENCIES.md: every package of the lock files, version, licence, why it is there, when it loads.

Versions and who needs what come from test.txt, demo.txt and build.txt in scripts/locks, reasons from why.toml there,
and licences from what the packages installed here say of themselves.

Use: .venv/bin/python scripts/list_dependencies.py
Exit status: 0, or 1 where a package that pyproject.toml names has no reason, or one has no licence that can be told.
"""

import re
import sys
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path

SCRIPTS = Path(__file__).resolve().parent
LOCKS = SCRIPTS / "locks"
OUTPUT = SCRIPTS / "DEPENDENCIES.md"
_PIN = re.compile(r"^([a-z0-9][a-z0-9._-]*)(?:\[[a-z0-9,_-]+\])?==(\S+)")
_VIA = re.compile(r"^ +#(?: via)? +([a-z0-9][a-z0-9._-]*)$")
LOADS = {"run": "run", "speech": "run, with speech", "store": "run, with store", "tests": "tests", "build": "set-up"}
SAID = {
    "axe-playwright-python": "MIT; MPL-2.0 for the axe-core inside",
    "vosk": "Apache-2.0",
    "pocketsphinx": "BSD-2-Clause",
    "pyttsx3": "MPL-2.0",
    "cmake": "Apache Software License, BSD License",
    "cython": "Apache-2.0",
    "ninja": "Apache-2.0",
    "scikit-build-core": "Apache-2.0",
}
"""Licences from the licence text of their published sources: of packages whose metadata names none, or which are not
installed on every Python."""


@dataclass(slots=True)
class Locked:
    """A package of a lock file.

    Attributes:
        name: As it is spelled there.
        versions: One, or one for each range of Pythons.
        needed_by: Packages that need it.
    """

    name: str
    versions: list[str] = field(default_factory=list)
    needed_by: list[str] = field(default_factory=list)


def read_lock(*paths: Path) -> dict[str, Locked]:
    """What lock files name."""
    found: dict[str, Locked] = {}
    here: Locked | None = None
    for line in "".join(path.read_text(encoding="utf-8") for path in paths).splitlines():
        pin, via = _PIN.match(line), _VIA.match(line)
        if pin is not None:
            here = found.setdefault(pin[1], Locked(pin[1]))
            if pin[2] not in here.versions:
                here.versions.append(pin[2])
        elif (
            via is not None and here is not None and via[1] not in ("handsfree", "via") and via[1] not in here.needed_by
        ):
            here.needed_by.append(via[1])
    return found


def licence_of(name: str) -> str:
    """What an installed package says of its licence, or "" where it says nothing that can be told."""
    try:
        said = metadata(name)
    except PackageNotFoundError:
        return SAID.get(name, "")
    expression = said.get("License-Expression") or ""
    classified = [
        line.rpartition(" :: ")[2] for line in said.get_all("Classifier") or [] if line.startswith("License :: OSI")
    ]
    written = (said.get("License") or "").strip()
    short = written if len(written) <= 40 and "\n" not in written else ""
    return expression or ", ".join(classified) or short or SAID.get(name, "")


def with_needed(locked: dict[str, Locked], names: Iterable[str]) -> set[str]:
    """Packages with all that they need."""
    found = set(names)
    while more := {name for name, one in locked.items() if found.intersection(one.needed_by)} - found:
        found |= more
    return found


def rows() -> tuple[list[tuple[str, str, str, str, str]], list[str]]:
    """Name, versions, licence, reason, when it loads; and what is wrong."""
    why = tomllib.loads((LOCKS / "why.toml").read_text(encoding="utf-8"))
    reasons = {name: (LOADS[part], reason) for part, of in why.items() for name, reason in of.items()}
    run, test = read_lock(LOCKS / "demo.txt"), read_lock(LOCKS / "test.txt")
    stored = with_needed(test, why["store"]) - run.keys()
    reasons = dict.fromkeys(stored, (LOADS["store"], "")) | reasons
    table, faults = [], []
    for name, locked in sorted(read_lock(LOCKS / "test.txt", LOCKS / "build.txt").items()):
        loads, reason = reasons.get(name, ("run" if name in run else "tests" if name in test else LOADS["build"], ""))
        needed = ", ".join(locked.needed_by)
        if not reason and not needed:
            faults.append(f"{name} has no reason; say in scripts/locks/why.toml why it is there")
        licence = licence_of(name)
        if not licence:
            faults.append(f"{name} tells no licence; install scripts/locks/test.txt, or add it to SAID in this script")
        table.append((name, " / ".join(locked.versions), licence, reason or f"needed by {needed}", loads))
    return table, faults


def main() -> int:
    """Write the list."""
    table, faults = rows()
    for fault in faults:
        print(fault, file=sys.stderr)
    if faults:
        return 1
    lines = [
        "# Dependencies",
        "",
        "Made by `scripts/list_dependencies.py` from the lock files in `scripts/locks`, which `scripts/lock` renews.",
        "Two versions are for older and newer Pythons. The licence is what the package says of itself. PyTorch and",
        "Transformers, with which weights are trained anew (`scripts/train`), are in no lock file.",
        "",
        "| package | version | licence | why | loads |",
        "|---|---|---|---|---|",
        *(f"| {' | '.join(row)} |" for row in table),
    ]
    OUTPUT.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
