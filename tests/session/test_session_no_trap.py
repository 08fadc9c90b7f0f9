"""No state is a trap: from every place of the controls table a few honest words end the visit, none of them a claim.

Searched over every mode that there is, not sampled: a mode without a place, or without a way, fails.
Expected behaviour: the laws of this project (DEVELOPERS.md, "always a way on"); no outside source.
"""

import pytest
from controls_table import PLACES
from procedure_files import LIGHT, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.session.modes import Mode

WAYS_OUT = {
    # mode: what is said, true whatever happened: it is off, nothing of that was said, back to the work, end it
    "lit": lambda talk: talk.say("light_off"),
    "noting": lambda talk: talk.say("end_note"),
    "doubting": lambda talk: talk.say("negate"),
    "reading_back": lambda talk: talk.say("negate"),
    "checking": lambda talk: talk.affirm(),
    "misheard": lambda talk: talk.say("negate"),
    "skip_reason": lambda talk: talk.say("negate"),
    "override_role": lambda talk: talk.say("negate"),
    "override_reason": lambda talk: talk.say("negate"),
    "override_code": lambda talk: talk.say("negate"),
    "override_confirm": lambda talk: talk.say("negate"),
    "warmth": lambda talk: talk.give(warmth="cool"),
    "late_heat": lambda talk: talk.give(warmth="cool"),
    "cried": lambda talk: talk.say("negate"),
    "stray": lambda talk: talk.say("light_off"),
    "reconfirm": lambda talk: talk.affirm(),
    "asking": lambda talk: end(talk),
    "held": lambda talk: end(talk),
    "open_items": lambda talk: end(talk),
    "paused": lambda talk: end(talk),
    "closed": lambda talk: None,
}
LONGEST = 8
"""Words and answers that lead from the deepest interruption to the end."""


def end(talk):
    talk.say("end_visit")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    talk.affirm()


@pytest.fixture(scope="module")
def bundles(tmp_path_factory):
    overdue = LIGHT.replace('output_checked_on: "2026-11-02"', 'output_checked_on: "2020-11-02"')
    return {
        name: load_bundle(str(write_files(tmp_path_factory.mktemp(name), light=light)))
        for name, light in (("usual", LIGHT), ("overdue", overdue))
    }


def test_every_mode_has_a_place_and_a_way_out():
    assert {mode for mode, _, _ in PLACES.values()} == set(Mode) == set(WAYS_OUT)


@pytest.mark.parametrize("place", PLACES)
def test_from_every_place_the_visit_can_be_ended(bundles, place):
    talk = Talk(bundles["overdue" if place == "held_light" else "usual"])
    PLACES[place][2](talk)
    for _ in range(LONGEST):
        if talk.outcome is not None:
            break
        WAYS_OUT[talk.mode](talk)
    assert talk.outcome is not None, (talk.at, talk.mode, talk.said)
    assert talk.mode == "closed"
