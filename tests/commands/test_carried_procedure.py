"""A record carries the procedure that it was made with: it is read where no file of it is, and with no other one.

Expected behaviour: what is needed to read a record travels with it; common practice of archives, no source.
"""

import hashlib
import json
import shutil
import sys
from importlib.resources import files
from pathlib import Path

import pytest
from typed_visits import Result, command, run, visit

from handsfree.record.carried_procedure import PROCEDURE_COPY
from handsfree.record.record_line import RecordLine
from handsfree.record.verify import RecordState, verify

sys.path.insert(0, str(Path(__file__).parents[1] / "record"))
from forgery import changed, forged

PROCEDURES = Path(str(files("handsfree").joinpath("procedures")))
MINE = "our-hand-check"


def own_procedure(folder: Path) -> Path:
    """A procedure of the site's: the bundled check under another name, with words of its own for a role."""
    folder.mkdir()
    text = (PROCEDURES / "neurovascular-check.yaml").read_text(encoding="utf-8")
    path = folder / f"{MINE}.yaml"
    path.write_text(text.replace("id: neurovascular-check", f"id: {MINE}"), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record of a procedure whose file is gone since."""
    place = tmp_path_factory.mktemp("carried")
    file = own_procedure(place / "files")
    done = run(place / "record", visit(), procedure=str(file))
    assert done.exit_code == 0, done.output
    shutil.rmtree(place / "files")
    return place / "record"


@pytest.fixture
def record(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "record"))


def shown(name: str, *arguments: str | Path) -> Result:
    return command([name, *arguments], [])


def test_the_expanded_procedure_lies_beside_the_record_and_its_hash_in_the_first_line(record: Path) -> None:
    content = (record / PROCEDURE_COPY).read_bytes()
    header = json.loads((record / "record.jsonl").read_text(encoding="utf-8").splitlines()[0])["data"]
    assert header["carried_sha256"] == hashlib.sha256(content).hexdigest()
    steps = json.loads(content)["procedure"]["steps"]
    assert all("use" not in step for step in steps)  # its blocks are put in
    assert {"circulation", "sensation"} <= {step["id"] for step in steps}


def test_it_is_replayed_and_shown_without_any_file_of_the_procedure(record: Path, tmp_path: Path) -> None:
    assert "not replayed" not in shown("verify", record).output
    page = tmp_path / "page.html"
    assert shown("report", record, "--output", page).exit_code == 0
    assert "is not at hand" not in page.read_text(encoding="utf-8")


def test_one_that_was_changed_is_a_fault(record: Path) -> None:
    copy = record / PROCEDURE_COPY
    copy.write_bytes(copy.read_bytes().replace(b'"high"', b'"High"', 1))
    found = verify(record)
    assert found.state is RecordState.BROKEN
    assert PROCEDURE_COPY in found.faults[0].what


def test_one_that_is_a_link_is_not_read(record: Path, tmp_path: Path) -> None:
    copy = record / PROCEDURE_COPY
    copy.rename(tmp_path / "elsewhere.json")
    copy.symlink_to(tmp_path / "elsewhere.json")
    assert verify(record).state is RecordState.BROKEN


def test_one_that_is_missing_is_told_and_breaks_nothing(record: Path, tmp_path: Path) -> None:
    (record / PROCEDURE_COPY).unlink()
    assert verify(record).state is RecordState.COMPLETE
    told = f"{PROCEDURE_COPY}, which lay beside it, is missing"
    assert told in shown("verify", record).output
    assert f"{PROCEDURE_COPY} is missing" in shown("summary", record).output
    page = tmp_path / "page.html"
    shown("report", record, "--output", page)
    assert f"{PROCEDURE_COPY} is missing" in page.read_text(encoding="utf-8")


def test_another_procedure_of_the_same_name_beside_a_bundled_one_is_found_by_replay(tmp_path: Path) -> None:
    # Whoever writes the whole record anew can put another procedure beside it and make its hash right.
    record = tmp_path / "record"
    assert run(record, visit()).exit_code == 0
    other = (record / PROCEDURE_COPY).read_bytes().replace(b"refill", b"filling")
    (record / PROCEDURE_COPY).write_bytes(other)
    lines = (record / "record.jsonl").read_text(encoding="utf-8").splitlines()
    known = json.loads(lines[0])["data"]["carried_sha256"]

    def swap(of_record: list[RecordLine]) -> None:
        of_record[0] = changed(of_record[0], carried_sha256=hashlib.sha256(other).hexdigest())

    forged(record, swap)
    assert known not in (record / "record.jsonl").read_text(encoding="utf-8")
    assert verify(record).state is RecordState.COMPLETE
    told = shown("verify", record).output
    assert f"{PROCEDURE_COPY} is another procedure than the one whose hash the first line names" in told


@pytest.mark.parametrize("name", ["verify", "summary", "report", "export", "amend", "attest", "review"])
def test_a_wrong_procedure_is_refused_in_one_line(name: str, record: Path, tmp_path: Path) -> None:
    more: dict[str, list[str | Path]] = {
        "report": ["--output", tmp_path / "page.html"],
        "export": ["--to", "note"],
        "amend": ["--entry", "15", "--value", "1", "--by", "surgeon", "--reason", "x", "--key-file", tmp_path / "key"],
        "attest": ["--by", "surgeon", "--key-file", tmp_path / "key"],
        "review": ["--no-browser", "--key-file", tmp_path / "key"],
    }
    wrong = PROCEDURES / "light-output-check.yaml"
    before = (record / "record.jsonl").read_bytes()
    done = shown(name, record, "--procedure", wrong, *more.get(name, []))
    assert done.exit_code == 2, done.output
    (line,) = done.output.strip().splitlines()
    assert f"was begun with {MINE}" in line
    assert "light-output-check" in line
    assert (record / "record.jsonl").read_bytes() == before


def test_another_version_of_the_same_procedure_is_a_wrong_one(record: Path, tmp_path: Path) -> None:
    file = own_procedure(tmp_path / "files")
    assert shown("summary", record, "--procedure", file).exit_code == 0
    file.write_text(file.read_text(encoding="utf-8").replace("0.1.0", "0.1.1"), encoding="utf-8")
    done = shown("summary", record, "--procedure", file)
    assert done.exit_code == 2
    assert "another version of it" in done.output
