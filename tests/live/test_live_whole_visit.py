"""The real command on a sound card made of software, from its first words to its end; a synthetic person."""

from pathlib import Path

import pytest
from live_files import need_rig, write_short

pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from handsfree.errors import RecordError
from handsfree.model.events import CommandSpoken
from handsfree.record.verify import verify

pytestmark = [pytest.mark.sound, pytest.mark.live]
VISIT = """\
scenario: 1
title: A short invented visit
procedure: {procedure}
seed: 1
tool_voice: neural
voices:
  clinician: {{engine: neural}}
lines:
  - {{after: session_kind, who: clinician, say: practice session}}
  - {{after: distance, who: clinician, say: five point zero}}
  - {{after: eyewear, who: clinician, say: affirmative}}
  - {{after: cure, who: clinician, say: light on}}
  - {{after: cure, who: clinician, say: light off, hears: light off, wait_s: 0}}
"""


def test_a_scripted_visit_is_completed_with_light_and_without_a_command_of_the_tools_own(tmp_path: Path) -> None:
    need_rig()
    from live_rig import LiveRoom, Shadow, Tool, room

    from handsfree.simulation.rehearsal import Rehearsal
    from handsfree.simulation.script import load_script

    procedure = write_short(tmp_path, target_s=5)
    script = tmp_path / "visit.yaml"
    script.write_text(VISIT.format(procedure=procedure), encoding="utf-8")
    scenario = load_script(script)
    with room(tmp_path / "card", self_heard=True) as (card, mouth, listener):
        tool = Tool(card, tmp_path / "record", str(procedure), "--voice", "neural", "--expert")
        shadow = Shadow(tmp_path / "record", str(procedure), expert=True)
        scene = LiveRoom(scenario.voices, shadow, mouth, listener, limit_s=180)
        try:
            scene.wait_until_asked()
            Rehearsal(scenario, scene).run()
        finally:
            tool.close()
    shadow.look()
    assert shadow.outcome == "completed"
    taken = [
        event.heard.text for event in shadow.events if isinstance(event, CommandSpoken) and event.heard is not None
    ]
    assert set(taken) == {"practice session", "five point zero", "affirmative", "light on", "light off"}
    (zone,) = verify(tmp_path / "record").record.zones  # type: ignore[union-attr]
    assert zone.lit_s >= 5


def test_a_session_that_cannot_begin_ends_with_its_own_exit_code(tmp_path: Path) -> None:
    need_rig()
    from live_rig import Tool, room

    record = tmp_path / "record"
    record.mkdir()
    (record / "record.jsonl").write_text("{}\n", encoding="utf-8")
    with room(tmp_path / "card") as (card, _, _):
        tool = Tool(card, record, "light-output-check", "--voice", "neural")
        # The sound devices were open already: a callback that comes too late would end it with a signal.
        assert tool.close(30) == RecordError.exit_code
    # Where no screen is drawn, what the sound library writes is not held back.
    (line,) = [line for line in tool.trouble if line.startswith("handsfree:")]
    assert str(record) in line
