"""The ledger's one outcome for each odd case.

The rules themselves are the project's own (common practice, no published source); sums of interrupted light-on times
and J/cm² follow radiant exposure H = ∫E dt, IEC 60050-845.
"""

import pytest

from handsfree.exposure.ledger import Ledger
from handsfree.exposure.profiles import LightProfile, ToneProfile, ZoneProfile
from handsfree.exposure.runs import LedgerChange, RunEnd

ZONES = (
    ZoneProfile("palm", "palm", target_s=10),
    ZoneProfile("back", "back of hand", target_j_cm2=0.5, spots=2),
    ZoneProfile("strap", "strap strip", target_s=5, strap_shadowed=True),
)


@pytest.fixture
def ledger():
    return Ledger(ZONES, 50.0)


def test_fifty_milliwatts_for_twenty_seconds_is_one_joule(ledger):
    # Source: H = E·t, IEC 60050-845; 50 mW/cm² x 20 s = 1.0 J/cm².
    ledger.light_on("palm", 100.0)
    outcome = ledger.light_off(120.0)
    assert outcome.happened is LedgerChange.DARKENED
    assert ledger.dose_j_cm2("palm") == pytest.approx(1.0)
    assert ledger.target_s("back") == pytest.approx(20.0)


def test_interrupted_runs_sum_and_gaps_do_not_count(ledger):
    # Source: same; 3 x 4 s at 50 mW/cm² = 0.6 J/cm².
    for start_s in (0.0, 50.0, 1000.0):
        ledger.light_on("palm", start_s)
        ledger.light_off(start_s + 4)
    assert ledger.lit_s("palm") == pytest.approx(12.0)
    assert ledger.dose_j_cm2("palm") == pytest.approx(0.6)


def test_late_recognition_counts_from_when_it_was_said(ledger):
    ledger.light_on("palm", 10.0)
    ledger.heartbeat(14.5)
    ledger.light_off(13.0)
    assert ledger.lit_s("palm") == pytest.approx(3.0)


def test_light_on_twice_at_once_is_heard_once(ledger):
    ledger.light_on("palm", 10.0)
    assert ledger.light_on("palm", 11.0).happened is LedgerChange.REPEATED
    ledger.light_off(14.0)
    assert ledger.lit_s("palm") == pytest.approx(4.0)


@pytest.mark.parametrize("second", ["palm", "back"])
def test_missed_light_off_credits_nothing_without_a_beep(ledger, second):
    ledger.light_on("palm", 10.0)
    outcome = ledger.light_on(second, 60.0)
    assert outcome.happened is LedgerChange.LIT_OFF_MISSED
    assert outcome.run is not None
    assert outcome.run.end is RunEnd.OFF_MISSED
    assert ledger.lit_s("palm") == 0
    assert ledger.possible_s("palm") == pytest.approx(50.0)
    assert ledger.lit_zone == second


def test_missed_light_off_is_credited_up_to_the_last_beep(ledger):
    ledger.light_on("palm", 10.0)
    ledger.tone(14.8, 15.0)
    ledger.tone(19.8, 20.0)
    ledger.light_on("back", 60.0)
    assert ledger.lit_s("palm") == pytest.approx(10.0)


def test_stop_word_ends_the_run_when_spoken_and_is_never_refused(ledger):
    assert ledger.stop(5.0, "stop").happened is LedgerChange.STOPPED_DARK
    ledger.light_on("palm", 10.0)
    outcome = ledger.stop(12.5, "hot")
    assert outcome.run is not None
    assert (outcome.run.end, outcome.run.reason) == (RunEnd.STOPPED, "hot")
    assert ledger.lit_s("palm") == pytest.approx(2.5)
    assert not ledger.is_lit


def test_stop_said_before_the_run_began_still_ends_it_with_nothing(ledger):
    ledger.light_on("palm", 10.0)
    assert ledger.stop(9.0, "stop").happened is LedgerChange.STOPPED
    assert ledger.lit_s("palm") == 0


def test_off_while_dark_and_a_later_arriving_earlier_on(ledger):
    assert ledger.light_off(13.0).happened is LedgerChange.REFUSED_NOT_LIT
    assert ledger.light_on("palm", 10.0).happened is LedgerChange.REFUSED_STALE
    assert not ledger.is_lit


def test_a_stale_light_off_does_not_end_the_next_run(ledger):
    ledger.light_on("palm", 10.0)
    ledger.light_off(13.0)
    ledger.light_on("palm", 15.0)
    assert ledger.light_off(13.0).happened is LedgerChange.REFUSED_STALE
    assert ledger.is_lit


def test_crash_counts_up_to_the_last_heartbeat_and_says_so(ledger):
    ledger.light_on("palm", 10.0)
    ledger.heartbeat(12.0)
    outcome = ledger.interrupt()
    assert outcome.run is not None
    assert outcome.run.end is RunEnd.INTERRUPTED
    assert ledger.lit_s("palm") == pytest.approx(2.0)
    assert ledger.interrupt().happened is LedgerChange.NOTHING


def test_strap_zone_is_credited_only_after_strap_off(ledger):
    assert ledger.light_on("strap", 10.0).happened is LedgerChange.LIT_IN_SHADOW
    ledger.light_off(15.0)
    assert ledger.lit_s("strap") == 0
    assert ledger.possible_s("strap") == pytest.approx(5.0)
    ledger.strap_off(20.0)
    assert ledger.lit_s("strap") == 0
    assert ledger.light_on("strap", 25.0).happened is LedgerChange.LIT
    ledger.light_off(30.0)
    assert ledger.lit_s("strap") == pytest.approx(5.0)
    assert ledger.short_s("strap") == 0


def test_strap_taken_off_and_put_on_in_the_middle_of_a_run_even_if_heard_late(ledger):
    ledger.light_on("strap", 10.0)
    ledger.light_off(20.0)
    ledger.strap_on(17.0)
    ledger.strap_off(14.0)
    assert ledger.lit_s("strap") == pytest.approx(3.0)
    assert ledger.strap_is_on


def test_strap_on_and_off_at_one_moment_credits_nothing(ledger):
    ledger.strap_on(5.0)
    ledger.strap_off(5.0)
    ledger.light_on("strap", 10.0)
    ledger.light_off(12.0)
    assert ledger.lit_s("strap") == 0


def test_a_run_still_going_counts_up_to_now_when_asked(ledger):
    ledger.light_on("palm", 10.0)
    assert ledger.lit_s("palm") == 0
    assert ledger.lit_s("palm", now_s=14.0) == pytest.approx(4.0)
    assert ledger.dose_j_cm2("palm", now_s=14.0) == pytest.approx(0.2)
    assert ledger.running_s(14.0) == pytest.approx(4.0)


def test_unknown_zone_and_unknown_time_are_refused_by_name(ledger):
    assert ledger.light_on("nose", 1.0).happened is LedgerChange.REFUSED_UNKNOWN_ZONE
    assert ledger.light_on("palm", float("nan")).happened is LedgerChange.REFUSED_TIME
    assert ledger.light_off(float("nan")).happened is LedgerChange.REFUSED_TIME
    assert ledger.strap_off(float("inf")).happened is LedgerChange.REFUSED_TIME
    assert not ledger.is_lit


def test_profiles_refuse_what_cannot_be():
    with pytest.raises(ValueError, match="one of them"):
        ZoneProfile("a", "a")
    with pytest.raises(ValueError, match="one of them"):
        ZoneProfile("a", "a", target_s=1, target_j_cm2=1)
    with pytest.raises(ValueError, match="two distances"):
        LightProfile("l", ((5.0, 50.0),), 460, 2, "2026-01-01", "physicist")
    with pytest.raises(ValueError, match="rise"):
        LightProfile("l", ((5.0, 50.0), (4.0, 60.0)), 460, 2, "2026-01-01", "physicist")
    with pytest.raises(ValueError, match="8000"):
        ToneProfile(7990, 0.2, 20, 0.05)
    with pytest.raises(ValueError, match="unique"):
        Ledger((ZONES[0], ZONES[0]), 50)
