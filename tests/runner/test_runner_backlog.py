"""What waits for the disk, and what of it is left unsaid once something was said at once. Pure."""

import pytest

from handsfree.model.effects import Earcon, PlayEarcon, Priority, Say
from handsfree.runner.backlog import Backlog, HeldBack
from handsfree.session.snapshot import Snapshot

HERE, THERE = ("step", "asking"), ("step", "lit")
RECORDED, REFUSED = PlayEarcon(Earcon.RECORDED), PlayEarcon(Earcon.REFUSED)
TOLD = Say("Flagged.", Priority.ATTENTION, asks=True)
QUESTION = Say("Next?", asks=True)
ASIDE = Say("Five.", Priority.INFORMATION)
SNAPSHOT = Snapshot("step", "title", "before", "asking", "", "")


def backlog_of(*effects, since_s=1.0):
    backlog = Backlog()
    backlog.put(HeldBack(1, effects, SNAPSHOT, HERE, since_s))
    return backlog


def ready(backlog, written=1):
    return [effect for held in backlog.ready(written) for effect in held.effects]


def test_each_waits_for_its_own_batch():
    backlog = Backlog()
    for batch in (1, 2, 2, 3):
        backlog.put(HeldBack(batch, (QUESTION,), SNAPSHOT, HERE, float(batch)))
    assert list(backlog.ready(0)) == []
    assert [held.batch for held in backlog.ready(2)] == [1, 2, 2]
    assert backlog.asked_since_s == 3.0
    assert [held.batch for held in backlog.ready(3)] == [3]
    assert not backlog
    assert backlog.asked_since_s is None


@pytest.mark.parametrize(
    ("said", "place", "left"),
    [
        # A stop silences what was to be said before it, as it does at the loudspeaker.
        ([Say("Stop.", Priority.STOP)], HERE, [RECORDED]),
        # Another question stands now: the one before it does not, what was told with it stays true.
        ([Say("Light off?", Priority.ATTENTION, asks=True)], HERE, [RECORDED, ASIDE, TOLD, REFUSED]),
        ([PlayEarcon(Earcon.HEARD)], THERE, [RECORDED, ASIDE, TOLD, REFUSED]),
        # A tick, or an aside, changes nothing.
        ([PlayEarcon(Earcon.TICK)], HERE, [RECORDED, ASIDE, TOLD, QUESTION, REFUSED]),
        ([Say("Half.", Priority.INFORMATION)], HERE, [RECORDED, ASIDE, TOLD, QUESTION, REFUSED]),
    ],
)
def test_what_is_said_after_something_was_said_at_once(said, place, left):
    backlog = backlog_of(RECORDED, ASIDE, TOLD, QUESTION, REFUSED)
    assert backlog.asked_since_s == 1.0
    backlog.overtake(said, place)
    assert backlog.asked_since_s == (1.0 if QUESTION in left else None), "who answers, answers what was said at once"
    (held,) = backlog.ready(1)
    assert list(held.effects) == left
    assert held.snapshot is None, "the screen does not go back"


def test_what_was_overtaken_once_loses_nothing_more_by_light_that_goes_on():
    backlog = backlog_of(ASIDE, TOLD, QUESTION)
    for place in (THERE, HERE, THERE):
        backlog.overtake([Say("Light off?", asks=True)], place)
    assert ready(backlog) == [ASIDE, TOLD]


def test_words_without_a_question_leave_none_out():
    backlog = backlog_of(RECORDED, ASIDE)
    assert backlog.asked_since_s is None
    backlog.overtake([Say("Light off?", asks=True)], THERE)
    assert ready(backlog) == [RECORDED, ASIDE]
