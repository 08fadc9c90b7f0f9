"""What was overridden, and zones over and under their target, are named as such wherever a visit is told.

One set of facts, as a visit of a fitting writes them, through every way in which it can be read. Common practice, no
source: whoever reads one of them alone must not take the visit for one that went by the file.
"""

import json
from dataclasses import replace

import pytest
from report_samples import CLOSED, heard, record_of, written

from handsfree.application.words_for_export import export_words
from handsfree.cli import main
from handsfree.export.choose import ExportForm, export
from handsfree.model.facts import (
    GapsAccepted,
    HoldLifted,
    HoldSet,
    LightOffConfirmed,
    LightTurnedOff,
    LightTurnedOn,
    ZoneLeft,
    ZoneSum,
)
from handsfree.model.light import LampAgreement, RunEnd
from handsfree.model.open_items import OpenReading
from handsfree.model.reasons import FlaggedAnswer, Grounds
from handsfree.report.daily_light import light_seconds_by_day
from handsfree.report.record_page import make_report

ABSENT = Grounds(FlaggedAnswer("pulse", "absent", "absent", ""))


def zone(name, lit_s):
    return ZoneSum(
        zone=name.replace(" ", "_"),
        label=name,
        lit_s=lit_s,
        possible_s=lit_s,
        target_s=6.0,
        dose_j_cm2=0.3,
        runs=1,
        strap_shadowed=False,
        tolerance_s=0.3,
        over_from_s=7.5,
    )


@pytest.fixture(params=["completed_with_overrides", "stopped"])
def folder(request, tmp_path):
    facts = (
        HoldSet(hold="red", stage="pulse", grounds=ABSENT),
        HoldLifted(hold="red", grounds=ABSENT, role="surgeon", reason="settled", code="S2", heard=heard()),
        GapsAccepted(
            gaps=(OpenReading("pulse", "refill"),), role="therapist", reason="judged", code=None, heard=heard()
        ),
        LightTurnedOn(stage="cure", zone="outer_edge", counted_from_s=1.0, heat_reported=True, heard=heard()),
        ZoneLeft(zone="wrist_part", role="surgeon", reason="settled", code=None, heard=heard()),
    )
    closing = replace(CLOSED, outcome=request.param, zones=(zone("outer edge", 9.0), zone("wrist part", 2.0)))
    return written(tmp_path / "visit", *facts, closing=closing)


def day(folder, capsys, *more):
    capsys.readouterr()
    main(["day", str(folder.parent), "--date", record_of(folder).started.today, *more])
    return capsys.readouterr().out


def summary(folder, capsys):
    capsys.readouterr()
    main(["summary", "--all", str(folder)])
    return capsys.readouterr().out


WAYS = {
    # how it is told: overridden, without a value, left, over and under the target
    "summary": (
        summary,
        (
            "lifted by surgeon",
            "pulse absent",
            "Missing values accepted by therapist",
            "Left short of light, wrist part, by surgeon",
            "over target by 3.0 s",
            "short by 4.0 s",
        ),
    ),
    "page": (
        lambda folder, capsys: make_report(folder)[0],
        (
            "Hold lifted by surgeon",
            "pulse absent",
            "Light over target: outer edge",
            "Light short of target: wrist part",
        ),
    ),
    "note": (
        lambda folder, capsys: export(folder, ExportForm.NOTE, export_words),
        (
            "lifted by surgeon",
            "pulse absent",
            "missing values accepted by therapist",
            "over target",
            "short of its target",
        ),
    ),
    "fhir": (
        lambda folder, capsys: export(folder, ExportForm.FHIR, export_words),
        (
            "Override: lifted by surgeon",
            "pulse absent",
            "Override: missing values accepted by therapist",
            "Override: left short of light",
            "over its target",
            "short of its target",
        ),
    ),
    "day": (
        day,
        (
            "Overridden: surgeon, code S2 lifted the hold “pulse absent”: settled",
            "therapist accepted missing values",
            "surgeon left wrist part short of light",
            "Light: Over target: outer edge 9.0 of 6.0 s",
            "Light: Short of target: wrist part 2.0 of 6.0 s",
        ),
    ),
}


@pytest.mark.parametrize("way", WAYS)
def test_it_is_named_as_such(folder, capsys, way):
    tell, words = WAYS[way]
    told = tell(folder, capsys)
    assert [one for one in words if one not in told] == []


def test_the_days_page_and_its_json_name_it_too(folder, capsys, tmp_path):
    told = json.loads(day(folder, capsys, "--json"))["visits"][0]["told"]
    assert len(told) == 7
    day(folder, capsys, "--html", str(tmp_path / "day.html"))
    page = (tmp_path / "day.html").read_text(encoding="utf-8")
    assert all(one in page for one in told)


def test_light_off_said_after_a_stop_counts_for_the_operators_day(tmp_path):
    ended = LightTurnedOff(
        zone="outer_edge",
        counted_from_s=1.0,
        counted_to_s=3.0,
        possible_to_s=3.0,
        credited_s=2.0,
        dose_j_cm2=0.1,
        end=RunEnd.STOPPED,
        reason="stop",
        beeps=LampAgreement.NOT_JUDGED,
        flags=(),
        heard=heard(),
    )
    on = LightTurnedOn(stage="cure", zone="outer_edge", counted_from_s=1.0, heat_reported=True, heard=heard())
    off = LightOffConfirmed(zone="outer_edge", heard=heard(at_s=9.0))
    folder = written(tmp_path / "visit", on, ended, off)
    (seconds,) = light_seconds_by_day([record_of(folder)]).values()
    assert seconds == pytest.approx(off.heard.spoken_from_s - 1.0)
