"""A short practice by sound: a scripted learner with real synthesized speech through the real recogniser."""

import pytest

from handsfree.cli import main
from handsfree.errors import ModelError
from handsfree.model.facts import ScenarioEventHappened
from handsfree.model.readings import Option
from handsfree.practice.points_form import load_points
from handsfree.practice.scoring import score
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
    arguments = ["--scenario", "low-battery", "--learner", "good", "--record", str(folder), "--quiet", "--clips"]
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
    # Each mark can be heard on the page: the moment's own sound lies in it.
    page = tmp_path / "page.html"
    main(["debrief", str(folder), "--page", str(page)])
    text = page.read_text(encoding="utf-8")
    marks = [mark for item in score(found.record, load_points()).items for mark in item.marks]
    assert marks
    of_events = dict(found.record.clips)
    for mark in marks:
        said = next(one for one in found.record.facts if one.seq == mark.seq)
        sha256 = said.clip_sha256 or of_events[said.event_seq]
        assert f'data-clip="{sha256}"' in text
        assert f'id="clip-{sha256}"' in text
