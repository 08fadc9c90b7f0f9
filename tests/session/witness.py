"""A witness of visits: what must be true of one by its facts alone, without a look into the session.

`ReferenceLamp` is a lamp in somebody's hand, as this test knows it: it is switched by what people do, and not by what
the session makes of it.
"""

from handsfree.model.facts import (
    CorrectionDropped,
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


class ReferenceLamp:
    """When it was really lit: from the end of "light on" until a word that ends light begins, or longer."""

    def __init__(self):
        self.lit_s = 0.0
        self.on_s = None

    def said(self, word, from_s, to_s):
        """Somebody speaks; the hand goes with the words."""
        if word == "light_on" and self.on_s is None:
            self.on_s = to_s
        elif word in {"light_off", "stop", "hot", "pain", "cry"} and self.on_s is not None:
            self.lit_s += max(0.0, from_s - self.on_s)
            self.on_s = None

    def until(self, now_s):
        """Seconds for which it was lit so far."""
        return self.lit_s + (max(0.0, now_s - self.on_s) if self.on_s is not None else 0.0)


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
        self.before = {}

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
                if stage in self.done or stage not in self.before:
                    self.before[stage] = stage in self.done, self.taught.get(stage, 0)
                self.done.discard(stage)
                self.taught.pop(stage, None)
            case CorrectionDropped(stage=stage):
                was_done, taught = self.before.pop(stage)
                self.done |= {stage} if was_done else set()
                self.taught[stage] = taught
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
