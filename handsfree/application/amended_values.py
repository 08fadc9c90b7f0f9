"""What a later correction is held against: what its procedure takes at all, and the limits by which a visit judges."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from handsfree.application.amended_conditions import turned_steps
from handsfree.definition.computed_form import result_of
from handsfree.definition.form import Step, StepField
from handsfree.definition.loader import Bundle
from handsfree.definition.value_checking import value_fault
from handsfree.model.baseline import place
from handsfree.model.fact_base import KeptValue
from handsfree.model.facts import StatedReading
from handsfree.model.patient_reference import reference_fault
from handsfree.model.readings import Absent, AbsentReason, Side, SpelledText, SpokenValue
from handsfree.record.amendments import AmendmentJudged, Judge, ValueFault
from handsfree.record.baseline import compared_with
from handsfree.record.contents import Amended, JudgedAnew, Record, recalled_lots
from handsfree.record.verify import verify
from handsfree.report.procedure_at_hand import procedure_of
from handsfree.session.field_slots import number_words
from handsfree.session.limits import Classification, HeldAgainst, judge
from handsfree.session.visit import Visit

_Readings = Mapping[int, StatedReading]
_Place = tuple[str, str, Side | None]
_REFERENCE = "reads like a name or a date of birth, or is no code of this site"


@dataclass(frozen=True, slots=True)
class AmendmentRules:
    """What new values of a record are held against; both None where the very version of its procedure is not at hand.

    Attributes:
        value_fault: What is wrong with a value, so that it is refused.
        judge: How a value is classed, so that it is marked.
    """

    value_fault: ValueFault | None = None
    judge: Judge | None = None


def amendment_rules(record: Path, procedure: Path | None = None) -> AmendmentRules:
    """The rules for new values of a record.

    Args:
        record: Folder of the record, or its file.
        procedure: Procedure file, for a record of one that is not bundled.

    Raises:
        RecordError: There is no record, or it cannot be read.
        ProcedureFileError: The procedure file that was given has faults.
    """
    found = verify(record).record
    return rules_of(found, procedure_of(found, procedure)) if found is not None else AmendmentRules()


def rules_of(record: Record, bundle: Bundle | None) -> AmendmentRules:
    """The rules for new values of a record whose procedure was looked for."""
    if bundle is None or bundle.sha256 != record.header.procedure_sha256:
        return AmendmentRules()
    today = record.started.today if record.started is not None else record.header.started[:10]
    day, pattern = date.fromisoformat(today), record.header.reference_pattern
    own = bundle

    def fault_of(stands: StatedReading, value: KeptValue) -> str:
        named = f"{stands.step}.{stands.field}" == own.procedure.patient_from
        if named and isinstance(value, SpelledText) and reference_fault(value.text, pattern, day) is not None:
            return f"{value.text!r} {_REFERENCE}"
        return value_fault(own.procedure, stands.step, stands.field, value, day)

    return AmendmentRules(fault_of, lambda as_it_is, entry, changes: judged_anew(own, as_it_is, entry, changes))


def judged_anew(bundle: Bundle, record: Record, entry: int, changes: Amended) -> AmendmentJudged:
    """How a corrected reading is classed, every other one whose class changes with it, and conditions that turn.

    Args:
        bundle: The procedure of the record.
        record: The record before the correction.
        entry: Line of the reading.
        changes: What is corrected of it.
    """
    stands = {one.recorded.seq: one.stands for one in record.readings}
    standing = {one.recorded.seq: one.stands for one in record.readings if one.superseded_by is None}
    corrected = stands[entry]
    corrected = replace(
        corrected,
        value=changes.value if changes.value is not None else corrected.value,
        side=changes.side if changes.side is not None else corrected.side,
    )
    # One that was taken the place of is judged by itself: nothing is held against it any more.
    after = {**standing, entry: corrected} if entry in standing else standing
    after = computed_anew(bundle, after, entry)
    judging = _Judging(bundle, record)
    before_by, after_by = judging.classes(standing), judging.classes(after)
    own = after_by.get(entry) or judging.classes({**standing, entry: corrected})[entry]
    values = {seq: one.value for seq, one in after.items() if seq != entry and one.value != standing[seq].value}
    others = ((seq, one) for seq, one in after_by.items() if seq in values or (seq != entry and one != before_by[seq]))
    visited = {one.recorded.seq: one.recorded.fact for one in record.readings if one.superseded_by is None}
    return AmendmentJudged(
        tuple(
            JudgedAnew(entry=seq, severity=one.severity, grounds=one.grounds, value=values.get(seq))
            for seq, one in ((entry, own), *others)
        ),
        turned_steps(bundle.plan, record, visited, after),
    )


def computed_anew(bundle: Bundle, readings: _Readings, entry: int) -> dict[int, StatedReading]:
    """Readings with all that is computed from a corrected one computed anew.

    Args:
        bundle: The procedure of the record.
        readings: The readings that stand, the corrected one as it is now, by their line.
        entry: Line of the corrected reading.
    """
    found = dict(readings)
    fields = {(step.id, field.id): field for step in bundle.procedure.steps for field in step.fields}
    changed = {(found[entry].stage, found[entry].field)} if entry in found else set()
    order = {step.id: number for number, step in enumerate(bundle.procedure.steps)}
    # In the order of the file, in which one feeds another: a line of the record may be younger than what it feeds.
    for seq, reading in sorted(found.items(), key=lambda one: (order.get(one[1].step, 0), one[0])):
        field = fields.get((reading.step, reading.field))
        if reading.computed is None or field is None or field.number is None:
            continue
        if changed.isdisjoint((one.stage, one.field) for one in reading.computed.inputs):
            continue
        now = {(one.stage, one.field): one.value for one in found.values()}
        known = [now.get((one.stage, one.field), one.value) for one in reading.computed.inputs]
        value = result_of(reading.computed.how, known, field.number.decimals, field.number.unit)
        found[seq] = replace(reading, value=value or Absent(AbsentReason.NOT_PERFORMED))
        changed.add((reading.stage, reading.field))
    return found


class _Judging:
    """The readings of a record held against the limits of its procedure, as the visit held them."""

    def __init__(self, bundle: Bundle, record: Record) -> None:
        self._record = record
        self._fields = {(step.id, field.id): (step, field) for step in bundle.procedure.steps for field in step.fields}
        plan, recalled = bundle.plan, recalled_lots(record.header)
        self._visit = Visit(plan=plan, device=bundle.device, recalled=recalled)
        self._which = {stage.id: number_words(stage) for stage in plan.stages if stage.number}
        self._earlier = compared_with(record)
        self._today = record.started.today if record.started is not None else record.header.started[:10]
        facts = (one.recorded.fact for one in record.readings)
        self._repeated = {
            (fact.step, fact.field, fact.side) for fact in facts if getattr(fact, "why", "") == "repeated"
        }

    def classes(self, readings: _Readings) -> dict[int, Classification]:
        """The class of each reading, by its line."""
        values: dict[_Place, SpokenValue] = {(one.step, one.field, one.side): one.value for one in readings.values()}
        return {seq: self._class(one, values) for seq, one in readings.items()}

    def _class(self, reading: StatedReading, values: Mapping[_Place, SpokenValue]) -> Classification:
        known = self._fields.get((reading.step, reading.field))
        if known is None:
            return Classification(reading.severity, reading.grounds)
        step, field = known
        against = HeldAgainst(
            baseline=self._before(field, reading, values),
            sides=self._both_sides(step, field, reading, values),
            band=self._visit.band_of(field),
            today=self._today,
            recalled=self._visit.recalled,
            repeated=(reading.step, reading.field, reading.side) in self._repeated,
            which=self._which.get(reading.stage, ""),
        )
        return judge(field, reading.value, against)

    def _before(
        self, field: StepField, reading: StatedReading, values: Mapping[_Place, SpokenValue]
    ) -> SpokenValue | None:
        if field.compare is None:
            return None
        if field.compare.with_ is not None:
            return values.get((field.compare.with_, field.id, reading.side))
        known = self._earlier.values if self._earlier is not None else {}
        return _first(known, (place(step, field.id, reading.side) for step in field.compare.earlier))

    def _both_sides(
        self, step: Step, field: StepField, reading: StatedReading, values: Mapping[_Place, SpokenValue]
    ) -> tuple[SpokenValue, SpokenValue] | None:
        injured = self._record.side
        if field.sides is None or injured is None or reading.side in (None, injured):
            return None
        there = values.get((step.id, field.id, injured))
        return (there, reading.value) if there is not None else None


def _first(known: Mapping[str, KeptValue], places: Iterable[str]) -> KeptValue | None:
    return next((known[name] for name in places if name in known), None)
