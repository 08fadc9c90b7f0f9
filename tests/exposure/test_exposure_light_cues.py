"""Cues, flags and answers. The times and words are the project's own rules: common practice, no published source."""

import pytest

from handsfree.exposure.ledger import Ledger
from handsfree.exposure.light_cues import GuidanceProfile, cues_between, flags_of, next_cue_s, pain_stops
from handsfree.exposure.profiles import ZoneProfile
from handsfree.model.light import Cue, LightFlag

PROFILE = GuidanceProfile(warmth_every_s=7, silent_every_s=5, cue_lead_s=0)


@pytest.fixture
def ledger():
    zones = (ZoneProfile("a", "a", target_s=8), ZoneProfile("s", "s", target_s=4, strap_shadowed=True))
    return Ledger(zones, 50, tolerance_share=0.05, over_factor=1.25)


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
        *((at_s, Cue.TAKE_AWAY) for at_s in range(112, 131, 6)),
    ]


def test_on_a_long_zone_time_is_over_again_and_again_until_the_ceiling():
    long = Ledger((ZoneProfile("a", "a", target_s=40),), 50)
    long.light_on("a", 0)
    heard = [(at, cue) for at, cue in spoken(long, 0, 80) if cue in {Cue.TIME_OVER, Cue.TAKE_AWAY}]
    assert heard == [
        *((at_s, Cue.TIME_OVER) for at_s in (46, 52, 58)),
        *((at_s, Cue.TAKE_AWAY) for at_s in (60, 66, 72, 78)),
    ]


def test_light_that_begins_beyond_the_target_is_told_to_end_as_well(ledger):
    ledger.light_on("a", 0)
    ledger.light_off(9)
    ledger.light_on("a", 50)
    assert [cue for _, cue in spoken(ledger, 50, 57)] == [
        Cue.TIME_OVER,
        Cue.OVERRUN,
        Cue.TAKE_AWAY,
        Cue.WARMTH_DUE,
    ]


def test_the_lead_is_the_median_reaction_within_the_profiles_bounds():
    assert GuidanceProfile().led_by(()).cue_lead_s == 0.5
    assert GuidanceProfile().led_by((0.9,)).cue_lead_s == 0.9
    assert GuidanceProfile().led_by((0.9, 1.1, 60.0)).cue_lead_s == 1.1
    assert GuidanceProfile(cue_lead_most_s=1.5).led_by((2.5, 2.6)).cue_lead_s == 1.5


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
    assert cues_between(ledger, early, 200, 206.1) == (Cue.TAKE_AWAY, Cue.OVERRUN)
    # Where a target is so short that nothing else fits before it, half of it is kept.
    short = Ledger((ZoneProfile("a", "a", target_s=1),), 50)
    short.light_on("a", 100)
    assert next_cue_s(short, early, 100) == pytest.approx(100.5)


def test_a_second_run_goes_on_where_the_first_ended(ledger):
    ledger.light_on("a", 0)
    ledger.light_off(5)
    ledger.light_on("a", 50)
    assert spoken(ledger, 50, 54) == [(53, Cue.TARGET_REACHED)]
    assert spoken(ledger, 55.5, 58) == [(57, Cue.TAKE_AWAY), (57, Cue.WARMTH_DUE)]


def test_an_answer_moves_the_warmth_question(ledger):
    ledger.light_on("a", 100)
    assert (109, Cue.WARMTH_DUE) in spoken(ledger, 102, 130, answered_s=102)


def test_a_late_look_says_only_the_last_mark_but_always_the_end(ledger):
    ledger.light_on("a", 100)
    assert cues_between(ledger, PROFILE, 100, 120) == (Cue.TAKE_AWAY, Cue.OVERRUN, Cue.WARMTH_DUE)
    assert cues_between(ledger, PROFILE, 109, 111.5) == (Cue.OVERRUN,)
    assert cues_between(ledger, PROFILE, 120, 120) == ()


def test_a_shaded_zone_never_reaches_its_target_but_its_ceiling(ledger):
    # The strap keeps the light from the zone, not the heat from the hand.
    ledger.light_on("s", 100)
    assert spoken(ledger, 100, 110) == [(106, Cue.TAKE_AWAY), (107, Cue.WARMTH_DUE)]


def test_nothing_is_due_while_dark(ledger):
    assert next_cue_s(ledger, PROFILE, 5) is None
    assert cues_between(ledger, PROFILE, 0, 50) == ()


@pytest.mark.parametrize(
    ("seconds", "flags"),
    [(7.5, (LightFlag.UNDER_TARGET,)), (7.6, ()), (8, ()), (9.9, ()), (10, (LightFlag.OVER_TARGET,))],
)
def test_flags_by_length(ledger, seconds, flags):
    ledger.light_on("a", 0)
    run = ledger.light_off(seconds).run
    assert run is not None
    assert flags_of(ledger, run) == flags
    # Whoever judges the sum says the same.
    assert (ledger.short_s("a") > 0) == (LightFlag.UNDER_TARGET in flags)


def test_flags_by_end(ledger):
    ledger.light_on("a", 0)
    missed = ledger.light_on("a", 30).run
    assert missed is not None
    assert flags_of(ledger, missed) == (LightFlag.END_NOT_HEARD, LightFlag.UNDER_TARGET)
    ledger.heartbeat(33)
    cut = ledger.interrupt().run
    assert cut is not None
    assert flags_of(ledger, cut) == (LightFlag.INTERRUPTED, LightFlag.UNDER_TARGET)


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
        ({"cue_lead_s": 2.5, "cue_lead_most_s": 2}, "from cue_lead_s to 3"),
        ({"tolerance_share": 0.2}, "0 to 0.1"),
        ({"ceiling_factor": 1.2}, "at least overrun_factor"),
        ({"repeat_every_s": 5}, "6 to 10"),
        ({"silent_every_s": 11}, "not touched less often"),
        ({"warmth_every_s": 0}, "above 0"),
    ],
)
def test_profile_refuses_what_cannot_be(figures, message):
    with pytest.raises(ValueError, match=message):
        GuidanceProfile(**figures)
