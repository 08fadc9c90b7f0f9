"""One contract of two places: what a folder and a store say of the same records is the same, word for word.

Every command is asked twice, of the folder in which the records lie and of the store to which they were sent.
"""

import dataclasses
import json
import re
import shutil
from datetime import date

import pytest
from forgery import forged, values_changed
from record_golden import copy_of
from record_samples import HEADER, confirmed, write_visit
from store_rooms import Department, amend_in, make_people, visit_in
from store_visits import kinds

from handsfree.application.record_places import records_at
from handsfree.cli import main
from handsfree.model.readings import SpelledText
from handsfree.record.amendments import attest
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.signing import installation_key
from handsfree.record.store import Filter
from handsfree.report.day import day_from, folded_visit
from handsfree.store.folder_push import push_folder
from handsfree.store.schema_steps import make_schema

DAY = date(2026, 11, 25)


@pytest.fixture(scope="module")
def places(server, tmp_path_factory):
    """A folder with records of every state, and a store to which they were sent."""
    import psycopg

    root = tmp_path_factory.mktemp("sources") / "room"
    plain, over, flagged = kinds(root.parent / "kinds")
    for name, kind, lot, code, day in (
        ("plain", plain, "A4B2", "K4", DAY),
        ("over", over, "C7D9", "M3", DAY),
        ("flagged", flagged, "A4B2", "M3", DAY),
        ("day before", plain, "E1F1", "K4", date(2026, 11, 24)),
        ("far away", over, "A4B2", "K4", date(2027, 3, 2)),
    ):
        (root / name).mkdir(parents=True)
        record_id = f"{abs(hash(name)):08x}"[:8] + "-0000-4000-8000-000000000001"
        (root / name / RECORD_FILE).write_bytes(kind.made(record_id, day, lot, code))
    visit_in(root / "amended")
    amend_in(root / "amended")
    visit_in(root / "attested")
    attest(root / "attested", installation_key(root.parent / "key"), by="surgeon")
    visit_in(root / "practice", practice=True)
    visit_in(root / "not closed", close=False)
    fitting = copy_of("ulnar-fitting", root.parent, form=2).rename(root / "fitting")
    forged(fitting, with_own_identifier)
    copy_of("amended-and-attested", root.parent, form=1).rename(root / "older form")
    visit_in(root / "broken")
    file = root / "broken" / RECORD_FILE
    file.write_bytes(file.read_bytes().replace(b'"1.5"', b'"1.6"', 1))
    with psycopg.connect(server.address("postgres"), autocommit=True) as owner:
        owner.execute("create database sources")
    make_schema(server.address("sources"))
    with psycopg.connect(server.address("sources"), autocommit=True) as owner:
        make_people(owner)
    department = Department(server, "sources")
    from handsfree.clock import SystemClock

    push_folder(root, department.address(), SystemClock(), fold=folded_visit)
    yield root, department
    with psycopg.connect(server.address("postgres"), autocommit=True) as owner:
        owner.execute("drop database sources with (force)")


def with_own_identifier(lines):
    for number in range(3):
        lines[number] = values_changed(lines[number], '"record_id":"visit"', '"record_id":"fitting"')


@pytest.fixture(params=["folder", "store of a room", "store of a reviewer", "store without a cache"])
def source(request, places):
    root, department = places
    user = "room_1" if request.param == "store of a room" else "reviewer"
    if request.param == "store without a cache":
        department.ask("truncate handsfree.listing, handsfree.folded")
    with records_at(root if request.param == "folder" else department.address(user)) as found:
        yield found


def names(source, **wanted):
    return [item.name for item in source.listed(Filter(**wanted))]


def test_every_record_is_listed_the_oldest_first(source):
    listed = source.listed(Filter())
    assert {item.name for item in listed} == {
        *("plain", "over", "flagged", "day before", "far away", "amended", "attested", "practice", "not closed"),
        *("fitting", "older form", "broken"),
    }
    assert [item.started for item in listed] == sorted(item.started for item in listed)
    states = {item.name: item.state for item in listed}
    assert (states["attested"], states["not closed"], states["broken"]) == ("attested", "interrupted", "broken")


def test_records_are_found_by_what_they_say(source):
    assert set(names(source, lot="a4-b2")) == {"plain", "flagged", "far away", "fitting"}
    assert set(names(source, operator="m3")) == {"over", "flagged"}
    assert names(source, since="2027-01-01") == ["far away"]
    assert names(source, until="2026-11-24") == ["broken", "day before"]
    assert set(names(source, procedure="short-fitting")) == {"plain", "over", "flagged", "day before", "far away"}
    assert names(source, state="attested", procedure=HEADER.procedure) == ["attested"]
    assert {item.name: item.over_target for item in source.listed(Filter(lot="C7D9"))} == {"over": 1}


def test_what_cannot_be_read_hides_in_no_search(source):
    assert names(source, lot="NONE99", unread=True) == ["broken"]
    assert "broken" in names(source, since="2027-01-01", unread=True)


def test_a_day_tells_its_visits_and_what_cannot_be_read(source):
    found = day_from(source, DAY)
    assert found.unreadable == ("broken",)
    assert {"plain", "over", "flagged", "amended"} <= {visit.name for visit in found.visits}
    assert not {"day before", "far away", "broken"} & {visit.name for visit in found.visits}
    assert next(visit for visit in found.visits if visit.name == "over").over_target == 1
    assert dict(found.light)["K4"] > 0


def test_one_record_is_verified_as_it_is(source):
    found = source.checked("amended")
    assert (found.state, found.lines, len(found.record.amendments)) == ("complete", 23, 1)


ASKED = [
    ["records", "PLACE"],
    ["records", "PLACE", "--json"],
    ["records", "PLACE", "--since", "2026-11-25", "--until", "2026-11-25"],
    ["records", "PLACE", "--state", "interrupted", "--json"],
    ["records", "PLACE", "--operator", "K4"],
    ["records", "PLACE", "--patient", "demo 0001"],
    ["records", "PLACE", "--lot", "A4B2", "--json"],
    *(["records", "PLACE", "--by", by] for by in ("operator", "lot", "room", "procedure")),
    ["recall", "PLACE", "A4B2"],
    ["recall", "PLACE", "A4B2", "--json"],
    ["recall", "PLACE", "NONE99"],
    ["day", "PLACE", "--date", "2026-11-25"],
    ["day", "PLACE", "--date", "2026-11-25", "--json"],
    ["day", "PLACE", "--date", "2026-11-24"],
    ["day", "PLACE", "--date", "2031-01-01"],
    *(["export", "RECORD:amended", "--to", form] for form in ("csv", "note", "fhir")),
    ["export", "RECORD:fitting", "--to", "fhir", "--allow-practice"],
    ["export", "RECORD:older form", "--to", "csv"],
    ["export", "RECORD:not closed", "--to", "fhir"],
]


def told(capsys, asked, place, store):
    arguments = []
    for part in asked:
        if part == "PLACE":
            arguments.append(str(store or place))
        elif part.startswith("RECORD:"):
            name = part.removeprefix("RECORD:")
            arguments += [name, "--from", store] if store else [str(place / name)]
        else:
            arguments.append(part)
    capsys.readouterr()
    try:
        main(arguments)
        code = 0
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    # Where a record lies is no part of what is said of it.
    return code, said.out, re.sub(r"/[^ :]*(/record|/not closed|/amended)\b", "RECORD", said.err)


@pytest.mark.parametrize("user", ["room_1", "reviewer"])
@pytest.mark.parametrize("asked", ASKED, ids=" ".join)
def test_every_command_says_the_same_of_a_folder_and_of_a_store(places, capsys, asked, user):
    root, department = places
    of_folder = told(capsys, asked, root, None)
    of_store = told(capsys, asked, root, department.address(user))
    assert of_store == of_folder
    assert of_folder[1] or of_folder[0]


def test_the_page_of_a_day_is_the_same(places, tmp_path):
    root, department = places
    pages = []
    for number, place in enumerate((root, department.address("reviewer"))):
        page = tmp_path / f"{number}.html"
        main(["day", str(place), "--date", "2026-11-25", "--html", str(page)])
        pages.append(page.read_text())
    assert pages[0] == pages[1]


def test_the_long_tables_are_the_same(places, tmp_path, capsys):
    root, department = places
    made = []
    for number, place in enumerate((root, department.address("reviewer"))):
        output = tmp_path / str(number)
        told(capsys, ["tables", "PLACE", "--output", str(output), "--practice"], place, None)
        made.append({file.name: file.read_text() for file in output.iterdir()})
    assert made[0] == made[1]
    assert made[0]["readings.csv"].count("\n") > 100


def test_a_trainer_is_told_of_practice_alone(places, capsys):
    root, department = places
    code, out, _ = told(capsys, ["records", "PLACE", "--json"], root, department.address("trainer"))
    listed = json.loads(out)
    assert code == 0
    assert {one["name"] for one in listed} == {"practice", "fitting", "older form"}
    assert all(one["practice"] for one in listed)
    assert told(capsys, ["recall", "PLACE", "A4B2"], root, department.address("trainer"))[1].startswith(
        "A4B2: 0 visits"
    )


def test_records_of_one_name_in_two_rooms_are_told_apart(store, tmp_path):
    first, second = visit_in(tmp_path / "first" / "morning"), visit_in(tmp_path / "second" / "morning")
    store.push(tmp_path / "first", user="room_1")
    store.push(tmp_path / "second", user="room_2")
    with records_at(store.address("reviewer")) as source:
        listed = {item.name: item.record_id for item in source.listed(Filter())}
        assert listed == {"morning (room_1)": first, "morning (room_2)": second}
        assert source.checked("morning (room_2)").record.header.record_id == second
        assert {visit.name for visit in day_from(source, DAY).visits} == set(listed)


def test_a_copy_in_a_folder_is_one_record_in_a_store(store, tmp_path, capsys):
    visit_in(tmp_path / "room" / "one")
    shutil.copytree(tmp_path / "room" / "one", tmp_path / "room" / "two")
    store.push(tmp_path / "room")
    asked = ["records", "PLACE", "--by", "procedure"]
    of_folder, of_store = (told(capsys, asked, tmp_path / "room", place) for place in (None, store.address()))
    assert of_store[:2] == of_folder[:2]
    assert "1 visits" in of_store[1]


def test_a_lot_that_was_corrected_is_found_under_both(store, tmp_path):
    lot = confirmed("pack", "lot", SpelledText("A4B2"))
    write_visit(tmp_path / "room" / "one", header=dataclasses.replace(HEADER, record_id="with a lot"))
    assert lot.fact.field == "lot"
    plain = kinds(tmp_path / "kinds")[0]
    (tmp_path / "room" / "two").mkdir()
    file = tmp_path / "room" / "two" / RECORD_FILE
    file.write_bytes(plain.made("00000000-0000-4000-8000-000000000002", DAY, "A4B2", "K4"))
    store.push(tmp_path / "room")
    from handsfree.record.amendments import amend
    from handsfree.record.own_lines import Amended
    from handsfree.record.verify import verify

    reading = next(one for one in verify(file.parent).record.readings if one.stands.field == "lot")
    amend(file.parent, reading.recorded.seq, Amended(value=SpelledText("Q9Q9")), by="nurse", reason="misheard")
    store.push(tmp_path / "room")
    with records_at(store.address("reviewer")) as source:
        for wanted in ("A4B2", "q9-q9"):
            assert [item.name for item in source.listed(Filter(lot=wanted))] == ["two"]
