"""Puts the commit into a package that is built from a checkout, so that an installed program can name its build."""

import runpy
import shutil
import tempfile
from pathlib import Path

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class StampBuildHook(BuildHookInterface):
    """Adds the stamp to wheels and source packages; a source package carries it on into the wheel made from it."""

    def initialize(self, version: str, build_data: dict) -> None:
        """Write the stamp beside the build, and have it packed.

        Args:
            version: "editable" for an installation that runs from the checkout itself, which needs no stamp.
            build_data: What hatch will pack.
        """
        self._scratch = None
        root = Path(self.root)
        told = runpy.run_path(str(root / "handsfree" / "build.py"))
        commit = None if version == "editable" else told["commit_of"](root)
        if commit is None:
            return
        self._scratch = tempfile.mkdtemp(prefix="handsfree-build-")
        stamp = Path(self._scratch, "build.txt")
        stamp.write_text(f"{commit}\n", encoding="ascii")
        build_data["force_include"][str(stamp)] = (Path("handsfree") / told["STAMP"]).as_posix()

    def finalize(self, version: str, build_data: dict, artifact_path: str) -> None:  # noqa: ARG002 - hatch's signature
        """Remove what was written beside the build."""
        if self._scratch is not None:
            shutil.rmtree(self._scratch)
