"""The context of an event, and what a handler answers to it."""

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from handsfree.definition.plan import Stage
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.light_cues import GuidanceProfile
from handsfree.model.commands import ControlCommand, GiveValues
from handsfree.model.effects import Earcon, Priority
from handsfree.model.events import CommandDoubted, CommandSpoken, SessionEvent
from handsfree.model.facts import AnyFact, CommandRefused, Utterance
from handsfree.model.reading_facts import ReadBackWay
from handsfree.model.readings import Option
from handsfree.model.refusals import Refusal, RefusalCode, RefusalReason
from handsfree.session.heat_report import guidance_now
from handsfree.session.modes import Mode
from handsfree.session.prompts.sentence_codes import AnySentence, Prompt, RefusedBecause
from handsfree.session.prompts.wording import Wording
from handsfree.session.state import Hold, Said, SessionState
from handsfree.session.visit import Visit, name_of


class Then(StrEnum):
    """What a handler asks for. `settle` does it, after limits, holds and light have been looked at."""

    STAY = "stay"
    """Nothing more; what was said stands."""
    ASK = "ask"
    """Say the question of the mode again."""
    GO_ON = "go_on"
    """Go to wherever the visit goes on: held, the next stage, or its end."""
    NEXT_ZONE = "next_zone"
    """Go on with the light: the same zone, the next one, or the stage is done."""
    ENTER = "enter"
    """Stand at `Reply.stage` and ask what it wants."""
    REVIEW = "review"
    """Look at `Reply.stage`, which is done."""
    REOPEN = "reopen"
    """Stand at `Reply.stage`, to be answered again; what is asked was said."""
    HOLD = "hold"
    """Stand still and say why."""
    END = "end"
    """End the visit early."""


@dataclass
class Reply:
    """What a handler answers.

    Attributes:
        facts: What is put on record, in this order.
        talk: What is said and sounded, in this order.
        then: What it asks for.
        stage: Where to, for `Then.ENTER`, `Then.REVIEW` and `Then.REOPEN`.
        keep: How the pending values of the stage are kept, if they are: "affirmed", "echo" where they are only said,
            "going_on" where they stand unless somebody objects.
        keep_breath: The same for everything of a breath of a narrated visit.
        holds: What is to hold the visit.
        told_last: What is said after all that comes of it.
        redo: A command that was in doubt and is affirmed now.
        compared_anew: Whether values are compared with an earlier record from now on, or no longer.
    """

    facts: list[AnyFact] = field(default_factory=list)
    talk: list[Prompt | Earcon] = field(default_factory=list)
    then: Then = Then.STAY
    stage: Stage | None = None
    keep: ReadBackWay | None = None
    keep_breath: ReadBackWay | None = None
    holds: list[Hold] = field(default_factory=list)
    told_last: list[Prompt] = field(default_factory=list)
    redo: Said | None = None
    compared_anew: bool = False

    def say(self, *sentences: AnySentence, priority: Priority = Priority.PROMPT, passing: bool = False) -> None:
        """Add one prompt."""
        self.talk.append(Prompt(sentences, priority, passing))


@dataclass(frozen=True)
class EventContext:
    """What a handler is given: one event, and the session that it came to.

    Attributes:
        visit: What is fixed.
        state: What is remembered; handlers change it.
        wording: Says codes in words.
        event: What happened.
        said: The command, where the event is one.
    """

    visit: Visit
    state: SessionState
    wording: Wording
    event: SessionEvent
    said: Said | None = None

    @property
    def stage(self) -> Stage:
        """The stage now."""
        return self.visit.plan.stage(self.state.place)

    @property
    def stage_name(self) -> str:
        """Its identifier with the real side."""
        return name_of(self.stage, self.state.side)

    @property
    def mode(self) -> Mode:
        """What the session is doing."""
        return self.state.modes.top

    @property
    def guidance(self) -> GuidanceProfile:
        """When to speak while lit, by what is confirmed so far."""
        return guidance_now(self.visit.plan, self.visit.guidance, self.state)

    @property
    def ledger(self) -> Ledger:
        """The light of the visit.

        Raises:
            AssertionError: The procedure has none; `state.ledger` says so.
        """
        assert self.state.ledger is not None  # noqa: S101 - asked for where there was light
        return self.state.ledger

    @property
    def heard(self) -> Utterance:
        """The words of the command.

        Raises:
            AssertionError: The event is no command.
        """
        assert self.said is not None  # noqa: S101 - handlers of commands are called with one
        return self.said.heard

    @property
    def written(self) -> str:
        """What an engine wrote down without a grammar, of the words of the command; "" where it did not."""
        event = self.event
        return (event.heard.free_text or "") if isinstance(event, CommandSpoken | CommandDoubted) else ""

    @property
    def from_s(self) -> float:
        """Session time when the words of the command began. Raises as `heard`."""
        assert self.said is not None  # noqa: S101 - as in `heard`
        return self.said.from_s

    @property
    def to_s(self) -> float:
        """Session time when the words of the command ended. Raises as `heard`."""
        assert self.said is not None  # noqa: S101 - as in `heard`
        return self.said.to_s

    @property
    def chosen(self) -> str:
        """The option that was said alone; "" where it was none."""
        command = self.said.command if self.said is not None else None
        value = command.values[0].value if isinstance(command, GiveValues) else None
        return value.value if isinstance(value, Option) else ""

    def refuse(self, reason: RefusalReason | RefusalCode, before: str = "") -> Reply:
        """Refuse the command aloud and on record; nothing else changes, and "say again" repeats what stood before.

        Args:
            reason: Why.
            before: Of a step that must be done first, its prompt.
        """
        why = Refusal(reason) if isinstance(reason, RefusalCode) else reason
        command = self.said.command if self.said is not None else None
        reply = Reply(
            [
                CommandRefused(
                    reason=why,
                    stage=self.stage_name,
                    command=command.control.value if isinstance(command, ControlCommand) else None,
                    heard=self.said.heard if self.said is not None else None,
                )
            ],
            [Earcon.REFUSED],
        )
        reply.say(RefusedBecause(why, before), passing=True)
        return reply


Handler = Callable[[EventContext], Reply]
