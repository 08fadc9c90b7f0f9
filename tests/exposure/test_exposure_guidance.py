"""Cues, flags and answers. The times and words are the project's own rules: common practice, no published source."""

import pytest

from handsfree.exposure.guidance import (
    Cue,
    Flag,
    GuidanceProfile,
    HeatAction,
    LateHeat,
    action_for,
    action_for_pain,
    cues_between,
    flags_of,
    late_heat,
    late_question,
    next_cue_s,
    warmth_cue,
    warmth_question,
)
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.profiles import Zone

PROFILE = GuidanceProfile(warmth_every_s=7)


@pytest.fixture
def ledger():
    return Ledger((Zone("a", "a", target_s=8), Zone("s", "s", target_s=4, strap_shadowed=True)), 50)


def spoken(ledger, from_s, to_s, answered_s=None):
    """Cues by time when one goes from deadline to deadline."""
    said, now_s = [], from_s
    while (due_s := next_cue_s(ledger, PROFILE, now_s, answered_s)) is not None and due_s <= to_s:
        said += [(due_s, cue) for cue in cues_between(ledger, PROFILE, now_s, due_s, answered_s)]
        now_s = due_s
    return said


def test_every_cue_comes_once_and_at_its_time(ledger):
    ledger.light_on("a", 100)
    assert spoken(ledger, 100, 130) == [
        (104, Cue.HALF),
        (107, Cue.WARMTH_DUE),
        (108, Cue.TARGET_REACHED),
        (110, Cue.OVERRUN),
    ]


def test_a_second_run_goes_on_where_the_first_ended(ledger):
    ledger.light_on("a", 0)
    ledger.light_off(5)
    ledger.light_on("a", 50)
    assert spoken(ledger, 50, 54) == [(53, Cue.TARGET_REACHED)]


def test_an_answer_moves_the_warmth_question(ledger):
    ledger.light_on("a", 100)
    assert (109, Cue.WARMTH_DUE) in spoken(ledger, 102, 130, answered_s=102)


def test_a_late_look_says_only_the_last_mark(ledger):
    ledger.light_on("a", 100)
    assert cues_between(ledger, PROFILE, 100, 120) == (Cue.OVERRUN, Cue.WARMTH_DUE)
    assert cues_between(ledger, PROFILE, 120, 120) == ()


def test_a_shaded_zone_never_reaches_its_target(ledger):
    ledger.light_on("s", 100)
    assert spoken(ledger, 100, 130) == [(107, Cue.WARMTH_DUE)]


def test_nothing_is_due_while_dark(ledger):
    assert next_cue_s(ledger, PROFILE, 5) is None
    assert cues_between(ledger, PROFILE, 0, 50) == ()


@pytest.mark.parametrize(
    ("seconds", "flags"), [(7.9, (Flag.UNDER_TARGET,)), (8, ()), (9.9, ()), (10, (Flag.OVER_TARGET,))]
)
def test_flags_by_length(ledger, seconds, flags):
    ledger.light_on("a", 0)
    run = ledger.light_off(seconds).run
    assert run is not None
    assert flags_of(ledger, run, PROFILE) == flags


def test_flags_by_end(ledger):
    ledger.light_on("a", 0)
    missed = ledger.light_on("a", 30).run
    assert missed is not None
    assert flags_of(ledger, missed, PROFILE) == (Flag.END_NOT_HEARD, Flag.UNDER_TARGET)
    ledger.heartbeat(33)
    cut = ledger.interrupt().run
    assert cut is not None
    assert flags_of(ledger, cut, PROFILE) == (Flag.INTERRUPTED, Flag.UNDER_TARGET)


@pytest.mark.parametrize("word", ["same", "fine", "okay", "not hot", "normal", ""])
def test_only_closed_words_count(word):
    assert action_for(word) is HeatAction.ASK_AGAIN


def test_hot_and_painful_put_the_light_off():
    assert action_for("cool") is action_for("warm") is HeatAction.GO_ON
    assert action_for("hot") is action_for("painful") is HeatAction.LIGHT_OFF_LIFT_INSPECT
    assert action_for_pain(0, PROFILE) is HeatAction.GO_ON
    assert action_for_pain(1, PROFILE) is HeatAction.LIGHT_OFF_LIFT_INSPECT
    assert action_for_pain(11, PROFILE) is HeatAction.ASK_AGAIN


def test_a_patient_who_cannot_report_heat_is_not_asked():
    assert warmth_question(PROFILE).startswith("Ask the patient")
    silent = GuidanceProfile(warmth_every_s=7, patient_reports_heat=False)
    for question in (warmth_question(silent), late_question(silent), warmth_cue(silent)):
        assert "touch" in question.lower()
        assert "painful" not in question
    assert "Ask the patient" in late_question(PROFILE)


def test_a_patient_who_cannot_report_heat_is_touched_twice_as_often(ledger):
    ledger.light_on("a", 100)
    silent = GuidanceProfile(warmth_every_s=7, patient_reports_heat=False)
    assert Cue.WARMTH_DUE not in cues_between(ledger, PROFILE, 100, 103.5)
    assert Cue.WARMTH_DUE in cues_between(ledger, silent, 100, 103.5)


def test_late_heat_window(ledger):
    assert late_heat(ledger, PROFILE, 5) is None
    ledger.light_on("a", 10)
    assert late_heat(ledger, PROFILE, 15) is None
    ledger.light_off(20)
    at = [late_heat(ledger, PROFILE, 20 + gap_s) for gap_s in (59, 60, 120, 121)]
    assert at == [LateHeat.NOT_YET, LateHeat.DUE, LateHeat.DUE, LateHeat.OVERDUE]


def test_profile_refuses_what_cannot_be():
    with pytest.raises(ValueError, match="above 1"):
        GuidanceProfile(overrun_factor=1)
    with pytest.raises(ValueError, match="late_to_s"):
        GuidanceProfile(late_from_s=130)
    with pytest.raises(ValueError, match="1 to 10"):
        GuidanceProfile(pain_stop=0)
