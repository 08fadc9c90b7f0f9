"""A small procedure that a check has nothing against but its missing approval; every figure is invented."""

PLAIN = """\
form: 1
id: plain
title: A plain invented procedure
version: "1.0.0"
language: en-US
approved_by: null
sources: {book: "An invented handbook, 2020"}
cautions: [Invented.]
roles: {nurse: [ward nurse]}
skip_reasons: {declined: [patient declined]}
override_reasons: {senior: [senior agrees]}
steps:
  - id: place
    kind: choose
    phase: before
    prompt: Ward or home?
    expert: Where?
    hard: true
    source: book
    fields:
      - {id: place, label: place, options: {ward: [ward], home: [home]}}
  - id: swab
    kind: finding
    phase: before
    prompt: "How are swab and bandage?"
    expert: "Swab, bandage?"
    hard: true
    source: book
    fields:
      - {id: swab, label: swab, options: {present: [present], missing: [missing]}, stop: [missing]}
      - {id: bandage, label: bandage, options: {intact: [intact], torn: [torn]}, amber: [torn]}
  - id: warmth
    kind: measure
    phase: during
    prompt: "Skin in degrees Celsius?"
    expert: "Degrees?"
    hard: true
    source: book
    timing: during
    red_action: Cool the skin.
    fields:
      - id: warmth
        label: warmth
        number: {unit: Cel, low: 20, high: 45, decimals: 1, flag_above: 40, flag_class: red}
  - id: bell
    kind: confirm
    phase: after
    prompt: Is the bell within reach?
    expert: Bell?
    hard: true
    source: book
    when: {step: place.place, is: [ward]}
"""


def write(folder, text=PLAIN):
    """Write the file; returns its path."""
    path = folder / "plain.yaml"
    path.write_text(text, encoding="utf-8")
    return path
