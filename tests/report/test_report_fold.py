"""What a report says about a record, against the record's own lines."""

import json
import shutil
from dataclasses import replace
from decimal import Decimal
from functools import cache
from itertools import pairwise

import pytest
from report_samples import HEADER, confirmed, heard, record_of, written

from handsfree.application.words_for_export import export_words
from handsfree.definition.loader import load_bundle
from handsfree.export.choose import ExportForm, export
from handsfree.model.facts import StatusTold
from handsfree.model.readings import Exact
from handsfree.record.amendments import amend
from handsfree.record.contents import Amended
from handsfree.record.display_text import clock_text, duration_text, local_text, plain, with_unit
from handsfree.record.verify import verify
from handsfree.report.before_after import comparison
from handsfree.report.embedded_sound import embedded
from handsfree.report.event_times import said
from handsfree.report.heading import follow_up, heading
from handsfree.report.light_table import zones
from handsfree.report.log import EntrySource, log, utterances
from handsfree.report.notes_table import notes, taught
from handsfree.report.readings_table import reading_groups
from handsfree.report.review_items import ReviewLevel, attention
from handsfree.report.summary import summary_lines
from handsfree.report.timeline_chart import course
from handsfree.report.timeline_strips import GUTTER, WIDTH


def lines(folder, kind):
    """The record's own lines, read without the project's code."""
    found = [json.loads(line) for line in (folder / "record.jsonl").read_text().splitlines()]
    return [line["data"] for line in found if line["kind"] == kind]


@cache
def bundled(name):
    return load_bundle(name)


def fold(folder):
    found = verify(folder)
    assert found.record is not None, found.faults
    return found, found.record


@pytest.fixture(scope="module")
def spoken(fitting):
    """The fitting with its prompts."""
    _, record = fold(fitting[0])
    return record, said(record, bundled("ulnar-splint-fitting"))


@pytest.mark.parametrize(
    ("seconds", "shown"), [(0.0, "0:00"), (59.99, "0:59"), (60.0, "1:00"), (3599.0, "59:59"), (3661.0, "1:01:01")]
)
def test_session_time_is_shown_as_a_stop_watch_does(seconds, shown):
    # ISO 8601 order of hours, minutes, seconds; 60 minutes make an hour.
    assert clock_text(seconds) == shown


def test_words_for_times_units_and_identifiers():
    # SI brochure: a space before every unit but the degree of angle. Local time from the offset on record (RFC 3339).
    assert with_unit("48.0", "mW/cm2") == "48.0 mW/cm²"
    assert with_unit("18", "deg") == "18°"
    assert with_unit("3", "{score}") == "3"
    assert duration_text(3725) == "1 h 2 min 5 s"
    assert local_text("2026-11-25T23:30:00.000Z", 60) == "2026-11-26 00:30"
    assert plain("circulation_before@left") == "circulation before, left"


def test_prompts_that_replay_gives_are_those_that_were_said(fitting, spoken):
    _, prompts = fitting
    _, given = spoken
    assert [text for line in sorted(given.prompts) for text in given.prompts[line]] == prompts
    assert given.why_not == ""


def test_without_the_very_procedure_no_prompt_is_made_up(fitting):
    _, record = fold(fitting[0])
    for other in (None, bundled("light-output-check")):
        given = said(record, other)
        assert given.prompts == {}
        assert record.header.procedure_sha256 in given.why_not


def test_a_record_that_does_not_replay_shows_no_prompts(tmp_path):
    bundle = bundled("light-output-check")
    header = replace(HEADER, procedure=bundle.procedure.id, procedure_sha256=bundle.sha256)
    given = said(record_of(written(tmp_path / "visit", StatusTold(stages_done=9), header=header)), bundle)
    assert given.prompts == {}
    assert "other facts from entry 3 on" in given.why_not


def test_open_comes_before_stopped_before_flagged_before_unverified(broken_off):
    items = attention(*fold(broken_off))
    levels = [item.level for item in items]
    assert levels == sorted(levels, key=list(ReviewLevel).index)
    assert [item.what for item in items if item.level is ReviewLevel.OPEN] == [
        "Hold not lifted: battery running low",
        "Not done: condition, eye protection, distance, output, sign out",
    ]
    assert sum(item.count for item in items if item.level is ReviewLevel.OPEN) == len(
        lines(broken_off, "visit_closed")[0]["open_items"]
    )
    flagged = [item for item in items if item.level is ReviewLevel.FLAG]
    assert [item.what for item in flagged] == ["Stop value: battery running low"]
    assert [item.what for item in items if item.level is ReviewLevel.NOTE] == ["Note: cable tie is missing"]


def test_a_fitting_tells_its_stop_its_correction_and_its_light(fitting):
    items = attention(*fold(fitting[0]))
    told = [(item.level, item.what) for item in items]
    assert (ReviewLevel.STOP, 'Stop word "hot", while lit') in told
    assert (ReviewLevel.STOP, "Red hold: the word hot was said") in told
    assert (ReviewLevel.STOP, "Hold lifted by therapist, settled: the word hot was said") in told
    assert (ReviewLevel.CHANGED, "Corrected during the visit: wrist 21° → 18°") in told
    assert not [what for level, what in told if level is ReviewLevel.OPEN]


def test_a_record_that_was_cut_says_so_first(tmp_path):
    first = attention(*fold(written(tmp_path / "cut", closing=None)))[0]
    assert first.level is ReviewLevel.OPEN
    assert "not closed" in first.what


def test_light_that_was_on_as_the_record_ends_is_told_everywhere(cut_in_the_light):
    # 3 s by a sign of life each second; no outside source. Of a lost run nothing else is known.
    found, record = fold(cut_in_the_light)
    assert not record.zones
    assert record.light_cut.zone == "fracture_side"
    assert record.light_cut.lit_s == pytest.approx(3.0, abs=0.01)
    told = "the record ends with the light on, fracture side: 3.0 s up to the last sign of life"
    opened = [item.what for item in attention(found, record) if item.level is ReviewLevel.OPEN]
    assert any(told in what.lower() for what in opened)
    summary = list(summary_lines(record, found.state.value))
    assert sum(told in line for line in summary) == 2


def test_light_that_was_put_off_is_not_cut(fitting):
    assert fold(fitting[0])[1].light_cut is None


def test_a_missing_clip_is_an_open_item(broken_off, tmp_path):
    folder = tmp_path / "copy"
    shutil.copytree(broken_off, folder)
    clip = sorted((folder / "clips").iterdir())[0]
    clip.unlink()
    found, record = fold(folder)
    assert any(item.level is ReviewLevel.OPEN and clip.name in item.what for item in attention(found, record))


def test_every_reading_that_stands_is_in_the_table_once(fitting):
    # The last of each step, field, side and timing stands: counted here from the lines.
    folder, _ = fitting
    given = [*lines(folder, "reading_confirmed"), *lines(folder, "reading_amended")]
    places = {(data["step"], data["field"], data["side"], data["timing"]) for data in given}
    groups = reading_groups(fold(folder)[1])
    rows = [row for group in groups for breath in group.breaths for row in breath.rows]
    assert len(rows) == len(places)
    assert all(group.height == sum(len(breath.rows) for breath in group.breaths) for group in groups)


def test_a_value_corrected_by_voice_stands_beside_the_old_one(fitting):
    groups = {group.title: group for group in reading_groups(fold(fitting[0])[1])}
    wrist = next(row for breath in groups["Position"].breaths for row in breath.rows if row.label == "wrist")
    assert wrist.shown == "18°"
    assert [old.shown for old in wrist.earlier] == ["21°"]
    assert "wrist two one" in wrist.earlier[0].why


def test_an_amendment_stands_beside_the_original(tmp_path):
    folder = written(tmp_path / "visit", confirmed("refill", "time", Decimal("2.5"), unit="s"))
    (number,) = (item.recorded.seq for item in record_of(folder).readings)
    now = Amended(value=Exact(Decimal("2.4"), 1))
    amend(folder, number, now, by="therapist", reason="read off the wrong line")
    _, record = fold(folder)
    rows = [row for group in reading_groups(record) for breath in group.breaths for row in breath.rows]
    row = next(row for row in rows if row.entry == number)
    assert row.shown == "2.4 s"
    assert row.earlier[0].shown == "2.5 s"
    assert "therapist" in row.earlier[0].why
    assert "read off the wrong line" in row.earlier[0].why
    changed = [item.what for item in attention(*fold(folder)) if item.level is ReviewLevel.CHANGED]
    assert changed == ["Amended by therapist: value 2.5 s → value 2.4 s. read off the wrong line"]
    summary = list(summary_lines(record, "complete"))
    assert f"  amended by therapist: value 2.5 s → value 2.4 s (entry {number})" in summary
    note = export(folder, ExportForm.NOTE, export_words)
    assert f"- entry {number}: value 2.5 s -> value 2.4 s, by therapist" in note
    assert '"display": "before: value 2.5 s"' in export(folder, ExportForm.FHIR, export_words)


def test_before_and_after_stand_beside_each_other_by_side(fitting):
    found = comparison(fold(fitting[0])[1])
    assert found.sides == ("right", "left", "")
    rows = {(step, label): values for step, label, values in found.rows}
    refill = rows["Circulation", "refill"]
    assert [(one.before, one.after) for one in refill] == [("1.5 s", "1.6 s"), ("1.5 s", "1.6 s"), ("", "")]
    assert [one.differs for one in refill] == [True, True, False]
    assert not any(one.differs for one in rows["Sensation", "ulnar"])


def test_light_by_zone_is_that_of_the_closing_statement(fitting):
    folder, _ = fitting
    closing = {zone["label"]: zone for zone in lines(folder, "visit_closed")[0]["zones"]}
    found = zones(fold(folder)[1])
    assert [zone.name for zone in found] == list(closing)
    for zone in found:
        assert zone.lit == f"{closing[zone.name]['lit_s']:.1f}"
        assert zone.dose == f"{closing[zone.name]['dose_j_cm2']:.2f}"
        assert len(zone.runs) == closing[zone.name]["runs"]


def test_each_run_is_drawn_as_long_as_it_lasted(fitting):
    # Proportion: a run takes the share of the strip that its seconds have of the strip's seconds.
    folder, _ = fitting
    _, record = fold(folder)
    picture = course(record, said(record, None))
    drawn = sorted(shape.width for shape in picture.shapes if shape.look == "lit")
    runs = sorted(run["counted_to_s"] - run["counted_from_s"] for run in lines(folder, "light_turned_off"))
    assert len(drawn) >= len(runs)
    scale = sum(drawn) / sum(runs)
    times = [shape for shape in picture.shapes if shape.look == "time"]
    first, second = times[0], times[1]
    seconds = int(second.words.split(":")[0]) * 60 + int(second.words.split(":")[1])
    assert scale == pytest.approx((second.x - first.x) / seconds, rel=1e-3)


def test_nothing_is_drawn_outside_the_picture(spoken):
    picture = course(*spoken)
    for shape in picture.shapes:
        assert -5 <= shape.x <= WIDTH, shape
        assert shape.x + shape.width <= WIDTH + 1, shape
        assert 0 <= shape.y <= picture.height, shape
        assert shape.y + shape.height <= picture.height, shape
    assert min(shape.x for shape in picture.shapes if shape.form == "rect") >= GUTTER


def test_every_step_utterance_stop_and_hold_is_drawn(fitting, spoken):
    folder, prompts = fitting
    record, _ = spoken
    picture = course(*spoken)
    tips = [shape.tip for shape in picture.shapes if shape.tip]
    stages = {data["stage"] for data in lines(folder, "step_entered")}
    assert {name for _, name in picture.steps} == {stage.replace("_", " ").replace("@", ", ") for stage in stages}
    assert sum(shape.form == "tick" for shape in picture.shapes) == len(prompts)
    assert {f"“{one.words}” taken 100%" for _, one in utterances(record)} <= set(tips)
    assert any(tip.startswith("RED hold, the word hot was said, until") for tip in tips)
    assert any(tip.startswith("STOP: hot at") for tip in tips)
    assert any(tip.startswith("strap off at") for tip in tips)


def test_the_log_is_in_order_and_has_every_prompt(fitting, spoken):
    _, prompts = fitting
    record, _ = spoken
    found = log(*spoken)
    assert [line.what for line in found if line.source is EntrySource.TOOL] == prompts
    assert sum(line.source is EntrySource.HEARD for line in found) == len(utterances(record))
    recorded = [line.anchor for line in found if line.source is EntrySource.RECORD and line.anchor is not None]
    assert all(one < other for one, other in pairwise(recorded))


def test_teaching_follow_up_and_heading_say_what_was_recorded(fitting):
    folder, _ = fitting
    found, record = fold(folder)
    assert [item.said for item in taught(record)] == [data["said"] for data in lines(folder, "item_taught")]
    pairs = {pair.name: pair.value for pair in follow_up(record)}
    assert pairs == {
        "Image after": "no reduction",
        "Follow up check": "2028-11-26",
        "Follow up clinic": "2028-12-03",
        "Care passes": "clinic",
        "Incident": "none happened",
        "Leaflet": "confirmed",
        "Handover": "confirmed",
    }
    head = {pair.name: pair.value for pair in heading(record, found)}
    assert head["Side"] == "right"
    assert head["Device lot"] == "A4B2"
    assert head["Device expiry"] == "2031-10-31"
    assert head["Size"] == "medium"
    assert head["State"] == "closed, not attested"


def test_a_note_is_unverified_until_a_person_has_read_it(broken_off):
    (note,) = notes(fold(broken_off)[1])
    assert note.text == "cable tie is missing"
    assert note.verified == ""


def test_sound_that_does_not_fit_is_left_out_the_least_telling_first(broken_off):
    _, record = fold(broken_off)
    whole = embedded(broken_off, record)
    assert whole.left_out == 0
    assert len(whole.clips) == len(record.clips)
    one = len(whole.clips[0].source)
    part = embedded(broken_off, record, limit=int(one * 4.5))
    assert part.left_out == len(whole.clips) - len(part.clips)
    by_event = {sha256: line for line, sha256 in record.clips}
    kinds = {fact.kind for fact in record.facts for sound in part.clips if fact.event_seq == by_event[sound.sha256]}
    assert {"stop_word_heard", "note_taken"} <= kinds
    assert "hold_lifted" not in kinds


def test_values_heard_with_doubt_are_to_be_listened_to(tmp_path):
    facts = (
        confirmed("a", "one", "yes", asked=True, heard=heard("maybe yes", 0.5)),
        confirmed("b", "two", "yes", heard=heard("yes", 0.99)),
    )
    written(tmp_path / "visit", *facts)
    listen = [item for item in attention(*fold(tmp_path / "visit")) if item.level is ReviewLevel.LISTEN]
    assert [item.what for item in listen] == ['Heard with doubt: "maybe yes" (50%, asked about and affirmed)']
