import pytest

from handsfree.errors import ScriptError
from handsfree.simulation.script import load_script

GOOD = """
scenario: 1
title: A visit
procedure: light-output-check
voices: {clinician: {engine: neural}}
lines:
  - {after: session_kind, who: clinician, say: practice session}
"""


def written(tmp_path, text):
    path = tmp_path / "visit.yaml"
    path.write_text(text)
    return path


def test_a_scenario_is_read(tmp_path):
    scenario = load_script(written(tmp_path, GOOD))
    assert scenario.lines[0].say == "practice session"
    assert scenario.voices["clinician"].engine == "neural"


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ("who: clinician", "who: nobody", "without a voice: nobody"),
        ("engine: neural", "engine: parrot", "voices.clinician.engine"),
        ("say: practice session", "say: practice session, hurry: true", "lines.0.hurry"),
        ("scenario: 1", "scenario: 2", "scenario"),
        ("lines:\n", "lines: []\nother:\n", "other"),
        ("title: A visit", "title: [", "not YAML"),
    ],
)
def test_faults_are_named(tmp_path, old, new, part):
    with pytest.raises(ScriptError, match=part.replace(".", r"\.")):
        load_script(written(tmp_path, GOOD.replace(old, new)))
