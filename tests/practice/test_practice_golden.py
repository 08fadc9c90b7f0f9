"""Records of practice that version 0.1.0 wrote are read and scored today (tests/golden/README.md).

Marks changed with the table of points 0.2.0: what the tool forces is worth nothing, values weigh by what they decide,
nobody is credited with what a player or the cue did. So points are not those of then; what was measured is.
"""

import json

import pytest
from golden_records import beside, having, unpacked

from handsfree.practice.points_form import load_points
from handsfree.practice.score_data import score_data
from handsfree.practice.scoring import score
from handsfree.record.verify import verify

MEASURED = ("scenario", "trainee", "scripted", "phases", "counts")
LIGHT = {"too_hot", "light_fails"}
"""Events whose answer is the end of the light: counted to the learner's own word today."""


@pytest.mark.parametrize("name", having("score.json"))
def test_what_was_measured_in_an_earlier_record_is_as_it_was(name, tmp_path):
    record = verify(unpacked(name, tmp_path / "record")).record
    today = json.loads(json.dumps(score_data(score(record, load_points()))))
    then = json.loads(beside(name, "score.json"))
    assert {key: today[key] for key in MEASURED} == {key: then[key] for key in MEASURED}
    answers = [
        [(one["event"], one["verdict"], one["seconds"]) for one in data["reactions"] if one["event"] not in LIGHT]
        for data in (today, then)
    ]
    assert answers[0] == answers[1]
    # Who passed then and only broke what is judged anew may pass or fail; what was dangerous then still fails.
    still = {"light_early", "light_in_shadow", "light_while_held", "skip_asked", "hard_undone"}
    rules = [{fault["rule"] for fault in data["faults"]} & still for data in (today, then)]
    assert rules[0] == rules[1]
