"""Which prompts are kept between runs: the first words of a visit, and nothing that a person said."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

pytest.importorskip("numpy")

from handsfree.application.equipment import standing_prompts
from handsfree.application.opening import open_session
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.model.effects import Earcon, Priority
from handsfree.session.snapshot import Snapshot


class Said:
    def __init__(self) -> None:
        self.texts: list[str] = []

    def say(self, text: str, priority: Priority, heard_out: int = 0) -> None:
        self.texts.append(text)

    def earcon(self, earcon: Earcon) -> None:
        pass

    def heard(self, hypothesis: object, outcome: str, probability: float) -> None:
        pass

    def show(self, snapshot: Snapshot) -> None:
        pass


@pytest.mark.parametrize("procedure", ["light-output-check", "ulnar-splint-fitting"])
@pytest.mark.parametrize("expert", [True, False])
def test_the_first_words_are_kept_and_no_reading_is(tmp_path: Path, procedure: str, expert: bool) -> None:
    bundle, said = load_bundle(procedure), Said()
    clock = ManualClock(datetime(2026, 11, 25, 9, tzinfo=UTC))
    runner, journal = open_session(
        bundle, tmp_path / "r", clock, said, practice=True, engine="typed", keep_clips=False, expert=expert
    )
    kept = standing_prompts(bundle)
    with journal:
        assert said.texts
        assert set(said.texts) <= kept
        said.texts.clear()
        runner.type("practice session")
        runner.type("lima three" if procedure == "light-output-check" else "hand therapist")
    assert not any("lima three" in text for text in kept)
    assert any(text not in kept for text in said.texts)
    assert not any("{" in text for text in kept)
