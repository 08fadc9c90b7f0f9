"""Records of practice that version 0.1.0 wrote are scored as that version scored them (tests/golden/README.md)."""

import json

import pytest
from golden_records import beside, having, unpacked

from handsfree.practice.points_form import load_points
from handsfree.practice.score_data import score_data
from handsfree.practice.scoring import score
from handsfree.record.verify import verify


@pytest.mark.parametrize("name", having("score.json"))
def test_an_earlier_record_is_scored_as_it_was(name, tmp_path):
    record = verify(unpacked(name, tmp_path / "record")).record
    told = json.loads(json.dumps(score_data(score(record, load_points()))))
    assert told == json.loads(beside(name, "score.json"))
