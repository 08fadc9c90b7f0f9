"""Set-up installs what is locked and nothing besides, also to build with, and says in one line what it could not."""

import hashlib
import io
import os
import shutil
import subprocess
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SETUP = ROOT / "scripts" / "setup.sh"
pytestmark = pytest.mark.skipif(shutil.which("bash") is None or os.name != "posix", reason="set-up is for Linux")

BUILDER = """
import base64, hashlib, pathlib, zipfile
VERSION = "{version}"
def wheel(folder, name, entries):
    info = f"{{name}}-1.0.dist-info"
    entries[f"{{info}}/METADATA"] = f"Metadata-Version: 2.1\\nName: {{name}}\\nVersion: 1.0\\n"
    entries[f"{{info}}/WHEEL"] = "Wheel-Version: 1.0\\nGenerator: x\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n"
    entries[f"{{info}}/RECORD"] = "".join(f"{{path}},,\\n" for path in entries)
    file = f"{{name}}-1.0-py3-none-any.whl"
    with zipfile.ZipFile(pathlib.Path(folder, file), "w") as packed:
        for path, text in entries.items():
            packed.writestr(path, text)
    return file
def build_wheel(folder, config_settings=None, metadata_directory=None):
    return wheel(folder, "thing", {{"thing.py": f"BUILT_WITH = {{VERSION!r}}\\n"}})
def build_editable(folder, config_settings=None, metadata_directory=None):
    return wheel(folder, "project", {{"project.py": f"BUILT_WITH = {{VERSION!r}}\\n"}})
"""
"""A build backend in one file (PEP 517, PEP 660), which puts its own version into what it builds."""
PROJECT = '[build-system]\nrequires = ["builder"]\nbuild-backend = "builder"\n[project]\nname = "{}"\nversion = "1.0"\n'


def packed_builder(folder: Path, version: str) -> Path:
    info = f"builder-{version}.dist-info"
    path = folder / f"builder-{version}-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("builder.py", BUILDER.format(version=version))
        packed.writestr(f"{info}/METADATA", f"Metadata-Version: 2.1\nName: builder\nVersion: {version}\n")
        packed.writestr(f"{info}/WHEEL", "Wheel-Version: 1.0\nGenerator: x\nRoot-Is-Purelib: true\nTag: py3-none-any\n")
        packed.writestr(f"{info}/RECORD", f"builder.py,,\n{info}/METADATA,,\n{info}/WHEEL,,\n{info}/RECORD,,\n")
    return path


def packed_source(folder: Path) -> Path:
    path = folder / "thing-1.0.tar.gz"
    entries = {
        "pyproject.toml": PROJECT.format("thing"),
        "PKG-INFO": "Metadata-Version: 2.1\nName: thing\nVersion: 1.0\n",
    }
    with tarfile.open(path, "w:gz") as packed:
        for name, text in entries.items():
            entry = tarfile.TarInfo(f"thing-1.0/{name}")
            entry.size = len(text)
            packed.addfile(entry, io.BytesIO(text.encode()))
    return path


def pin(path: Path) -> str:
    name, version = path.name.removesuffix(".tar.gz").removesuffix("-py3-none-any.whl").split("-")
    return f"{name}=={version} --hash=sha256:{hashlib.sha256(path.read_bytes()).hexdigest()}\n"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A project that is built by version 1 of a builder, as is the package it locks; a version 2 can be had as well."""
    files, locks = tmp_path / "files", tmp_path / "scripts" / "locks"
    files.mkdir()
    locks.mkdir(parents=True)
    packed_builder(files, "2")
    (locks / "build.txt").write_text(pin(packed_builder(files, "1")))
    (locks / "test.txt").write_text(pin(packed_source(files)))
    (tmp_path / "pyproject.toml").write_text(PROJECT.format("project"))
    return tmp_path


def set_up(place: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", "-c", f". '{SETUP}'; SYSTEM_PACKAGES=; set_up test"],
        cwd=place,
        capture_output=True,
        text=True,
        env={
            "PATH": os.environ["PATH"],
            "HOME": str(place),
            "HANDSFREE_VENV": "environment",
            "PIP_CONFIG_FILE": os.devnull,
            "PIP_NO_INDEX": "1",
            "PIP_FIND_LINKS": str(place / "files"),
        },
    )


def test_what_builds_is_what_is_locked_and_what_is_not_the_locked_file_is_one_line(place: Path) -> None:
    builder, thing = place / "files" / "builder-1-py3-none-any.whl", place / "files" / "thing-1.0.tar.gz"
    for lock, file in (("build", builder), ("test", thing)):
        right = file.read_bytes()
        file.write_bytes(right + b"\0")
        assert failed(place, lock) == "a file is not the one that was locked"
        file.unlink()
        assert failed(place, lock) == "a file could not be fetched or built"
        file.write_bytes(right)
    done = set_up(place)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    program = "import builder, project, thing; print(builder.VERSION, thing.BUILT_WITH, project.BUILT_WITH)"
    python = place / "environment" / "bin" / "python"
    told = subprocess.run([python, "-c", program], capture_output=True, text=True, check=True)
    assert told.stdout == "1 1 1\n"


def failed(place: Path, lock: str) -> str:
    """The reason in the one line of a set-up that ends at a lock file."""
    done = set_up(place)
    before, after = (
        f"could not install what scripts/locks/{lock}.txt names: ",
        "; all that pip said: environment/set-up.log\n",
    )
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (1, "", 1)
    assert done.stderr.startswith(before)
    assert done.stderr.endswith(after)
    assert "ERROR" in (place / "environment" / "set-up.log").read_text()
    assert not list(place.glob("environment/lib/*/site-packages/project*")), "nothing is installed after it"
    return done.stderr.removeprefix(before).removesuffix(after)
