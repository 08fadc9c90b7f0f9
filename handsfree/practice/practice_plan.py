"""What a practice record says about itself, so that its score needs nothing but the record and a table of points."""

import json
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from handsfree.definition.form import FileId, Identifier, Spoken, Strict, Version
from handsfree.errors import RecordError
from handsfree.model.facts import PracticePlanned
from handsfree.practice.computed_truth import ComputedTruth, computed_truths, times_due
from handsfree.practice.deciding import Decides, decides
from handsfree.practice.event_kinds import Seconds
from handsfree.practice.scenario import Difficulty, FieldPlace, ScenarioEvent
from handsfree.practice.scenario_loader import LoadedScenario
from handsfree.record.contents import Record


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
        times: How often it is due, of a step that is repeated; 0 of others.
        more: Whether it may be done more often than that: the scenario does not say how many there are.
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
    times: int = 0
    more: bool = True


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
        difficulty: How hard the scenario is, or None where nobody has said.
        family: Scenarios of one family are set beside each other; None: only this one beside itself.
        setting: What was set beside the scenario, in words; "" for nothing.
        case: What is true.
        decides: What a wrong value at a place of the case would decide; a figure where nothing is said.
        computed: What follows from the case, and what that decides.
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
    difficulty: Difficulty | None = None
    family: FileId | None = None
    setting: str = ""
    case: dict[FieldPlace, str]
    decides: dict[FieldPlace, Decides] = Field(default_factory=dict)
    computed: dict[FieldPlace, ComputedTruth] = Field(default_factory=dict)
    events: tuple[ScenarioEvent, ...]
    steps: Annotated[tuple[PlannedStep, ...], Field(min_length=1)]
    phase_s: dict[Literal["before", "during", "after"], Seconds]

    @property
    def fact(self) -> PracticePlanned:
        """As it is written to the record."""
        return PracticePlanned(plan=self.model_dump(mode="json"))


def plan_of(case: LoadedScenario, trainee: str | None, scripted: str | None) -> Planned:
    """What is written at the start of a practice session."""
    scenario = case.scenario
    # Practice asks nobody whose visit it is: nobody is scored for not having said so.
    names_patient = (case.bundle.procedure.patient_from or "").partition(".")[0]
    return Planned(
        scenario=scenario.id,
        version=scenario.version,
        sha256=case.sha256,
        title=scenario.title,
        seed=scenario.seed,
        trainee=trainee,
        scripted=scripted,
        difficulty=scenario.difficulty,
        family=scenario.family,
        setting=case.settings.words,
        case=scenario.case,
        decides={place: decides(case.bundle, place, value) for place, value in scenario.case.items()},
        computed=computed_truths(scenario, case.bundle),
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
                times=times_due(scenario, step),
                more=step.id not in scenario.times,
            )
            for step in case.bundle.procedure.steps
            if step.id != names_patient
        ),
    )


def planned_in(record: Record) -> Planned:
    """The plan in a practice record.

    Raises:
        RecordError: It is no practice record, holds no plan, or one that cannot be read.
    """
    if not record.practice:
        raise RecordError("this is no practice record; only practice is scored")
    planned = record.of(PracticePlanned)
    if not planned:
        raise RecordError("this record was not made by `handsfree practice`: it holds no scenario to score it by")
    try:
        return Planned.model_validate_json(json.dumps(planned[0].fact.plan))
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise RecordError(
            f"line {planned[0].seq + 1}: {planned[0].kind} cannot be read: {where}: {first['msg']}"
        ) from error
