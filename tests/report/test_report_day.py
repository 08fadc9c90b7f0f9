"""A day of a store, against visits whose light, lot and day are set here."""

import json
from dataclasses import replace
from datetime import date

import pytest
from report_samples import CLOSED, HEADER, confirmed, heard, record_of, started, wall, written

from handsfree.cli import main
from handsfree.model.facts import (
    HoldLifted,
    HoldSet,
    KindDeclared,
    LightStillOn,
    LightTurnedOff,
    LightTurnedOn,
    NoteTaken,
    OperatorDeclared,
    RoleDeclared,
)
from handsfree.model.light import LampAgreement, RunEnd
from handsfree.model.open_items import OpenZone
from handsfree.model.readings import Option, SpelledText, SpokenDate
from handsfree.model.reasons import AsWritten, Grounds
from handsfree.record.amendments import amend
from handsfree.record.contents import Amended
from handsfree.report.day import day_lines, day_of, day_page

DAY = date(2026, 11, 25)
NOTE = NoteTaken(text="padding checked", verified=False, broken_off=False, stage="padding")


def lit(from_s, lit_s, zone="a"):
    """Light on, and off again."""
    return (
        LightTurnedOn(stage="cure", zone=zone, counted_from_s=from_s, heat_reported=True, heard=heard()),
        LightTurnedOff(
            zone=zone,
            counted_from_s=from_s,
            counted_to_s=from_s + lit_s,
            possible_to_s=from_s + lit_s,
            credited_s=lit_s,
            dose_j_cm2=0.05 * lit_s,
            end=RunEnd.OFF_SAID,
            reason="",
            beeps=LampAgreement.NOT_JUDGED,
            flags=(),
            heard=heard(),
        ),
    )


def visit(store, name, *, lit_s=10.0, lot="A1", practice=False, operator="K4", close=True, more=(), **begun):
    facts = (
        confirmed("who", "code", operator),
        OperatorDeclared(operator=operator),
        confirmed("package", "number", lot, label="lot"),
        confirmed("package", "expiry", SpokenDate(date(2031, 10, 31), month_only=True)),
        *lit(5.0, lit_s),
        NOTE,
        *more,
    )
    header = replace(HEADER, record_id=f"visit-{name}", practice=practice, started=begun.get("wall", wall()))
    return written(
        store / name,
        *facts,
        header=header,
        begun=started(practice=practice, **begun),
        closing=CLOSED if close else None,
    )


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    folder = tmp_path_factory.mktemp("store")
    visit(folder, "first")
    visit(folder, "second", lit_s=2.5, lot="B2")
    visit(folder, "third", lit_s=4.0, operator="M7", close=False)
    visit(folder, "rehearsal", practice=True, lot="C3")
    # 23:30 UTC the day before is 00:30 on this day at one hour east.
    visit(folder, "after-midnight", wall="2026-11-24T23:30:00.000Z", lit_s=1.0)
    # The same moment further west is still the day before.
    visit(folder, "elsewhere", wall="2026-11-25T02:00:00.000Z", local_offset_minutes=-300, today="2026-11-24")
    (folder / "damaged").mkdir()
    (folder / "damaged" / "record.jsonl").write_text("{}\n")
    return folder


def test_a_day_is_that_of_the_clock_where_the_visit_began(store):
    found = day_of(store, DAY)
    assert [one.name for one in found.visits] == ["after-midnight", "first", "rehearsal", "second", "third"]
    assert found.visits[0].began == "00:30"
    assert [one.name for one in day_of(store, date(2026, 11, 24)).visits] == ["elsewhere"]


def test_light_adds_up_by_operator_without_practice(store):
    # Sum of light-on times of a day: 10 + 2.5 + 1, and 4 of another operator (ICNIRP 2013: exposures of a day add up).
    assert day_of(store, DAY).light == (("K4", 13.5), ("M7", 4.0))


def test_an_interrupted_visit_is_practice_once_that_was_said_whatever_its_field_is_called(tmp_path):
    said = (confirmed("purpose", "why", "practice"), KindDeclared(declared="practice"), *lit(5.0, 10.0))
    written(tmp_path / "interrupted", *said, closing=None)
    found = day_of(tmp_path, DAY)
    assert [one.practice for one in found.visits] == [True]
    assert found.light == ()


def test_an_answer_that_only_looks_like_practice_makes_no_practice(tmp_path):
    written(tmp_path / "live", confirmed("session_kind", "kind", "practice"), *lit(5.0, 10.0), closing=None)
    assert [one.practice for one in day_of(tmp_path, DAY).visits] == [False]


@pytest.mark.parametrize(
    ("facts", "operator", "shown"),
    [
        ((RoleDeclared(role="cast_technician"), OperatorDeclared(operator="K4")), "K4", "cast technician, K4"),
        ((RoleDeclared(role="cast_technician"),), "cast_technician", "cast technician"),
        ((confirmed("operator_code", "code", "K4"), confirmed("operator", "role", "therapist")), "unknown", ""),
    ],
)
def test_who_held_the_light_is_who_was_declared_not_what_a_step_is_called(tmp_path, facts, operator, shown):
    written(tmp_path / "visit", *facts, *lit(5.0, 10.0))
    found = day_of(tmp_path, DAY)
    assert found.light == ((operator, 10.0),)
    assert found.visits[0].operator == shown


def test_a_code_that_was_amended_later_moves_the_light_to_whom_it_names(tmp_path):
    facts = (
        confirmed("duty", "role", "therapist"),
        RoleDeclared(role="therapist"),
        confirmed("who", "code", "K4"),
        OperatorDeclared(operator="K4"),
        *lit(5.0, 10.0),
    )
    folder = written(tmp_path / "visit", *facts)
    role, code = (one.recorded.seq for one in record_of(folder).readings)
    amend(folder, code, Amended(value=SpelledText("M7")), by="therapist", reason="misheard")
    amend(folder, role, Amended(value=Option("cast_technician")), by="therapist", reason="misheard")
    found = day_of(tmp_path, DAY)
    assert found.light == (("M7", 10.0),)
    assert found.visits[0].operator == "cast technician, M7"


def test_a_run_that_was_cut_counts_up_to_its_last_sign_of_life(tmp_path):
    on, _ = lit(5.0, 10.0)
    signs = [LightStillOn(zone="a", at_s=at_s, cues=()) for at_s in (6.0, 7.5)]
    written(tmp_path / "cut", OperatorDeclared(operator="K4"), *lit(1.0, 2.0), on, *signs, closing=None)
    assert day_of(tmp_path, DAY).light == (("K4", 4.5),)


def test_devices_by_lot_without_practice(store):
    lots = {one.lot: (one.expiry, one.visits) for one in day_of(store, DAY).lots}
    assert lots == {
        "A1": ("2031-10-31", ("after-midnight", "first", "third")),
        "B2": ("2031-10-31", ("second",)),
    }


def test_what_is_open_comes_first_and_what_cannot_be_read_is_never_left_out(store):
    found = day_of(store, DAY)
    assert found.unreadable == ("damaged",)
    text = list(day_lines(found))
    assert text[1] == "  BROKEN, of no known day: damaged"
    assert "not closed" in text[2]
    assert text.index("VISITS") > 2
    assert any("PRACTICE" in line and line.endswith("rehearsal") for line in text)
    assert any("1 notes not verified" in line for line in text)


def test_a_hold_that_nobody_lifted_is_open_and_one_that_was_lifted_is_not(tmp_path):
    hot, cracked = Grounds(AsWritten("it is hot")), Grounds(AsWritten("the sleeve is cracked"))
    lifted = HoldLifted(hold="red", grounds=hot, role="therapist", reason="settled", code=None, heard=heard())
    holds = (HoldSet(hold="red", stage="cure", grounds=hot), HoldSet(hold="stop", stage="sleeve", grounds=cracked))
    written(tmp_path / "visit", *holds, lifted, HoldSet(hold="red", stage="cure", grounds=hot), closing=None)
    assert day_of(tmp_path, DAY).visits[0].open_items == (
        "not closed",
        "stop hold not lifted: the sleeve is cracked",
        "red hold not lifted: it is hot",
    )


def test_what_a_closed_visit_left_open_is_told(tmp_path):
    zone = OpenZone(zone="a", label="outer edge: thumb side")
    written(tmp_path / "visit", closing=replace(CLOSED, outcome="stopped", open_items=(zone,)))
    (item,) = day_of(tmp_path, DAY).visits[0].open_items
    assert item.endswith("outer edge: thumb side")


def test_the_page_says_the_same(store):
    page = day_page(day_of(store, DAY))
    assert page.index("damaged") < page.index("Visits</h2>")
    for words in ("<strong>K4</strong>: 13.5 s", "after-midnight", 'class="tag">practice', "script-src &#39;none&#39;"):
        assert words in page


def test_the_command_prints_text_json_and_a_page(capsys, store, tmp_path):
    main(["day", str(store), "--date", "2026-11-25"])
    assert capsys.readouterr().out.splitlines()[0] == "2026-11-25: 5 visits"
    main(["day", str(store), "--date", "2026-11-25", "--json"])
    assert json.loads(capsys.readouterr().out)["light"] == [["K4", 13.5], ["M7", 4.0]]
    main(["day", str(store), "--date", "2026-11-25", "--html", str(tmp_path / "day.html")])
    assert (tmp_path / "day.html").stat().st_mode & 0o777 == 0o600
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    ("arguments", "code"), [(["none"], 8), ([".", "--date", "yesterday"], 2), ([".", "--json", "--html", "x"], 2)]
)
def test_what_cannot_be_done_is_refused(capsys, tmp_path, monkeypatch, arguments, code):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as left:
        main(["day", *arguments])
    assert left.value.code == code
    assert capsys.readouterr().err


@pytest.mark.parametrize("day", [date.min, date.max])
def test_the_first_and_the_last_day_of_the_calendar_can_be_asked_for(tmp_path, day):
    assert day_of(tmp_path, day).visits == ()
