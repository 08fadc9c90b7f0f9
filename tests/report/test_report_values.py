"""What a record states, as readers see it: values, corrections, devices, zones. Values are set here.

Form of units: SI brochure, 5.4.3 (a space before every unit but the degree of plane angle). UCUM codes: UCUM 2.1.
"""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from report_samples import CLOSED, HEADER, amended, confirmed, heard, record_of, started, written

from handsfree.application.words_for_export import export_words
from handsfree.export.note import to_note
from handsfree.model.facts import (
    CryHeard,
    CrySettled,
    DueMet,
    HoldLifted,
    HoldSet,
    LightOffConfirmed,
    LightStillOn,
    LightTurnedOff,
    LightTurnedOn,
    NoteTaken,
    StepConfirmed,
    StepEntered,
    StrayLightBegan,
    StrayLightEnded,
    ZoneSum,
)
from handsfree.model.light import LampAgreement, LightFlag, RunEnd, ZoneStanding
from handsfree.model.open_items import OpenHold, OpenReading, OpenStep, OpenZone
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Between,
    Beyond,
    Exact,
    Option,
    Side,
    SpelledText,
    SpokenDate,
    Timing,
)
from handsfree.model.reasons import AsWritten, Grounds, Severity
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.record.amendments import amend
from handsfree.record.contents import Amended
from handsfree.record.display_values import (
    LabelPart,
    changed,
    display_value,
    due_lines,
    first_taken,
    interrupted_lines,
    label_part,
    light_cut_lines,
    ucum_value,
    zone_name,
)
from handsfree.record.stops_account import holds_of
from handsfree.record.verify import verify
from handsfree.report.heading import follow_up, heading
from handsfree.report.review_items import ReviewLevel, attention
from handsfree.report.summary import summary_lines


@pytest.mark.parametrize(
    ("value", "unit", "printed", "ucum"),
    [
        (Exact(Decimal("1.0"), 1), "s", "1.0 s", "1.0 s"),
        (Exact(Decimal(1), 1), "s", "1.0 s", "1.0 s"),
        (Exact(Decimal("16.50")), "cm", "16.5 cm", "16.5 cm"),
        (Exact(Decimal(-5)), "deg", "-5°", "-5 deg"),
        (Exact(Decimal(48)), "mW/cm2", "48 mW/cm²", "48 mW/cm2"),
        (Exact(Decimal(3)), "{score}", "3", "3"),
        (Exact(Decimal(3)), None, "3", "3"),
        (Between(Decimal(-5), Decimal(-3)), "deg", "-5 to -3°", "-5 to -3 deg"),
        (Beyond("<", Decimal(2)), "s", "< 2 s", "< 2 s"),
        (Option("not_indicated"), None, "not indicated", "not indicated"),
        (Absent(AbsentReason.NOT_PERFORMED), "s", "no value (not-performed)", "no value (not-performed)"),
        (SpelledText("A-4_b"), None, "A-4_b", "A-4_b"),
        (SpokenDate(date(2027, 11, 30), month_only=True), None, "2027-11-30", "2027-11-30"),
    ],
)
def test_a_value_in_one_short_phrase(value, unit, printed, ucum):
    assert display_value(value, unit) == printed
    assert ucum_value(value, unit) == ucum


def test_what_an_amendment_changed_is_told_by_its_members(tmp_path):
    folder = written(tmp_path / "visit", confirmed("refill", "time", Decimal("2.5"), unit="s"), note())
    number, said = (item.recorded.seq for item in (*record_of(folder).readings, *record_of(folder).notes))
    for entry, now in (
        (number, Amended(value=Between(Decimal(2), Decimal(3)), side=Side.LEFT)),
        (said, Amended(verified=True)),
        (said, Amended(text="strap is missing")),
    ):
        amend(folder, entry, now, by="therapist", reason="read again")
    assert [changed(one) for one in record_of(folder).amendments] == [
        ("side none, value 2.5", "side left, value 2-3"),
        ("", ""),
        ("text padding checked", "text strap is missing"),
    ]


def note():
    return NoteTaken(text="padding checked", verified=False, broken_off=False, stage="padding")


def test_a_value_that_was_taken_again_tells_the_first(tmp_path):
    grounds = Grounds(AsWritten("refill is over two"))
    flagged = {"unit": "s", "severity": Severity.RED, "grounds": grounds}
    facts = (
        confirmed("refill", "time", Decimal(3), **flagged),
        amended("refill", "time", Decimal(1), Decimal(3), why="repeated", unit="s"),
    )
    folder = written(tmp_path / "visit", *facts)
    record = record_of(folder)
    assert [first_taken(one) for one in record.readings] == ["", "first 3 s"]
    flags = [item.what for item in attention(verify(folder), record) if item.level is ReviewLevel.FLAG]
    assert flags == ["Taken again: time first 3 s (refill is over two), then 1 s"]
    assert "  taken again: time first 3 s, refill is over two; then 1 s (refill)" in list(
        summary_lines(record, "complete")
    )


@pytest.mark.parametrize(
    ("field", "label", "value", "part"),
    [
        ("lot", "lot", "M2", LabelPart.LOT),
        ("code", "lot", "M2", LabelPart.LOT),
        ("number", "serial number", "M2", LabelPart.SERIAL),
        ("gtin", "device number", "05012345678900", LabelPart.GTIN),
        ("expiry", "use by", SpokenDate(date(2031, 10, 31)), LabelPart.EXPIRY),
        ("date", "date", SpokenDate(date(2031, 10, 31)), None),
        ("expiry", "expiry", "current", None),
        ("code", "code", "L3", None),
    ],
)
def test_what_a_label_tells_is_found_by_the_name_of_the_field(field, label, value, part):
    # GS1 General Specifications 3.2: application identifiers 01 (GTIN), 10 (lot), 17 (expiry), 21 (serial).
    value = SpelledText(value) if isinstance(value, str) and value != "current" else value
    assert label_part(confirmed("whatever", field, value, label=label)) is part


def test_the_heading_shows_codes_and_labels_of_any_step_and_no_other_date(tmp_path):
    facts = (
        confirmed("thermometer_code", "code", "T7"),
        confirmed("package", "lot", "M2"),
        confirmed("package", "expiry", SpokenDate(date(2028, 5, 31))),
        confirmed("injury_date", "date", SpokenDate(date(2026, 11, 1))),
    )
    folder = written(tmp_path / "visit", *facts)
    pairs = [(pair.name, pair.value) for pair in heading(record_of(folder), verify(folder)) if pair.code]
    assert pairs == [
        ("Patient reference", "DEMO-0001"),
        ("Thermometer code", "T7"),
        ("Package", "M2"),
        ("Package", "2028-05-31"),
    ]


def test_follow_up_is_what_was_settled_after_whatever_its_steps_are_called(tmp_path):
    after = {"phase": "after"}
    facts = (
        confirmed("wound", "size", Decimal(3), unit="cm"),
        confirmed("warmth_after", "temperature", "warm", timing=Timing.AFTER, **after),
        confirmed("next_change", "date", SpokenDate(date(2026, 12, 3)), **after),
        *(confirmed("delivery", name, "noted", **after) for name in ("order", "reason")),
        StepEntered(stage="gloves", step="gloves", phase="before", again=False),
        StepConfirmed(stage="gloves", step="gloves", heard=heard()),
        StepEntered(stage="told@left", step="told", phase="after", again=False),
        StepConfirmed(stage="told@left", step="told", heard=heard()),
        StepConfirmed(stage="told@left", step="told", heard=heard()),
    )
    found = follow_up(record_of(written(tmp_path / "visit", *facts)))
    assert [(pair.name, pair.value) for pair in found] == [("Next change", "2026-12-03"), ("Told, left", "confirmed")]


def test_open_items_of_a_kind_stand_together_and_their_words_are_not_taken_apart(tmp_path):
    items = (
        OpenHold(Grounds(AsWritten("step: it is hot"))),
        OpenReading("pain_after@left", "rest"),
        OpenStep("sign_out"),
        OpenStep("pain_after@right"),
        OpenZone("a", "edge: thumb side"),
    )
    folder = written(tmp_path / "visit", closing=replace(CLOSED, outcome="stopped", open_items=items))
    found = [item for item in attention(verify(folder), record_of(folder)) if item.level is ReviewLevel.OPEN]
    assert [(item.what, item.count) for item in found] == [
        ("Hold not lifted: step: it is hot", 1),
        ("No value: pain after, left: rest", 1),
        ("Not done: sign out, pain after, right", 2),
        ("Short of light: edge: thumb side", 1),
    ]


def test_a_gap_that_was_left_open_is_told_once(tmp_path):
    gap = confirmed("pain_after", "rest", Absent(AbsentReason.ASKED_DECLINED), stage="pain_after@left")
    folder = written(
        tmp_path / "open", gap, closing=replace(CLOSED, open_items=(OpenReading("pain_after@left", "rest"),))
    )
    assert [item.what for item in attention(verify(folder), record_of(folder))] == ["No value: pain after, left: rest"]
    folder = written(tmp_path / "accepted", gap)
    assert [item.what for item in attention(verify(folder), record_of(folder))] == ["No value for rest: asked declined"]


def test_each_lifting_ends_the_first_hold_of_its_grounds(tmp_path):
    hot, cold = Grounds(AsWritten("hot")), Grounds(AsWritten("cold"))

    def held(grounds):
        return HoldSet(hold="red", stage="cure", grounds=grounds)

    lifted = HoldLifted(hold="red", grounds=hot, role=None, reason="answered_again", code=None, heard=None)
    record = record_of(written(tmp_path / "visit", held(hot), held(cold), lifted, held(hot), closing=None))
    seqs = [(one.seq, one.lifted.seq if one.lifted is not None else None) for one in holds_of(record)]
    first = seqs[0][0]
    assert seqs == [(first, first + 4), (first + 2, None), (first + 6, None)]
    assert "  lifted by whoever answered: another answer took its place (hot)" in list(
        summary_lines(record, "interrupted")
    )


def test_a_zone_is_called_as_the_closing_statement_calls_it_everywhere(tmp_path):
    zone = ZoneSum(
        zone="zone_1", label="outer edge", lit_s=2, possible_s=2, target_s=6, dose_j_cm2=1, runs=1, strap_shadowed=False
    )
    record = record_of(written(tmp_path / "closed", closing=replace(CLOSED, zones=(zone,))))
    assert zone_name(record, "zone_1") == "outer edge"
    assert any(line.startswith("  outer edge: 2.0 of 6.0 s, 1.00 J/cm2") for line in summary_lines(record, "complete"))
    on = LightTurnedOn(stage="cure", zone="zone_1", counted_from_s=1.0, heat_reported=True, heard=heard())
    cut = record_of(written(tmp_path / "cut", on, LightStillOn(zone="zone_1", at_s=3.5, cues=()), closing=None))
    (line,) = light_cut_lines(cut)
    assert line.startswith("the record ends with the light on, zone 1: 2.5 s up to the last sign of life")


@pytest.mark.parametrize(
    ("lit_s", "standing", "told", "item"),
    [
        (5.6, ZoneStanding.SHORT, "short by 0.4 s", "Light short of target: outer edge 5.6 of 6.0 s (0.4 s missing)"),
        (5.8, ZoneStanding.REACHED, "within the profile's tolerance of 0.3 s", None),
        (7.4, ZoneStanding.REACHED, "7.4 of 6.0 s", None),
        (7.5, ZoneStanding.OVER, "over target by 1.5 s", "Light over target: outer edge 7.5 of 6.0 s (1.5 s over)"),
    ],
)
def test_summary_and_page_judge_a_zone_by_the_limits_on_its_line(tmp_path, lit_s, standing, told, item):
    zone = ZoneSum(
        zone="zone_1",
        label="outer edge",
        lit_s=lit_s,
        possible_s=lit_s,
        target_s=6,
        dose_j_cm2=1,
        runs=1,
        strap_shadowed=False,
        tolerance_s=0.3,
        over_from_s=7.5,
    )
    assert zone.standing is standing
    on = LightTurnedOn(stage="cure", zone="zone_1", counted_from_s=1.0, heat_reported=True, heard=heard())
    folder = written(tmp_path / "visit", on, closing=replace(CLOSED, zones=(zone,)))
    assert [one for one in summary_lines(record_of(folder), "complete") if "outer edge: " in one and told in one]
    items = [one.what for one in attention(verify(folder), record_of(folder)) if one.what.startswith("Light")]
    assert items == ([item] if item else [])


def test_light_outside_a_zone_is_told_with_its_seconds_and_credited_to_nothing(tmp_path):
    why = Refusal(RefusalCode.NO_LIGHT_HERE)

    def began(at_s):
        return StrayLightBegan(at_s=at_s, stage="eyewear", why=why, heard=heard())

    facts = (
        began(1.0),  # what ends the next one does not end this one
        began(3.0),
        StrayLightEnded(from_s=3.0, to_s=15.5, lit=True, heard=heard()),
        began(20.0),
        StrayLightEnded(from_s=20.0, to_s=22.0, lit=False, heard=heard()),
        began(30.0),
    )
    folder = written(tmp_path / "visit", *facts)
    record = record_of(folder)
    told = [
        "light outside a zone at eyewear: nobody said when it went off",
        "light outside a zone at eyewear: 12.5 s, credited to nothing",
        "light on was said at eyewear; then that there was none",
        "light outside a zone at eyewear: nobody said when it went off",
    ]
    assert [line.strip() for line in summary_lines(record, "complete") if "eyewear" in line][: len(told)] == told
    items = [one.what for one in attention(verify(folder), record)]
    assert [f"{line[0].upper()}{line[1:]}." for line in told] == [item for item in items if "eyewear" in item]
    assert all(line in "\n".join(to_note(record, export_words(record)).splitlines()) for line in told)


def test_a_possible_cry_is_told_with_its_words_and_its_answer(tmp_path):
    cry = CryHeard(zone="zone_1", words="it stings", heard=heard())
    settled = CrySettled(heat=None, heard=None)
    lines = list(summary_lines(record_of(written(tmp_path / "visit", cry, settled)), "complete"))
    assert any("heard, may be heat or pain: it stings" in line for line in lines)
    assert any("hot or painful, asked: nobody answered, stopped" in line for line in lines)


def test_when_a_visit_was_due_is_told_in_its_own_local_time(tmp_path):
    # 10:00 UTC is 11:00 one hour east (RFC 3339); 95 s later are two minutes by rounding half to even.
    late = DueMet(due="2026-11-25T09:58:25.000Z", late_s=95)
    record = record_of(written(tmp_path / "visit", late, header=HEADER, begun=started()))
    assert due_lines(record) == ("due 2026-11-25 10:58, begun 2026-11-25 11:00, 2 min late",)


def test_a_run_that_a_break_cut_short_is_told_everywhere(tmp_path):
    # When the light went off nobody heard: the seconds up to the last sign of life are a lower limit.
    on = LightTurnedOn(stage="cure", zone="zone_1", counted_from_s=1.0, heat_reported=True, heard=heard())
    off = LightTurnedOff(
        zone="zone_1",
        counted_from_s=1.0,
        counted_to_s=3.0,
        possible_to_s=33.0,
        credited_s=2.0,
        dose_j_cm2=0.1,
        end=RunEnd.INTERRUPTED,
        reason="",
        beeps=LampAgreement.NOT_JUDGED,
        flags=(),
        heard=None,
    )
    told = "the light on zone 1 was on at a break: 2.0 s are counted, when it went off is not on record"
    for name, facts, whole in (
        ("asked", (on, off), told),
        ("said", (on, off, LightOffConfirmed(zone="zone_1", heard=heard())), f"{told}; light off was said after it"),
    ):
        folder = written(tmp_path / name, *facts)
        record = record_of(folder)
        told_first = [(item.level, item.what) for item in attention(verify(folder), record)]
        assert (ReviewLevel.FLAG, f"T{whole[1:]}.") in told_first
        assert whole in "\n".join(summary_lines(record, "complete"))
        assert whole in to_note(record, export_words(record))
    assert not list(interrupted_lines(record_of(written(tmp_path / "ended", on, replace(off, end=RunEnd.OFF_SAID)))))


@pytest.mark.parametrize(("over_from_s", "told"), [(None, True), (12.5, False), (10.0, True)])
def test_a_zone_is_over_its_target_by_its_sum_where_its_limits_are_on_record(tmp_path, over_from_s, told):
    # More light was asked for: a run over the seconds of then is not over those of now. Older records have runs alone.
    on = LightTurnedOn(stage="cure", zone="zone_1", counted_from_s=1.0, heat_reported=True, heard=heard())
    off = LightTurnedOff(
        zone="zone_1",
        counted_from_s=1.0,
        counted_to_s=7.3,
        possible_to_s=7.3,
        credited_s=6.3,
        dose_j_cm2=0.3,
        end=RunEnd.OFF_SAID,
        reason="",
        beeps=LampAgreement.NOT_JUDGED,
        flags=(LightFlag.OVER_TARGET,),
        heard=heard(),
    )
    zone = ZoneSum(
        zone="zone_1",
        label="zone 1",
        lit_s=10.1,
        possible_s=10.1,
        target_s=10,
        dose_j_cm2=0.5,
        runs=2,
        strap_shadowed=False,
        over_from_s=over_from_s,
    )
    folder = written(tmp_path / "visit", on, off, closing=replace(CLOSED, zones=(zone,)))
    items = [item.what for item in attention(verify(folder), record_of(folder))]
    assert ("Light over target: zone 1 10.1 of 10.0 s (0.1 s over)" in items) is told
