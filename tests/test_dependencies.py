"""What is installed is what is locked, and every package is there for a reason."""

import re
import subprocess
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, packages_distributions, version
from pathlib import Path

import pytest

pytest.importorskip("packaging")
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
LOCKS = ROOT / "scripts" / "locks"
sys.path.insert(0, str(ROOT / "scripts"))

from list_dependencies import read_lock, rows  # noqa: E402

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
ASKED_TO_BUILD = [
    Requirement(line)
    for line in (LOCKS / "build.in").read_text(encoding="utf-8").splitlines()
    if line and not line.startswith("#")
]
TEST_ALONE = {canonicalize_name(Requirement(line).name) for line in PROJECT["project"]["optional-dependencies"]["dev"]}


def asked(*extras: str) -> list[Requirement]:
    project = PROJECT["project"]
    lines = [*project["dependencies"]]
    for extra in extras:
        lines += project["optional-dependencies"][extra]
    return [Requirement(line) for line in lines]


ASKED = {"demo": asked("speech"), "test": asked("speech", "store", "dev"), "build": ASKED_TO_BUILD}


@pytest.mark.parametrize("lock", ASKED)
def test_every_package_that_is_asked_for_is_locked_at_a_version_that_fits(lock: str) -> None:
    locked = read_lock(LOCKS / f"{lock}.txt")
    for requirement in ASKED[lock]:
        name = canonicalize_name(requirement.name)
        assert name in locked, f"{name} is not locked; run scripts/lock"
        for one in locked[name].versions:
            assert requirement.specifier.contains(one), f"{name} {one} does not fit; run scripts/lock"


def test_nothing_is_locked_that_nothing_needs() -> None:
    for lock, requirements in ASKED.items():
        named = {canonicalize_name(requirement.name) for requirement in requirements}
        idle = [
            one.name for one in read_lock(LOCKS / f"{lock}.txt").values() if not one.needed_by and one.name not in named
        ]
        assert idle == []


def test_the_lock_files_name_the_same_versions() -> None:
    demo, test, build = (read_lock(LOCKS / f"{lock}.txt") for lock in ("demo", "test", "build"))
    assert {name: one.versions for name, one in demo.items()} == {name: test[name].versions for name in demo}
    both = set(build) & set(test)
    assert {name: build[name].versions for name in both} == {name: test[name].versions for name in both}


def test_what_builds_the_project_is_what_the_project_says_builds_it() -> None:
    locked = read_lock(LOCKS / "build.txt")
    for requirement in map(Requirement, PROJECT["build-system"]["requires"]):
        assert all(requirement.specifier.contains(one) for one in locked[requirement.name].versions)


@pytest.mark.parametrize("lock", ASKED)
def test_every_package_has_a_hash_and_no_place_to_fetch_from(lock: str) -> None:
    text = (LOCKS / f"{lock}.txt").read_text(encoding="utf-8")
    assert "://" not in text
    assert not re.search(r"^-", text, re.MULTILINE), "no option of pip"
    entries = re.split(r"^(?=[a-z0-9])", text, flags=re.MULTILINE)[1:]
    assert len(entries) >= len(ASKED[lock])
    assert [entry.split(" ")[0] for entry in entries if not re.search(r"--hash=sha256:[0-9a-f]{64}", entry)] == []
    # What constrained it is named as everybody has it, not as it lay on one machine.
    assert set(re.findall(r"^ +# +-c (\S+)$", text, re.MULTILINE)) <= {"scripts/locks/test.txt"}


def test_every_package_that_is_asked_for_has_a_reason_and_no_other_has_one() -> None:
    why = tomllib.loads((LOCKS / "why.toml").read_text(encoding="utf-8"))
    named = {canonicalize_name(requirement.name) for requirement in (*ASKED["test"], *ASKED_TO_BUILD)}
    given = [name for part in why.values() for name in part]
    assert sorted(given) == sorted(named)


def test_the_list_of_dependencies_is_what_the_locks_and_the_packages_say() -> None:
    lines = (ROOT / "scripts" / "DEPENDENCIES.md").read_text(encoding="utf-8").splitlines()
    written = {row[0]: row for row in (line[2:-2].split(" | ") for line in lines if line.startswith("| "))}
    del written["package"]
    made = {row[0]: row for row in rows()[0]}
    assert set(written) == set(made)
    for name, (_, versions, licence, reason, loads) in made.items():
        assert written[name][1:2] + written[name][3:] == [versions, reason, loads]
        # What is installed here may be another version, or nothing, where somebody set it up without the lock.
        told = licence if installed_version(name) in versions.split(" / ") else written[name][2]
        assert written[name][2] == told
        assert told.strip() not in ("", "UNKNOWN")


def installed_version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def test_no_command_loads_what_is_there_for_tests_alone() -> None:
    alone = set(read_lock(LOCKS / "test.txt")) - set(read_lock(LOCKS / "demo.txt"))
    assert alone > TEST_ALONE
    providers = packages_distributions()
    modules = sorted(
        module for module, given in providers.items() if given and {canonicalize_name(one) for one in given} <= alone
    )
    program = (
        "import importlib, pkgutil, sys, handsfree.cli, handsfree.commands\n"
        "for one in pkgutil.iter_modules(handsfree.commands.__path__):\n"
        "    importlib.import_module(f'handsfree.commands.{one.name}')\n"
        f"print(sorted(set({modules!r}) & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_the_markers_of_the_lock_hold_for_this_python() -> None:
    from packaging.markers import Marker

    if default_environment()["sys_platform"] != "linux":
        pytest.skip("the lock files are for Linux")
    text = (LOCKS / "test.txt").read_text(encoding="utf-8")
    pins = re.findall(r"^([a-z0-9._-]+)(?:\[[a-z0-9,_-]+\])?==\S+ ; (.+?) \\$", text, re.MULTILINE)
    here = [name for name, marker in pins if Marker(marker).evaluate()]
    assert len(here) == len(set(here)), "one version of each"
    assert set(read_lock(LOCKS / "test.txt")) - set(here) == set()
