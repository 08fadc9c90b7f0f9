"""The question about warmth, asked again while nobody has answered it."""

from handsfree.model.effects import Priority
from handsfree.session.context import EventContext, Reply
from handsfree.session.modes import Mode
from handsfree.session.prompts.sentence_codes import Prompt
from handsfree.session.questions import late_warmth, warmth


def ask_warmth_again(now: EventContext) -> Reply:
    """Nobody has answered about warmth for a while: it is asked again, and keeps nobody from anything else."""
    state, guidance = now.state, now.guidance
    if state.now_s < state.warmth_asked_s + guidance.warmth_again_s:
        return Reply()
    state.warmth_asked_s = state.now_s
    late = now.mode is Mode.LATE_HEAT
    return Reply([], [late_warmth(guidance) if late else Prompt((warmth(guidance),), Priority.ATTENTION)])
