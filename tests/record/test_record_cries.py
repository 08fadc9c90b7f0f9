"""A visit in which somebody cried while it was lit replays, whatever made it a cry; forged words of one do not.

Sentences: common practice, no source.
"""

import math

import pytest
from forgery import forged, values_changed
from record_samples import START
from record_visits import Visit
from silent_outputs import Nobody

from handsfree.application.replaying import verify_and_replay
from handsfree.clock import ManualClock
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.runner.session_runner import SessionRunner


def heard(words, tags, text, heat=None, runner_up=None, gap=9.0):
    evidence = Evidence(average_logprob=-2.0, free_gap=gap, margin=math.inf, speech_s=1.0, second_free_gap=gap)
    words, tags = tuple(words.split()), ((tags,) if tags else ())
    return Hypothesis(words, tags, 0.0, 0.0, "neural-both", evidence, runner_up, free_text=text, heat=heat)


SPOKEN = {
    "another sentence was matched": heard("strap off", "control:strap_off", "Oh, this is really burning."),
    "nothing was matched": heard("", "", "I think it hurts."),
    "matched at a low score": heard("it stings", "control:pain", "It's things.", gap=7.0),
    "another word was written": heard("cool", "", "Hey, you are learning my term.", 0.2, ("burning",)),
    "a sentence of cries": heard("take it off", "control:cry", "Take it of.", gap=7.0),
}


class CryingVisit(Visit):
    """In the first light somebody cries; asked, nobody says that it was heat."""

    cry: Hypothesis | str = ""
    is_clear = False
    cried = False

    def answer_mode(self):
        mode = self.session.snapshot.mode
        if mode == "cried":
            self.wait(1)
            self.say("negative")
            self.closed = True  # nothing that follows is about the cry
            return True
        if mode != "lit" or self.cried:
            return super().answer_mode()
        self.cried = True
        self.wait(2)
        clock = ManualClock(START)
        clock.sleep_until(self.now_s)
        runner = SessionRunner(self.session, self.journal, Nobody(), clock)
        if isinstance(self.cry, str):
            runner.type(self.cry)
        else:
            runner.hear(self.spoken())
        if self.is_clear:
            assert self.session.snapshot.mode == "held"
            self.closed = True
        else:
            assert self.session.snapshot.mode == "cried"
        return True

    def spoken(self):
        one = self.cry
        times = (self.now_s - 1.0, self.now_s - 0.2)
        return Hypothesis(one.words, one.tags, *times, one.engine, one.evidence, one.runner_up, one.free_text, one.heat)


def visit_with(cry, folder, *, is_clear=False):
    visit = CryingVisit("wrist-fitting", folder)
    visit.cry, visit.is_clear = cry, is_clear
    visit.start().work()
    return folder


@pytest.mark.parametrize("cry", [*SPOKEN.values(), "I think it is burning a bit"], ids=[*SPOKEN, "typed"])
def test_a_visit_with_a_cry_replays(tmp_path, cry):
    found, why_not = verify_and_replay(visit_with(cry, tmp_path / "r"))
    assert (why_not, found.faults) == ("", ())


@pytest.mark.parametrize("cry", ["my hand is burning", "it's too hot", "that's burning me"])
def test_a_visit_with_a_cry_that_is_clear_replays(tmp_path, cry):
    found, why_not = verify_and_replay(visit_with(cry, tmp_path / "r", is_clear=True))
    assert (why_not, found.faults) == ("", ())


def test_talk_that_was_made_a_cry_shows(tmp_path):
    folder = visit_with(SPOKEN["nothing was matched"], tmp_path / "r")

    def change(lines):
        place = next(seq for seq, line in enumerate(lines) if line.kind == "event" and "hurts." in str(line.data))
        lines[place] = values_changed(lines[place], '"hurts."', '"fits."')

    found, _ = verify_and_replay(forged(folder, change))
    assert 'nothing in the words "I think it fits." may be a cry' in " / ".join(map(str, found.faults))
