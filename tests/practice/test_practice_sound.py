"""A short practice by sound: a scripted learner with real synthesized speech through the real recogniser."""

import pytest

from handsfree.cli import main
from handsfree.errors import ModelError
from handsfree.model.facts import ScenarioEventHappened
from handsfree.model.readings import Option
from handsfree.record.verify import RecordState, verify

pytestmark = pytest.mark.sound


@pytest.fixture(autouse=True)
def _weights():
    from handsfree.recognition.models import locate

    try:
        locate()
    except ModelError as error:
        pytest.skip(str(error))


def test_a_good_learner_passes_a_short_practice_by_sound(tmp_path, capsys):
    folder = tmp_path / "record"
    arguments = ["--scenario", "low-battery", "--learner", "good", "--record", str(folder), "--quiet"]
    main(["practice", "light-output-check", *arguments])
    assert "pass: " in capsys.readouterr().out
    found = verify(folder)
    assert found.state is RecordState.COMPLETE
    spoken = [one.stands for one in found.record.readings]
    assert all(one.heard.engine.startswith("neural") for one in spoken)
    # The scenario's own finding: the battery was low first, and charged once it was replaced.
    assert [one.value for one in spoken if one.field == "battery"] == [Option("low"), Option("charged")]
    # A colleague talked in the room: what he said moved nothing.
    happened = {one.fact.event: one.fact for one in found.record.of(ScenarioEventHappened)}
    talk = happened["colleague_calls"]
    assert [one.field for one in spoken if talk.at_s < one.heard.spoken_from_s < talk.to_s] == []
