"""A session runner for practice: it lets events happen in time and takes down what was asked for too early."""

from collections.abc import Callable
from dataclasses import replace

from handsfree.model.audio import Heard
from handsfree.model.commands import Control, ControlCommand, Wanted
from handsfree.model.events import RejectionReason
from handsfree.model.facts import PracticeAttempted
from handsfree.model.hypotheses import Hypothesis
from handsfree.runner import SessionRunner
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.interpreter import interpret, typed

WATCHED = Control.LIGHT_ON
"""Listened for at every step in practice, so that asking for the light too early is noticed; it is still refused."""


class PracticeRunner(SessionRunner):
    """See `SessionRunner`.

    Attributes:
        on_tick: Called whenever time has passed.
    """

    on_tick: Callable[[], None] = staticmethod(lambda: None)

    @property
    def wanted(self) -> Wanted:
        """What is listened for: what the session wants, and the command that is watched for."""
        return _widened(self.session.wanted)

    def tick(self) -> None:
        """See `SessionRunner.tick`."""
        super().tick()
        self.on_tick()

    def hear(
        self,
        hypothesis: Hypothesis,
        *,
        listened_for: Wanted | None = None,
        spoilt: RejectionReason | None = None,
        answers: Heard = Heard.ALL,
        earlier: Wanted | None = None,
    ) -> None:
        """See `SessionRunner.hear`; a watched command that is not legal now is written down before it is refused."""
        wanted = self.session.wanted
        if listened_for == _widened(wanted):
            listened_for = wanted
        whole = spoilt is None and answers is not Heard.NOTHING
        if whole and WATCHED not in wanted.all_controls and not wanted.dictation:
            self._watch(hypothesis, wanted)
        super().hear(hypothesis, listened_for=listened_for, spoilt=spoilt, answers=answers, earlier=earlier)

    def takes_back(self, hypothesis: Hypothesis, listened_for: Wanted) -> bool:
        """See `SessionRunner.takes_back`; what is watched for beside takes nothing back."""
        wanted = self.session.wanted
        return super().takes_back(hypothesis, wanted if listened_for == _widened(wanted) else listened_for)

    def type(self, line: str, at_s: float | None = None) -> None:
        """See `SessionRunner.type`."""
        now, wanted = self.now_s if at_s is None else at_s, self.session.wanted
        if WATCHED not in wanted.all_controls and typed(line, wanted, now) is None:
            asked = typed(line, Wanted(frozenset({WATCHED})), now)
            if asked is not None:
                self._watch(asked, wanted)
        super().type(line, at_s)

    def _watch(self, hypothesis: Hypothesis, wanted: Wanted) -> None:
        command = interpret(hypothesis, _widened(wanted))
        if command != ControlCommand(WATCHED):
            return
        if decide(hypothesis, command, _widened(wanted)).outcome is DecisionOutcome.ACCEPT:
            self.note(
                PracticeAttempted(
                    control=WATCHED.value,
                    at_s=round(hypothesis.spoken_from_s, 3),
                    stage=self.session.step_id,
                )
            )


def _widened(wanted: Wanted) -> Wanted:
    return replace(wanted, controls=wanted.controls | {WATCHED}) if wanted.controls and not wanted.dictation else wanted
