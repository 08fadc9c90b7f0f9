"""The machine of phases: it walks from phase to phase through gates, and refuses every gate that is shut."""

from collections.abc import Iterator
from functools import lru_cache, partial
from itertools import pairwise

from transitions import EventData, Machine

from handsfree.definition.plan import Gate, Plan, VisitPhase
from handsfree.session.stages import applies
from handsfree.session.state import Done, SessionState


def shut(plan: Plan, gate: Gate, state: SessionState) -> Iterator[str]:
    """What keeps a gate shut: stages that are owed or only stand, and "held" where something holds the visit."""
    if state.holds:
        yield "held"
    yield from dict.fromkeys(name.rpartition(".")[0] for name in state.standing)
    for stage_id in gate.answered:
        if stage_id not in state.done and applies(plan.stage(stage_id), state):
            yield stage_id
    for stage_id in gate.not_skipped:
        if state.done.get(stage_id) in {None, Done.SKIPPED} and applies(plan.stage(stage_id), state):
            yield stage_id


def moves(plan: Plan) -> tuple[tuple[str, VisitPhase, VisitPhase], ...]:
    """Trigger, source and target of every move between phases.

    `pass` goes through the gate into the next phase, `return` to any phase in which the visit was before or that
    holds it, `leave` ends the visit early.
    """
    phases = plan.phases_in_order
    found = [("pass", source, target) for source, target in pairwise(phases)]
    for source in phases[:-1]:
        found += [(f"return:{target}", source, target) for target in phases[:-1] if target is not source]
        found.append(("leave", source, VisitPhase.CLOSING))
    return tuple(found)


class PhaseMachine:
    """Where the visit is among its phases.

    Args:
        plan: The plan; its gates are the guards of the machine.
    """

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._machine = _machine_of(plan)
        self._model = _Place(plan.phases_in_order[0].value)

    @property
    def phase(self) -> VisitPhase:
        """The phase now."""
        return VisitPhase(self._model.state)

    def go_to(self, phase: VisitPhase, state: SessionState) -> None:
        """Walk ahead to a phase, through every gate in between, or back to an earlier one.

        Raises:
            ValueError: A gate is shut; names it and what is owed. The machine stands in the last phase it came to.
        """
        order = self._plan.phases_in_order
        if order.index(phase) < order.index(self.phase):
            self.return_to(phase, state)
        while self.phase is not phase:
            gate = self._plan.gates[order.index(self.phase)]
            if not self._fire("pass", state):
                raise ValueError(f"the gate into {gate.into} is shut: {', '.join(shut(self._plan, gate, state))}")

    def return_to(self, phase: VisitPhase, state: SessionState) -> None:
        """Go back to a phase in which the visit was, or to one whose values hold it; no gate lies on that way."""
        if self.phase is not phase:
            self._fire(f"return:{phase}", state)

    def leave(self, state: SessionState) -> None:
        """End the visit early, wherever it stands."""
        if self.phase is not VisitPhase.CLOSING:
            self._fire("leave", state)

    def _fire(self, trigger: str, state: SessionState) -> bool:
        return bool(self._machine.events[trigger].trigger(self._model, state=state))


class _Place:
    """What the machine moves: where one visit is."""

    def __init__(self, state: str) -> None:
        self.state = state


@lru_cache(maxsize=16)
def _machine_of(plan: Plan) -> Machine:
    """The machine of a plan. It keeps no state: all visits of the plan share it, because it takes long to build."""
    phases = plan.phases_in_order
    machine = Machine(
        model=None,
        states=[phase.value for phase in phases],
        initial=phases[0].value,
        auto_transitions=False,
        queued=False,
        send_event=True,
    )
    gates = {gate.into: gate for gate in plan.gates}
    for trigger, source, target in moves(plan):
        guard = partial(_is_open, plan, gates[target]) if trigger == "pass" else None
        machine.add_transition(trigger, source.value, target.value, conditions=guard)
    return machine


def _is_open(plan: Plan, gate: Gate, event: EventData) -> bool:
    return not any(shut(plan, gate, event.kwargs["state"]))
