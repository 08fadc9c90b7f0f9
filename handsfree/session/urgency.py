"""Where light may be on, and what is said before it is on record: whatever ends light or a person's pain.

Never what calls something recorded.
"""

from handsfree.model.commands import STOP_CONTROLS, Control
from handsfree.model.effects import Earcon, Priority
from handsfree.session.deadlines import light_in_doubt
from handsfree.session.heat_report import warmth_is_open
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.following_sentences import ComputedIs, NotComputed
from handsfree.session.prompts.sentence_codes import (
    EarlierStep,
    Echo,
    InsistedOn,
    NothingButDone,
    Prompt,
    ReadBack,
    RecordedLast,
    SaidBack,
    WordsApart,
)
from handsfree.session.state import Said, SessionState

_STOPS = STOP_CONTROLS | {Control.CRY}
CALLING_RECORDED = frozenset(
    {
        Fixed.COMPLETED,
        Fixed.COMPLETED_WITH_OVERRIDES,
        Fixed.ENDED_EARLY,
        Fixed.LAMP_AND_WORDS_DIFFER,
        Fixed.STRAP_OFF,
        Fixed.STRAP_ON,
    }
)
"""Sentences that call something recorded, or say it back as taken."""
CALLING_RECORDED_WITH = (
    ComputedIs,
    Echo,
    EarlierStep,
    InsistedOn,
    NotComputed,
    NothingButDone,
    ReadBack,
    RecordedLast,
    SaidBack,
    WordsApart,
)
"""Such sentences with arguments."""


def is_stop(said: Said | None) -> bool:
    """Whether what somebody said, if anything, is a stop word, or may be a cry."""
    return said is not None and said.control in _STOPS


def light_may_be_on(state: SessionState) -> bool:
    """Whether light is on as far as heard, may be, or was until a moment ago."""
    ended = state.off_owed is not None or Mode.CRIED in state.modes.all
    return state.lit or state.stray is not None or light_in_doubt(state) or ended


def cry_counts(state: SessionState) -> bool:
    """Whether a patient's own words count as what may be a cry: light may be on, or it is asked about heat."""
    if state.modes.top is Mode.NOTING or (state.modes.top is Mode.HELD and state.red):
        return False  # what is dictated is no cry, and what is held for heat is not asked about
    return light_may_be_on(state) or warmth_is_open(state)


def at_once(talk: Prompt | Earcon, *, urgent: bool) -> bool:
    """Whether it is said or sounded before the facts of its event are on the disk.

    Args:
        talk: What.
        urgent: Whether the event was a stop, or light may have been on before or after it.
    """
    if isinstance(talk, Earcon):
        return urgent and talk is not Earcon.RECORDED
    return (urgent or talk.priority is Priority.STOP) and not any(
        sentence in CALLING_RECORDED or isinstance(sentence, CALLING_RECORDED_WITH) for sentence in talk.sentences
    )
