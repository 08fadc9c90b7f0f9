"""What every command and every other event leads to, at every place where a visit can stand. Kept by hand.

The rules are the laws of this project (DEVELOPERS.md), common practice, no source: stop words act in every mode, also
in doubt and in a pause; hot or painful after any light holds the visit; nothing but the asked answer confirms; what is
not legal is refused aloud and changes nothing; what interrupts returns to what it interrupted.
"""

from decimal import Decimal

from handsfree.model.readings import Absent, AbsentReason

NOT_DONE = Absent(AbsentReason.NOT_PERFORMED)


def visit(*turns):
    """A way to a place: each turn is the name of a step to go to, or what is done on a talk."""

    def walk(talk):
        for turn in turns:
            if isinstance(turn, str):
                talk.go_to(turn)
            else:
                turn(talk)

    return walk


def say(*controls):
    return lambda talk: [talk.say(control) for control in controls]


def give(**values):
    return lambda talk: talk.give(**values)


def doubt(control=None, **values):
    return lambda talk: talk.give(doubted=True, **values) if values else talk.say(control, doubted=True)


def light(seconds):
    return lambda talk: talk.light(seconds)


def wait(seconds):
    return lambda talk: talk.wait(seconds)


def crash(talk):
    talk.crash()


def to_the_end(talk):
    talk.go_to("advice")
    say("affirm", "affirm")(talk)


REFILL = {"refill": Decimal(1)}
GAP = visit(
    "nerve_before@left", give(touch=NOT_DONE, **REFILL), say("affirm"), to_the_end, wait(130), give(warmth="cool")
)
MISHEARD = visit(
    *("nerve_before@left", give(touch="absent", **REFILL), say("affirm", "correction")),
    *(give(touch="intact", **REFILL), say("affirm")),
)
STUCK = visit("ring", give(ring="stuck"))
READ_BACK = visit("angle", give(wrist=18))
LIT = visit("cure_open", say("light_on"))
WARMTH = visit("cure_open", light(6.1))
LATE = visit("nerve_after@left", wait(70))
STOPPED = visit("ring", say("stop"))
NARRATED = visit("ring", say("narrate"))
CHECKING = visit("next_care", say("narrate"), give(**{"next_care.place": "home"}))
ROLE, REASON = give(role="nurse"), give(reason="reviewed")

PLACES = {
    # name: (mode, what it interrupts or None, way)
    "choose_first": ("asking", None, visit("session_kind")),
    "side": ("asking", None, visit("side")),
    "tell": ("asking", None, visit("hello")),
    "choose_soft": ("asking", None, visit("remark")),
    "finding": ("asking", None, visit("ring")),
    "measure": ("asking", None, visit("band")),
    "partly": ("asking", None, visit("nerve_before@left", give(**REFILL))),
    "identify": ("asking", None, visit("pack")),
    "confirm": ("asking", None, visit("eyewear")),
    "expose": ("asking", None, visit("cure_open")),
    "expose_short": ("asking", None, visit("cure_open", light(2), give(warmth="cool"))),
    "strap": ("asking", None, visit("cure_strap")),
    "after": ("asking", None, visit("nerve_after@left")),
    "teach": ("asking", None, visit("advice")),
    "corrected": ("asking", None, visit("angle", say("correction"))),
    "reviewing": ("asking", None, visit("eyewear", say("previous_step"))),
    "reviewing_confirm": ("asking", None, visit("angle", say("previous_step"))),
    "reviewing_light": ("asking", None, visit("cure_strap", say("previous_step"))),
    "reading_back": ("reading_back", "asking", READ_BACK),
    "reading_back_after_light": ("reading_back", "asking", visit("nerve_after@left", give(touch="intact", **REFILL))),
    "lit": ("lit", "asking", LIT),
    "cried": ("cried", "asking", visit(LIT, say("cry"))),
    "lit_strap": ("lit", "asking", visit("cure_strap", say("strap_off", "light_on"))),
    "warmth": ("warmth", "asking", WARMTH),
    "late_heat": ("late_heat", "asking", LATE),
    "late_heat_at_end": ("late_heat", "open_items", visit(to_the_end, wait(130))),
    "held_red": ("held", None, visit("nerve_before@left", give(touch="absent", **REFILL), say("affirm"))),
    "held_red_lit": ("held", None, visit(LIT, say("hot"))),
    "held_stop": ("held", None, STUCK),
    "held_corrected": ("asking", None, visit(STUCK, say("correction"))),
    "held_reviewed": ("asking", None, visit(STUCK, say("previous_step"))),
    "held_light": ("held", None, visit()),  # with a lamp whose output check is overdue
    "misheard": ("misheard", "held", MISHEARD),
    "open_gap": ("open_items", None, GAP),
    "one_question": ("open_items", None, to_the_end),
    "reconfirm": ("reconfirm", None, visit(LIT, wait(3), crash)),
    "paused": ("paused", "asking", STOPPED),
    "waiting": ("paused", "asking", visit("ring", say("wait"))),
    "waiting_read_back": ("paused", "reading_back", visit(READ_BACK, say("wait"))),
    "paused_after_light": ("paused", "warmth", visit(LIT, say("stop"))),
    "waiting_warmth": ("paused", "warmth", visit(WARMTH, say("wait"))),
    "waiting_late": ("paused", "late_heat", visit(LATE, say("wait"))),
    "noting": ("noting", "asking", visit("ring", say("take_note"), lambda talk: talk.dictate("swelling"))),
    "noting_paused": ("noting", "paused", visit(STOPPED, say("take_note"))),
    "noting_light": ("noting", "asking", visit("cure_open", light(2), give(warmth="cool"), say("take_note"))),
    "noting_read_back": ("noting", "reading_back", visit(READ_BACK, say("take_note"))),
    "stray": ("stray", "asking", visit("eyewear", say("light_on"))),
    "stray_in_a_note": ("stray", "noting", visit("ring", say("take_note", "light_on"))),
    "doubting": ("doubting", "asking", visit("ring", doubt(ring="stuck"))),
    "doubting_light": ("doubting", "asking", visit("cure_open", doubt("light_on"))),
    "doubting_read_back": ("doubting", "reading_back", visit(READ_BACK, doubt("affirm"))),
    "doubting_paused": ("doubting", "paused", visit(STOPPED, doubt("resume"))),
    "doubting_warmth": ("doubting", "warmth", visit(WARMTH, doubt(warmth="cool"))),
    "doubting_reason": ("doubting", "override_reason", visit(STUCK, say("override"), ROLE, doubt(reason="reviewed"))),
    "skip_reason": ("skip_reason", "asking", visit("remark", say("skip"))),
    "hold_role": ("override_role", "held", visit(STUCK, say("override"))),
    "hold_reason": ("override_reason", "held", visit(STUCK, say("override"), ROLE)),
    "hold_code": ("override_code", "held", visit(STUCK, say("override"), ROLE, give(reason="agreed"))),
    "hold_confirm": ("override_confirm", "held", visit(STUCK, say("override"), ROLE, REASON)),
    "end_role": ("override_role", "paused", visit(STOPPED, say("override"))),
    "end_reason": ("override_reason", "paused", visit(STOPPED, say("override"), ROLE)),
    "end_confirm": ("override_confirm", "paused", visit(STOPPED, say("override"), ROLE, REASON)),
    "gap_role": ("override_role", "open_items", visit(GAP, say("override"))),
    "gap_reason": ("override_reason", "open_items", visit(GAP, say("override"), ROLE)),
    "gap_confirm": ("override_confirm", "open_items", visit(GAP, say("override"), ROLE, REASON)),
    "narrated": ("asking", None, NARRATED),
    "narrated_breath": ("reading_back", "asking", visit(NARRATED, give(**{"band.first": 16, "band.second": 16}))),
    "checking": ("checking", "asking", CHECKING),
    "waiting_checked": (
        "paused",
        "checking",
        visit("next_care", say("narrate"), give(**{"next_care.place": "home"}), say("wait")),
    ),
    "closed": ("closed", None, visit(STOPPED, say("override"), ROLE, REASON, say("affirm"))),
}
"""Where a visit of the small procedure can stand."""

SAME, BENEATH = "same", "beneath"
"""Modes of the legend that depend on the place: as it was, and what the mode interrupts."""

REFUSALS = {
    ".": "not_now",
    "1s!": "first_step",
    "an!": "answer_needed",
    "as!": "answer_or_skip",
    "dk!": "light_was_not_on",
    "ki!": "kind_is_fixed",
    "nc!": "nothing_to_correct",
    "no!": "nothing_to_override",
    "nv!": "holds_no_value",
    "of!": "light_off_first",
    "zs!": "zone_has_its_seconds",
}
"""Refused aloud and on record, by the code of the refusal; the mode stays."""

LEGEND = {
    # code: (facts, mode afterwards)
    "0": ("", SAME),  # no effect of any kind
    "say": ("", SAME),  # told again, nothing on record
    "aga": ("said_again", SAME),
    "sta": ("status_told", SAME),
    "hlp": ("help_given", SAME),
    "wai": ("visit_paused", "paused"),
    "rsm": ("visit_resumed", BENEATH),
    "not": ("note_begun", "noting"),
    "nte": ("note_taken", BENEATH),
    "nob": ("", BENEATH),  # a note without words
    "con": ("step_confirmed step_entered", "asking"),
    "tel": ("step_told step_entered", "asking"),
    "tau": ("item_taught", "asking"),
    "den": ("step_denied", "asking"),
    "rev": ("step_reviewed", "asking"),
    "ent": ("step_entered", "asking"),
    "opn": ("correction_opened", "asking"),
    "cdr": ("correction_dropped step_entered", "asking"),
    "cdh": ("correction_dropped", "held"),
    "drp": ("values_dropped", "asking"),
    "dis": ("read_back_disputed", "asking"),
    "kep": ("reading_confirmed step_entered", "asking"),
    "kp2": ("reading_confirmed reading_confirmed step_entered", "asking"),
    "why": ("", "skip_reason"),
    "skd": ("skip_dropped", BENEATH),
    "rol": ("", "override_role"),
    "msh": ("hold_lifted step_entered", "asking"),
    "kpt": ("hold_kept", "held"),
    "rbe": ("override_dropped", "override_role"),  # begun anew, to end the visit
    "ovd": ("override_dropped", BENEATH),
    "lif": ("hold_lifted step_overridden step_entered", "asking"),
    "acc": ("gaps_accepted visit_closed", "closed"),
    "end": ("visit_ended_early visit_closed", "closed"),
    "cls": ("close_refused", "open_items"),
    "hld": ("", "held"),  # back where it is held
    "pos": ("position_reconfirmed", "asking"),
    "lit": ("light_turned_on", "lit"),
    "rep": ("light_on_repeated", "lit"),
    "ofc": ("light_off_confirmed", SAME),
    "off": ("light_turned_off zone_totalled", "warmth"),
    "sof": ("strap_removed", SAME),
    "son": ("strap_replaced", SAME),
    "str": ("command_refused stray_light_began", "stray"),  # a step that is owed
    "sno": ("refused=no_light_here stray_light_began", "stray"),
    "ssh": ("refused=strap_off_first stray_light_began", "stray"),
    "sht": ("refused=heat_first stray_light_began", "stray"),
    "swa": ("refused=warmth_first stray_light_began", "stray"),
    "she": ("refused=held stray_light_began", "stray"),
    "spo": ("refused=position_first stray_light_began", "stray"),
    "srs": ("refused=resume_first stray_light_began", "stray"),
    "san": ("refused=answer_first stray_light_began", "stray"),
    "snd": ("stray_light_ended", BENEATH),
    "sdo": ("stray_light_began stray_light_ended", BENEATH),
    "sst": ("stray_light_ended stop_word_heard", "paused"),
    "sre": ("stray_light_ended stop_word_heard hold_set=red", "held"),
    "sds": ("stray_light_began stray_light_ended stop_word_heard", "paused"),
    "sdr": ("stray_light_began stray_light_ended stop_word_heard hold_set=red", "held"),
    "brS": ("visit_continued status_told", "stray"),
    "brD": ("visit_continued stray_light_began status_told", "stray"),
    "cry": ("light_turned_off zone_totalled cry_heard", "cried"),
    "cra": ("cry_heard", SAME),  # asked anew
    "crw": ("cry_heard", "cried"),  # where it is asked about heat
    "crs": ("stray_light_ended cry_heard", "cried"),
    "crd": ("stray_light_began stray_light_ended cry_heard", "cried"),
    "yhe": ("cry_settled hold_set=red", "held"),
    "nhe": ("cry_settled", "asking"),
    "nar": ("working_changed", SAME),
    "nrb": ("working_changed", "reading_back"),  # what was said is read back first
    "gde": ("working_changed step_entered", "asking"),
    "mis": ("missing_told", SAME),
    "kbr": ("step_entered reading_confirmed reading_confirmed size_chosen step_entered", "asking"),
    "sdp": ("standing_disputed", "asking"),
    "lof": ("light_off_confirmed zone_totalled", SAME),
    # a doubt that is affirmed
    "yst": ("doubt_settled reading_proposed reading_confirmed hold_set=stop", "held"),
    "yli": ("doubt_settled light_turned_on", "lit"),
    "yke": ("doubt_settled reading_confirmed step_entered", "asking"),
    "yre": ("doubt_settled visit_resumed", "asking"),
    "ywa": ("doubt_settled warmth_answered", "asking"),
    "yov": ("doubt_settled", "override_confirm"),
    "dno": ("doubt_settled", BENEATH),
    # stop words
    "stp": ("stop_word_heard", "paused"),
    "nst": ("stop_word_heard note_taken", "paused"),
    "red": ("stop_word_heard hold_set=red", "held"),
    "wrd": ("stop_word_heard", "held"),  # held for the same word already
    "ofs": ("light_turned_off zone_totalled stop_word_heard", "paused"),
    "ofr": ("light_turned_off zone_totalled stop_word_heard hold_set=red", "held"),
    # events
    "los": ("device_lost", SAME),
    "cut": ("device_lost light_turned_off zone_totalled", "reconfirm"),
    "bck": ("device_returned", SAME),
    "unt": ("utterance_not_taken", SAME),
    "dbt": ("utterance_doubted", "doubting"),
    "lso": ("light_still_on", "lit"),
    "bee": ("lamp_beeped", "lit"),
    "aft": ("lamp_beeped lamp_disagreed", SAME),
    "brA": ("visit_continued status_told", "asking"),
    "brH": ("visit_continued status_told", "held"),
    "brO": ("visit_continued status_told", "open_items"),
    "brP": ("visit_continued status_told", "paused"),
    "brR": ("visit_continued status_told", "reconfirm"),
    "brQ": ("visit_continued status_told", SAME),  # nobody has said yet whether it was heat
    "brC": ("visit_continued light_turned_off zone_totalled status_told", "reconfirm"),
    "brN": ("visit_continued note_taken status_told", "asking"),
}

COMMAND_ORDER = (
    *("affirm", "negate", "say_again", "next_step", "previous_step", "correction", "wait", "resume", "take_note"),
    *("end_note", "status", "help", "light_on", "strap_off", "strap_on", "skip", "override", "leave_zone", "end_visit"),
    *("light_off", "stop", "hot", "pain", "cry"),
)
COMMANDS = """
                         aff neg aga nxt prv cor wai res not end sta hlp on  sof son ski ovr lvz evi off stp hot pai cry
choose_first             .   .   aga an! 1s! nc! wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
side                     .   .   aga an! rev ki! wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
tell                     con .   aga tel rev opn wai .   not .   sta hlp str .   .   why .   .   rol dk! stp stp stp .
choose_soft              .   .   aga as! rev nv! wai .   not .   sta hlp str .   .   why .   .   rol dk! stp stp stp .
finding                  .   .   aga an! rev opn wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
measure                  .   .   aga an! rev opn wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
partly                   .   .   aga an! rev drp wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
identify                 .   .   aga an! rev opn wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
confirm                  con den aga an! rev opn wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
expose                   .   .   aga an! rev opn wai .   not .   sta hlp lit sof son .   .   rol rol dk! stp stp stp .
expose_short             .   .   aga an! rev opn wai .   not .   sta hlp lit sof son .   .   rol rol dk! stp red red .
strap                    .   .   aga an! rev opn wai .   not .   sta hlp ssh sof son .   .   rol rol dk! stp red red .
after                    .   .   aga an! rev opn wai .   not .   sta hlp sno .   .   .   .   .   rol dk! stp red red .
teach                    tau den aga an! rev opn wai .   not .   sta hlp sno .   .   .   .   .   rol dk! stp red red .
corrected                con den aga cdr rev opn wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
reviewing                .   .   aga ent rev opn wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
reviewing_confirm        .   .   aga ent rev opn wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
reviewing_light          .   .   aga ent rev nv! wai .   not .   sta hlp lit sof son .   .   zs! rol dk! stp red red .
reading_back             kep dis aga .   .   dis wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
reading_back_after_light kp2 dis aga .   .   dis wai .   not .   sta hlp sno .   .   .   .   .   rol dk! stp red red .
lit                      of! of! of! of! of! of! of! of! of! of! sta of! rep sof son of! of! of! of! off ofs ofr ofr cry
cried                    yhe nhe aga .   .   .   .   .   .   .   sta hlp sht .   .   .   .   .   .   lof stp red red cra
lit_strap                of! of! of! of! of! of! of! of! of! of! sta of! rep sof son of! of! of! of! off ofs ofr ofr cry
warmth                   .   .   aga .   .   .   wai .   not .   sta hlp swa .   .   .   .   .   rol dk! stp red red crw
late_heat                .   .   aga .   .   .   wai .   not .   sta hlp sno .   .   .   .   .   rol dk! stp red red crw
late_heat_at_end         .   .   aga .   .   .   wai .   not .   sta hlp sno .   .   .   .   .   rol dk! stp red red crw
held_red                 .   .   aga .   .   opn wai .   not .   sta hlp str .   .   .   rol .   rol dk! stp stp stp .
held_red_lit             .   .   aga .   .   nv! wai .   not .   sta hlp she .   .   .   rol rol rol lof stp wrd red .
held_stop                .   .   aga .   rev opn wai .   not .   sta hlp str .   .   .   rol .   rol dk! stp stp stp .
held_corrected           .   .   aga cdh rev opn wai .   not .   sta hlp str .   .   .   rol .   rol dk! stp stp stp .
held_reviewed            .   .   aga hld rev opn wai .   not .   sta hlp str .   .   .   rol .   rol dk! stp stp stp .
held_light               .   .   aga .   1s! ki! wai .   not .   sta hlp str .   .   .   rol .   rol dk! stp stp stp .
misheard                 msh kpt aga .   .   .   .   .   .   .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
open_gap                 .   .   aga cls rev opn wai .   not .   sta hlp sno .   .   .   rol .   rol dk! stp red red .
one_question             .   .   aga say rev opn wai .   not .   sta hlp sno .   .   .   no! .   rol dk! stp red red .
reconfirm                pos .   aga .   .   .   wai .   not .   sta hlp spo .   .   .   .   .   rol ofc stp red red crw
paused                   .   .   aga .   .   .   .   rsm not .   sta hlp str .   .   .   rol .   rol dk! stp stp stp .
waiting                  .   .   aga .   .   .   .   rsm not .   sta hlp str .   .   .   rol .   rol dk! stp stp stp .
waiting_read_back        .   .   aga .   .   .   .   rsm not .   sta hlp str .   .   .   rol .   rol dk! stp stp stp .
paused_after_light       .   .   aga .   .   .   .   rsm not .   sta hlp srs .   .   .   rol .   rol lof stp red red crw
waiting_warmth           .   .   aga .   .   .   .   rsm not .   sta hlp srs .   .   .   rol .   rol dk! stp red red .
waiting_late             .   .   aga .   .   .   .   rsm not .   sta hlp sno .   .   .   rol .   rol dk! stp red red .
noting                   .   .   .   .   .   .   .   .   .   nte .   .   str .   .   .   .   .   .   dk! nst nst nst .
noting_paused            .   .   .   .   .   .   .   .   .   nob .   .   str .   .   .   .   .   .   dk! stp stp stp .
noting_light             .   .   .   .   .   .   .   .   .   nob .   .   san .   .   .   .   .   .   dk! stp red red .
noting_read_back         .   .   .   .   .   .   .   .   .   nob .   .   str .   .   .   .   .   .   dk! stp stp stp .
stray                    .   snd aga .   .   .   .   .   .   .   sta hlp say .   .   .   .   .   .   snd sst sre sre crs
stray_in_a_note          .   snd aga .   .   .   .   .   .   .   sta hlp say .   .   .   .   .   .   snd sst sre sre crs
doubting                 yst dno aga .   .   .   .   .   .   .   sta hlp str .   .   .   .   .   .   dk! stp stp stp .
doubting_light           yli dno aga .   .   .   .   .   .   .   sta hlp yli .   .   .   .   .   .   sdo sds sdr sdr crd
doubting_read_back       yke dno aga .   .   .   .   .   .   .   sta hlp str .   .   .   .   .   .   dk! stp stp stp .
doubting_paused          yre dno aga .   .   .   .   .   .   .   sta hlp str .   .   .   .   .   .   dk! stp stp stp .
doubting_warmth          ywa dno aga .   .   .   .   .   .   .   sta hlp san .   .   .   .   .   .   dk! stp red red .
doubting_reason          yov dno aga .   .   .   .   .   .   .   sta hlp str .   .   .   .   .   .   dk! stp stp stp .
skip_reason              .   skd aga .   .   skd .   .   .   .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
hold_role                .   ovd aga .   .   ovd .   .   .   .   sta hlp str .   .   .   .   .   rbe dk! stp stp stp .
hold_reason              .   ovd aga .   .   ovd .   .   .   .   sta hlp str .   .   .   .   .   rbe dk! stp stp stp .
hold_code                .   ovd aga .   .   ovd .   .   .   .   sta hlp str .   .   .   .   .   rbe dk! stp stp stp .
hold_confirm             lif ovd aga .   .   .   .   .   .   .   sta hlp str .   .   .   .   .   rbe dk! stp stp stp .
end_role                 .   ovd aga .   .   ovd .   .   .   .   sta hlp str .   .   .   .   .   rbe dk! stp stp stp .
end_reason               .   ovd aga .   .   ovd .   .   .   .   sta hlp str .   .   .   .   .   rbe dk! stp stp stp .
end_confirm              end ovd aga .   .   .   .   .   .   .   sta hlp str .   .   .   .   .   rbe dk! stp stp stp .
gap_role                 .   ovd aga .   .   ovd .   .   .   .   sta hlp sno .   .   .   .   .   rbe dk! stp red red .
gap_reason               .   ovd aga .   .   ovd .   .   .   .   sta hlp sno .   .   .   .   .   rbe dk! stp red red .
gap_confirm              acc ovd aga .   .   .   .   .   .   .   sta hlp sno .   .   .   .   .   rbe dk! stp red red .
narrated                 .   .   aga mis rev opn wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
narrated_breath          kbr dis aga .   .   dis wai .   not .   sta hlp str .   .   .   .   .   rol dk! stp stp stp .
checking                 kep sdp aga .   .   sdp wai .   not .   sta hlp sno .   .   .   .   .   rol dk! stp red red .
waiting_checked          .   .   aga .   .   .   .   rsm not .   sta hlp sno .   .   .   rol .   rol dk! stp red red .
closed                   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0   0
"""
