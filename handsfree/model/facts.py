"""Facts: what a visit puts on record. One frozen type for each kind; codes and values, never prose.

A fact's `kind` is its name in the record. What people said, what was taught, and the procedure file's own words for a
field or an answer are content and stay as they are; every sentence of the tool is made where it is spoken or shown.
"""

from handsfree.model.device_facts import (
    DeviceLost,
    DeviceReturned,
    DiskFoundSlow,
    PromptCutShort,
    SoundDevice,
    SoundOverflowed,
)
from handsfree.model.fact_base import Fact, KeptValue, Phase, Utterance
from handsfree.model.hold_facts import (
    GapsAccepted,
    HoldKept,
    HoldKind,
    HoldLifted,
    HoldSet,
    OverrideDropped,
    PainScored,
    PositionReconfirmed,
    StopWordHeard,
)
from handsfree.model.light_facts import (
    CryHeard,
    CrySettled,
    LampBeeped,
    LampDisagreed,
    LateHeatAsked,
    LightOffConfirmed,
    LightOffSaidAfterSound,
    LightOnRepeated,
    LightStillOn,
    LightTurnedOff,
    LightTurnedOn,
    MoreLightAsked,
    StrapRemoved,
    StrapReplaced,
    StrayLightBegan,
    StrayLightEnded,
    WarmthAnswered,
    ZoneChosen,
    ZoneLeft,
    ZoneTotalled,
)
from handsfree.model.practice_facts import PracticeAttempted, PracticePlanned, ScenarioEventHappened
from handsfree.model.reading_facts import (
    CorrectionDropped,
    CorrectionOpened,
    LabelScanned,
    ReadBackDisputed,
    ReadingAmended,
    ReadingClassedAgain,
    ReadingConfirmed,
    ReadingProposed,
    ReadingRefused,
    RepeatAsked,
    StandingDisputed,
    StatedReading,
    ValuesDropped,
)
from handsfree.model.speech_facts import (
    CommandRefused,
    DoubtSettled,
    HelpGiven,
    NoteBegun,
    NoteDictated,
    NoteTaken,
    SaidAgain,
    UtteranceDoubted,
    UtteranceNotTaken,
)
from handsfree.model.step_facts import (
    ItemTaught,
    MissingTold,
    RepeatEnded,
    RepeatReopened,
    SecondPersonConfirmed,
    SkipDropped,
    StageExposed,
    StepCalledFor,
    StepConfirmed,
    StepDenied,
    StepEntered,
    StepOverridden,
    StepReviewed,
    StepSkipped,
    StepTold,
    StepWithdrawn,
    TimerDropped,
    TimerRanOut,
    TimerStarted,
    WorkingChanged,
)
from handsfree.model.visit_facts import (
    CloseRefused,
    DueMet,
    DueSet,
    KindDeclared,
    OperatorDeclared,
    Outcome,
    PatientReferenceDeclared,
    RoleDeclared,
    SideDeclared,
    SizeChosen,
    StatusTold,
    VisitBegun,
    VisitClosed,
    VisitContinued,
    VisitEndedEarly,
    VisitPaused,
    VisitResumed,
    ZoneSum,
)

AnyFact = (
    CloseRefused
    | CommandRefused
    | CorrectionDropped
    | CorrectionOpened
    | CryHeard
    | CrySettled
    | DeviceLost
    | DeviceReturned
    | DoubtSettled
    | DueMet
    | DueSet
    | GapsAccepted
    | HoldKept
    | HelpGiven
    | HoldLifted
    | HoldSet
    | ItemTaught
    | KindDeclared
    | LabelScanned
    | LampBeeped
    | LampDisagreed
    | LateHeatAsked
    | MissingTold
    | StandingDisputed
    | WorkingChanged
    | LightOffConfirmed
    | LightOffSaidAfterSound
    | LightOnRepeated
    | LightStillOn
    | LightTurnedOff
    | LightTurnedOn
    | MoreLightAsked
    | NoteBegun
    | NoteDictated
    | NoteTaken
    | OperatorDeclared
    | OverrideDropped
    | PainScored
    | PatientReferenceDeclared
    | PositionReconfirmed
    | PracticeAttempted
    | PracticePlanned
    | PromptCutShort
    | ReadBackDisputed
    | ReadingAmended
    | ReadingClassedAgain
    | ReadingConfirmed
    | ReadingProposed
    | ReadingRefused
    | RepeatAsked
    | RepeatEnded
    | RepeatReopened
    | RoleDeclared
    | SaidAgain
    | ScenarioEventHappened
    | SecondPersonConfirmed
    | SideDeclared
    | SizeChosen
    | SkipDropped
    | SoundOverflowed
    | DiskFoundSlow
    | StageExposed
    | StatusTold
    | StepCalledFor
    | StepConfirmed
    | StepDenied
    | StepEntered
    | StepOverridden
    | StepReviewed
    | StepSkipped
    | StepTold
    | StepWithdrawn
    | TimerDropped
    | TimerRanOut
    | TimerStarted
    | StopWordHeard
    | StrapRemoved
    | StrapReplaced
    | StrayLightBegan
    | StrayLightEnded
    | UtteranceDoubted
    | UtteranceNotTaken
    | ValuesDropped
    | VisitBegun
    | VisitClosed
    | VisitContinued
    | VisitEndedEarly
    | VisitPaused
    | VisitResumed
    | WarmthAnswered
    | ZoneChosen
    | ZoneLeft
    | ZoneTotalled
)
"""Every fact that may stand in a record."""

__all__ = [
    "AnyFact",
    "CloseRefused",
    "CommandRefused",
    "CorrectionDropped",
    "CorrectionOpened",
    "CryHeard",
    "CrySettled",
    "DeviceLost",
    "DeviceReturned",
    "DiskFoundSlow",
    "DoubtSettled",
    "DueMet",
    "DueSet",
    "Fact",
    "GapsAccepted",
    "HelpGiven",
    "HoldKept",
    "HoldKind",
    "HoldLifted",
    "HoldSet",
    "ItemTaught",
    "KeptValue",
    "KindDeclared",
    "LabelScanned",
    "LampBeeped",
    "LampDisagreed",
    "LateHeatAsked",
    "LightOffConfirmed",
    "LightOffSaidAfterSound",
    "LightOnRepeated",
    "LightStillOn",
    "LightTurnedOff",
    "LightTurnedOn",
    "MissingTold",
    "MoreLightAsked",
    "NoteBegun",
    "NoteDictated",
    "NoteTaken",
    "OperatorDeclared",
    "Outcome",
    "OverrideDropped",
    "PainScored",
    "PatientReferenceDeclared",
    "Phase",
    "PositionReconfirmed",
    "PracticeAttempted",
    "PracticePlanned",
    "PromptCutShort",
    "ReadBackDisputed",
    "ReadingAmended",
    "ReadingClassedAgain",
    "ReadingConfirmed",
    "ReadingProposed",
    "ReadingRefused",
    "RepeatAsked",
    "RepeatEnded",
    "RepeatReopened",
    "RoleDeclared",
    "SaidAgain",
    "ScenarioEventHappened",
    "SecondPersonConfirmed",
    "SideDeclared",
    "SizeChosen",
    "SkipDropped",
    "SoundDevice",
    "SoundOverflowed",
    "StageExposed",
    "StandingDisputed",
    "StatedReading",
    "StatusTold",
    "StepCalledFor",
    "StepConfirmed",
    "StepDenied",
    "StepEntered",
    "StepOverridden",
    "StepReviewed",
    "StepSkipped",
    "StepTold",
    "StepWithdrawn",
    "StopWordHeard",
    "StrapRemoved",
    "StrapReplaced",
    "StrayLightBegan",
    "StrayLightEnded",
    "TimerDropped",
    "TimerRanOut",
    "TimerStarted",
    "Utterance",
    "UtteranceDoubted",
    "UtteranceNotTaken",
    "ValuesDropped",
    "VisitBegun",
    "VisitClosed",
    "VisitContinued",
    "VisitEndedEarly",
    "VisitPaused",
    "VisitResumed",
    "WarmthAnswered",
    "WorkingChanged",
    "ZoneChosen",
    "ZoneLeft",
    "ZoneSum",
    "ZoneTotalled",
]
