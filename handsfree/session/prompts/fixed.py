"""Sentences that need no argument, what to do first where something holds the visit, and the ways on from there."""

from enum import StrEnum


class Fixed(StrEnum):
    """Sentences without arguments."""

    WAITING = "waiting"
    STILL_STOPPED = "still_stopped"
    STOPPED_SAY_RESUME = "stopped_say_resume"
    WAITING_SAY_RESUME = "waiting_say_resume"
    STOPPED = "stopped"
    STOPPED_WHILE_LIT = "stopped_while_lit"
    RESUME_OR_END = "resume_or_end"
    NOT_ENDED = "not_ended"
    NOTHING_CHANGED = "nothing_changed"
    NOTE_BEGUN = "note_begun"
    SAY_IT_AGAIN = "say_it_again"
    NOT_RECORDED = "not_recorded"
    RECORD_FAILED = "record_failed"
    RECORD_SLOW = "record_slow"
    NOT_DONE = "not_done"
    TOO_NOISY = "too_noisy"
    CHECK_POSITION = "check_position"
    CHECK_POSITION_IN_THE_DARK = "check_position_in_the_dark"
    PRACTICE = "practice"
    NOT_APPROVED = "not_approved"
    NOTHING_EARLIER = "nothing_earlier"
    SAY_LIGHT_ON = "say_light_on"
    STRAP_OFF_THEN_LIGHT = "strap_off_then_light"
    SAID_BACK = "said_back"
    TOLD = "told"
    COMPLETED = "completed"
    ENDED_EARLY = "ended_early"
    LIGHT_OR_LEAVE = "light_or_leave"
    NEXT_STEP_TO_GO_ON = "next_step_to_go_on"
    HALF = "half"
    NEXT_SPOT = "next_spot"
    LIGHT_OFF = "light_off"
    TIME_OVER = "time_over"
    TAKE_AWAY = "take_away"
    LIGHT_OFF_OWED = "light_off_owed"
    LIGHT_OFF_UNCONFIRMED = "light_off_unconfirmed"
    WAS_IT_HEAT = "was_it_heat"
    STRAY_LIGHT = "stray_light"
    ASK_WARMTH = "ask_warmth"
    ASK_WARMTH_WHOLE = "ask_warmth_whole"
    WARMTH = "warmth"
    LIGHT_OFF_TOUCH = "light_off_touch"
    NO_HEAT_REPORT = "no_heat_report"
    HEAT_CAN_COME_LATE = "heat_can_come_late"
    TOUCH_EVERY_ZONE = "touch_every_zone"
    STRAP_OFF = "strap_off"
    STRAP_ON = "strap_on"
    LAMP_AND_WORDS_DIFFER = "lamp_and_words_differ"
    LAMP_STILL_BEEPS = "lamp_still_beeps"
    WHICH_CODE = "which_code"
    ENDING = "ending"
    COMPLETED_WITH_OVERRIDES = "completed_with_overrides"
    BASELINE_MEANT = "baseline_meant"
    BASELINE_LEFT_OUT = "baseline_left_out"


class HoldAction(StrEnum):
    """What to do first where something holds the visit."""

    DO_NOT_GO_ON = "do_not_go_on"
    CALL_SENIOR = "call_senior"
    LIGHT_OFF_LOOK = "light_off_look"
    FIND_OUT = "find_out"
    ASK_WHICH_SIZE = "ask_which_size"
    CHECK_LIGHT = "check_light"


class Consequence(StrEnum):
    """What lifting a hold leads to."""

    STAYS_FLAGGED = "stays_flagged"
    STEP_ASKED_AGAIN = "step_asked_again"
    LIGHT_AGAIN = "light_again"
    GOES_ON = "goes_on"


class WayOn(StrEnum):
    """A way on from where a visit is held."""

    MORE_LIGHT = "more_light"
    CORRECTION = "correction"
    COMPARE_ANYWAY = "compare_anyway"
    LEAVE_IT_OUT = "leave_it_out"
    OVERRIDE = "override"
    LEAVE_ZONE = "leave_zone"
    END_VISIT = "end_visit"
