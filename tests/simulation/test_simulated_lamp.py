"""A rehearsed lamp that beeps, through the real path of sound: mixing, detector, session, record.

Each expected time is that at which the made-up lamp sounds. Common practice, no source.
"""

import numpy as np
import pytest

from handsfree.errors import ModelError
from handsfree.exposure.profiles import ToneProfile
from handsfree.exposure.tone import ToneDetector
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock
from handsfree.model.facts import LampBeeped, LampDisagreed, LightTurnedOff
from handsfree.model.light import LampDisagreement
from handsfree.simulation.mixing import samples_of
from handsfree.simulation.script import LampSpec
from handsfree.simulation.simulated_lamp import Lamp

TONE = ToneProfile(2700, 0.2, tolerance_hz=25, tolerance_s=0.07)


def beeps_of(lamp, words, seconds):
    """When a detector hears the lamp, with (time, length, words) said."""
    heard, detector = [], ToneDetector(TONE)
    said = sorted(words)
    for number in range(int(seconds / 0.02)):
        at_s = number * 0.02
        while said and said[0][0] <= at_s:
            begun_s, length_s, text = said.pop(0)
            lamp.said(text, begun_s, begun_s + length_s)
        pcm = samples_of(lamp.sound(at_s, SAMPLE_RATE_HZ // 50)).astype("<i2").tobytes()
        heard += detector.feed(AudioBlock(pcm, at_s))
    return [beep.from_s for beep in heard]


def test_it_beeps_at_intervals_while_lit():
    lamp = Lamp(LampSpec(frequency_hz=2700, every_s=2))
    words = [(1.0, 0.5, "light on"), (8.0, 0.5, "light off"), (10.0, 0.5, "light off")]
    assert beeps_of(lamp, words, 12) == pytest.approx([3.5, 5.5, 7.5], abs=0.03)


def test_it_goes_off_late_where_the_hand_is_slow():
    lamp = Lamp(LampSpec(frequency_hz=2700, every_s=2, late_off_s=3))
    assert beeps_of(lamp, [(1.0, 0.5, "light on"), (6.0, 0.3, "hot")], 14) == pytest.approx([3.5, 5.5, 7.5], abs=0.03)


def test_its_own_timer_ends_with_a_beep_and_it_can_be_lit_again():
    lamp = Lamp(LampSpec(frequency_hz=2700, at_end=True, on_for_s=4))
    words = [(1.0, 0.5, "light on"), (7.0, 0.5, "light on")]
    assert beeps_of(lamp, words, 14) == pytest.approx([5.5, 11.5], abs=0.03)


def test_it_is_silent_where_nothing_was_said():
    lamp = Lamp(LampSpec(frequency_hz=2700, every_s=1))
    assert not np.any(lamp.sound(0.0, 16000))


PROCEDURE = """\
form: 1
id: drill
title: Practice with the light alone
version: "0.1.0"
language: en-US
approved_by: null
sources: {common: "common practice, no source"}
cautions: [Practice only.]
device_profile: patch
light_profile: lamp
roles: {therapist: [hand therapist]}
skip_reasons: {unavailable: [not available]}
override_reasons: {settled: [settled after inspection]}
kind_from: session_kind.kind
steps:
  - id: session_kind
    kind: choose
    phase: before
    prompt: Live or practice session?
    hard: true
    source: common
    read_back: echo
    fields: [{id: kind, label: kind, options: {live: [live session], practice: [practice session]}}]
  - {id: eyewear, kind: confirm, phase: before, prompt: Is eyewear on?, hard: true, source: common}
  - {id: light, kind: expose, phase: during, prompt: Say light on., hard: true, source: common, zones: open,
     warmth: true, requires: [eyewear]}
"""
DEVICE = """\
id: patch
title: Invented patch
version: "0.1.0"
approved_by: null
note: Invented.
body_part: wrist
zones: [{id: front, name: front part, order: 1, target_s: 5}]
"""
LIGHT = """\
id: lamp
title: Invented lamp
version: "0.1.0"
approved_by: null
note: Invented.
wavelength_nm: 460
window_diameter_cm: 2.0
irradiance: [{distance_cm: 3.0, mw_cm2: 70}, {distance_cm: 8.0, mw_cm2: 28}]
stated_distance_cm: 3.0
output_checked_on: "2026-11-02"
output_check_valid_days: 365
tone: {frequency_hz: 2700, duration_s: 0.2, tolerance_hz: 25, tolerance_s: 0.07, SOUND}
"""
SCRIPT = """\
scenario: 1
title: A lamp that beeps
procedure: PROCEDURE
tool_voice: system
voices: {clinician: {engine: neural}}
noise: {kind: pink, snr_db: 25}
lamp: {frequency_hz: 2700, LAMP}
lines:
  - {after: session_kind, who: clinician, say: practice session}
  - {after: eyewear, who: clinician, say: affirmative}
  - {after: light, who: clinician, say: light on}
"""
OFF = "  - {after: light, who: clinician, say: light off, hears: light off, wait_s: 0}\n"
WARM = "  - {after: light, who: clinician, say: warm, hears: seconds}\n"


def rehearse(folder, sound, lamp, lines):
    """The record of a rehearsed drill."""
    from handsfree.cli import main
    from handsfree.recognition.models import locate
    from handsfree.record.verify import RecordState, verify

    try:
        locate()
    except ModelError as error:
        pytest.skip(str(error))
    (folder / "patch.yaml").write_text(DEVICE)
    (folder / "lamp.yaml").write_text(LIGHT.replace("SOUND", sound))
    (folder / "drill.yaml").write_text(PROCEDURE)
    script = folder / "script.yaml"
    script.write_text(SCRIPT.replace("PROCEDURE", str(folder / "drill.yaml")).replace("LAMP", lamp) + lines)
    main(["rehearse", str(script), "--record", str(folder / "record"), "--quiet"])
    found = verify(folder / "record")
    assert found.state is RecordState.COMPLETE
    return found.record


@pytest.mark.sound
def test_a_lamp_that_stays_on_after_the_words_is_named_once(tmp_path):
    record = rehearse(tmp_path, "interval_s: 1", "every_s: 1, late_off_s: 4.5", OFF + WARM)
    said = [one.fact for one in record.of(LampDisagreed)]
    assert said == [LampDisagreed(what=LampDisagreement.BEEP_AFTER_OFF, zone="front")]
    # Until then they go together, second by second, also while the tool speaks its cues.
    (run,) = (one.fact for one in record.of(LightTurnedOff))
    assert run.beeps == "agrees"
    heard = [one.fact.from_s - run.counted_from_s for one in record.of(LampBeeped)]
    assert heard[:5] == pytest.approx([1, 2, 3, 4, 5], abs=0.5)


@pytest.mark.sound
def test_the_last_beep_ends_the_run_without_words(tmp_path):
    record = rehearse(tmp_path, "ends_run: beep", "at_end: true, on_for_s: 5.5", WARM)
    (run,) = (one.fact for one in record.of(LightTurnedOff))
    assert run.end == "beep_heard"
    assert run.counted_to_s - run.counted_from_s == pytest.approx(5.5, abs=0.4)
    assert record.zones[0].lit_s == pytest.approx(5.5, abs=0.4)
