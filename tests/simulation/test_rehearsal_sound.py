"""A whole short visit with real synthesized speech through the real recogniser."""

from pathlib import Path

import pytest

from handsfree.cli import main
from handsfree.errors import ModelError, ScriptError
from handsfree.record.verify import RecordState, verify

SCENARIOS = Path(__file__).resolve().parents[2] / "scripts" / "scenarios"
pytestmark = pytest.mark.sound


@pytest.fixture(autouse=True)
def _weights():
    from handsfree.recognition.models import locate

    try:
        locate()
    except ModelError as error:
        pytest.skip(str(error))


def rehearse(script, folder, *more):
    with pytest.raises(SystemExit) as left:
        main(["rehearse", str(script), "--record", str(folder), *more])
    return left.value.code


def test_a_light_check_is_rehearsed_by_sound(tmp_path):
    folder = tmp_path / "record"
    main(["rehearse", str(SCENARIOS / "light-output-check.yaml"), "--record", str(folder), "--clips"])
    found = verify(folder)
    assert found.state is RecordState.COMPLETE
    record = found.record
    assert record is not None
    assert record.practice
    readings = {f"{one.data['step']}.{one.data['field']}": one.data for one in record.readings if not one.superseded_by}
    assert all(one["engine"].startswith("neural") for one in readings.values())
    # The script's own figures: "first four eight, second five one" milliwatts per square centimeter.
    measured = [one["value"] for one in readings.values() if one["unit"] == "mW/cm2"]
    assert measured == ["48", "51"]
    assert len(list((folder / "clips").glob("*.flac"))) >= len(readings) / 3


def test_a_script_that_does_not_fit_the_visit_says_where_and_exits_9(tmp_path, capsys):
    script = tmp_path / "visit.yaml"
    script.write_text(
        "scenario: 1\ntitle: Wrong\nprocedure: light-output-check\nvoices: {clinician: {engine: neural}}\n"
        "lines:\n  - {after: no_such_step, who: clinician, say: practice session}\n"
    )
    assert rehearse(script, tmp_path / "record") == ScriptError.exit_code
    assert "waits for step no_such_step" in capsys.readouterr().err


def test_a_good_learner_passes_a_short_practice_by_sound(tmp_path, capsys):
    folder = tmp_path / "record"
    arguments = ["--scenario", "low-battery", "--learner", "good", "--record", str(folder), "--quiet"]
    main(["practice", "light-output-check", *arguments])
    assert "pass: " in capsys.readouterr().out
    found = verify(folder)
    assert found.state is RecordState.COMPLETE
    spoken = [one.data for one in found.record.readings]
    assert all(one["engine"].startswith("neural") for one in spoken)
    # The scenario's own finding: the battery was low first, and charged once it was replaced.
    assert [one["value"] for one in spoken if one["field"] == "battery"] == ["low", "charged"]
    # A colleague talked in the room: what he said moved nothing.
    talk = next(fact.data for fact in found.record.of_kind("practice_event") if fact.data["event"] == "colleague_calls")
    taken = [one["spoken_from_s"] for one in spoken if talk["at_s"] < one["spoken_from_s"] < talk["to_s"]]
    assert taken == []
