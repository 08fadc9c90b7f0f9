"""Where a session stands, for a screen or a rehearsal."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from handsfree.definition.plan import Stage
from handsfree.model.facts import ReadingConfirmed
from handsfree.model.readings import Side, value_text
from handsfree.session.group_read_back import read_together, values_of
from handsfree.session.holds import in_order
from handsfree.session.lift_rules import may_answer
from handsfree.session.listening_context import hint
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import WayOn
from handsfree.session.prompts.wording import Wording
from handsfree.session.section import missing_fields
from handsfree.session.stages import applies, stages_done
from handsfree.session.state import SessionState, answered_first
from handsfree.session.visit import Visit, name_of, side_of, stage_of_name
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
        over_from_s: Credited seconds from which it is over its target; None where none are.
    """

    id: str
    label: str
    lit_s: float
    target_s: float
    strap_shadowed: bool
    lit: bool
    tolerance_s: float = 0.0
    over_from_s: float | None = None

    @property
    def reached_from_s(self) -> float:
        """Credited seconds from which it has its light."""
        return self.target_s - self.tolerance_s


@dataclass(frozen=True, slots=True)
class PhaseItem:
    """A step of the phase in which the visit stands.

    Attributes:
        words: What it is called aloud, with its side.
        done: Whether it is done.
        missing: Labels of what it still wants; () where nothing of it is known yet, or nothing is missing.
    """

    words: str
    done: bool
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NamedValue:
    """A value as it is said back: its step and label, and itself in words."""

    label: str
    value: str


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
        may_be_lit: Whether it may be on outside a run, until somebody says that it is off.
        zones: All zones.
        done: Steps done.
        total: Steps of this visit as far as known.
        section: In a narrated visit the phase, as "in before"; "" in a guided one.
        practice: Whether it is practice.
        side: Injured side once declared.
        step: What the step is called aloud, with its side.
        said_back: What `read_back` holds, in words.
        standing: Findings that were taken and stand unless somebody objects.
        items: The steps of the phase.
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
    may_be_lit: bool = False
    zones: tuple[ZoneView, ...] = ()
    done: int = 0
    total: int = 0
    section: str = ""
    practice: bool = False
    side: Side | None = None
    step: str = ""
    said_back: tuple[NamedValue, ...] = ()
    standing: tuple[NamedValue, ...] = ()
    items: tuple[PhaseItem, ...] = ()


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
            f"{_place(one, state)}.{name}": value_text(taken.value)
            for one in read_together(visit.plan, stage, state)
            for name, taken in values_of(one, state).items()
        }
    elif mode is Mode.CHECKING:
        stated = [fact for fact in state.standing.values() if isinstance(fact, ReadingConfirmed)]
        back = {f"{fact.stage}.{fact.field}": value_text(fact.value) for fact in stated}
    elif mode is Mode.OVERRIDE_CONFIRM and state.override is not None:
        back = {"override.role": state.override.role, "override.reason": state.override.reason}
    done, total = stages_done(visit.plan, state)
    held = "; ".join(dict.fromkeys(wording.reason(hold.grounds) for hold in in_order(state.holds)))
    return Snapshot(
        section=f"in {visit.plan.phase_name(visit.plan.phases[stage.id])}" if state.narrated else "",
        step_id=step_id_of(visit, state),
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
        may_be_lit=state.off_owed is not None or state.stray is not None,
        zones=_zones(state),
        done=done,
        total=total,
        practice=state.practice,
        side=state.side,
        step=words_of(stage, state.side),
        said_back=tuple(_named(visit, state, name, value) for name, value in back.items()),
        standing=tuple(
            _named(visit, state, f"{fact.stage}.{fact.field}", value_text(fact.value))
            for fact in state.standing.values()
            if isinstance(fact, ReadingConfirmed)
        ),
        items=tuple(_items(visit, state)),
    )


def step_id_of(visit: Visit, state: SessionState) -> str:
    """See `Snapshot.step_id`."""
    if state.modes.top is Mode.LATE_HEAT:
        return "late_heat"
    return name_of(visit.plan.stage(state.place), state.side)


def words_of(stage: Stage, injured: Side | None) -> str:
    """What a stage is called aloud, with its side."""
    side = side_of(stage, injured)
    unnamed = "light" if stage.step.kind == "expose" else stage.step.id.replace("_", " ")
    topic = stage.step.topic or unnamed
    return f"{side.value} {topic}" if side is not None else topic


def _place(stage: Stage, state: SessionState) -> str:
    """The step of a value that is read back, with its side where both may be at once."""
    return name_of(stage, state.side) if stage.step.read_back == "sides" else stage.step.id


def _named(visit: Visit, state: SessionState, name: str, value: str) -> NamedValue:
    """A value by "step.field", "step@left.field" or "override.role", with its label in words."""
    place, _, field_id = name.rpartition(".")
    stage = stage_of_name(visit.plan, place, state.side)
    label = next((one.label for one in stage.step.fields if one.id == field_id), "") if stage is not None else ""
    words = (words_of(stage, state.side) if stage is not None else "", label or field_id.replace("_", " "))
    return NamedValue(" ".join(dict.fromkeys(word for word in words if word)), value)


def _items(visit: Visit, state: SessionState) -> Iterator[PhaseItem]:
    """The steps of the phase in which the visit stands; what is being read back is not missing."""
    for stage in visit.plan.stages_in(visit.plan.phases[state.place]):
        if not applies(stage, state):
            continue
        done = stage.id in state.done
        taken = set(state.pending) if stage.id == state.place else set(state.ahead.get(stage.id, {}))
        open_ = [one.label for one in missing_fields(stage, state) if one.id not in taken] if not done else []
        begun = len(open_) < len(stage.step.fields)
        yield PhaseItem(words_of(stage, state.side), done, tuple(open_) if begun else ())


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
            ledger.over_from_s(zone.id),
        )
        for zone in ledger.zones
    )
