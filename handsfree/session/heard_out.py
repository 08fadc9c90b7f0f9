"""How much of a prompt must be heard before anybody's voice breaks it off, or an answer to it counts.

A value that was said back and not heard is confirmed by nobody: a person who talks over it has not heard what was
understood, and an "affirmative" then would let a wrong one pass. So it is with everything that people answer because of
what it states: words in doubt, reasons of a hold, what an override leads to, cautions, flags. A question alone may be
broken off, because what is asked stands in the procedure, and an answer in its own words is said back.
"""

from collections.abc import Sequence

from handsfree.model.commands import Control
from handsfree.model.effects import Earcon, Priority
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.hold_sentences import FlaggedSoFar, HeldInStatus, LeftOpen, WhichReason
from handsfree.session.prompts.sentence_codes import (
    Correcting,
    FileText,
    LightSoFar,
    MoreMissing,
    NoHeatReport,
    NowListening,
    OneQuestionLeft,
    Prompt,
    RefusedBecause,
    SizeChosenIs,
    StepsDone,
    StillMissing,
    StillOpen,
    TimerLeft,
    WhatToSay,
    ZoneAgain,
    ZoneFull,
    ZoneIs,
    ZoneOver,
    ZoneShort,
)
from handsfree.session.prompts.wording import Wording

ASKS_ALONE = frozenset({Mode.ASKING, Mode.WARMTH, Mode.SKIP_REASON, Mode.NOTING, Mode.PAUSED})
"""Modes in which the last prompt is a question, or nothing but an invitation. In any other the whole of it states
something that is answered: a read-back, words in doubt, a hold, an override, what is open."""
MAY_BREAK = (
    Correcting,
    FileText,
    Fixed,
    FlaggedSoFar,
    HeldInStatus,
    LeftOpen,
    LightSoFar,
    MoreMissing,
    NoHeatReport,
    NowListening,
    OneQuestionLeft,
    RefusedBecause,
    SizeChosenIs,
    StepsDone,
    StillMissing,
    StillOpen,
    TimerLeft,
    WhatToSay,
    WhichReason,
    ZoneAgain,
    ZoneFull,
    ZoneIs,
    ZoneOver,
    ZoneShort,
)
"""Sentences that ask, refuse, or report what somebody asked for. Any other states something that follows from what was
understood, and is heard out: a sentence that nobody put here is."""
TAKES_BACK = frozenset({Control.NEGATE, Control.CORRECTION})
"""What may be said before the end of what it answers: it keeps nothing, and a wrong value is most quickly told so."""
TAKEN_BACK_IN = frozenset({Mode.READING_BACK, Mode.CHECKING, Mode.DOUBTING})
"""Where these only take back what was said back. Elsewhere "negative" may answer a question, or lift a hold."""


def heard_out(talk: Sequence[Prompt | Earcon], number: int, mode: Mode, wording: Wording) -> int:
    """How many characters of a prompt must be heard out.

    Args:
        talk: Everything that an event is answered with.
        number: Which of it; a prompt.
        mode: What the session is doing after it.
        wording: Says codes in words.
    """
    prompt = talk[number]
    assert isinstance(prompt, Prompt)  # noqa: S101 - sounds are over before anybody could speak
    is_last = not any(isinstance(later, Prompt) for later in talk[number + 1 :])
    if not is_last or mode not in ASKS_ALONE or prompt.priority >= Priority.ATTENTION:
        return len(wording.prompt(prompt))
    stating = [place for place, sentence in enumerate(prompt.sentences) if not isinstance(sentence, MAY_BREAK)]
    if not stating:
        return 0
    return len(wording.prompt(Prompt(prompt.sentences[: stating[-1] + 1])))
