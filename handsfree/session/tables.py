"""The behaviour of a session in tables: which command is taken in which mode, and by which handler.

How an event runs: `dispatch` looks up the mode on top of the stack (`modes.LIES_ON`) and the kind of command here,
and calls one handler. A handler changes the state and returns a `Reply`: facts, sentences by code, and what it asks
for (`context.Then`). It calls no other handler and moves nothing on. Then `after_handler.settle` does, in one fixed
order: `limits` judge new values, `holds` follow from severities, `zones` say what is lit next, and `navigation` says
where the visit stands. Phases are walked through gates (`phase_gates`), whose guards the procedure file gives
(`definition.plan`).

What may be said is `listening_context.controls`: a subset of these rows, by stage. The stop words stand apart: they are
taken in every mode, whatever else is going on.
"""

from collections.abc import Mapping

from handsfree.model.commands import Control
from handsfree.session import cries, stray_light
from handsfree.session.context import Handler
from handsfree.session.handlers import (
    comparing,
    conversation,
    lamp,
    narrating,
    objecting,
    overriding,
    steps,
    stopping,
    telling,
    values,
    warmth_answers,
)
from handsfree.session.modes import Mode

STOPS: Mapping[Control, Handler] = {
    Control.LIGHT_OFF: lamp.light_off,
    Control.STOP: stopping.stop,
    Control.HOT: stopping.stop,
    Control.PAIN: stopping.stop,
}
"""Taken in every mode but the last, at once, also in doubt."""

_ALWAYS: Mapping[Control, Handler] = {
    Control.SAY_AGAIN: conversation.say_again,
    Control.STATUS: conversation.tell_status,
    Control.HELP: conversation.give_help,
    Control.LIGHT_ON: lamp.light_on,
    Control.CRY: cries.stop_for_cry,
}
_ENDING: Mapping[Control, Handler] = {**_ALWAYS, Control.END_VISIT: overriding.ask_end}
_IDLE: Mapping[Control, Handler] = {
    **_ENDING,
    Control.WAIT: conversation.pause,
    Control.TAKE_NOTE: conversation.begin_note,
    Control.NARRATE: narrating.narrate,
    Control.GUIDE: narrating.guide,
}
_ASKED: Mapping[Control, Handler] = {**_ENDING, Control.MISSING: telling.tell_missing}
_OVERRIDING: Mapping[Control, Handler] = {
    **_ASKED,
    Control.NEGATE: overriding.drop_override,
    Control.CORRECTION: overriding.drop_override,
}

HANDLERS: Mapping[Mode, Mapping[Control, Handler]] = {
    Mode.ASKING: {
        **_IDLE,
        Control.AFFIRM: steps.confirm_step,
        Control.NEGATE: steps.deny_step,
        Control.NEXT_STEP: steps.next_step,
        Control.PREVIOUS_STEP: steps.previous_step,
        Control.SKIP: steps.ask_skip,
        Control.CORRECTION: values.correct,
        Control.OVERRIDE: overriding.ask_override,
        Control.LEAVE_ZONE: overriding.ask_leave,
        Control.MISSING: telling.tell_missing,
        Control.LAST: steps.end_repeat,
        Control.STRAP_OFF: lamp.strap,
        Control.STRAP_ON: lamp.strap,
    },
    Mode.READING_BACK: {
        **_IDLE,
        **_ASKED,
        Control.AFFIRM: values.affirm_read_back,
        Control.NEGATE: values.dispute,
        Control.CORRECTION: values.dispute,
    },
    Mode.CHECKING: {
        **_IDLE,
        **_ASKED,
        Control.AFFIRM: objecting.affirm_standing,
        Control.NEGATE: objecting.object_to_standing,
        Control.CORRECTION: objecting.object_to_standing,
    },
    Mode.LIT: {
        Control.LIGHT_ON: lamp.light_on,
        Control.STRAP_OFF: lamp.strap,
        Control.STRAP_ON: lamp.strap,
        Control.STATUS: conversation.tell_status,
        Control.NEXT_STEP: lamp.refuse_while_lit,
        Control.WAIT: lamp.refuse_while_lit,
        Control.CRY: cries.stop_for_cry,
    },
    Mode.CRIED: {**_ALWAYS, Control.AFFIRM: cries.affirm_heat, Control.NEGATE: cries.deny_heat},
    Mode.WARMTH: _IDLE,
    Mode.LATE_HEAT: _IDLE,
    Mode.HELD: {
        **_IDLE,
        **_ASKED,
        Control.OVERRIDE: overriding.ask_override,
        Control.LEAVE_ZONE: overriding.ask_leave,
        Control.CORRECTION: values.correct,
        Control.PREVIOUS_STEP: steps.previous_step,
    },
    Mode.OPEN_ITEMS: {
        **_IDLE,
        Control.CORRECTION: values.correct,
        Control.OVERRIDE: overriding.ask_override,
        Control.NEXT_STEP: steps.next_step,
        Control.PREVIOUS_STEP: steps.previous_step,
    },
    Mode.RECONFIRM: {**_IDLE, Control.AFFIRM: lamp.reconfirm_position},
    Mode.PAUSED: {
        **_ENDING,
        Control.RESUME: conversation.resume,
        Control.OVERRIDE: overriding.ask_override,
        Control.TAKE_NOTE: conversation.begin_note,
    },
    Mode.NOTING: {Control.END_NOTE: conversation.end_note, Control.LIGHT_ON: lamp.light_on},
    Mode.STRAY: {**_ALWAYS, Control.LIGHT_ON: stray_light.tell_again, Control.NEGATE: stray_light.deny_light},
    Mode.DOUBTING: {
        **_ALWAYS,
        Control.AFFIRM: conversation.affirm_doubt,
        Control.NEGATE: conversation.deny_doubt,
        Control.LIGHT_ON: conversation.light_on_in_doubt,
    },
    Mode.SKIP_REASON: {**_ASKED, Control.NEGATE: steps.drop_skip, Control.CORRECTION: steps.drop_skip},
    Mode.OVERRIDE_ROLE: _OVERRIDING,
    Mode.OVERRIDE_REASON: _OVERRIDING,
    Mode.OVERRIDE_CODE: _OVERRIDING,
    Mode.MISHEARD: {
        **_ASKED,
        Control.AFFIRM: values.affirm_misheard,
        Control.NEGATE: values.deny_misheard,
    },
    Mode.OVERRIDE_CONFIRM: {
        **_ASKED,
        Control.AFFIRM: overriding.apply_override,
        Control.NEGATE: overriding.drop_override,
    },
    Mode.CLOSED: {},
}

SAID_BACK: Mapping[Control, Handler] = {
    Control.AFFIRM: objecting.affirm_said_back,
    Control.NEGATE: objecting.object_to_standing,
    Control.CORRECTION: objecting.object_to_standing,
}
"""Answers to what was said back inside the last prompt, while that stands and nothing else is open: they come before
those to the question of the prompt."""

BREATH: Mapping[Control, Handler] = {
    Control.AFFIRM: narrating.affirm_breath,
    Control.NEGATE: narrating.dispute_breath,
    Control.CORRECTION: narrating.dispute_breath,
}
"""Answers to the read-back of a breath of a narrated visit."""

VALUES: Mapping[Mode, Handler] = {
    Mode.ASKING: values.take_values,
    Mode.HELD: comparing.answer_baseline,
    Mode.LIT: warmth_answers.answer_warmth,
    Mode.WARMTH: warmth_answers.answer_warmth,
    Mode.LATE_HEAT: warmth_answers.answer_warmth,
    Mode.PAUSED: warmth_answers.answer_warmth,
    Mode.SKIP_REASON: steps.take_skip_reason,
    Mode.OVERRIDE_ROLE: overriding.take_role,
    Mode.OVERRIDE_REASON: overriding.take_reason,
    Mode.OVERRIDE_CODE: overriding.take_code,
}
"""Who takes values, where values are asked for; at a stage of light they name a zone (`lamp.choose_zone`). Values of
words that went on after a pause are taken in place of those from their beginning (`values.hear_further`)."""
