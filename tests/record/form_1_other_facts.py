"""Facts as version 0.1.0 wrote them, and what they are today: labels, speech, holds, light, devices, practice."""

from datetime import date

from form_1_facts import HEARD, SAID

from handsfree.model import facts
from handsfree.model.light import Cue, LampAgreement, LampDisagreement, LightFlag, RunEnd, Warmth
from handsfree.model.open_items import OpenReading
from handsfree.model.reasons import (
    AnswersDiffer,
    AsWritten,
    Grounds,
    NoSize,
    PainOverLimit,
    ScanFault,
    ScanFaultCode,
)
from handsfree.model.refusals import Refusal, RefusalCode

OF_ALL_ELSE = [
    (
        "label_scanned",
        {
            "stage": "a",
            "gtin": "04012345678901",
            "lot": "A4",
            "serial": None,
            "produced": None,
            "expiry": "2027-11-30",
            "faults": ["the code holds the field 10 twice"],
            **HEARD,
        },
        facts.LabelScanned(
            stage="a",
            gtin="04012345678901",
            lot="A4",
            serial=None,
            produced=None,
            expiry=date(2027, 11, 30),
            faults=(ScanFault(ScanFaultCode.FIELD_TWICE, "10"),),
            heard=SAID,
        ),
    ),
    (
        "command_refused",
        {"reason": "Not now.", "stage": "a", "command": "skip", **HEARD},
        facts.CommandRefused(reason=Refusal(RefusalCode.NOT_NOW), stage="a", command="skip", heard=SAID),
    ),
    (
        "command_refused",
        {"reason": "No light before: is the eyewear on?", "stage": "a"},
        facts.CommandRefused(
            reason=AsWritten("No light before: is the eyewear on?"), stage="a", command=None, heard=None
        ),
    ),
    ("utterance_doubted", HEARD, facts.UtteranceDoubted(heard=SAID)),
    (
        "doubt_settled",
        {"right": True, "words": "cool", **HEARD},
        facts.DoubtSettled(right=True, words="cool", heard=SAID),
    ),
    ("doubt_settled", {"right": False, "words": "cool"}, facts.DoubtSettled(right=False, words="cool", heard=None)),
    (
        "utterance_not_taken",
        {"reason": "too_noisy", "heard": "color usual"},
        facts.UtteranceNotTaken(reason="too_noisy", words="color usual", heard=None),
    ),
    (
        "utterance_not_taken",
        {"reason": "doubt", **HEARD},
        facts.UtteranceNotTaken(reason="doubt", words="affirmative", heard=SAID),
    ),
    ("said_again", {"stage": "a"}, facts.SaidAgain(stage="a")),
    ("help_given", {"stage": "a"}, facts.HelpGiven(stage="a")),
    ("note_begun", {"stage": "a"}, facts.NoteBegun(stage="a")),
    ("note_dictated", {"text": "dry", **HEARD}, facts.NoteDictated(text="dry", heard=SAID)),
    (
        "note_taken",
        {"text": "dry", "verified": False, "broken_off": True, "stage": "a"},
        facts.NoteTaken(text="dry", verified=False, broken_off=True, stage="a"),
    ),
    (
        "latch_set",
        {"latch": "stop", "stage": "a", "reason": "the answers do not agree", "action": "Find out which is right."},
        facts.HoldSet(hold="stop", stage="a", grounds=Grounds(AnswersDiffer())),
    ),
    (
        "latch_lifted",
        {"latch": "red", "set_for": "pain score seven", "role": "surgeon", "reason": "settled", **HEARD},
        facts.HoldLifted(
            hold="red", grounds=Grounds(PainOverLimit(7)), role="surgeon", reason="settled", code=None, heard=SAID
        ),
    ),
    (
        "latch_lifted",
        {"latch": "stop", "set_for": "no size can be chosen", "role": None, "reason": "answered again"},
        facts.HoldLifted(
            hold="stop", grounds=Grounds(NoSize()), role=None, reason="answered_again", code=None, heard=None
        ),
    ),
    (
        "latch_lifted",
        {"latch": "stop", "set_for": "x", "role": None, "reason": "held against another value"},
        facts.HoldLifted(
            hold="stop",
            grounds=Grounds(AsWritten("x")),
            role=None,
            reason="held_against_another_value",
            code=None,
            heard=None,
        ),
    ),
    ("override_dropped", {"of": "gaps"}, facts.OverrideDropped(of="gaps")),
    (
        "gaps_accepted",
        {"gaps": ["nv_after@left.pulse"], "role": "surgeon", "reason": "judged", **HEARD},
        facts.GapsAccepted(
            gaps=(OpenReading("nv_after@left", "pulse"),), role="surgeon", reason="judged", code=None, heard=SAID
        ),
    ),
    (
        "stop_word_heard",
        {"word": "pain", "while_lit": True, "mode": "lit", **HEARD},
        facts.StopWordHeard(word="pain", while_lit=True, mode="lit", heard=SAID),
    ),
    (
        "pain_scored",
        {"score": 3, "zone": None, "late": True, **HEARD},
        facts.PainScored(score=3, zone=None, late=True, heard=SAID),
    ),
    ("position_reconfirmed", HEARD, facts.PositionReconfirmed(heard=SAID)),
    ("zone_chosen", {"zone": "z", **HEARD}, facts.ZoneChosen(zone="z", heard=SAID)),
    (
        "light_turned_on",
        {"stage": "a", "zone": "z", "counted_from_s": 3, "heat_reported": True, **HEARD},
        facts.LightTurnedOn(stage="a", zone="z", counted_from_s=3.0, heat_reported=True, heard=SAID),
    ),
    ("light_on_repeated", {"zone": "z", **HEARD}, facts.LightOnRepeated(zone="z", heard=SAID)),
    (
        "light_still_on",
        {"zone": "z", "at_s": 4, "cues": ["half", "next_spot"]},
        facts.LightStillOn(zone="z", at_s=4.0, cues=(Cue.HALF, Cue.NEXT_SPOT)),
    ),
    (
        "light_turned_off",
        {
            "zone": "z",
            "counted_from_s": 3,
            "counted_to_s": 9.5,
            "possible_to_s": 10,
            "credited_s": 6.5,
            "dose_j_cm2": 0.325,
            "end": "beep_heard",
            "reason": "",
            "beeps": "not_judged",
            "flags": ["over_target", "beeps_missing"],
        },
        facts.LightTurnedOff(
            zone="z",
            counted_from_s=3.0,
            counted_to_s=9.5,
            possible_to_s=10.0,
            credited_s=6.5,
            dose_j_cm2=0.325,
            end=RunEnd.BEEP_HEARD,
            reason="",
            beeps=LampAgreement.NOT_JUDGED,
            flags=(LightFlag.OVER_TARGET, LightFlag.BEEPS_MISSING),
            heard=None,
        ),
    ),
    (
        "light_off_said_after_sound",
        {"zone": "z", "agrees": True, "counted_from_s": 3, "counted_to_s": 9, "possible_to_s": 10, **HEARD},
        facts.LightOffSaidAfterSound(
            zone="z", agrees=True, counted_from_s=3.0, counted_to_s=9.0, possible_to_s=10.0, heard=SAID
        ),
    ),
    (
        "lamp_disagreed",
        {"what": "words_apart", "zone": None},
        facts.LampDisagreed(what=LampDisagreement.WORDS_APART, zone=None),
    ),
    ("tone_heard", {"from_s": 1, "to_s": 1.5, "zone": "z"}, facts.LampBeeped(from_s=1.0, to_s=1.5, zone="z")),
    (
        "zone_totalled",
        {
            "zone": "z",
            "lit_s": 6.5,
            "possible_s": 7,
            "target_s": 6,
            "dose_j_cm2": 0.325,
            "quantity": "summed light-on exposure at beam centre",
        },
        facts.ZoneTotalled(zone="z", lit_s=6.5, possible_s=7.0, target_s=6.0, dose_j_cm2=0.325),
    ),
    (
        "warmth_answered",
        {"answer": "warm", "zone": "z", "late": False, **HEARD},
        facts.WarmthAnswered(answer=Warmth.WARM, zone="z", late=False, heard=SAID),
    ),
    ("late_heat_asked", {"overdue": True}, facts.LateHeatAsked(overdue=True)),
    ("strap_removed", {"at_s": 4.5, **HEARD}, facts.StrapRemoved(at_s=4.5, heard=SAID)),
    ("strap_replaced", {"at_s": 4.5, **HEARD}, facts.StrapReplaced(at_s=4.5, heard=SAID)),
    ("sound_lost", {"what": "microphone"}, facts.DeviceLost(what="microphone")),
    ("sound_returned", {"what": "loudspeaker"}, facts.DeviceReturned(what="loudspeaker")),
    ("prompt_cut_short", {"by": "key", "at_s": 4.5}, facts.PromptCutShort(by="key", at_s=4.5)),
    ("sound_overflowed", {"count": 2, "at_s": 4.5}, facts.SoundOverflowed(count=2, at_s=4.5)),
    (
        "practice_planned",
        {"scenario": "hot-zone", "events": [{"answer": None}]},
        facts.PracticePlanned(plan={"scenario": "hot-zone", "events": [{"answer": None}]}),
    ),
    (
        "practice_attempted",
        {"control": "light_on", "at_s": 4.5, "stage": "a"},
        facts.PracticeAttempted(control="light_on", at_s=4.5, stage="a"),
    ),
    (
        "practice_event",
        {
            "event": "e",
            "happening": "talk",
            "who": None,
            "say": None,
            "at_s": 1,
            "to_s": 2,
            "cued": False,
            "again": 0,
        },
        facts.ScenarioEventHappened(
            event="e", happening="talk", who=None, say=None, at_s=1.0, to_s=2.0, cued=False, again=0
        ),
    ),
]
