"""A small procedure with its profiles, written for these tests. Every figure is invented."""

PROCEDURE = """\
form: 1
id: small
title: A small invented procedure
version: "1.2.3"
language: en-US
approved_by: null
sources: {common: "common practice, no source"}
cautions: [The product's own instructions come first.]
device_profile: sleeve
light_profile: lamp
roles: {surgeon: [surgeon], nurse: [ward nurse]}
skip_reasons: {declined: [patient declined], unavailable: [not available]}
override_reasons: {reviewed: [reviewed by the senior], repaired: [put right], agreed: [colleague agrees]}
lift: {second_person: [agreed]}
kind_from: session_kind.kind
side_from: side.injured
steps:
  - id: session_kind
    kind: choose
    phase: before
    prompt: Live or practice session?
    hard: true
    source: common
    read_back: confirm
    fields:
      - {id: kind, label: kind, options: {live: [live session], practice: [practice session]}}
  - id: side
    kind: choose
    phase: before
    prompt: Which side is it?
    hard: true
    source: common
    fields:
      - {id: injured, label: side, options: {left: [left], right: [right]}}
  - id: hello
    kind: tell
    phase: before
    prompt: Wash the hands.
    source: common
  - id: remark
    kind: choose
    phase: before
    prompt: Was the room warm or cool?
    source: common
    fields:
      - {id: room, label: room, options: {warm: [warm], cool: [cool]}, amber: [cool]}
  - id: ring
    kind: finding
    phase: before
    prompt: Is a ring absent or stuck?
    hard: true
    source: common
    fields:
      - {id: ring, label: ring, options: {absent: [absent], stuck: [stuck]}, stop: [stuck]}
  - id: band
    kind: measure
    phase: before
    prompt: Circumference, first and second?
    hard: true
    source: common
    timing: baseline
    repeat_within: {fields: [first, second], tolerance: 0.5}
    size_from: device
    fields:
      - {id: first, label: first, number: {unit: cm, low: 5, high: 60, decimals: 1}}
      - {id: second, label: second, number: {unit: cm, low: 5, high: 60, decimals: 1}}
  - id: pack
    kind: identify
    phase: before
    prompt: Lot and expiry?
    hard: true
    source: common
    fields:
      - {id: lot, label: lot, identifier: {max_length: 10}}
      - {id: expiry, label: expiry, date: {month_only: true, not_before: today}}
  - id: nerve_before
    kind: measure
    phase: before
    prompt: "{side} hand: touch, refill?"
    hard: true
    source: common
    timing: baseline
    for_each: side
    light_must_be_off: true
    fields:
      - id: touch
        label: touch
        options: {intact: [intact], reduced: [reduced], absent: [absent], covered: [covered]}
        amber: [reduced, covered]
        red: [absent]
      - id: refill
        label: refill
        number: {unit: s, low: 0.2, high: 10, decimals: 1, flag_above: 2.0, flag_class: amber}
  - id: eyewear
    kind: confirm
    phase: before
    prompt: Is eyewear on for everyone?
    hard: true
    source: common
  - id: angle
    kind: measure
    phase: during
    prompt: Wrist extension in degrees?
    hard: true
    source: common
    timing: during
    fields:
      - {id: wrist, label: wrist, number: {unit: deg, low: -90, high: 90, decimals: 0, band: wrist}}
  - id: cure_open
    kind: expose
    phase: during
    prompt: When ready, say light on.
    hard: true
    source: common
    zones: open
    warmth: true
    requires: [nerve_before, eyewear, angle]
  - id: cure_strap
    kind: expose
    phase: during
    prompt: Strap off, then light on.
    hard: true
    source: common
    zones: strap
    warmth: true
    late_question_s: [60, 120]
    requires: [eyewear, cure_open]
  - id: nerve_after
    kind: measure
    phase: during
    prompt: "{side} hand: touch, refill?"
    hard: true
    source: common
    timing: after
    for_each: side
    light_must_be_off: true
    red_action: Take the sleeve off. Call the senior now.
    fields:
      - id: touch
        label: touch
        options: {intact: [intact], reduced: [reduced], absent: [absent], covered: [covered]}
        scale: [intact, reduced, absent]
        compare: {with: nerve_before, worse: red}
        amber: [reduced, covered]
        red: [absent]
      - id: refill
        label: refill
        number: {unit: s, low: 0.2, high: 10, decimals: 1, flag_above: 2.0, flag_class: amber}
        compare: {with: nerve_before, rise: 1.0, class: amber}
  - id: next_care
    kind: choose
    phase: after
    prompt: Ward or home?
    hard: true
    source: common
    fields:
      - {id: place, label: place, options: {ward: [ward], home: [home]}}
  - id: handover
    kind: confirm
    phase: after
    prompt: Did the ward read it back?
    hard: true
    source: common
    when: {step: next_care.place, is: [ward]}
  - id: advice
    kind: teach
    phase: after
    prompt: Explain what to do.
    hard: true
    source: common
    items:
      - {id: raise, say: Keep the hand raised., teach_back: true}
      - {id: call, say: Call for numb fingers., teach_back: true}
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
    - {size: small, from: 13.0, to: 15.4}
    - {size: medium, from: 15.5, to: 18.4}
  between: ask
bands:
  wrist: {low: 10, confirm_from: 15, confirm_to: 20, high: 25, direction: extension}
zones:
  - {id: front, name: front part, order: 1, target_s: 6}
  - {id: back, name: back part, order: 2, target_s: 5}
  - {id: strip, name: strap strip, order: 3, target_s: 4, strap_shadowed: true}
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


def write_files(folder, procedure=PROCEDURE, device=DEVICE, light=LIGHT):
    """Write the three files; returns the procedure's path."""
    path = folder / "small.yaml"
    path.write_text(procedure, encoding="utf-8")
    (folder / "sleeve.yaml").write_text(device, encoding="utf-8")
    (folder / "lamp.yaml").write_text(light, encoding="utf-8")
    return path
