"""What is fixed while a visit runs: the plan with its profiles, and what values are held against."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from handsfree.definition.form import Procedure, StepField
from handsfree.definition.plan import Plan, SideRole, Stage
from handsfree.definition.profile_form import Band, DeviceProfile, LightFile
from handsfree.exposure.light_cues import GuidanceProfile
from handsfree.model.approval import Approval
from handsfree.model.baseline import Baseline
from handsfree.model.patient_reference import DEFAULT_PATTERN
from handsfree.model.readings import Side

NOTHING_RECALLED: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class Visit:
    """The fixed parts of a visit.

    Attributes:
        plan: The compiled procedure.
        device: Device profile, or None.
        light: Light profile, or None.
        guidance: When to speak while lit, as planned.
        recalled: Codes of a local recall list, and why.
        baseline: The earlier record that values are compared with, or None.
        patient_reference: Whose visit it is, where that was given at the start; "" where it was not.
        reference_pattern: Regular expression of a patient reference of the site.
        expert: Whether prompts are short where there is a short one; None for short as long as somebody narrates: who
            leads knows what comes.
        going_on: Whether findings that are heard well stand unless somebody objects; else each is affirmed.
        sha256: Digest of procedure and profiles.
        unapproved: Titles of the files that run without an approval that counts.
        approval: How the approval stood when the record was begun; None where the record does not say.
    """

    plan: Plan
    device: DeviceProfile | None = None
    light: LightFile | None = None
    guidance: GuidanceProfile = field(default_factory=GuidanceProfile)
    recalled: Mapping[str, str] = field(default_factory=lambda: NOTHING_RECALLED)
    baseline: Baseline | None = None
    patient_reference: str = ""
    reference_pattern: str = DEFAULT_PATTERN
    expert: bool | None = False
    going_on: bool = False
    sha256: str = ""
    unapproved: tuple[str, ...] = ()
    approval: Approval | None = None

    @property
    def procedure(self) -> Procedure:
        """The procedure."""
        return self.plan.procedure

    def is_short(self, *, narrated: bool) -> bool:
        """Whether prompts are short now, where there is a short one."""
        return narrated if self.expert is None else self.expert

    def band_of(self, field_: StepField) -> Band | None:
        """The band of the device profile that a number is held against."""
        if field_.number is None or field_.number.band is None or self.device is None:
            return None
        return self.device.bands[field_.number.band]


def side_of(stage: Stage, injured: Side | None) -> Side | None:
    """Left or right, for a stage about one side, as soon as the injured side is known."""
    if stage.role is None or injured is None:
        return None
    if stage.role is SideRole.INJURED:
        return injured
    return Side.LEFT if injured is Side.RIGHT else Side.RIGHT


def name_of(stage: Stage, injured: Side | None) -> str:
    """The stage's identifier with the real side: step, step@left, or step@3 of a step that is repeated."""
    side = side_of(stage, injured)
    return f"{stage.step.id}@{side.value}" if side is not None else stage.id


def stage_of_name(plan: Plan, name: str, injured: Side | None) -> Stage | None:
    """The stage that `name_of` names so, or whose identifier it is; of a step's own, its first; None for no name."""
    if plan.has(name):
        return plan.stage(name)
    step_id, _, part = name.partition("@")
    if injured is not None and part in set(Side):
        role = SideRole.INJURED if part == injured else SideRole.OTHER
        return plan.stage(f"{step_id}@{role}") if plan.has(f"{step_id}@{role}") else None
    return next(iter(plan.stages_of(name)), None)
