"""Talk beside the procedure: again, help, status, waiting, notes, doubts, what was not taken."""

from dataclasses import replace
from typing import Literal

from handsfree.model.commands import Control, DictateText
from handsfree.model.effects import Earcon, Priority
from handsfree.model.events import RejectionReason, SpeechRejected
from handsfree.model.facts import (
    DoubtSettled,
    HelpGiven,
    NoteBegun,
    NoteDictated,
    SaidAgain,
    StatusTold,
    UtteranceDoubted,
    UtteranceNotTaken,
    VisitPaused,
    VisitResumed,
)
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.deadlines import light_in_doubt
from handsfree.session.examples import example
from handsfree.session.interruptions import coming_back, note_facts
from handsfree.session.light_permission import why_not
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.hints import Hint
from handsfree.session.prompts.hold_sentences import SaidWhileHeld
from handsfree.session.prompts.sentence_codes import DidYouSay, WhatToSay
from handsfree.session.questions import listens
from handsfree.session.questions import status as status_of
from handsfree.session.stages import stages_done
from handsfree.session.state import Said, answered_first
from handsfree.session.stray_light import refuse_light
from handsfree.session.value_intake import goes_on
from handsfree.session.ways import ways_from
from handsfree.session.zones import has_its_light, is_being_lit

HELP_AFTER = 2
"""Rejections in a row after which the session says what would be understood. Common practice, no source."""
ASKED_WHILE_LISTENING = 0.5
"""Probability from which words in doubt are asked about where people narrate and talk to each other: a question into
their talk must be worth it. Chosen here, no source; light is always asked about."""
_NOT_ASKED_ABOUT = frozenset({Mode.LIT, Mode.STRAY, Mode.CRIED, Mode.DOUBTING, Mode.NOTING})
"""Where words in doubt are dropped with a sound: a question would talk into the light, another question, or a note."""


def say_again(now: EventContext) -> Reply:
    """Repeat the last prompt that counts."""
    last = now.state.last_said
    return Reply([SaidAgain(stage=now.stage_name)], [last] if last is not None else [])


def give_help(now: EventContext) -> Reply:
    """Say what may be said now."""
    reply = Reply([HelpGiven(stage=now.stage_name)])
    reply.say(WhatToSay(example(now.visit, now.state)), priority=Priority.INFORMATION)
    return reply


def tell_status(now: EventContext) -> Reply:
    """Say where things stand."""
    fact = StatusTold(stages_done=stages_done(now.visit.plan, now.state)[0])
    return Reply([fact], [status_of(now.visit, now.state)])


def pause(now: EventContext) -> Reply:
    """Take "wait"."""
    now.state.modes.push(Mode.PAUSED)
    now.state.stopped = False
    now.state.acted_upon = True
    reply = Reply([VisitPaused(stage=now.stage_name)])
    reply.say(Fixed.WAITING)
    return reply


def resume(now: EventContext) -> Reply:
    """Take "resume": back to what was going on, with its question asked again."""
    state = now.state
    state.modes.pop(Mode.PAUSED)
    reply = Reply([VisitResumed(stage=now.stage_name)], then=coming_back(now))
    if now.mode is Mode.ASKING and is_being_lit(now.stage, state) and has_its_light(state):
        reply.then = Then.NEXT_ZONE
    return reply


def explain_standstill(now: EventContext) -> Reply:
    """Answer an ordinary answer while the visit stands still: it does not count, and why."""
    reply = now.refuse(RefusalCode.NOT_NOW)
    reply.talk.pop()
    why = SaidWhileHeld(ways_from(now.visit, now.state, answered_first(now.state.holds))) if now.state.holds else None
    why = None if now.mode is Mode.PAUSED else why
    reply.say(why or (Fixed.STOPPED_SAY_RESUME if now.state.stopped else Fixed.WAITING_SAY_RESUME), passing=True)
    return reply


def begin_note(now: EventContext) -> Reply:
    """Take "take note"."""
    now.state.modes.push(Mode.NOTING)
    reply = Reply([NoteBegun(stage=now.stage_name)], [Earcon.HEARD])
    reply.say(Fixed.NOTE_BEGUN)
    return reply


def dictate(now: EventContext) -> Reply:
    """Take free text into the note."""
    command = now.said.command if now.said is not None else None
    if now.mode is not Mode.NOTING or not isinstance(command, DictateText):
        return now.refuse(RefusalCode.NO_NOTE_BEGUN)
    now.state.note.append(command.text)
    return Reply([NoteDictated(text=command.text, heard=now.heard)], [Earcon.HEARD])


def end_note(now: EventContext) -> Reply:
    """Take "end note"."""
    facts = note_facts(now.state, now.stage_name, broken_off=False)
    now.state.modes.pop(Mode.NOTING)
    return Reply(facts, [Earcon.RECORDED], coming_back(now))


def doubt(now: EventContext) -> Reply:
    """Ask whether that was said."""
    said = now.said
    assert said is not None  # noqa: S101 - dispatch calls it for commands
    if now.mode is Mode.DOUBTING and goes_on(now):
        now.state.modes.pop(Mode.DOUBTING)
    if now.mode in _NOT_ASKED_ABOUT:
        fact = UtteranceNotTaken(reason="doubt", words=said.heard.text, heard=said.heard)
        return Reply([fact], [Earcon.NOT_UNDERSTOOD])
    if _is_hardly_meant(now):
        return Reply([UtteranceNotTaken(reason="doubt", words=said.heard.text, heard=said.heard)])
    now.state.modes.push(Mode.DOUBTING)
    now.state.doubt = replace(said, asked=True)
    now.state.doubted_s = now.state.now_s
    reply = Reply([UtteranceDoubted(heard=said.heard)])
    reply.say(DidYouSay(said.heard.text))
    return reply


def _is_hardly_meant(now: EventContext) -> bool:
    """Whether words in doubt are rather talk of people to each other, where the tool only listens."""
    said = now.said
    return (
        said is not None
        and said.heard.probability < ASKED_WHILE_LISTENING
        and said.control is not Control.LIGHT_ON
        and now.heard.engine != "typed"
        and now.mode is Mode.ASKING
        and listens(now.visit, now.state)
    )


def affirm_doubt(now: EventContext) -> Reply:
    """It was said: it is taken now."""
    said = _settled(now)
    fact = DoubtSettled(right=True, words=said.heard.text, heard=now.heard)
    return Reply([fact], redo=said)


def light_on_in_doubt(now: EventContext) -> Reply:
    """Take "light on" while something is asked: said once more it affirms that it was said, else it is too early."""
    if light_in_doubt(now.state):
        return affirm_doubt(now)
    return refuse_light(now, why_not(now.visit.plan, now.state) or Refusal(RefusalCode.ANSWER_FIRST))


def deny_doubt(now: EventContext) -> Reply:
    """It was not said."""
    said = _settled(now)
    reply = Reply([DoubtSettled(right=False, words=said.heard.text, heard=None)])
    reply.say(Fixed.SAY_IT_AGAIN)
    return reply


def _settled(now: EventContext) -> Said:
    said = now.state.doubt
    assert said is not None  # noqa: S101 - the mode is entered with one
    now.state.doubt = None
    now.state.modes.pop(Mode.DOUBTING)
    return said


_REASONS: dict[RejectionReason, Literal["not_understood", "too_noisy"]] = {
    RejectionReason.NOT_UNDERSTOOD: "not_understood",
    RejectionReason.TOO_NOISY: "too_noisy",
}


def reject(now: EventContext) -> Reply:
    """Say by a short sound that nothing was taken; after some in a row, what would be."""
    event = now.event
    assert isinstance(event, SpeechRejected)  # noqa: S101 - dispatch calls it for these
    now.state.rejections += 1
    words = event.heard.text if event.heard is not None else ""
    fact = UtteranceNotTaken(reason=_REASONS[event.reason], words=words, heard=None)
    talk = event.heard is not None and event.reason is RejectionReason.NOT_UNDERSTOOD
    if talk and now.mode is Mode.ASKING and listens(now.visit, now.state):
        # People talk to each other while they narrate: what is taken has its sound, and a gate lists what is missing.
        return Reply([fact])
    reply = Reply([fact], [Earcon.NOT_UNDERSTOOD])
    if event.reason is RejectionReason.TOO_NOISY:
        reply.say(Fixed.TOO_NOISY, priority=Priority.INFORMATION)
    elif now.state.rejections >= HELP_AFTER and now.mode is not Mode.LIT:
        what = example(now.visit, now.state)
        if what is not Hint.NOTHING:
            reply.say(WhatToSay(what), priority=Priority.INFORMATION)
    return reply
