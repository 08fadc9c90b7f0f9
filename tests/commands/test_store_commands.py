"""The store as a head of department, an analyst and whoever recalls a lot ask it. Common practice, no source."""

import csv
import io
import json
import shutil
import sys
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from typed_visits import Result, command, run, visit

from handsfree.model.facts import OperatorDeclared, VisitContinued, VisitPaused, VisitResumed
from handsfree.model.readings import SpelledText
from handsfree.model.reasons import Grounds, OverLimit, Severity
from handsfree.record.amendments import amend
from handsfree.record.contents import Amended
from handsfree.record.store import Filter, list_records
from handsfree.report.day import day_of

sys.path.insert(0, str(Path(__file__).parents[1] / "report"))
from report_samples import HEADER, confirmed, record_of, written

DAY = date(2026, 11, 25)
RED = Grounds(OverLimit("refill", Decimal(2)))


def made(folder: Path, *, lot: str = "A4B2", patient: str = "W-1", operator: str = "K4", **header: Any) -> Path:
    """A visit with a lot, an operator and a red finding."""
    facts = (
        confirmed("who", "code", operator),
        OperatorDeclared(operator=operator),
        confirmed("package", "number", lot, label="lot"),
        confirmed("check", "refill", Decimal("3.5"), unit="s", severity=Severity.RED, grounds=RED),
    )
    named = {"record_id": f"record-{folder.name}", "patient_reference": patient, **header}
    return Path(written(folder, *facts, header=replace(HEADER, **named)))


@pytest.fixture
def store(tmp_path: Path) -> Path:
    place = tmp_path / "store"
    place.mkdir()
    made(place / "one", room="cast room 1")
    made(place / "two", patient="W-2", operator="M7", room="cast room 2")
    made(place / "three", patient="W-3", lot="B7")
    made(place / "training", patient="W-9", practice=True)
    shutil.copytree(place / "one", place / "one-again")
    return place


def asked(name: str, *arguments: str | Path) -> Result:
    return command([name, *arguments], [])


def test_a_recall_names_patients_once_and_practice_apart(store: Path) -> None:
    done = asked("recall", store, "a4 b2")
    assert done.exit_code == 0
    lines = done.output.splitlines()
    assert lines[0] == "a4 b2: 2 visits, of 2 patients"
    assert [line.split("  ")[0] for line in lines[1:4]] == ["W-1", "W-2", "PRACTICE"]
    assert "not counted: one-again, a copy of one" in done.output
    assert "W-3" not in done.output


def test_a_recall_finds_a_lot_that_was_corrected_since_and_one_that_it_was_corrected_to(store: Path) -> None:
    entry = next(one.recorded.seq for one in record_of(store / "three").readings if one.stands.label == "lot")
    amend(store / "three", entry, Amended(value=SpelledText("A4B2")), by="nurse", reason="misread")
    assert "of 3 patients" in asked("recall", store, "A4B2").output
    was = asked("recall", store, "B7").output
    assert "W-3" in was
    assert "named once, since A4B2" in was


def test_a_recall_names_what_it_could_not_read(store: Path) -> None:
    (store / "damaged").mkdir()
    (store / "damaged" / "record.jsonl").write_text("{}\n", encoding="utf-8")
    done = asked("recall", store, "A4B2")
    assert done.exit_code == 8
    assert "may hold the lot: damaged" in done.output
    assert "W-1" in done.output


def test_sums_by_operator_room_and_lot_count_a_copy_once_and_practice_apart(store: Path) -> None:
    told = json.loads(asked("records", store, "--by", "operator", "--json").output)
    assert {one["name"]: (one["visits"], one["practice"], one["red"]) for one in told} == {
        "K4": (2, 1, 2),
        "M7": (1, 0, 1),
    }
    rooms = json.loads(asked("records", store, "--by", "room", "--json").output)
    assert {one["name"]: one["visits"] for one in rooms} == {"cast room 1": 1, "cast room 2": 1, "not stated": 1}
    lots = json.loads(asked("records", store, "--by", "lot", "--json").output)
    assert {one["name"]: one["visits"] for one in lots} == {"A4B2": 2, "B7": 1}


def test_the_list_marks_copies_and_filters_by_room_and_lot(store: Path) -> None:
    listed = json.loads(asked("records", store, "--json").output)
    assert {one["name"]: one["copy_of"] for one in listed if one["copy_of"]} == {"one-again": "one"}
    assert "1 red" in asked("records", store).output
    assert "copy of one" in asked("records", store).output
    assert [one.name for one in list_records(store, Filter(room="Cast Room 2"))] == ["two"]
    assert [one.name for one in list_records(store, Filter(lot="b-7"))] == ["three"]


def test_a_copy_from_before_an_amendment_is_a_copy_and_what_went_another_way_is_none(store: Path) -> None:
    entry = next(one.recorded.seq for one in record_of(store / "one").readings if one.stands.label == "lot")
    amend(store / "one", entry, Amended(value=SpelledText("X")), by="nurse", reason="misread")
    found = day_of(store, DAY)
    assert found.copies == (("one-again", "one"),)
    assert found.strangers == ()
    amend(store / "one-again", entry, Amended(value=SpelledText("Y")), by="nurse", reason="misread")
    found = day_of(store, DAY)
    assert found.copies == ()
    assert {frozenset(pair) for pair in found.strangers} == {frozenset({"one", "one-again"})}
    assert "call themselves the same record" in asked("records", store).output


def test_the_day_counts_a_copy_once_and_says_so(store: Path) -> None:
    found = day_of(store, DAY)
    assert sorted(visit.name for visit in found.visits) == ["one", "three", "training", "two"]
    assert {lot.lot: lot.visits for lot in found.lots} == {"A4B2": ("one", "two"), "B7": ("three",)}
    text = asked("day", store, "--date", "2026-11-25").output
    assert "COPY, not counted: one-again, of one" in text
    assert "cast room 2" in text


def test_breaks_are_shown_as_breaks_and_time_with_and_without_them(tmp_path: Path) -> None:
    facts = (
        VisitPaused(stage="a"),
        confirmed("b", "one", "yes"),
        VisitResumed(stage="a"),
        VisitContinued(gap_s=600.0, stage="a"),
    )
    written(tmp_path / "visit", *facts)
    (visit_,) = day_of(tmp_path, DAY).visits
    # One event a second: paused from the first to the third second of five, and the program away for ten minutes.
    assert (visit_.lasted_s, visit_.waited_s, visit_.away_s) == (5.0, 2.0, 600.0)
    assert visit_.lasted == "10 min 5 s with a break of 10 min, 5 s without (of it 2 s waiting)"
    text = asked("day", tmp_path, "--date", "2026-11-25").output
    assert "TIME  10 min 5 s with breaks, 3 s without (program not running 10 min, waiting 2 s" in text


def test_the_day_comes_from_a_warm_index_and_from_none_or_a_damaged_one_alike(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = day_of(store, DAY)
    from handsfree.record import store as module

    monkeypatch.setattr(module, "checked", lambda *_: pytest.fail("a record was read that had not changed"))
    assert day_of(store, DAY) == first
    monkeypatch.undo()
    for content in (b"no database", b"SQLite format 3\x00" + b"\xff" * 500):
        (store / "index.sqlite").write_bytes(content)
        assert day_of(store, DAY) == first
    import sqlite3

    with sqlite3.connect(store / "index.sqlite") as index:
        index.execute("update folded set learnt = '{\"name\": 1}'")
    assert day_of(store, DAY) == first


def test_a_room_is_kept_in_the_record(tmp_path: Path) -> None:
    assert run(tmp_path / "store" / "visit", visit(), "--room", "plaster room").exit_code == 0
    assert [one.room for one in list_records(tmp_path / "store")] == ["plaster room"]
    settings = tmp_path / "config.toml"
    settings.write_text('[records]\nroom = "room 7"\n', encoding="utf-8")
    assert run(tmp_path / "store" / "other", visit(), "--config", settings).exit_code == 0
    assert {one.room for one in list_records(tmp_path / "store")} == {"plaster room", "room 7"}


READ: dict[str, Any] = {
    "string": str,
    "datetime": str,
    "number": float,
    "integer": int,
    "boolean": {"true": True, "false": False}.__getitem__,
}


def typed_rows(folder: Path, name: str) -> list[dict[str, Any]]:
    """A table as its schema says; anything that is not of its type fails here."""
    schema = json.loads((folder / f"{name}.schema.json").read_text(encoding="utf-8"))
    kinds = {field["name"]: field for field in schema["fields"]}
    rows = list(csv.DictReader(io.StringIO((folder / f"{name}.csv").read_text(encoding="utf-8"))))
    assert list(rows[0]) == list(kinds)
    for row in rows:
        for column, cell in row.items():
            allowed = kinds[column].get("constraints", {}).get("enum")
            assert cell in schema["missingValues"] or allowed is None or cell in allowed, (column, cell)
    keys = [tuple(row[part] for part in schema["primaryKey"]) for row in rows]
    assert len(keys) == len(set(keys))
    return [{name: READ[kinds[name]["type"]](cell) if cell else None for name, cell in row.items()} for row in rows]


@pytest.fixture
def tables(tmp_path: Path) -> Path:
    store = tmp_path / "visits"
    assert run(store / "one", visit()).exit_code == 0
    assert run(store / "two", visit(pain="rest seven stretch eight proportion expected")).exit_code in (0, 8)
    shutil.copytree(store / "one", store / "copy")
    done = asked("tables", store, "--output", tmp_path / "tables", "--practice")
    assert done.exit_code == 0, done.output
    assert "2 records" in done.output
    return tmp_path / "tables"


def test_the_long_table_reads_by_its_schema_with_the_standard_library(tables: Path) -> None:
    rows = typed_rows(tables, "readings")
    wanted = {"record", "procedure", "operator", "time", "step", "side", "phase", "field", "value", "unit", "flag"}
    assert wanted | {"override", "how_confirmed", "score"} <= set(rows[0])
    assert len({row["record"] for row in rows}) == 2
    refill = [row for row in rows if row["field"] == "refill" and row["side"] == "left"]
    assert {(row["number"], row["unit"], row["practice"]) for row in refill} == {(1.4, "s", True)}
    assert all(row["score"] is None and row["entry_way"] == "typed" for row in rows)
    assert {row["how_confirmed"] for row in rows} == {"affirmed", "echoed"}


def test_pandas_reads_the_long_table_with_the_right_types(tables: Path) -> None:
    import pandas  # here, because it takes long to load

    schema = json.loads((tables / "readings.schema.json").read_text(encoding="utf-8"))
    kinds = {"string": "string", "number": "float64", "integer": "Int64", "boolean": "boolean"}
    types = {field["name"]: kinds[field["type"]] for field in schema["fields"] if field["type"] in kinds}
    times = [field["name"] for field in schema["fields"] if field["type"] == "datetime"]
    frame = pandas.read_csv(tables / "readings.csv", dtype=types, parse_dates=times)
    assert str(frame.dtypes["number"]) == "float64"
    assert str(frame.dtypes["time"]).startswith("datetime64")


def test_practice_is_left_out_unless_asked_for_and_what_is_broken_is_named(tmp_path: Path) -> None:
    store = tmp_path / "visits"
    run(store / "one", visit())
    (store / "damaged").mkdir()
    (store / "damaged" / "record.jsonl").write_text("{}\n", encoding="utf-8")
    done = asked("tables", store, "--output", tmp_path / "tables")
    assert done.exit_code == 8
    assert "left out: damaged: broken" in done.output
    assert (tmp_path / "tables" / "readings.csv").read_text(encoding="utf-8").count("\r\n") <= 1
