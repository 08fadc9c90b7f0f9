"""Sentences said aloud one after the other, after a session, until they are over or somebody says a stop word."""

import threading
from collections.abc import Callable, Iterable

from handsfree.audio.port import Player
from handsfree.clock import Clock
from handsfree.model.audio import Speech
from handsfree.model.commands import STOP_CONTROLS, ControlCommand
from handsfree.model.effects import Priority
from handsfree.runner.listening_thread import EarsFailed, Message, TalkedOver, UtteranceHeard
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.interpreter import interpret

BREATH_S = 0.6
"""Between two sentences, so that they are heard as two. Chosen here, no source."""
OVER_S = 2.5
"""How long it is waited for what somebody says over a sentence. Chosen here, no source."""
_LOOK_S = 0.05
_TIMES = 2
"""How often a sentence is said that somebody's voice broke off and no stop word did."""


class Interruptions:
    """What ears post while sentences are said. Any thread may post.

    Args:
        tell: Takes one line about what can end the sentences now.
    """

    def __init__(self, tell: Callable[[str], None]) -> None:
        self._tell = tell
        self._over = threading.Event()
        self._stopped = threading.Event()

    def ready(self, *, hears: bool) -> None:
        """Whether somebody listens from now on; before that a stop word is heard by nobody."""
        self._tell("(listening: a stop word ends it, too)" if hears else "(nobody listens: only Ctrl-C ends it)")

    def take(self, message: Message) -> None:
        """Take what was heard."""
        match message:
            case EarsFailed(error=error):
                self._tell(f"(the ears failed: {error})")
                self.ready(hears=False)
            case TalkedOver():
                self._over.set()
            case UtteranceHeard(hypothesis=hypothesis, wanted=wanted):
                command = interpret(hypothesis, wanted) if hypothesis.words else None
                if not isinstance(command, ControlCommand) or command.control not in STOP_CONTROLS:
                    return
                # As in a visit, a stop word counts on a weak score.
                if decide(hypothesis, command, wanted).outcome is not DecisionOutcome.IGNORE:
                    self._stopped.set()

    @property
    def stopped(self) -> bool:
        """Whether somebody said a stop word."""
        return self._stopped.is_set()

    def was_talked_over(self) -> bool:
        """Whether somebody's voice broke a sentence off since this was asked last."""
        over = self._over.is_set()
        self._over.clear()
        return over


def say_aloud(sentences: Iterable[Speech], player: Player, clock: Clock, heard: Interruptions) -> bool:
    """Say each sentence and wait until it is over; whether all were said to their end.

    What somebody's voice broke off is said once more, as in a visit, unless it was a stop word.
    """
    for speech in sentences:
        for _ in range(_TIMES):
            player.play(speech, Priority.PROMPT)
            # A device that plays nothing would keep a person waiting for good.
            latest_s = clock.monotonic_s() + speech.duration_s + 2 * BREATH_S
            while player.speaking and clock.monotonic_s() < latest_s and not heard.stopped:
                clock.sleep_until(clock.monotonic_s() + _LOOK_S)
            over = heard.was_talked_over()
            _wait(OVER_S if over else BREATH_S, clock, heard)
            if heard.stopped:
                player.stop()
                return False
            if not over:
                break
    return True


def _wait(seconds: float, clock: Clock, heard: Interruptions) -> None:
    end_s = clock.monotonic_s() + seconds
    while clock.monotonic_s() < end_s and not heard.stopped:
        clock.sleep_until(min(end_s, clock.monotonic_s() + _LOOK_S))
