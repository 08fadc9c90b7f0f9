"""Which build of this program is running: the stamp that was put into a package, or the commit of a checkout."""

import os
import re
import shutil
import subprocess
from functools import cache
from pathlib import Path

STAMP = Path("data", "build.txt")
"""Where packaging puts the stamp, inside the folder of the package."""
UNKNOWN = "unknown"
LONGEST_LOOK_S = 5.0
"""How long git may take; a folder on a network may be slow, and the build is not worth a wait."""
_FORM = re.compile(r"[0-9A-Za-z][0-9A-Za-z.+-]{0,63}")
# What git-status(1) prints: "# branch.oid COMMIT", other lines that begin with "#", and one for each changed file.
_LOOK = (
    *("-c", "core.fsmonitor=false", "status", "--porcelain=v2", "--branch"),
    *("--untracked-files=no", "--no-renames"),
)
_COMMIT = "# branch.oid "
_DIGITS = re.compile(r"[0-9a-f]{40,64}")
_ONLY_LOOKING = {"GIT_OPTIONAL_LOCKS": "0", "GIT_NO_LAZY_FETCH": "1"}
"""Another process may be at work in the checkout: looking takes no lock and writes nothing, nor does it fetch what a
partial copy lacks."""


@cache
def build() -> str:
    """The build: a short name without blanks, never a path.

    Returns:
        The stamp of an installed package; for a checkout the first twelve digits of its commit, with "-changed" where
        files differ from it; "unknown" where neither is there.
    """
    package = Path(__file__).parent
    return stamp_in(package) or commit_of(package.parent) or UNKNOWN


def stamp_in(package: Path) -> str | None:
    """The stamp in the folder of an installed package, or None where there is none that can be one."""
    try:
        text = (package / STAMP).read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return None
    return text if _FORM.fullmatch(text) else None


def commit_of(root: Path) -> str | None:
    """The commit that is checked out in `root`, or None where it is no checkout or git cannot tell.

    Only `root` itself is looked at: a package that lies somewhere in another project's checkout is no build of that.
    """
    git = shutil.which("git")
    if git is None or not (root / ".git").exists():
        return None
    surrounding = {name: value for name, value in os.environ.items() if not name.startswith("GIT_")}
    try:
        told = subprocess.run(
            [git, "-C", str(root), *_LOOK],
            capture_output=True,
            text=True,
            timeout=LONGEST_LOOK_S,
            check=True,
            env=surrounding | _ONLY_LOOKING,
        ).stdout
    except (OSError, subprocess.SubprocessError, UnicodeDecodeError):
        return None
    lines = told.splitlines()
    commit = next((line.removeprefix(_COMMIT) for line in lines if line.startswith(_COMMIT)), "")
    if not _DIGITS.fullmatch(commit):
        return None
    return commit[:12] + ("" if all(line.startswith("#") for line in lines) else "-changed")
