"""A whole short visit with real synthesized speech through the real recogniser."""

from decimal import Decimal
from pathlib import Path

import pytest

import handsfree
from handsfree.cli import main
from handsfree.errors import ModelError, ScriptError
from handsfree.model.facts import RepeatEnded, SecondPersonConfirmed
from handsfree.model.readings import Absent, AbsentReason
from handsfree.record.verify import RecordState, verify

GUIDE = Path(handsfree.__file__).parent / "procedures" / "guide"
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
    main(["rehearse", str(SCENARIOS / "light-output-check.yaml"), "--record", str(folder)])
    found = verify(folder)
    assert found.state is RecordState.COMPLETE
    record = found.record
    assert record is not None
    assert record.practice
    readings = [one.stands for one in record.readings if one.superseded_by is None]
    assert all(one.heard.engine.startswith("neural") for one in readings)
    # The script's own figures: "first four eight, second five one" milliwatts per square centimeter.
    measured = [one.value.value for one in readings if one.unit == "mW/cm2"]
    assert measured == [48, 51]
    assert len(list((folder / "clips").glob("*.flac"))) >= len(readings) / 3


def test_every_new_form_is_rehearsed_by_sound(tmp_path, monkeypatch):
    monkeypatch.chdir(GUIDE)
    folder = tmp_path / "record"
    main(["rehearse", "water-bath-rehearsal.yaml", "--record", str(folder)])
    record = verify(folder).record
    assert record is not None
    assert record.closing is not None
    found = {f"{one.stands.stage}.{one.stands.field}": one.stands.value for one in record.readings}
    # The script's own figures, and their mean by hand.
    measured = [found[f"bath@{number}.bath"].value for number in (1, 2, 3)]
    assert measured == [Decimal("71.5"), Decimal("72.5"), Decimal("76.5")]
    assert found["bath_sums.mean"].value == Decimal("73.5")
    assert found["pull.force"] == Absent(AbsentReason.ERROR, Decimal(95))
    assert [one.fact.count for one in record.of(RepeatEnded)] == [3]
    assert [one.fact.code for one in record.of(SecondPersonConfirmed)] == ["K2"]


def test_a_script_that_does_not_fit_the_visit_says_where_and_exits_9(tmp_path, capsys):
    script = tmp_path / "visit.yaml"
    script.write_text(
        "scenario: 1\ntitle: Wrong\nprocedure: light-output-check\nvoices: {clinician: {engine: neural}}\n"
        "lines:\n  - {after: no_such_step, who: clinician, say: practice session}\n"
    )
    assert rehearse(script, tmp_path / "record") == ScriptError.exit_code
    assert "waits for step no_such_step" in capsys.readouterr().err
