"""Compiles a procedure to a plan: stages in order, the phases that they make up, and the gates between phases.

Inside a phase the order of stages is only the order in which things are asked. What is restricted is the way from one
phase into the next: a gate, whose guards come from the file alone.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import TypeVar

from handsfree.definition.form import Procedure, Step
from handsfree.definition.naming import names_of
from handsfree.model.step_names import StepNames

Key = TypeVar("Key")


class SideRole(StrEnum):
    """Which hand a stage is about, as long as nobody has said left or right."""

    INJURED = "injured"
    OTHER = "other"


class VisitPhase(StrEnum):
    """The phases of a visit, in order. A procedure has those that its steps make up, and always `CLOSING`."""

    OPENING = "opening"
    BEFORE = "before"
    TIME_OUT = "time_out"
    POSITION = "position"
    LIGHT = "light"
    INSPECTION = "inspection"
    AFTER = "after"
    CLOSING = "closing"


@dataclass(frozen=True, slots=True)
class Stage:
    """A step, one side of a step that is done for each side, or one time of a step that is repeated.

    Attributes:
        id: The step's identifier, with @injured or @other for a side, with @1, @2 … for a time.
        step: The step.
        role: The side, or None.
        number: Of a step that is repeated, which one it is, from 1; 0 of others.
        names_patient: Whether it asks for the patient's reference, so that it is left out where nobody has to say it.
    """

    id: str
    step: Step
    role: SideRole | None = None
    number: int = 0
    names_patient: bool = False


@dataclass(frozen=True, slots=True)
class Gate:
    """The way into a phase. It is shut while anything holds the procedure, or a guard is not met.

    Attributes:
        into: The phase.
        answered: Stages that must be done, where they are part of the visit at all; any way of being done counts.
        not_skipped: Stages that must be done and not skipped, because a stage of the phase requires them.
    """

    into: VisitPhase
    answered: tuple[str, ...]
    not_skipped: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Plan:
    """A compiled procedure. Each is equal to itself alone.

    Attributes:
        procedure: The procedure.
        stages: Its stages in order.
        phases: The phase of each stage.
        gates: The gates in order, the last into `VisitPhase.CLOSING`.
    """

    procedure: Procedure
    stages: tuple[Stage, ...]
    phases: Mapping[str, VisitPhase]
    gates: tuple[Gate, ...]

    @cached_property
    def names(self) -> StepNames:
        """What its steps and their fields are called."""
        return names_of(self.procedure)

    @cached_property
    def _places(self) -> dict[str, int]:
        return {stage.id: number for number, stage in enumerate(self.stages)}

    @cached_property
    def _by_step(self) -> dict[str, tuple[Stage, ...]]:
        return _gathered((stage.step.id, stage) for stage in self.stages)

    @cached_property
    def _by_phase(self) -> dict[VisitPhase, tuple[Stage, ...]]:
        return _gathered((self.phases[stage.id], stage) for stage in self.stages)

    def has(self, stage_id: str) -> bool:
        """Whether there is a stage of this identifier."""
        return stage_id in self._places

    def index(self, stage_id: str) -> int:
        """Position of a stage.

        Raises:
            KeyError: There is no such stage.
        """
        return self._places[stage_id]

    def stage(self, stage_id: str) -> Stage:
        """A stage by its identifier.

        Raises:
            KeyError: There is no such stage.
        """
        return self.stages[self._places[stage_id]]

    def stages_of(self, step_id: str) -> tuple[Stage, ...]:
        """The stages of a step."""
        return self._by_step.get(step_id, ())

    def stages_in(self, phase: VisitPhase) -> tuple[Stage, ...]:
        """The stages of a phase, in order."""
        return self._by_phase.get(phase, ())

    @property
    def phases_in_order(self) -> tuple[VisitPhase, ...]:
        """The phases that this procedure has, `VisitPhase.CLOSING` last."""
        return (*dict.fromkeys(self.phases[stage.id] for stage in self.stages), VisitPhase.CLOSING)

    def phase_name(self, phase: VisitPhase) -> str:
        """What people call a phase: where there is no light nothing is inspected after it, and it is `during`."""
        if phase is VisitPhase.INSPECTION and VisitPhase.LIGHT not in self.phases_in_order:
            return "during"
        return phase.value.replace("_", " ")


def _gathered(pairs: Iterable[tuple[Key, Stage]]) -> dict[Key, tuple[Stage, ...]]:
    """Stages by a key that several may have, in their order."""
    found: dict[Key, list[Stage]] = {}
    for key, stage in pairs:
        found.setdefault(key, []).append(stage)
    return {key: tuple(stages) for key, stages in found.items()}


def mates_of(plan: Plan, stage: Stage) -> tuple[Stage, ...]:
    """The other stages that may be answered while this one asks: same group, same side; the other times of a repeat."""
    if stage.number and len(stage.step.fields) == 1:
        return tuple(one for one in plan.stages_of(stage.step.id) if one.id != stage.id)
    if stage.step.group is None:
        return ()
    return tuple(
        one
        for one in plan.stages
        if one.step.group == stage.step.group and one.role is stage.role and one.id != stage.id
    )


def compile_procedure(procedure: Procedure) -> Plan:
    """Compile a procedure to its plan."""
    stages = tuple(_stages(procedure))
    phases = dict(zip((stage.id for stage in stages), _phases(procedure, stages), strict=True))
    return Plan(procedure, stages, phases, tuple(_gates(stages, phases)))


def _stages(procedure: Procedure) -> Iterable[Stage]:
    names_patient = (procedure.patient_from or "").partition(".")[0]
    for step in procedure.steps:
        if step.repeat is not None:
            yield from (Stage(f"{step.id}@{number}", step, number=number) for number in range(1, step.repeat.most + 1))
        elif step.for_each is None:
            yield Stage(step.id, step, names_patient=step.id == names_patient)
        else:
            yield from (Stage(f"{step.id}@{role}", step, role) for role in SideRole)


def _phases(procedure: Procedure, stages: tuple[Stage, ...]) -> Iterator[VisitPhase]:
    """The phase of each stage: it never goes back."""
    lit = [number for number, stage in enumerate(stages) if stage.step.kind == "expose"]
    kind_step = (procedure.kind_from or "").partition(".")[0]
    opening = next((number for number, stage in enumerate(stages) if stage.step.id == kind_step), -1)
    order = list(VisitPhase)
    reached = 0
    for number, stage in enumerate(stages):
        match stage.step.phase:
            case "before" if number <= opening:
                phase = VisitPhase.OPENING
            case "before":
                phase = VisitPhase.TIME_OUT if stage.step.time_out else VisitPhase.BEFORE
            case "during" if lit and number < lit[0]:
                phase = VisitPhase.POSITION
            case "during" if lit and number <= lit[-1]:
                phase = VisitPhase.LIGHT
            case "during":
                phase = VisitPhase.INSPECTION
            case "after":
                phase = VisitPhase.AFTER
        reached = max(reached, order.index(phase))
        yield order[reached]


def _gates(stages: tuple[Stage, ...], phases: Mapping[str, VisitPhase]) -> Iterator[Gate]:
    """A gate into every phase but the first: every hard stage before it, and whatever its own stages require."""
    order = (*dict.fromkeys(phases[stage.id] for stage in stages), VisitPhase.CLOSING)
    for number, into in enumerate(order[1:], 1):
        before = [stage for stage in stages if phases[stage.id] in order[:number]]
        required = {name for stage in stages if phases[stage.id] is into for name in stage.step.requires}
        yield Gate(
            into,
            answered=tuple(stage.id for stage in before if stage.step.hard),
            not_skipped=tuple(stage.id for stage in before if stage.step.id in required),
        )
