"""Which of people's own words count, by what is going on."""

from collections.abc import Mapping

from handsfree.model.commands import OwnWords
from handsfree.session.modes import Mode
from handsfree.session.narrated_listening import may_narrate
from handsfree.session.state import SessionState
from handsfree.session.visit import Visit

ASKS_WHETHER_IT_IS_SO = frozenset({Mode.READING_BACK, Mode.CHECKING, Mode.DOUBTING})
"""Here a bare yes or no is taken, as where a step asks whether something was done. Not where the patient was told
something, who says yes to that. Nor after a cry, where "light off?" is asked in the same breath as "was it hot?"; nor
where an override is read back, or a first value was misheard: those lift what holds the visit."""
_CANCELLED: Mapping[Mode, OwnWords] = dict.fromkeys(
    (
        Mode.READING_BACK,
        Mode.DOUBTING,
        Mode.SKIP_REASON,
        Mode.OVERRIDE_ROLE,
        Mode.OVERRIDE_REASON,
        Mode.OVERRIDE_CODE,
        Mode.OVERRIDE_CONFIRM,
    ),
    OwnWords.CANCEL_NEGATES,
)
"""Where "cancel" means the same as "negative"."""


def asks_yes_or_no(visit: Visit, state: SessionState) -> bool:
    """Whether the last question can be answered by yes or no, and by nobody else."""
    if state.modes.top is Mode.ASKING:
        unasked = state.reviewing or (state.narrated and not state.asked)
        return visit.plan.stage(state.place).step.kind == "confirm" and not unasked
    return state.modes.top in ASKS_WHETHER_IT_IS_SO


def said_when_done(visit: Visit, state: SessionState) -> tuple[str, ...]:
    """How people say that what a step asks about was done, in the words of its file; they count where yes does.

    Not where the same words may be narrated.
    """
    asks = state.modes.top is Mode.ASKING and asks_yes_or_no(visit, state) and not may_narrate(visit, state)
    return visit.plan.stage(state.place).step.reported if asks else ()


def own_words(visit: Visit, state: SessionState) -> frozenset[OwnWords]:
    """Words whose meaning hangs on what is going on."""
    mode, stage = state.modes.top, visit.plan.stage(state.place)
    if mode in _CANCELLED:
        return frozenset({_CANCELLED[mode]})
    if mode is Mode.PAUSED:
        return frozenset({OwnWords.GO_ON_RESUMES})
    if mode is not Mode.ASKING:
        return frozenset()
    found: set[OwnWords] = set()
    if stage.id in state.corrected:
        found.add(OwnWords.CANCEL_TAKES_BACK)
    elif state.unconfirmed:
        found.add(OwnWords.CANCEL_CORRECTS)
    if not state.reviewing:
        found |= {"confirm": {OwnWords.DONE, OwnWords.NOT_DONE}, "teach": {OwnWords.TAUGHT}}.get(stage.step.kind, set())
    return frozenset(found)
