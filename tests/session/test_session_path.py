"""How far a spoken number travels: which modules take it in hand between the recogniser and the journal.

The bound is this project's own. A module counts when a function of it is called with the number itself: the utterance,
the command, the value, the fact. What only carries everything (the context of an event, a reply) does not count, nor do
the types of values.
"""

import dataclasses
import sys
from datetime import UTC, datetime
from decimal import Decimal

from handsfree.application.opening import open_session
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.model import commands, events, facts, hypotheses, readings
from handsfree.model.effects import Append
from handsfree.session.state import TakenValue

BEFORE = (
    "microphone",
    "audio_link",
    "listening_thread",
    "endpointing",
    "utterance_recognizer",
    "neural_engine",
    "live",
)
"""What a number passes as sound and as words before the runner has it, in a live visit."""
MOST = 20
NUMBER = Decimal(5)
HOLDERS = (
    *(events.CommandSpoken, commands.GiveValues, commands.SlotValue, readings.Exact, Append),
    *(facts.StatedReading, TakenValue),
)


class Silent:
    def say(self, *_): ...
    def earcon(self, *_): ...
    def heard(self, *_): ...
    def show(self, *_): ...


def holds_number(value, depth=0):
    if isinstance(value, Decimal):
        return value == NUMBER
    if isinstance(value, hypotheses.Hypothesis):
        return value.words == ("five",)
    if depth > 6:
        return False
    if isinstance(value, tuple | list):
        return any(holds_number(one, depth + 1) for one in value)
    if isinstance(value, HOLDERS):
        return any(holds_number(getattr(value, item.name), depth + 1) for item in dataclasses.fields(value))
    return False


def test_a_spoken_number_passes_few_modules(tmp_path):
    clock = ManualClock(datetime(2026, 11, 25, 9, tzinfo=UTC))
    bundle = load_bundle("light-output-check")
    runner, journal = open_session(
        bundle, tmp_path / "record", clock, Silent(), practice=True, engine="typed", keep_clips=False
    )
    seen = []

    def watch(frame, event, _):
        place = frame.f_code.co_filename.replace("\\", "/").rpartition("/handsfree/")
        if event != "call" or not place[1]:
            return
        count = frame.f_code.co_argcount + frame.f_code.co_kwonlyargcount
        if any(holds_number(frame.f_locals.get(name)) for name in frame.f_code.co_varnames[:count]):
            seen.append(place[2].removesuffix(".py"))

    with journal:
        for line in ("practice", "a four", "window clean, battery charged, cable intact"):
            runner.type(line)
            if runner.session.snapshot.mode == "reading_back":
                runner.type("affirmative")
        runner.type("operator protected, everyone else protected")
        runner.type("affirmative")
        assert runner.session.snapshot.step_id == "distance"
        sys.setprofile(watch)
        try:
            runner.type("five")
            runner.type("affirmative")
        finally:
            sys.setprofile(None)
    assert runner.session.snapshot.step_id == "output"
    to_journal = {place for place in seen if not place.startswith("model/")} - {
        "runner/logged_outputs",  # the developer's log
        "definition/verbalization",  # the read-back
    }
    assert "record/journal" in to_journal
    assert "session/limits" in to_journal
    assert len(to_journal) + len(BEFORE) <= MOST, sorted(to_journal)
