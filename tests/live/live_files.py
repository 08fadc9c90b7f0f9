"""A short procedure with a light, every figure invented; what tests with real sound need."""

import os
import shutil
from pathlib import Path

import pytest

from handsfree.errors import ModelError, VoiceError

PROCEDURE = """\
form: 1
id: short
title: A short invented visit
version: "1.0.0"
language: en-US
approved_by: null
sources: {common: "common practice, no source"}
cautions: [The product's own instructions come first.]
device_profile: sleeve
light_profile: lamp
roles: {nurse: [ward nurse]}
skip_reasons: {declined: [patient declined]}
override_reasons: {reviewed: [reviewed by the senior]}
kind_from: session_kind.kind
steps:
  - id: session_kind
    kind: choose
    phase: before
    prompt: Live or practice session?
    hard: true
    source: common
    fields:
      - {id: kind, label: kind, options: {live: [live session], practice: [practice session]}}
  - id: distance
    kind: measure
    phase: before
    prompt: Distance in centimeters?
    hard: true
    source: common
    timing: baseline
    fields:
      - {id: distance, label: distance, number: {unit: cm, low: 1, high: 20, decimals: 1}}
  - id: eyewear
    kind: confirm
    phase: before
    prompt: Is eyewear on for everyone?
    hard: true
    source: common
  - id: cure
    kind: expose
    phase: during
    prompt: When ready, say light on.
    hard: true
    source: common
    zones: open
    requires: [eyewear]
"""

DEVICE = """\
id: sleeve
title: Invented sleeve
version: "0.1.0"
approved_by: null
note: Invented.
body_part: wrist
size_chart:
  landmark: wrist crease
  unit: cm
  rows:
    - {size: small, from: 13.0, to: 18.4}
  between: ask
bands: {}
zones:
  - {id: front, name: front part, order: 1, target_s: 40}
"""

LIGHT = """\
id: lamp
title: Invented lamp
version: "0.1.0"
approved_by: null
note: Invented.
wavelength_nm: 460
window_diameter_cm: 2.0
irradiance:
  - {distance_cm: 3.0, mw_cm2: 70}
  - {distance_cm: 8.0, mw_cm2: 28}
stated_distance_cm: 3.0
output_checked_on: "2026-11-02"
output_check_valid_days: 365
"""


def write_short(folder: Path, target_s: int = 40) -> Path:
    """Write the three files; returns the procedure's path."""
    path = folder / "short.yaml"
    path.write_text(PROCEDURE, encoding="utf-8")
    (folder / "sleeve.yaml").write_text(DEVICE.replace("target_s: 40", f"target_s: {target_s}"), encoding="utf-8")
    (folder / "lamp.yaml").write_text(LIGHT, encoding="utf-8")
    return path


def need_rig() -> None:
    """Skip where sound cannot be played and heard in real time."""
    if os.getloadavg()[0] > 3 * (os.cpu_count() or 1):
        pytest.skip("this machine is too busy to play and hear sound in time")
    for program in ("pulseaudio", "pactl", "pacat", "parec"):
        if shutil.which(program) is None:
            pytest.skip(f"{program} is not installed (apt-get install pulseaudio pulseaudio-utils)")
    try:
        import sounddevice  # noqa: F401

        from handsfree.recognition.models import locate
        from handsfree.voice.neural_voice import NeuralVoice

        locate()
        NeuralVoice()
    except (ImportError, OSError, ModelError, VoiceError) as error:
        pytest.skip(str(error))
