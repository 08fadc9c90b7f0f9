"""A witness of visits: what must be true of one by its facts alone, without a look into the session."""

from handsfree.model.facts import (
    CorrectionOpened,
    HoldLifted,
    HoldSet,
    ItemTaught,
    LightTurnedOff,
    LightTurnedOn,
    ReadingAmended,
    ReadingConfirmed,
    StageExposed,
    StepConfirmed,
    StepOverridden,
    StrapRemoved,
    StrapReplaced,
    ZoneTotalled,
)


class Witness:
    """Its own account of a session, from the facts alone: what is done, held, lit and shaded."""

    def __init__(self, bundle):
        self.fields = {step.id: {field.id for field in step.fields} for step in bundle.procedure.steps}
        self.items = {step.id: len(step.items) for step in bundle.procedure.steps}
        self.answered = {}
        self.taught = {}
        self.done = set()
        self.red = 0
        self.lit = False
        self.strap_off = False
        self.lit_s = {}

    def take(self, fact):
        """Take one fact."""
        match fact:
            case ReadingConfirmed(stage=stage, field=field) | ReadingAmended(stage=stage, field=field):
                self.answered.setdefault(stage, set()).add(field)
                if self.answered[stage] >= self.fields[stage.partition("@")[0]]:
                    self.done.add(stage)
            case StepConfirmed(stage=stage) | StageExposed(stage=stage) | StepOverridden(stage=stage):
                self.done.add(stage)
            case ItemTaught(stage=stage):
                self.taught[stage] = self.taught.get(stage, 0) + 1
                if self.taught[stage] >= self.items[stage]:
                    self.done.add(stage)
            case CorrectionOpened(stage=stage):
                self.done.discard(stage)
                self.taught.pop(stage, None)
            case HoldSet(hold="red"):
                self.red += 1
            case HoldLifted(hold="red", role=role, reason=reason):
                assert role
                assert reason
                self.red -= 1
            case LightTurnedOn():
                self.lit = True
            case LightTurnedOff():
                self.lit = False
            case ZoneTotalled(zone=zone, lit_s=lit_s):
                self.lit_s[zone] = lit_s
            case StrapRemoved():
                self.strap_off = True
            case StrapReplaced():
                self.strap_off = False
            case _:
                pass
