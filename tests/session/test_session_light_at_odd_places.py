"""More light, an early end, light outside a zone and a cry where they meet.

Expected behaviour: the laws of this project (DEVELOPERS.md); common practice, no source.
"""

import pytest
from lifting_files import AT_END, FIRMNESS, REFILL, changed
from talking import lit_s

from handsfree.model.light import Cue
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.session.deadlines import STRAY_EVERY_S


def cues(talk):
    return [cue for fact in talk.facts("light_still_on") for cue in fact.cues if cue is not Cue.WARMTH_DUE]


def more_light(tmp_path, seconds):
    talk = changed(tmp_path, FIRMNESS)
    talk.go_to("cure_open").give(zone="back")
    talk.light(seconds)
    talk.give(warmth="cool")
    talk.go_to("firm")
    talk.give(front="firm", back="soft")
    talk.affirm()
    talk.give(more_light="back")
    return talk


def test_after_more_light_was_asked_for_the_cues_count_from_the_raised_target(tmp_path):
    talk = more_light(tmp_path, 5.1)
    before = len(cues(talk))
    talk.say("light_on")
    talk.wait(1)
    assert cues(talk)[before:] == []
    talk.wait(6)
    told = cues(talk)[before:]
    assert told[:2] == [Cue.HALF, Cue.TARGET_REACHED]


def test_more_light_for_a_zone_that_had_far_too_much_is_owed_all_the_same(tmp_path):
    talk = more_light(tmp_path, 12)
    assert lit_s(talk, "back") > 10
    assert talk.facts("more_light_asked")[-1].target_s == 15
    assert (talk.at, talk.session._state.zone_id) == ("cure_open", "back")


def test_in_an_early_end_light_outside_a_zone_is_explained_and_the_end_goes_on(tmp_path):
    talk = changed(tmp_path, AT_END)
    talk.go_to("cure_open").say("light_on")
    talk.say("hot")
    talk.say("end_visit")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    talk.affirm()
    talk.say("light_on")
    began = talk.facts("stray_light_began")[-1]
    assert (talk.mode, began.why) == ("stray", Refusal(RefusalCode.NO_LIGHT_HERE))
    talk.wait(STRAY_EVERY_S + 0.1)
    assert talk.mode == "stray"
    talk.say("negate")
    assert (talk.at, talk.mode) == ("nerve_after@left", "asking")
    for _ in "lr":
        talk.give(touch="intact", **REFILL)
        talk.affirm()
    assert talk.outcome == "stopped"


def test_from_light_outside_a_zone_a_stop_leads_to_the_end(talk):
    talk.go_to("eyewear").say("light_on")
    talk.say("stop")
    talk.say("end_visit")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    talk.affirm()
    assert talk.outcome == "stopped"


@pytest.mark.parametrize("word", ["affirm", "hot"])
def test_heat_after_a_cry_names_its_zone_and_every_way_on(talk, word):
    talk.go_to("cure_open").say("light_on")
    talk.say("cry")
    talk.say(word)
    assert talk.said.endswith("Then say override, leave this zone, or end the visit.")
    talk.say("wait")
    talk.say("resume")
    assert "Front part." in talk.said


def test_light_outside_a_zone_is_of_no_zone_where_heat_holds_the_visit(talk):
    talk.go_to("cure_strap").say("light_on")
    assert talk.mode == "stray"
    talk.say("hot")
    talk.say("wait")
    talk.say("resume")
    assert "The word hot was said." in talk.said
    assert "Strip" not in talk.said


def test_a_red_value_that_was_lit_upon_is_not_misheard(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="absent", **REFILL)
    talk.affirm()
    talk.say("light_on")
    talk.say("light_off")
    talk.say("correction")
    talk.give(touch="intact", **REFILL)
    talk.affirm()
    assert (talk.mode, talk.facts("hold_lifted")) == ("held", [])


def test_light_on_heard_twice_over_a_zone_that_was_left_stays_on_it(talk):
    talk.go_to("cure_open").say("leave_zone")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    talk.affirm()
    talk.give(zone="front")
    talk.say("light_on")
    talk.say("light_on")
    assert talk.kinds == ["light_on_repeated"]
