"""Changes of the small procedure: who may lift what, who the operator is, what asks for more light."""

from decimal import Decimal

from procedure_files import DEVICE, PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle

REFILL = {"refill": Decimal(1)}
LIFT = """\
lift:
  red: {by: [surgeon], reasons: [reviewed, agreed]}
  stop: {by: [surgeon, nurse], reasons: [repaired]}
  heat: {by: [surgeon], reasons: [repaired]}
  gaps: {by: [nurse], reasons: [reviewed]}
"""
OPERATOR = """\
  - id: who
    kind: choose
    phase: before
    prompt: Who does it?
    hard: true
    source: common
    fields:
      - {id: role, label: role, options: {surgeon: [surgeon], nurse: [ward nurse]}}
  - id: whose
    kind: identify
    phase: before
    prompt: Spell your code.
    hard: true
    source: common
    fields:
      - {id: code, label: code, identifier: {max_length: 4}}
  - id: side
"""
FIRM = """\
  - id: firm
    kind: finding
    phase: during
    prompt: Firm or soft?
    hard: true
    source: common
    more_light: true
    fields:
      - {id: front, label: front, options: {firm: [firm], soft: [soft]}, stop: [soft]}
      - {id: back, label: back, options: {firm: [firm], soft: [soft]}, stop: [soft]}
  - id: nerve_after
"""


def changed(tmp_path, *changes, device=DEVICE):
    """A talk over the small procedure with changes."""
    text = PROCEDURE
    for before, after in changes:
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    return Talk(load_bundle(str(write_files(tmp_path, procedure=text, device=device))))


RULED = ("lift: {second_person: [agreed]}\n", f"{LIFT}  second_person: [agreed]\n")
DECLARED = ("  - id: side\n", OPERATOR)
FROM = ("side_from: side.injured\n", "side_from: side.injured\nrole_from: who.role\noperator_from: whose.code\n")
FIRMNESS = ("  - id: nerve_after\n", FIRM)
AT_END = ("true\n    red_action:", "true\n    at_early_end: true\n    red_action:")


def absent(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="absent", **REFILL)
    talk.affirm()
    assert talk.mode == "held"


def refused(talk):
    return talk.facts("command_refused")[-1].reason
