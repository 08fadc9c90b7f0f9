"""Words that began before what they might answer had been said: which of them count all the same."""

from handsfree.model.audio import Heard
from handsfree.model.commands import Command, Control, ControlCommand, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.session.session import Session
from handsfree.understanding.interpreter import interpret


def is_stale(hypothesis: Hypothesis, command: Command | None, answers: Heard) -> bool:
    """Whether so little of what words answer had been said that they are no answer to it."""
    return is_bare(hypothesis, command) if answers is Heard.ENOUGH else answers is not Heard.ALL


def is_bare(hypothesis: Hypothesis, command: Command | None) -> bool:
    """Whether an answer holds nothing of what it answers: said twice, the second would answer the next question."""
    control = command.control if isinstance(command, ControlCommand) else None
    return control in {Control.AFFIRM, Control.NEGATE} or hypothesis.words in {("no",), ("none",)}


def says_its_own(
    session: Session, hypothesis: Hypothesis, command: Command | None, answers: Heard, earlier: Wanted | None
) -> bool:
    """Whether words answer no question: they mean the same whatever was asked before and after they began.

    Args:
        session: As it stands now.
        hypothesis: The words.
        command: What they mean.
        answers: How much of what was asked last had been said when they began.
        earlier: What was listened for when they began, where something was asked after that.
    """
    if command is None or not session.says_its_own(command) or is_bare(hypothesis, command):
        return False
    if answers is Heard.NOTHING and (earlier is None or interpret(hypothesis, earlier) != command):
        return False
    return interpret(hypothesis, session.wanted) == command
