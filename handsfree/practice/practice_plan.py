"""What a practice record says about itself, so that its score needs nothing but the record and a table of points."""

import json
from typing import Annotated, Literal, TypeVar

from pydantic import Field, ValidationError

from handsfree.definition.form import FileId, Identifier, Spoken, Strict, Version
from handsfree.errors import RecordError
from handsfree.model.effects import Json
from handsfree.practice.scenario import FieldPlace, Happening, ScenarioEvent, Seconds
from handsfree.practice.scenario_loader import LoadedScenario
from handsfree.record.contents import Fact, Record

Form = TypeVar("Form", bound=Strict)
PLANNED = "practice_planned"
HAPPENED = "practice_event"
ATTEMPTED = "practice_attempted"


class PlannedStep(Strict):
    """A step of the procedure, as far as it is scored.

    Attributes:
        step: Its identifier.
        kind: Its kind.
        phase: before, during or after.
        hard: Whether it may not be left out.
        sides: Whether it is done for each side.
        conditional: Whether it may not apply to a visit.
        fields: Its fields.
        items: How many things are taught.
        zones: Which zones it lights, or None.
        requires: Steps that must be done before.
    """

    step: Identifier
    kind: str
    phase: Literal["before", "during", "after"]
    hard: bool
    sides: bool
    conditional: bool
    fields: tuple[Identifier, ...]
    items: int
    zones: Literal["open", "strap"] | None
    requires: tuple[Identifier, ...]


class Planned(Strict):
    """What was to happen.

    Attributes:
        scenario: Identifier of the scenario.
        version: Its version.
        sha256: Digest of its file.
        title: Its title.
        seed: Its seed.
        trainee: Reference of the learner, never a name; None for a trial.
        scripted: Kind of scripted learner, or None for a person.
        case: What is true.
        events: What happens.
        steps: Steps of the procedure in order.
        phase_s: Longest time for each phase, seconds.
    """

    scenario: FileId
    version: Version
    sha256: str
    title: Spoken
    seed: int
    trainee: str | None
    scripted: str | None
    case: dict[FieldPlace, str]
    events: tuple[ScenarioEvent, ...]
    steps: Annotated[tuple[PlannedStep, ...], Field(min_length=1)]
    phase_s: dict[Literal["before", "during", "after"], Seconds]

    @property
    def facts(self) -> dict[str, Json]:
        """As the data of a fact."""
        data: dict[str, Json] = self.model_dump(mode="json")
        return data


class EventInjected(Strict):
    """That an event of the scenario took place.

    Attributes:
        event: Its identifier.
        happening: Its kind.
        who: Who spoke, or None.
        say: The words, or None.
        at_s: Session time when it began.
        to_s: Session time when its words ended.
        cued: Whether a trainer set it off.
        again: How often it had been said before.
    """

    event: Identifier
    happening: Happening
    who: Identifier | None
    say: Spoken | None
    at_s: float
    to_s: float
    cued: bool
    again: int

    @property
    def facts(self) -> dict[str, Json]:
        """As the data of a fact."""
        data: dict[str, Json] = self.model_dump(mode="json")
        return data


def plan_of(case: LoadedScenario, trainee: str | None, scripted: str | None) -> Planned:
    """What is written at the start of a practice session."""
    scenario = case.scenario
    return Planned(
        scenario=scenario.id,
        version=scenario.version,
        sha256=case.sha256,
        title=scenario.title,
        seed=scenario.seed,
        trainee=trainee,
        scripted=scripted,
        case=scenario.case,
        events=scenario.events,
        phase_s=scenario.phase_s,
        steps=tuple(
            PlannedStep(
                step=step.id,
                kind=step.kind,
                phase=step.phase,
                hard=step.hard,
                sides=step.for_each is not None,
                conditional=step.when is not None,
                fields=tuple(field.id for field in step.fields),
                items=len(step.items),
                zones=step.zones,
                requires=step.requires,
            )
            for step in case.bundle.procedure.steps
        ),
    )


def planned_in(record: Record) -> Planned:
    """The plan in a practice record.

    Raises:
        RecordError: It is no practice record, or holds no plan.
    """
    if not record.practice:
        raise RecordError("this is no practice record; only practice is scored")
    facts = record.of_kind(PLANNED)
    if not facts:
        raise RecordError("this record was not made by `handsfree practice`: it holds no scenario to score it by")
    return _read(Planned, facts[0])


def happened_in(record: Record) -> tuple[EventInjected, ...]:
    """The events that took place, in order.

    Raises:
        RecordError: One cannot be read.
    """
    return tuple(_read(EventInjected, fact) for fact in record.of_kind(HAPPENED))


def _read(form: type[Form], fact: Fact) -> Form:
    try:
        return form.model_validate_json(json.dumps(dict(fact.data)))
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise RecordError(f"line {fact.seq + 1}: {fact.kind} cannot be read: {where}: {first['msg']}") from error
