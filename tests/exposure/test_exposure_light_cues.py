"""Cues, flags and answers. The times and words are the project's own rules: common practice, no published source."""

import pytest

from handsfree.exposure.ledger import Ledger
from handsfree.exposure.light_cues import GuidanceProfile, cues_between, flags_of, next_cue_s, pain_stops
from handsfree.exposure.profiles import ZoneProfile
from handsfree.model.light import Cue, LightFlag

PROFILE = GuidanceProfile(warmth_every_s=7, silent_every_s=5, cue_lead_s=0)


@pytest.fixture
def ledger():
    return Ledger((ZoneProfile("a", "a", target_s=8), ZoneProfile("s", "s", target_s=4, strap_shadowed=True)), 50)


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


def test_the_cue_to_put_the_light_off_ends_at_the_target(ledger):
    early = GuidanceProfile(cue_lead_s=0.7)
    ledger.light_on("a", 100)
    assert cues_between(ledger, early, 105, 107.2) == ()
    assert cues_between(ledger, early, 105, 107.31) == (Cue.TARGET_REACHED,)
    # A run that goes on just before the target is still told to end.
    ledger.light_off(107.5)
    ledger.light_on("a", 200)
    assert next_cue_s(ledger, early, 200) == pytest.approx(200.5)
    assert cues_between(ledger, early, 200, 200.51) == (Cue.TARGET_REACHED,)
    # A look so late that the light is too long already tells to end it all the same.
    assert cues_between(ledger, early, 200, 203) == (Cue.TARGET_REACHED, Cue.OVERRUN)
    # Where a target is so short that nothing else fits before it, half of it is kept.
    short = Ledger((ZoneProfile("a", "a", target_s=1),), 50)
    short.light_on("a", 100)
    assert next_cue_s(short, early, 100) == pytest.approx(100.5)


def test_a_second_run_goes_on_where_the_first_ended(ledger):
    ledger.light_on("a", 0)
    ledger.light_off(5)
    ledger.light_on("a", 50)
    assert spoken(ledger, 50, 54) == [(53, Cue.TARGET_REACHED)]


def test_an_answer_moves_the_warmth_question(ledger):
    ledger.light_on("a", 100)
    assert (109, Cue.WARMTH_DUE) in spoken(ledger, 102, 130, answered_s=102)


def test_a_late_look_says_only_the_last_mark_but_always_the_end(ledger):
    ledger.light_on("a", 100)
    assert cues_between(ledger, PROFILE, 100, 120) == (Cue.TARGET_REACHED, Cue.OVERRUN, Cue.WARMTH_DUE)
    assert cues_between(ledger, PROFILE, 109, 120) == (Cue.OVERRUN,)
    assert cues_between(ledger, PROFILE, 120, 120) == ()


def test_a_shaded_zone_never_reaches_its_target(ledger):
    ledger.light_on("s", 100)
    assert spoken(ledger, 100, 130) == [(107, Cue.WARMTH_DUE)]


def test_nothing_is_due_while_dark(ledger):
    assert next_cue_s(ledger, PROFILE, 5) is None
    assert cues_between(ledger, PROFILE, 0, 50) == ()


@pytest.mark.parametrize(
    ("seconds", "flags"), [(7.9, (LightFlag.UNDER_TARGET,)), (8, ()), (9.9, ()), (10, (LightFlag.OVER_TARGET,))]
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
    assert flags_of(ledger, missed, PROFILE) == (LightFlag.END_NOT_HEARD, LightFlag.UNDER_TARGET)
    ledger.heartbeat(33)
    cut = ledger.interrupt().run
    assert cut is not None
    assert flags_of(ledger, cut, PROFILE) == (LightFlag.INTERRUPTED, LightFlag.UNDER_TARGET)


def test_pain_from_the_profiles_limit_stops():
    # Numeric rating scale 0 to 10; the limit is the project's own (common practice, no source).
    assert [pain_stops(score, PROFILE) for score in (0, 1, 10)] == [False, True, True]
    assert not pain_stops(1, GuidanceProfile(pain_stop=2))


def test_a_patient_who_cannot_report_heat_is_touched_more_often(ledger):
    ledger.light_on("a", 100)
    silent = GuidanceProfile(warmth_every_s=7, silent_every_s=3, patient_reports_heat=False)
    assert Cue.WARMTH_DUE not in cues_between(ledger, PROFILE, 100, 103)
    assert Cue.WARMTH_DUE in cues_between(ledger, silent, 100, 103)


def test_each_spot_of_a_zone_is_called():
    ledger = Ledger((ZoneProfile("a", "a", target_s=4, spots=3),), 50)
    ledger.light_on("a", 100)
    cues = [(at, cue) for at, cue in spoken(ledger, 100, 113) if cue is not Cue.WARMTH_DUE]
    assert cues == [(104, Cue.NEXT_SPOT), (108, Cue.NEXT_SPOT), (112, Cue.TARGET_REACHED)]


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        ({"overrun_factor": 1}, "above 1"),
        ({"pain_stop": 0}, "1 to 10"),
        ({"cue_lead_s": 5}, "from 0 to 3"),
        ({"silent_every_s": 11}, "not touched less often"),
        ({"warmth_every_s": 0}, "above 0"),
    ],
)
def test_profile_refuses_what_cannot_be(figures, message):
    with pytest.raises(ValueError, match=message):
        GuidanceProfile(**figures)
