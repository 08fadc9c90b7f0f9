"""A fact in one line, and where in the visit it belongs. Pure."""

from collections.abc import Iterator, Mapping
from typing import Protocol, runtime_checkable

from handsfree.model.facts import (
    AnyFact,
    CommandRefused,
    CryHeard,
    CrySettled,
    DeviceLost,
    DeviceReturned,
    DiskFoundSlow,
    DueMet,
    DueSet,
    GapsAccepted,
    HoldLifted,
    HoldSet,
    ItemTaught,
    KeptValue,
    LampBeeped,
    LampDisagreed,
    LightStillOn,
    LightTurnedOff,
    LightTurnedOn,
    NoteDictated,
    NoteTaken,
    OperatorDeclared,
    PatientReferenceDeclared,
    ReadingAmended,
    ReadingConfirmed,
    ReadingProposed,
    ReadingRefused,
    RepeatAsked,
    RoleDeclared,
    SecondPersonConfirmed,
    SizeChosen,
    StageExposed,
    StatedReading,
    StepOverridden,
    StepSkipped,
    StopWordHeard,
    StrayLightBegan,
    StrayLightEnded,
    UtteranceNotTaken,
    VisitClosed,
    VisitContinued,
    VisitEndedEarly,
    WarmthAnswered,
    ZoneTotalled,
)
from handsfree.model.readings import value_text
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases
from handsfree.record.contents import Record
from handsfree.record.display_text import capital, duration_text, plain, tenths
from handsfree.record.display_values import display_value, zone_name
from handsfree.session.prompts.reason_words import reason_words

_HEAT = {True: "hot or painful", False: "neither hot nor painful", None: "nobody answered"}


@runtime_checkable
class _AtStage(Protocol):
    """A fact that says where the visit stood."""

    @property
    def stage(self) -> str: ...


@runtime_checkable
class _OfZone(Protocol):
    """A fact about a zone, or about light as a whole."""

    @property
    def zone(self) -> str | None: ...


def place_words(record: Record, fact: AnyFact) -> str:
    """Where in the visit a fact belongs: its step, else its zone, else ""."""
    if isinstance(fact, _AtStage):
        return plain(fact.stage)
    return zone_name(record, fact.zone) if isinstance(fact, _OfZone) and fact.zone is not None else ""


def fact_words(record: Record, fact: AnyFact, phrases: CodePhrases = CODES_ALONE) -> str:
    """A fact in one line; "" for those that repeat another, or that nobody said or heard."""
    name = capital(plain(fact.kind))
    match fact:
        case LightStillOn() | ReadingProposed() | LampBeeped() | StageExposed() | ZoneTotalled():
            return ""
        case ReadingConfirmed() | ReadingAmended():
            side = f", {fact.side}" if fact.side is not None else ""
            return f"{name}: {fact.label}{side} = {display_value(fact.value, fact.unit)}"
        case RepeatAsked(fields=fields):
            return f"{name}: {', '.join(fields)}"
        case DueMet(due=due, late_s=late_s):
            return f"Was due {due[11:16]} UTC, {f'{duration_text(late_s)} late' if late_s >= 60 else 'not late'}"
        case DueSet(due=due):
            return f"Next check due {due[:16]}Z"
        case CryHeard(words=words):
            return f"{name}: {plain(words)}"
        case CrySettled(heat=heat):
            return f"{name}: {_HEAT[heat]}"
        case StrayLightBegan(stage=stage, why=why):
            return f"Light outside a zone: {plain(stage)}, {reason_words(why)}"
        case StrayLightEnded(lit=lit):
            return f"Light outside a zone: {f'{tenths(fact.seconds)} s' if lit else 'there was none'}"
        case LightTurnedOn(zone=zone):
            return f"Light on: {zone_name(record, zone)}"
        case LightTurnedOff(zone=zone, end=end):
            counted = tenths(fact.counted_to_s - fact.counted_from_s)
            return f"Light off: {zone_name(record, zone)}, {counted} s counted, {plain(end)}"
        case VisitContinued(gap_s=gap_s):
            return f"{name}: {duration_text(gap_s)}"
        case VisitClosed(outcome=outcome):
            return f"{name}: {plain(outcome)}"
        case ItemTaught(said=words) | NoteTaken(text=words) | NoteDictated(text=words):
            return f"{name}: {words}"
        case WarmthAnswered(answer=answer, zone=zone):
            return f"{name}: {answer}, {zone_name(record, zone) if zone is not None else 'late question'}"
    told = [plain(fact.stage)] if isinstance(fact, _AtStage) else []
    told += [words for words in _details(fact, phrases) if words]
    return f"{name}: {', '.join(told)}" if told else name


def _details(fact: AnyFact, phrases: CodePhrases) -> Iterator[str]:
    """What else a fact states that is short enough for its line."""
    match fact:
        case HoldSet(hold=hold, grounds=grounds):
            yield from (hold, reason_words(grounds))
        case HoldLifted(hold=hold):
            yield from (hold, phrases.lifted_by(fact), phrases.lifted_because(fact))
        case (
            StepOverridden(role=role, reason=reason)
            | GapsAccepted(role=role, reason=reason)
            | VisitEndedEarly(role=role, reason=reason)
        ):
            yield from (phrases.role(role), phrases.override_reason(reason))
        case CommandRefused(reason=refused) | ReadingRefused(reason=refused):
            yield reason_words(refused, phrases.names)
        case SecondPersonConfirmed(role=role, code=code):
            yield phrases.person(role, code)
        case StopWordHeard(word=word):
            yield word
        case StepSkipped(reason=reason):
            yield phrases.skip_reason(reason)
        case UtteranceNotTaken(reason=reason):
            yield plain(reason)
        case DeviceLost(what=what) | DeviceReturned(what=what) | LampDisagreed(what=what):
            yield plain(what)
        case DiskFoundSlow(waited_s=waited_s):
            yield f"waited {tenths(waited_s)} s"
        case SizeChosen(size=size):
            yield size or ""
        case OperatorDeclared(operator=operator):
            yield operator
        case PatientReferenceDeclared(reference=reference):
            yield reference
        case RoleDeclared(role=role):
            yield plain(role)


def grounds_words(reading: StatedReading) -> str:
    """Why a reading is flagged, in words; "" where it is not."""
    return reason_words(reading.grounds) if reading.grounds is not None else ""


def values_words(values: Mapping[str, KeptValue]) -> str:
    """Values by field, in one line."""
    return ", ".join(f"{name} {value_text(value)}" for name, value in values.items())
