"""A day of a store, against visits whose light, lot and day are set here."""

import json
from datetime import date

import pytest
from record_samples import CLOSING, HEADER, confirmed, started, wall

from handsfree.cli import main
from handsfree.model.effects import Append
from handsfree.record.journal import Journal
from handsfree.report.day import day_lines, day_of, day_page

DAY = date(2026, 11, 25)


def visit(store, name, *, lit_s=10.0, lot="A1", practice=False, operator="K4", close=True, **begun):
    begun = {"today": DAY.isoformat(), **begun}
    facts = [
        confirmed("operator_code", "code", operator, "spelledtext"),
        confirmed("device_lot", "lot", lot, "spelledtext"),
        confirmed("device_expiry", "expiry", "2031-10-31", "spokendate"),
        Append("light_turned_on", {"zone": "a", "counted_from_s": 5.0}),
        Append(
            "light_turned_off",
            {"zone": "a", "counted_from_s": 5.0, "counted_to_s": 5.0 + lit_s, "possible_to_s": 5.0 + lit_s},
        ),
        Append("note_taken", {"text": "padding checked", "stage": "a", "verified": False}),
    ]
    header = {**HEADER, "practice": practice, "started": begun.get("wall", wall(0))}
    with Journal.create(store / name, header) as journal:
        journal.append(started(practice=practice, **begun), [*facts, *([CLOSING] if close else [])])


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


def test_devices_by_lot_without_practice(store):
    lots = {one.lot: one.visits for one in day_of(store, DAY).lots}
    assert lots == {"A1": ("after-midnight", "first", "third"), "B2": ("second",)}


def test_what_is_open_comes_first_and_what_cannot_be_read_is_never_left_out(store):
    found = day_of(store, DAY)
    assert found.unreadable == ("damaged",)
    text = list(day_lines(found))
    assert text[1] == "  BROKEN, of no known day: damaged"
    assert "not closed" in text[2]
    assert text.index("VISITS") > 2
    assert any("PRACTICE" in line and line.endswith("rehearsal") for line in text)
    assert any("1 notes not verified" in line for line in text)


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
