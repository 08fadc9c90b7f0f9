"""Where a session stands, for a screen or a rehearsal."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from handsfree.model.facts import ReadingConfirmed
from handsfree.model.readings import value_text
from handsfree.session.group_read_back import read_together
from handsfree.session.holds import in_order
from handsfree.session.lift_rules import may_answer
from handsfree.session.listening_context import hint
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import WayOn
from handsfree.session.prompts.wording import Wording
from handsfree.session.stages import stages_done
from handsfree.session.state import SessionState, answered_first
from handsfree.session.visit import Visit, name_of
from handsfree.session.ways import ways_from


@dataclass(frozen=True, slots=True)
class ZoneView:
    """A zone as it stands.

    Attributes:
        id: Identifier.
        label: Name.
        lit_s: Credited seconds.
        target_s: Seconds asked for.
        strap_shadowed: Whether it lies under the strap.
        lit: Whether the light is on it as far as heard.
        tolerance_s: Seconds that may be missing to the target.
    """

    id: str
    label: str
    lit_s: float
    target_s: float
    strap_shadowed: bool
    lit: bool
    tolerance_s: float = 0.0

    @property
    def reached_from_s(self) -> float:
        """Credited seconds from which it has its light."""
        return self.target_s - self.tolerance_s


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Where a session stands.

    Attributes:
        step_id: Step with side ("circulation_before@left"), or "late_heat" while that is asked.
        title: Title of the procedure.
        phase: before, during or after.
        mode: What the session is doing.
        prompt: What was said last and counts.
        hint: What to say.
        read_back: "step.field" to value, while a read-back waits for an answer.
        doubted: Words that the session asks about, or None.
        hold: Why the procedure is held, or None.
        ways: Every way on from the hold.
        may_answer: Roles or reasons of an override that the file permits, where they are asked for.
        is_lit: Whether the light is on as far as heard.
        zones: All zones.
        done: Steps done.
        total: Steps of this visit as far as known.
        section: In a narrated visit the phase, as "in before"; "" in a guided one.
        practice: Whether it is practice.
        side: Injured side once declared.
    """

    step_id: str
    title: str
    phase: str
    mode: str
    prompt: str
    hint: str
    read_back: Mapping[str, str] = field(default_factory=dict)
    doubted: str | None = None
    hold: str | None = None
    ways: tuple[WayOn, ...] = ()
    may_answer: tuple[str, ...] = ()
    is_lit: bool = False
    zones: tuple[ZoneView, ...] = ()
    done: int = 0
    total: int = 0
    section: str = ""
    practice: bool = False
    side: str | None = None


def snapshot(visit: Visit, state: SessionState, wording: Wording) -> Snapshot:
    """Where the session stands."""
    stage, mode = visit.plan.stage(state.place), state.modes.top
    back: dict[str, str] = {}
    if mode is Mode.READING_BACK and state.breath:
        for stage_id, values in state.breath.items():
            name = name_of(visit.plan.stage(stage_id), state.side)
            back |= {f"{name}.{field_id}": value_text(taken.value) for field_id, taken in values.items() if field_id}
    elif mode is Mode.READING_BACK:
        back = {
            f"{one.step.id}.{name}": value_text(taken.value)
            for one in read_together(visit.plan, stage, state)
            for name, taken in (state.pending if one is stage else state.ahead[one.id]).items()
        }
    elif mode is Mode.CHECKING:
        stated = [fact for fact in state.standing.values() if isinstance(fact, ReadingConfirmed)]
        back = {f"{fact.stage}.{fact.field}": value_text(fact.value) for fact in stated}
    elif mode is Mode.OVERRIDE_CONFIRM and state.override is not None:
        back = {"override.role": state.override.role, "override.reason": state.override.reason}
    done, total = stages_done(visit.plan, state)
    held = "; ".join(dict.fromkeys(wording.reason(hold.grounds) for hold in in_order(state.holds)))
    return Snapshot(
        section=f"in {visit.plan.phases[stage.id]}" if state.narrated else "",
        step_id="late_heat" if mode is Mode.LATE_HEAT else name_of(stage, state.side),
        title=visit.procedure.title,
        phase=stage.step.phase,
        mode=mode.value,
        prompt=wording.prompt(state.last_said) if state.last_said is not None else "",
        hint=wording.hint(hint(visit, state)),
        read_back=back,
        doubted=state.doubt.heard.text if mode is Mode.DOUBTING and state.doubt is not None else None,
        hold=held or None,
        ways=ways_from(visit, state, answered_first(state.holds)) if state.holds else (),
        may_answer=may_answer(visit.plan, state),
        is_lit=state.lit,
        zones=_zones(state),
        done=done,
        total=total,
        practice=state.practice,
        side=state.side.value if state.side is not None else None,
    )


def _zones(state: SessionState) -> tuple[ZoneView, ...]:
    ledger = state.ledger
    if ledger is None:
        return ()
    return tuple(
        ZoneView(
            zone.id,
            zone.label,
            ledger.lit_s(zone.id, state.now_s),
            ledger.target_s(zone.id),
            zone.strap_shadowed,
            ledger.lit_zone == zone.id,
            ledger.tolerance_s(zone.id),
        )
        for zone in ledger.zones
    )
