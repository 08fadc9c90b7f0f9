"""Compiles a procedure to a checked state table, and the table to a machine that refuses every other move.

Two machines run side by side: one for where the procedure stands (a state for each stage), one for what the session is
doing there (its mode). Both are `transitions` machines without automatic moves, queues, callback names or timers;
they hold no callbacks at all, so a move either happens whole or not.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from transitions import Machine

from handsfree.definition.form import Procedure, Step

CLOSED = "closed"


class SideRole(StrEnum):
    """Which hand a stage is about, as long as nobody has said left or right."""

    INJURED = "injured"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Stage:
    """A step, or one side of a step that is done for each side.

    Attributes:
        id: State name: the step's identifier, with @injured or @other for a side.
        step: The step.
        role: The side, or None.
    """

    id: str
    step: Step
    role: SideRole | None = None


class Mode(StrEnum):
    """What the session is doing at its stage."""

    ASKING = "asking"
    READING_BACK = "reading_back"
    LIT = "lit"
    WARMTH = "warmth"
    LATE_HEAT = "late_heat"
    DOUBTING = "doubting"
    PAUSED = "paused"
    NOTING = "noting"
    LATCHED = "latched"
    OVERRIDE_ROLE = "override_role"
    OVERRIDE_REASON = "override_reason"
    OVERRIDE_CONFIRM = "override_confirm"
    SKIP_REASON = "skip_reason"
    OPEN_ITEMS = "open_items"
    RECONFIRM = "reconfirm"
    CLOSED = "closed"


_RESTING = (Mode.ASKING, Mode.LATCHED, Mode.OPEN_ITEMS, Mode.RECONFIRM)
_INTERRUPTIBLE = (*_RESTING, Mode.READING_BACK, Mode.WARMTH, Mode.LATE_HEAT)
_UNLIT = tuple(mode for mode in Mode if mode not in {Mode.LIT, Mode.CLOSED})

MODE_TABLE: dict[Mode, frozenset[Mode]] = {
    mode: frozenset(targets)
    for mode, targets in {
        Mode.ASKING: (*_UNLIT, Mode.LIT, Mode.CLOSED),
        Mode.READING_BACK: (*_INTERRUPTIBLE, Mode.DOUBTING, Mode.PAUSED, Mode.NOTING, Mode.CLOSED),
        Mode.LIT: (Mode.ASKING, Mode.WARMTH, Mode.LATCHED, Mode.PAUSED, Mode.RECONFIRM),
        Mode.WARMTH: (*_INTERRUPTIBLE, Mode.DOUBTING, Mode.PAUSED, Mode.NOTING),
        Mode.LATE_HEAT: (*_INTERRUPTIBLE, Mode.DOUBTING, Mode.PAUSED, Mode.NOTING, Mode.CLOSED),
        Mode.DOUBTING: (*_UNLIT, Mode.LIT, Mode.CLOSED),
        Mode.PAUSED: (*_INTERRUPTIBLE, Mode.OVERRIDE_ROLE, Mode.DOUBTING, Mode.NOTING, Mode.CLOSED),
        Mode.NOTING: (*_INTERRUPTIBLE, Mode.PAUSED),
        Mode.LATCHED: (*_RESTING, Mode.OVERRIDE_ROLE, Mode.DOUBTING, Mode.PAUSED, Mode.NOTING),
        Mode.OVERRIDE_ROLE: (*_RESTING, Mode.OVERRIDE_REASON, Mode.DOUBTING, Mode.PAUSED),
        Mode.OVERRIDE_REASON: (*_RESTING, Mode.OVERRIDE_CONFIRM, Mode.DOUBTING, Mode.PAUSED),
        Mode.OVERRIDE_CONFIRM: (*_RESTING, Mode.DOUBTING, Mode.PAUSED, Mode.CLOSED),
        Mode.SKIP_REASON: (*_RESTING, Mode.DOUBTING, Mode.PAUSED, Mode.CLOSED),
        Mode.OPEN_ITEMS: (*_UNLIT, Mode.CLOSED),
        Mode.RECONFIRM: (*_RESTING, Mode.DOUBTING, Mode.PAUSED, Mode.NOTING),
        Mode.CLOSED: (),
    }.items()
}
"""Every move between modes that may ever happen; all others are refused by the machine."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A compiled procedure.

    Attributes:
        procedure: The procedure.
        stages: Its stages in order.
        forward: Source and target of every move ahead: to the next stage, past such as a `when` may leave out.
    """

    procedure: Procedure
    stages: tuple[Stage, ...]
    forward: tuple[tuple[str, str], ...]

    def index(self, stage_id: str) -> int:
        """Position of a stage."""
        return next(number for number, stage in enumerate(self.stages) if stage.id == stage_id)

    def stages_of(self, step_id: str) -> tuple[Stage, ...]:
        """The stages of a step."""
        return tuple(stage for stage in self.stages if stage.step.id == step_id)


def mates_of(plan: Plan, stage: Stage) -> tuple[Stage, ...]:
    """The other stages that may be answered while this one asks: same group, same side."""
    if stage.step.group is None:
        return ()
    return tuple(
        one
        for one in plan.stages
        if one.step.group == stage.step.group and one.role is stage.role and one.id != stage.id
    )


def compile_procedure(procedure: Procedure) -> Plan:
    """Compile a procedure to its table."""
    stages = tuple(_stages(procedure))
    forward: list[tuple[str, str]] = []
    for index, stage in enumerate(stages):
        for later in stages[index + 1 :]:
            forward.append((stage.id, later.id))
            if later.step.when is None:
                break
        else:
            forward.append((stage.id, CLOSED))
    return Plan(procedure, stages, tuple(forward))


def place_moves(plan: Plan) -> tuple[tuple[str, str, str], ...]:
    """Trigger, source and target of every move between stages.

    `advance` goes ahead by the table, `review` back to an earlier stage, `return` ahead again to one that was reached
    before, `leave` ends the visit early.
    """
    ids = [stage.id for stage in plan.stages]
    moves = [(f"advance:{target}", source, target) for source, target in plan.forward]
    for index, source in enumerate(ids):
        moves += [(f"review:{target}", source, target) for target in ids[:index]]
        moves += [(f"return:{target}", source, target) for target in ids[index + 1 :]]
        moves.append((f"leave:{CLOSED}", source, CLOSED))
    return tuple(moves)


class Walker:
    """A machine that makes the moves of a table and no others.

    Args:
        states: All states.
        moves: Trigger, source and target of each move.
        start: First state.

    Raises:
        ValueError: A move names an unknown state, a trigger leads to two targets from one state, or a state cannot be
            reached.
    """

    def __init__(self, states: Iterable[str], moves: Iterable[tuple[str, str, str]], start: str) -> None:
        names, table = tuple(states), tuple(moves)
        _check_table(names, table, start)
        self._machine: Any = Machine(
            model=None,
            states=list(names),
            initial=start,
            auto_transitions=False,
            queued=False,
            send_event=True,
        )
        for trigger, source, target in table:
            self._machine.add_transition(trigger, source, target)
        self._model = _Place()
        self._machine.add_model(self._model, initial=start)

    @property
    def state(self) -> str:
        """Where it stands."""
        return self._model.state

    def can(self, trigger: str) -> bool:
        """Whether a move is in the table from here."""
        return trigger in self._machine.get_triggers(self._model.state)

    def move(self, trigger: str) -> None:
        """Make a move.

        Raises:
            ValueError: The table has no such move from here; the state is unchanged.
        """
        if not self.can(trigger):
            raise ValueError(f"no move {trigger} from {self._model.state}")
        self._machine.events[trigger].trigger(self._model)


class _Place:
    """What the machine moves."""

    state: str = ""


def _check_table(names: tuple[str, ...], table: tuple[tuple[str, str, str], ...], start: str) -> None:
    known = set(names)
    if len(known) != len(names):
        raise ValueError("a state stands twice")
    targets: dict[tuple[str, str], str] = {}
    for trigger, source, target in table:
        if source not in known or target not in known:
            raise ValueError(f"move {trigger} from {source} to {target} names an unknown state")
        if targets.setdefault((trigger, source), target) != target:
            raise ValueError(f"move {trigger} from {source} leads to two states")
    if start not in known:
        raise ValueError(f"first state {start} is unknown")
    reached, queue = {start}, [start]
    ways: dict[str, set[str]] = {}
    for _, source, target in table:
        ways.setdefault(source, set()).add(target)
    while queue:
        for target in ways.get(queue.pop(), set()) - reached:
            reached.add(target)
            queue.append(target)
    if known - reached:
        raise ValueError(f"cannot be reached: {', '.join(sorted(known - reached))}")


def place_walker(plan: Plan) -> Walker:
    """The machine of stages."""
    return Walker([*(stage.id for stage in plan.stages), CLOSED], place_moves(plan), plan.stages[0].id)


def mode_walker() -> Walker:
    """The machine of modes."""
    moves = [(f"to:{target}", source.value, target.value) for source, ways in MODE_TABLE.items() for target in ways]
    return Walker([mode.value for mode in Mode], moves, Mode.ASKING.value)


def _stages(procedure: Procedure) -> Iterable[Stage]:
    for step in procedure.steps:
        if step.for_each is None:
            yield Stage(step.id, step)
        else:
            yield from (Stage(f"{step.id}@{role}", step, role) for role in SideRole)
