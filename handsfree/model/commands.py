"""What a person wants, and what the session is ready to hear: where understanding and procedure meet."""

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from handsfree.model.readings import Side, SpokenValue
from handsfree.model.reasons import STRICT, ScanFault


class Control(StrEnum):
    """Commands without a value. The tag in the grammar is `control:` plus the value."""

    AFFIRM = "affirm"
    NEGATE = "negate"
    SAY_AGAIN = "say_again"
    NEXT_STEP = "next_step"
    PREVIOUS_STEP = "previous_step"
    CORRECTION = "correction"
    WAIT = "wait"
    RESUME = "resume"
    TAKE_NOTE = "take_note"
    END_NOTE = "end_note"
    STATUS = "status"
    HELP = "help"
    LIGHT_ON = "light_on"
    LIGHT_OFF = "light_off"
    STRAP_OFF = "strap_off"
    STRAP_ON = "strap_on"
    SKIP = "skip"
    OVERRIDE = "override"
    LEAVE_ZONE = "leave_zone"
    END_VISIT = "end_visit"
    NARRATE = "narrate"
    GUIDE = "guide"
    MISSING = "missing"
    LAST = "last"
    STOP = "stop"
    HOT = "hot"
    PAIN = "pain"
    CRY = "cry"
    """What may be a cry of heat or pain: heard where light is or may be on, or it is asked about heat."""


STOP_CONTROLS = frozenset({Control.STOP, Control.LIGHT_OFF, Control.HOT, Control.PAIN})
"""Always listened for, act at once, from any speaker, without read-back."""


@dataclass(frozen=True, slots=True)
class CommandPart:
    """Base of commands, their values, and slots."""

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT


@dataclass(frozen=True, slots=True)
class ControlCommand(CommandPart):
    """A command without a value."""

    control: Control
    type: Literal["control_command"] = "control_command"


@dataclass(frozen=True, slots=True)
class SlotValue(CommandPart):
    """A value for one slot.

    Attributes:
        slot: Identifier of the slot it answers.
        value: What was said.
        side: The side said with it, or None when none was said.
        of_the_rest: Whether it was said of this slot only as one of "the rest": which those are is read back.
    """

    slot: str
    value: SpokenValue
    side: Side | None = None
    of_the_rest: Annotated[bool, Field(exclude_if=lambda of_the_rest: not of_the_rest)] = False


@dataclass(frozen=True, slots=True)
class GiveValues(CommandPart):
    """One or more values said in one breath.

    Attributes:
        values: The values.
        lead: What was said before them: "affirm" answers the read-back of others, "correct" says that these take the
            place of what was said, "override" that these lift what holds the visit; "" where nothing was.
    """

    values: tuple[SlotValue, ...]
    lead: Annotated[Literal["", "affirm", "correct", "override"], Field(exclude_if=lambda lead: not lead)] = ""
    type: Literal["give_values"] = "give_values"


@dataclass(frozen=True, slots=True)
class DictateText(CommandPart):
    """Free text, for a note or a reason; unverified until a person has read it."""

    text: str
    type: Literal["dictate_text"] = "dictate_text"


@dataclass(frozen=True, slots=True)
class ScanLabel(CommandPart):
    """The label of a device was scanned, or its GS1 element string typed.

    Attributes:
        gtin: Device number, fourteen digits, or None.
        lot: Lot number as printed, or None.
        serial: Serial number as printed, or None.
        produced: Production date, or None.
        expiry: Last day of use, or None.
        faults: What cannot be trusted in it; with any, nothing of it may be taken.
    """

    gtin: str | None = None
    lot: str | None = None
    serial: str | None = None
    produced: date | None = None
    expiry: date | None = None
    faults: tuple[ScanFault, ...] = ()
    type: Literal["scan_label"] = "scan_label"


Command = ControlCommand | GiveValues | DictateText | ScanLabel


@dataclass(frozen=True, slots=True)
class OptionPhrases(CommandPart):
    """One option and the phrases that mean it.

    Attributes:
        value: The option.
        phrases: Lower-case phrases; the first is used in prompts.
    """

    value: str
    phrases: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OptionSlot(CommandPart):
    """A closed list.

    Attributes:
        slot: Identifier.
        labels: Words that may (one slot) or must (several slots) be said first.
        options: The list.
        sides: Sides that may be said with it.
        allow_absent: Whether "not done" and the like are answers.
    """

    slot: str
    labels: tuple[str, ...]
    options: tuple[OptionPhrases, ...]
    sides: tuple[Side, ...] = ()
    allow_absent: bool = True
    type: Literal["option_slot"] = "option_slot"


@dataclass(frozen=True, slots=True)
class NumberSlot(CommandPart):
    """A number.

    Attributes:
        slot: Identifier.
        labels: As in `OptionSlot`.
        unit: UCUM unit of the slot.
        low: Smallest plausible value.
        high: Largest plausible value.
        decimals: Largest number of decimals taken; 0 means whole numbers only.
        sides: As in `OptionSlot`.
        digit_by_digit: After a doubt: take only single digits, so that nothing sounds like something else.
        allow_absent: As in `OptionSlot`.
        allow_fractions: Whether "half", "and a half" are taken.
        spoken_unit: What the file calls the unit aloud; "" where it says nothing.
    """

    slot: str
    labels: tuple[str, ...]
    unit: str
    low: Decimal
    high: Decimal
    decimals: int = 0
    sides: tuple[Side, ...] = ()
    digit_by_digit: bool = False
    allow_absent: bool = True
    allow_fractions: bool = False
    spoken_unit: str = ""
    type: Literal["number_slot"] = "number_slot"


@dataclass(frozen=True, slots=True)
class IdentifierSlot(CommandPart):
    """A spelled code such as a lot number.

    Attributes:
        slot: Identifier.
        labels: As in `OptionSlot`.
        max_length: Longest code in characters; GS1 lot and serial allow 20.
        allow_scan: Whether a typed or scanned GS1 element string is taken as well.
    """

    slot: str
    labels: tuple[str, ...]
    max_length: int = 20
    allow_scan: bool = True
    type: Literal["identifier_slot"] = "identifier_slot"


@dataclass(frozen=True, slots=True)
class DateSlot(CommandPart):
    """A date.

    Attributes:
        slot: Identifier.
        labels: As in `OptionSlot`.
        month_only: Whether month and year are enough (an expiry: last day of that month).
        today: Local date of the visit, from which "tomorrow" and "next tuesday" are counted; None where they are not
            taken.
        latest: Last day that can be, so that "on friday" is the one before it; None where there is none.
    """

    slot: str
    labels: tuple[str, ...]
    month_only: bool = False
    today: date | None = None
    latest: date | None = None
    type: Literal["date_slot"] = "date_slot"


Slot = OptionSlot | NumberSlot | IdentifierSlot | DateSlot


class OwnWords(StrEnum):
    """Rules of the phrase book that are listened for only where what is going on gives them their meaning.

    The value is the name of the rule.
    """

    DONE = "done"
    NOT_DONE = "not_done"
    TAUGHT = "taught"
    CANCEL_NEGATES = "cancel_negates"
    CANCEL_CORRECTS = "cancel_corrects"
    CANCEL_TAKES_BACK = "cancel_takes_back"
    GO_ON_RESUMES = "go_on_resumes"


@dataclass(frozen=True, slots=True)
class Narration(CommandPart):
    """How values are told apart that may be said in any order; their slots are named "step.field".

    Attributes:
        topics: Of each step that has one, its topic words.
        here: The step that was spoken of last; "" where none was.
        side: Its side, or None.
        asked: Slot that may be answered without its label, because it was just asked for; "" where none was.
        open: Slots without a value yet, each with the side for which that is so, or None: what "the rest" may mean.
        unsided: Tags of a breath of which it was just asked whether it is about left or right, so that the side alone
            answers; empty where nothing was asked so.
    """

    topics: tuple[tuple[str, tuple[str, ...]], ...] = ()
    here: str = ""
    side: Side | None = None
    asked: str = ""
    open: tuple[tuple[str, Side | None], ...] = ()
    unsided: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Earlier(CommandPart):
    """What was recorded of a phase before the question of now, and may be said anew by its label after "correction".

    Attributes:
        slots: The values, named "step.field".
        narration: How they are told apart.
    """

    slots: tuple[OptionSlot | NumberSlot | IdentifierSlot | DateSlot, ...]
    narration: Narration


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the session is ready to hear now; nothing else is listened for.

    Attributes:
        controls: Commands that are legal. `STOP_CONTROLS` are always legal and need not be listed.
        slots: Values that are asked for; more than one may be said in one breath.
        dictation: Free text is being taken (until "end note").
        hint: One short line that tells what to say ("wrist, then the digits").
        going_on: Values that were said and are not confirmed. More of them is taken where it was said right after,
            together with what was said first.
        yes_or_no: Whether the tool has just said something and asks whether it is so: a bare yes or no is taken then.
        narration: Where the slots may be answered in any order, how they are told apart; else None.
        own_words: What else is taken here, and not elsewhere, in people's own words.
        again: Values that were said and may be said again in whole, with their labels.
        places: Steps that may be gone to, by name.
        correcting: Whether values that may be said again take the place of the first ones where "correction" leads.
        overriding: Role and reason that may be said in one breath with "override"; empty where nothing is overridden.
        done: How people say that what is asked about was done, besides yes ("padding complete").
        in_part: Whether a part of a question is read back: "none" would be about the rest, or take the part back, so
            that one answer for all of it is not taken.
        earlier: What of the phase may be corrected by its label; None where nothing may.
    """

    controls: frozenset[Control] = frozenset()
    slots: tuple[Slot, ...] = ()
    dictation: bool = False
    hint: str = ""
    going_on: tuple[Slot, ...] = ()
    yes_or_no: bool = False
    narration: Narration | None = None
    own_words: frozenset[OwnWords] = frozenset()
    again: tuple[OptionSlot | NumberSlot | IdentifierSlot | DateSlot, ...] = ()
    places: OptionSlot | None = None
    done: tuple[str, ...] = ()
    correcting: bool = False
    overriding: tuple[OptionSlot, ...] = ()
    in_part: bool = False
    earlier: Earlier | None = None

    @property
    def all_slots(self) -> tuple[Slot, ...]:
        """Everything that a value may be given for: what is asked for, what may be said again, where to go."""
        return (*self.slots, *self.again, *self.overriding, *((self.places,) if self.places is not None else ()))

    @property
    def all_controls(self) -> frozenset[Control]:
        """Legal commands with the stop words."""
        return self.controls | STOP_CONTROLS

    @property
    def with_going_on(self) -> "Wanted":
        """The same, with what may be gone on with among what is asked for."""
        named = {slot.slot for slot in self.going_on}
        again = tuple(slot for slot in self.again if slot.slot not in named)
        return replace(self, slots=(*self.going_on, *self.slots), going_on=(), again=again)
