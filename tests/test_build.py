"""Version and build: what the program calls itself, in a checkout, in a package, and where nothing tells."""

import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from handsfree import __version__
from handsfree.build import STAMP, UNKNOWN, build, commit_of, stamp_in

ROOT = Path(__file__).resolve().parents[1]
COMMIT = re.compile(r"[0-9a-f]{12}(-changed)?")
# semver.org, version 2.0.0: the form of a version without additions.
SEMANTIC = re.compile(r"(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)")


def git(folder, *arguments):
    subprocess.run(
        ["git", "-c", "user.name=t", "-c", "user.email=t@example.org", "-C", str(folder), *arguments],
        check=True,
        capture_output=True,
    )


@pytest.fixture
def checkout(tmp_path):
    if shutil.which("git") is None:
        pytest.skip("git is not installed")
    folder = tmp_path / "checkout"
    folder.mkdir()
    git(folder, "init", "-q")
    (folder / "file").write_text("one\n")
    git(folder, "add", "file")
    git(folder, "commit", "-q", "-m", "first")
    return folder


def test_a_checkout_is_named_by_its_commit_and_says_when_files_differ(checkout):
    head = subprocess.run(
        ["git", "-C", str(checkout), "rev-parse", "HEAD"], capture_output=True, text=True, check=True
    ).stdout
    assert commit_of(checkout) == head[:12]
    (checkout / "file").write_text("two\n")
    assert commit_of(checkout) == f"{head[:12]}-changed"


@pytest.mark.skipif(os.name != "posix", reason="the program that git is told to ask is a shell script")
def test_looking_writes_nothing_into_a_checkout_and_starts_nothing(checkout):
    asked = checkout / "asked"
    monitor = checkout / ".git" / "monitor"
    monitor.write_text(f"#!/bin/sh\ntouch '{asked}'\n")
    monitor.chmod(0o755)
    git(checkout, "config", "core.fsmonitor", str(monitor))
    os.utime(checkout / "file", (0, 0))  # or git has no reason to write down what it saw
    index = (checkout / ".git" / "index").read_bytes()
    assert COMMIT.fullmatch(commit_of(checkout))
    assert (checkout / ".git" / "index").read_bytes() == index
    assert not asked.exists()


def test_a_tag_does_not_stand_in_for_the_commit(checkout):
    git(checkout, "tag", "-a", "-m", "x", "someones-name")
    assert COMMIT.fullmatch(commit_of(checkout))


def test_a_folder_inside_another_checkout_is_no_build_of_that(checkout):
    inside = checkout / "site-packages"
    inside.mkdir()
    assert commit_of(inside) is None


def test_variables_of_git_do_not_lead_elsewhere(checkout, tmp_path, monkeypatch):
    monkeypatch.setenv("GIT_DIR", str(tmp_path / "none"))
    assert COMMIT.fullmatch(commit_of(checkout))


def test_without_git_or_with_a_damaged_checkout_nothing_is_told(checkout, monkeypatch):
    (checkout / ".git" / "HEAD").write_text("nonsense")
    assert commit_of(checkout) is None
    monkeypatch.setattr(shutil, "which", lambda name: None)
    assert commit_of(ROOT) is None


@pytest.mark.parametrize("text", ["", "/home/somebody/src", "two words", "a" * 65, "\u00e9"])
def test_a_stamp_that_is_no_stamp_is_not_shown(tmp_path, text):
    (tmp_path / STAMP).parent.mkdir()
    (tmp_path / STAMP).write_text(text, encoding="utf-8")
    assert stamp_in(tmp_path) is None


def test_a_stamp_comes_before_the_commit_and_unknown_comes_last(tmp_path, monkeypatch):
    package = tmp_path / "handsfree"
    (package / STAMP).parent.mkdir(parents=True)
    monkeypatch.setattr("handsfree.build.__file__", str(package / "build.py"))
    build.cache_clear()
    assert build() == UNKNOWN
    build.cache_clear()
    (package / STAMP).write_text("0123456789ab\n")
    assert build() == "0123456789ab"
    build.cache_clear()


def test_version_says_name_version_and_build_and_no_path():
    said = subprocess.run(
        [sys.executable, "-m", "handsfree", "--version"], capture_output=True, text=True, check=True
    ).stdout
    assert said == f"handsfree {__version__} (build {build()})\n"
    assert "/" not in said
    assert "\\" not in said


def test_the_changes_begin_with_this_version():
    assert SEMANTIC.fullmatch(__version__)
    text = (ROOT / "handsfree" / "CHANGES.md").read_text(encoding="utf-8")
    # keepachangelog.com, version 1.1.0: the latest version comes first, and changes are grouped under these words.
    versions = re.findall(r"^## \[([^]]+)\]", text, re.MULTILINE)
    assert versions[0] == __version__
    kinds = {"Added", "Changed", "Deprecated", "Removed", "Fixed", "Security"}
    assert set(re.findall(r"^### (.+)$", text, re.MULTILINE)) <= kinds


def test_a_wheel_carries_version_build_and_changes(tmp_path):
    pytest.importorskip("hatchling", reason="hatchling is not installed: pip install 'handsfree[dev]'")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    with zipfile.ZipFile(tmp_path / f"handsfree-{__version__}-py3-none-any.whl") as wheel:
        assert f"\nVersion: {__version__}\n" in wheel.read(f"handsfree-{__version__}.dist-info/METADATA").decode()
        assert wheel.read("handsfree/CHANGES.md").startswith(b"# Changes\n")
        stamp = f"handsfree/{STAMP.as_posix()}"
        commit = commit_of(ROOT)
        assert (wheel.read(stamp).decode().strip() if stamp in wheel.namelist() else None) == commit
