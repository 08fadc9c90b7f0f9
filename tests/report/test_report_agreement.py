"""Summary, page, note, day, FHIR and tables say the same of a visit: twenty-odd awkward ones are compared.

Expected values are read from the lines of each record without the code that derives them, and what each case does on
purpose is written down here. No published source: what a reader needs is the rule of this project.
"""

import csv
import html
import io
import json
import re
import sys
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from awkward_visits import AWKWARD

from handsfree.application.store_tables import store_tables
from handsfree.application.words_for_export import export_words
from handsfree.export.choose import ExportForm, export
from handsfree.record.store import Filter, RecordFolder, list_records
from handsfree.record.verify import RecordState, verify
from handsfree.report.day import day_of, visit_marks
from handsfree.report.first_screen import first_screen
from handsfree.report.procedure_at_hand import phrases_of, procedure_of
from handsfree.report.record_page import make_report

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
from read_bundle import read

DAY = date(2026, 11, 25)
UNCLOSED = {"cut_in_the_light"}


@dataclass(frozen=True)
class Expected:
    """What a case is: outcome, overrides as role, reason and code, early ends, zones over and short, red, and so on."""

    outcome: str = "completed"
    overrides: tuple = ()
    early: tuple = ()
    over: tuple = ()
    short: tuple = ()
    red: int = 0
    held: int = 0
    amended: int = 0
    unjudged: int = 0
    typed: bool = False
    unread: int = 0
    attested: str = "not-attested"
    practice: bool = False
    open: int = 0
    doubtful: int = 0
    away: tuple = ()
    waits: int = 0
    stray: int = 0


OVERRIDDEN = "completed_with_overrides"
THERAPIST = ("therapist", "settled", None)
ENDED = ("surgeon", "judged", "S2")
OTHERS = ("knuckle_part", "wrist_part", "strap_strip")
EXPECTED = {
    "hot_then_lifted": Expected(OVERRIDDEN, (THERAPIST,), ("outer_edge",), held=1),
    "hot_then_ended": Expected("stopped", (ENDED,), ("outer_edge",), short=("outer_edge", *OTHERS), held=1, open=28),
    "hot_and_nobody_said_off": Expected(
        "stopped", (ENDED,), ("outer_edge",), short=("outer_edge", *OTHERS), held=1, open=29
    ),
    "over_target": Expected(over=("fracture_side",)),
    "zone_left_short": Expected(
        OVERRIDDEN, (THERAPIST, THERAPIST), ("outer_edge",), short=("outer_edge",), held=1, open=1
    ),
    "cut_in_the_light": Expected("not closed", early=("fracture_side",)),
    "broken_off_in_the_light_and_resumed": Expected(early=("fracture_side",), away=(240,)),
    "painful_afterwards": Expected(OVERRIDDEN, (THERAPIST,), held=1),
    "pain_in_the_light_and_more_at_rest": Expected(
        OVERRIDDEN, (("surgeon", "senior", "S2"),), ("knuckle_part",), held=1
    ),
    "red_finding_overridden": Expected(OVERRIDDEN, (("surgeon", "senior", "S2"),), red=1, held=1),
    "red_finding_misheard": Expected(held=1),
    "stop_value_answered_again": Expected(held=1),
    "missing_values_accepted": Expected(OVERRIDDEN, (ENDED,)),
    "waited_and_stopped_without_light": Expected(waits=2),
    "notes_read_and_unread": Expected(unread=1, amended=1),
    "amended_to_red_after_signing": Expected(amended=1, attested="amended-since", red=1, unjudged=0),
    "amended_and_judged_by_nobody": Expected(amended=2, unjudged=1, attested="attested"),
    "amended_so_that_a_step_should_not_count": Expected(amended=1),
    "heard_with_doubt": Expected(doubtful=3),
    "all_typed": Expected(typed=True),
    "practice": Expected(OVERRIDDEN, (THERAPIST,), ("outer_edge",), held=1, typed=True, practice=True),
    "cried_in_the_light": Expected(OVERRIDDEN, (THERAPIST,), ("outer_edge",), held=1),
    "light_where_none_was_permitted": Expected(stray=1),
    "microphone_lost_in_the_light": Expected(early=("outer_edge",)),
    "much_skipped_and_ended_early": Expected("stopped", (("therapist", "judged", None),), open=19),
    "of_another_patient": Expected(held=1),
    "whole": Expected(attested="attested"),
}
NAMES = {zone: zone.replace("_", " ") for zone in ("fracture_side", "outer_edge", *OTHERS)}
OUTCOMES = {
    "completed": "Completed",
    OVERRIDDEN: "Completed with overrides",
    "stopped": "Ended early",
    "not closed": "Not closed",
}


def lines(folder, *kinds):
    """The record's own lines, read without the project's code."""
    found = [json.loads(line) for line in (folder / "record.jsonl").read_text(encoding="utf-8").splitlines()]
    return [line["data"] for line in found if line["kind"] in kinds]


@pytest.fixture(params=AWKWARD)
def case(request, awkward):
    return awkward[request.param], EXPECTED[request.param]


def screen(folder):
    record = verify(folder).record
    return list(first_screen(record, phrases_of(record, procedure_of(record))))


def unwrapped(told):
    """Lines of the screen with their continuations."""
    joined = []
    for line in told:
        if line.startswith("    "):
            joined[-1] += " " + line.strip()
        else:
            joined.append(line)
    return joined


def page_text(folder):
    """What stands on the first screen of the page, as text."""
    page, _ = make_report(folder)
    first = page[page.index('<section id="first"') : page.index("<details>")]
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", first))), page


def bundle_of(folder):
    text = export(folder, ExportForm.FHIR, export_words, allow_practice=True)
    return text, read(json.loads(text, parse_float=Decimal))


def visit_of(folder):
    return next(one for one in day_of(folder.parent, DAY).visits if one.name == folder.name)


@pytest.fixture(scope="module")
def every_row(awkward):
    """The long tables of all records at once."""
    folder = next(iter(dict(awkward).values())).parent
    made = store_tables(RecordFolder(folder), Filter(), practice=True)
    assert made.left_out == ()
    read_in = {name: list(csv.DictReader(io.StringIO(made.files[name]))) for name in ("readings.csv", "light.csv")}
    return read_in["readings.csv"], read_in["light.csv"]


def test_there_are_twenty_and_each_is_expected_to_be_something():
    assert set(EXPECTED) == set(AWKWARD)
    assert len(AWKWARD) >= 20


def test_each_is_whole_and_replays(case):
    folder, expected = case
    wanted = RecordState.ATTESTED if expected.attested == "attested" else RecordState.COMPLETE
    assert verify(folder).state is (RecordState.INTERRUPTED if folder.name in UNCLOSED else wanted)


def test_the_screen_and_the_page_say_the_same_in_ten_lines(case):
    folder, expected = case
    told = unwrapped(screen(folder))
    text, _ = page_text(folder)
    kinds = ("Stopped", "Overridden", "Red finding", "Light off target", "Doubtful", "Changed", "Open")
    listed = [line for line in told if line.partition(":")[0] in kinds]
    assert len(listed) <= 10
    for line in listed:
        kind, _, what = line.partition(": ")
        assert f"{kind} {what.partition(' (and ')[0]}" in text
    assert len(screen(folder)) <= 24
    assert max(map(len, screen(folder))) <= 80
    statuses = told[2]
    assert OUTCOMES[expected.outcome] in statuses
    assert ("Practice, no patient" in statuses) is expected.practice
    assert ("All values typed" in statuses) is expected.typed
    assert "Not approved by anybody" in statuses
    attested = {"not-attested": "Not attested", "amended-since": "Amended since", "attested": "Attested by surgeon"}
    assert attested[expected.attested] in statuses
    assert all(status.strip() in text for status in statuses.split(";"))


def test_overridden(case, every_row):
    folder, expected = case
    record_id = lines(folder, "visit_begun")[0]["record_id"]
    stated = [
        (data["role"], data["reason"], data.get("code"))
        for data in lines(folder, "hold_lifted", "gaps_accepted", "zone_left", "visit_ended_early")
        if data["role"] is not None
    ]
    assert stated == list(expected.overrides)
    told = unwrapped(screen(folder))
    assert sum(line.startswith("Overridden:") for line in told) == len(expected.overrides)
    visit = visit_of(folder)
    assert visit.overrides == len(expected.overrides)
    assert visit.outcome == expected.outcome.replace("_", " ")
    listed = next(one for one in list_records(folder.parent) if one.name == folder.name)
    assert (listed.overrides, listed.outcome) == (len(expected.overrides), expected.outcome)
    assert {row["outcome"] for row in every_row[0] if row["record"] == record_id} == {expected.outcome}
    note = export(folder, ExportForm.NOTE, export_words)
    assert f"Outcome: {expected.outcome.replace('_', ' ')}" in note
    if folder.name in UNCLOSED:
        return
    _, bundle = bundle_of(folder)
    operator = "K4"
    in_bundle = [(one["role"], one["reason"], one["code"]) for one in bundle["overrides"]]
    assert in_bundle == [(role, reason, code or operator) for role, reason, code in expected.overrides]
    assert bundle["outcome"] == expected.outcome.replace("_", "-")
    assert bundle["overridden"] == len(expected.overrides)


def test_stopped_and_what_became_of_it(case):
    folder, expected = case
    holds = lines(folder, "hold_set")
    words = [data["word"] for data in lines(folder, "stop_word_heard")]
    cries = lines(folder, "cry_heard")
    assert len(holds) == expected.held
    ends = [
        data["zone"] for data in lines(folder, "light_turned_off") if data["end"] in {"stopped", "cried", "interrupted"}
    ]
    if folder.name in UNCLOSED:
        ends.append(lines(folder, "light_turned_on")[-1]["zone"])
    assert tuple(ends) == expected.early
    told = [line for line in unwrapped(screen(folder)) if line.startswith("Stopped:")]
    for word in words:
        assert any(f"“{word}”" in line for line in told)
    for zone in expected.early:
        assert any(NAMES[zone] in line for line in told)
    never = len(holds) - len(lines(folder, "hold_lifted"))
    assert sum("the hold was never lifted" in line for line in told) == never
    visit = visit_of(folder)
    assert visit.early_ends == len(expected.early)
    assert sum(one.startswith("Stopped:") for one in visit.told) == len(told)
    listed = next(one for one in list_records(folder.parent) if one.name == folder.name)
    assert listed.early_ends == len(expected.early)
    if folder.name in UNCLOSED:
        return
    _, bundle = bundle_of(folder)
    assert [one["words"] for one in bundle["stops"] if one["kind"] == "stop-word"] == words
    assert [one["words"] for one in bundle["stops"] if one["kind"] == "cry"] == [data["words"] for data in cries]
    assert sum(one["hold"] is not None for one in bundle["stops"]) == len(holds)
    assert [one["hold"] for one in bundle["stops"] if one["hold"]] == [data["hold"] for data in holds]
    assert sum(one["hold"] is not None and not one["lifted"] for one in bundle["stops"]) == never
    assert [run["zone"] for run in bundle["runs"] if run["early"]] == list(expected.early)
    assert [f"Stopped: {one['told']}" for one in bundle["stops"]] == [
        one for one in visit.told if one.startswith("Stopped:")
    ]


def test_light_against_its_target(case, every_row):
    folder, expected = case
    record_id = lines(folder, "visit_begun")[0]["record_id"]
    table = {row["zone"]: row for row in every_row[1] if row["record"] == record_id}
    closing = lines(folder, "visit_closed")
    zones = {zone["zone"]: zone for zone in closing[0]["zones"]} if closing else {}
    assert set(table) == set(zones)
    by_standing = {name: {zone for zone, row in table.items() if row["standing"] == name} for name in ("over", "short")}
    assert by_standing == {"over": set(expected.over), "short": set(expected.short)}
    told = " ".join(line for line in unwrapped(screen(folder)) if line.startswith("Light off target:"))
    for name, listed in (("Over target", expected.over), ("Short of target", expected.short)):
        assert (name in told) is bool(listed)
        assert all(NAMES[zone] in told for zone in listed)
    assert ("Light outside a zone" in told) is bool(expected.stray)
    visit = visit_of(folder)
    assert visit.over_target == len(expected.over)
    page = make_report(folder)[0]
    assert all(f"{zone['lit_s']:.1f}" in page for zone in zones.values())
    if not closing:
        return
    _, bundle = bundle_of(folder)
    for zone, figures in bundle["zones"].items():
        assert figures["lit"] == pytest.approx(Decimal(str(zones[zone]["lit_s"])))
        assert figures["target"] == pytest.approx(Decimal(str(zones[zone]["target_s"])))
        assert figures["standing"] == table[zone]["standing"]
    assert len(bundle["stray_light"]) == expected.stray
    credited = [run["credited_s"] for run in lines(folder, "light_turned_off")]
    assert [float(run["seconds"]) for run in bundle["runs"]] == pytest.approx(credited)


def test_red_amended_typed_doubtful(case, every_row):
    folder, expected = case
    record_id = lines(folder, "visit_begun")[0]["record_id"]
    rows = [row for row in every_row[0] if row["record"] == record_id and row["status"] != "superseded"]
    assert sum(row["flag"] == "red" for row in rows) == expected.red
    told = unwrapped(screen(folder))
    assert sum(line.startswith("Red finding:") for line in told) == expected.red
    assert visit_of(folder).red == expected.red
    assert sum(line.startswith("Changed: Afterwards") for line in told) == expected.amended
    assert sum("not judged" in line for line in told) == expected.unjudged
    assert sum(line.startswith("Doubtful:") for line in told) == expected.doubtful
    typed = {row["entry"] for row in rows if row["entry_way"] == "typed"}
    assert bool(typed) is expected.typed
    assert all(row["score"] == "" for row in rows if row["entry_way"] != "spoken")
    assert all(row["score"] for row in rows if row["entry_way"] == "spoken")
    one_table = csv.DictReader(io.StringIO(export(folder, ExportForm.CSV, export_words)))
    assert {row["entry"] for row in one_table if not row["probability"] and row["status"] == "current"} >= typed
    _, page = page_text(folder)
    assert ">100%<" not in page
    if folder.name in UNCLOSED:
        return
    _, bundle = bundle_of(folder)
    assert len(bundle["red"]) == expected.red
    assert len(bundle["unjudged"]) == expected.unjudged
    assert set(map(str, bundle["typed"])) == typed
    assert set(map(str, bundle["scored"])) == {row["entry"] for row in rows if row["score"]}


def test_open_notes_breaks_attested_practice(case):
    folder, expected = case
    closing = lines(folder, "visit_closed")
    left = closing[0]["open_items"] if closing else []
    assert len(left) == expected.open
    visit = visit_of(folder)
    assert len(visit.open_items) == (expected.open if closing else 1)
    assert (visit.unverified, visit.practice) == (expected.unread, expected.practice)
    marks = visit_marks(visit)
    assert ("all values typed" in marks, "not approved by anybody" in marks) == (expected.typed, True)
    assert ("PRACTICE" in marks) is expected.practice
    assert visit.away_s == pytest.approx(sum(expected.away), abs=1)
    assert bool(visit.waited_s) is bool(expected.waits)
    told = unwrapped(screen(folder))
    assert any(line.startswith("Open:") for line in told) is bool(
        expected.open or expected.unread or not closing or folder.name == "much_skipped_and_ended_early"
    )
    note = export(folder, ExportForm.NOTE, export_words)
    assert ("PRACTICE" in note) is expected.practice
    stands = {"not-attested": "Not attested", "amended-since": "Amended since", "attested": "Attested by surgeon"}
    (heading,) = (line for line in note.splitlines() if line.startswith("How it stands: "))
    assert stands[expected.attested] in heading
    assert set(told[2].split("; ")) <= set(heading.removeprefix("How it stands: ").split("; "))
    kinds = ("Stopped", "Overridden", "Red finding", "Light off target", "Doubtful", "Changed", "Open")
    assert all(f"- {line}" in note for line in told if line.partition(":")[0] in kinds)
    if not closing:
        return
    _, bundle = bundle_of(folder)
    assert len(bundle["open"]) == expected.open
    assert bundle["practice"] is expected.practice
    assert bundle["attestation"] == expected.attested
    assert bool(bundle["attested_by"]) is (expected.attested != "not-attested")
    assert sum(one["status"] == "preliminary" for one in bundle["notes"]) == expected.unread
    assert len(bundle["notes"]) == len(lines(folder, "note_taken"))
    assert [float(seconds) for seconds in bundle["breaks"]] == pytest.approx(list(expected.away), abs=1)
    assert len(bundle["waits"]) == expected.waits
    assert len(bundle["not_approved"]) == len(lines(folder, "visit_begun")[0]["unapproved"])
