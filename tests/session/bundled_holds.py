"""What may be done about every hold of the bundled procedures: a table by hand. `holds_in` finds the holds of a file.

The table copies no rule: it says, for every answer and every limit that holds a visit, whether it holds as a stop or as
red, or that nobody may lift it, and who answers for it and why. Common practice, no source; the files say so too
(`lift`), and local rules come first.
"""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from handsfree.definition.field_form import StepField
from handsfree.definition.loader import Bundle
from handsfree.definition.step_form import Step

RECALLED = "BAD7"
"""A code that stands on the recall list of these visits."""
EXPIRED = date(2026, 10, 31)
"""A month before the day of these visits."""


class Who(NamedTuple):
    """Who may lift a hold, and why."""

    by: tuple[str, ...]
    why: tuple[str, ...]


class File(NamedTuple):
    """A bundled procedure: its roles and reasons, who lifts what, which reasons need two people, the operator.

    What is grave speaks against the treatment as a whole.
    """

    roles: tuple[str, ...]
    reasons: tuple[str, ...]
    stop: Who
    red: Who
    heat: Who
    gaps: Who
    two: tuple[str, ...]
    operator: str | None
    holds: dict[str, str]
    grave: Who = Who((), ())


def rows(kind: str, table: str) -> dict[str, str]:
    """Lines "step.field: cause, cause" of one kind: never, grave, stop or red."""
    found = {}
    for line in filter(None, map(str.strip, table.splitlines())):
        name, _, causes = line.partition(": ")
        found |= {f"{name} {cause}": kind for cause in causes.split(", ")}
    return found


class Way(NamedTuple):
    """How a hold is come to: the name of its row, and the answers that set it, one after another."""

    name: str
    answers: tuple[dict[str, object], ...]


def holds_in(bundle: Bundle, step: Step, *, other_side: bool) -> Iterator[Way]:
    """Every hold that the answers to a step can set, by the file: no rule about lifting is looked at.

    What is taken again is not so on the side that is not injured.
    """
    for field in step.fields:
        for cause, values in _causes(bundle, field):
            if cause == "again" and other_side:
                continue
            yield Way(f"{step.id}.{field.id} {cause}", tuple({field.id: value} for value in values))
    if step.agree:
        first, *others = step.fields
        one, other, *_ = first.options
        yield Way(f"{step.id} differ", ({first.id: one, others[0].id: other},))
    if step.size_from is not None:
        chart, names = bundle.device.size_chart, [field.id for field in step.fields]
        gap = chart.rows[0].to, chart.rows[1].from_
        yield Way(f"{step.id} between_sizes", (dict(zip(names, gap, strict=True)),))
        yield Way(f"{step.id} off_chart", (dict.fromkeys(names, chart.rows[0].from_ - 1),))


def _causes(bundle: Bundle, field: StepField) -> Iterator[tuple[str, list[object]]]:
    holding = {"stop", "red"}
    for option in (*field.stop, *field.red):
        yield option, [option]
    if field.identifier is not None and field.id == "lot":
        yield "recalled", [f"#{RECALLED}"]
    if field.date is not None and field.date.not_before is not None:
        yield "before_today", [EXPIRED]
    number, compare = field.number, field.compare
    for limit in number.limits if number is not None else ():
        step = Decimal(1).scaleb(-number.decimals)
        if limit.class_ in holding:
            yield ("over", [limit.bound + step]) if limit.above else ("under", [limit.bound - step])
    if number is not None and number.band is not None:
        band = bundle.device.bands[number.band]
        yield "below_band", [band.low - 1]
        yield "above_band", [band.high + 1]
    if compare is not None and compare.worse in holding:
        yield "worse", [next(one for one in field.scale[1:] if one not in field.red or len(field.scale) == 2)]
    if compare is not None and compare.class_ in holding:
        yield "rose", [number.low + compare.rise]
    if field.again is not None and field.again.class_ in holding:
        yield "again", [number.limits[0].bound + Decimal("0.5")] * 2
    sides = field.sides
    assert sides is None or not {sides.worse, sides.class_} & holding, f"{field.id}: sides hold, and no row says so"


_FITTING_NEVER = """
    identity.match: different
    consent.consent: refused
    side_verification: differ
    device_lot.lot: recalled
    device_expiry.expiry: before_today
    device_condition.recall: present
    eye_protection.operator: missing
    eye_protection.patient: missing
    eye_protection.room: missing
    time_out.patient: disputed
    time_out.side: disputed
    time_out.device: disputed
    time_out.size: disputed
    time_out.plan: disputed
"""
_FITTING_GRAVE = """
    contraindications_wound.open_fracture: present
    contraindications_wound.wound: present
    contraindications_wound.infection: present
    contraindications_limb.vascular: present
    contraindications_limb.compartment: present
    contraindications_limb.unstable: present
    allergies.allergy: acrylate
"""
_FITTING_STOP = """
    order.order: missing
    order.image: missing
    order.alignment: rejected
    order.rotation: uncorrected
    cautions_feeling.heat_report: unreliable
    jewelry.jewelry: stuck
    swelling.closed: forbidden
    circumference: between_sizes, off_chart
    device_condition.package: damaged
    device_condition.sleeve: leaking, cracked, hardened
    light_check.output_check: overdue
    light_check.window: dirty
    light_check.battery: low
    skin_before.hand: broken, blistered, infected
    skin_before.wrist: broken, blistered, infected
    skin_before.forearm: broken, blistered, infected
    setup.gloves: missing
    setup.pillow: present
    setup.surfaces: shiny
    position.wrist: below_band, above_band
    position_mid.wrist: below_band, above_band
    position_after.wrist: below_band, above_band
    firmness.fracture: soft
    firmness.edge: soft
    firmness.wrist: soft
    firmness.strap: soft
    motion.edges: rough
    motion.fingers: blocked
    resin.resin: present
    resin.leak: present
    image_after.image: rejected
    incident.incident: burn, skin, nerve, device, side, light
    sign_out.procedure: disputed
    sign_out.device: missing
"""
_FITTING_RED = """
    circulation_before.pulse: absent
    circulation_before.color: pale, blue
    sensation_before.median: absent
    sensation_before.ulnar: absent
    sensation_before.radial: absent
    power_before.median: absent
    power_before.ulnar: absent
    power_before.radial: absent
    pain_before.proportion: exceeded
    skin_after.skin: reddened, blistered, broken
    circulation_after.pulse: absent, worse
    circulation_after.refill: again
    circulation_after.color: pale, blue
    circulation_after.temperature: worse
    sensation_after.median: absent, worse
    sensation_after.ulnar: absent, worse
    sensation_after.radial: absent, worse
    power_after.median: absent, worse
    power_after.ulnar: absent, worse
    power_after.radial: absent, worse
    pain_after.rest: over, rose
    pain_after.stretch: over, rose
    pain_after.proportion: exceeded
"""
_ON_ULNAR_SIDE = """
    position.ring: below_band, above_band
    position.little: below_band, above_band
    position_mid.ring: below_band, above_band
    position_mid.little: below_band, above_band
    position_after.ring: below_band, above_band
    position_after.little: below_band, above_band
    rotation.nails: tilted
    rotation.crossing: present
    firmness.knuckles: soft
    motion.thumb: blocked
"""
_ON_WRIST = """
    position.rotation: below_band, above_band
    position_mid.rotation: below_band, above_band
    position_after.rotation: below_band, above_band
    rotation.nails: tilted
    rotation.crossing: present
    firmness.forearm: soft
    motion.thumb: blocked
"""
_ON_THUMB = """
    position.thumb: below_band, above_band
    position_mid.thumb: below_band, above_band
    position_after.thumb: below_band, above_band
    rotation.nail: turned
    rotation.pinch: blocked
    firmness.thumb: soft
    motion.thumb_tip: blocked
"""
_REMOVAL_NEVER = """
    identity.match: different
    side_verification: differ
    device_lot.lot: recalled
"""
_REMOVAL_STOP = """
    indication.indication: none_given
    cut_line.line: near
    cut_line.guard: missing
"""
_REMOVAL_RED = """
    skin.burn: present
    skin.resin: present
    skin.pressure: present
    skin.rash: present
    circulation.pulse: absent
    circulation.color: pale, blue
    circulation.temperature: cold
    sensation.median: absent
    sensation.ulnar: absent
    sensation.radial: absent
"""
_CHECK_NEVER = """
    identity.match: different
"""
_CHECK_RED = """
    pain.rest: over, rose
    pain.stretch: over, rose
    pain.proportion: exceeded
    sensation.median: absent, worse
    sensation.ulnar: absent, worse
    sensation.radial: absent, worse
    power.median: absent, worse
    power.ulnar: absent, worse
    power.radial: absent, worse
    circulation.pulse: absent, worse
    circulation.refill: again
    circulation.color: pale, blue
    circulation.temperature: cold, worse
    change.touch: worse
    change.power: worse
    change.discomfort: worse
"""
_OUTPUT_NEVER = """
    eye_protection.operator: missing
    eye_protection.room: missing
"""
_OUTPUT_STOP = """
    condition.window: dirty
    condition.battery: low
    condition.cable: damaged
    sign_out.output: below, above
"""
_THERMOMETER_NEVER = """
    reference_due.due: before_today
"""
_THERMOMETER_STOP = """
    bath.bath: melted
    bath.glass: broken
    sign_out.label: missing
"""
_CLINICAL = ("judged", "senior", "settled")
_FIND_OUT = ("senior", "settled")
_HAND = ("surgeon", "therapist")


def _fitting(own: str) -> File:
    return File(
        roles=(*_HAND, "technician"),
        reasons=_CLINICAL,
        stop=Who((*_HAND, "technician"), _FIND_OUT),
        red=Who(_HAND, _FIND_OUT),
        heat=Who(_HAND, _FIND_OUT),
        gaps=Who(_HAND, ("judged", "senior")),
        two=("senior",),
        operator="surgeon",
        holds=rows("never", _FITTING_NEVER)
        | rows("grave", _FITTING_GRAVE)
        | rows("stop", f"{_FITTING_STOP}{own}")
        | rows("red", _FITTING_RED),
        grave=Who(("surgeon",), _FIND_OUT),
    )


FILES = {
    "ulnar-splint-fitting": _fitting(_ON_ULNAR_SIDE),
    "wrist-splint-fitting": _fitting(_ON_WRIST),
    "thumb-splint-fitting": _fitting(_ON_THUMB),
    "splint-removal": File(
        roles=(*_HAND, "technician"),
        reasons=_CLINICAL,
        stop=Who((*_HAND, "technician"), _FIND_OUT),
        red=Who(_HAND, _FIND_OUT),
        heat=Who(_HAND, _FIND_OUT),
        gaps=Who(_HAND, ("judged", "senior")),
        two=("senior",),
        operator=None,
        holds=rows("never", _REMOVAL_NEVER) | rows("stop", _REMOVAL_STOP) | rows("red", _REMOVAL_RED),
    ),
    "neurovascular-check": File(
        roles=(*_HAND, "nurse"),
        reasons=_CLINICAL,
        stop=Who((*_HAND, "nurse"), _FIND_OUT),
        red=Who(_HAND, _FIND_OUT),
        heat=Who(_HAND, _FIND_OUT),
        gaps=Who(_HAND, ("judged", "senior")),
        two=("senior",),
        operator=None,
        holds=rows("never", _CHECK_NEVER) | rows("stop", "sign_out.receiver: missing") | rows("red", _CHECK_RED),
    ),
    "light-output-check": File(
        roles=("technician", "therapist"),
        reasons=("judged", "senior"),
        stop=Who(("technician", "therapist"), ("judged", "senior")),
        red=Who(("technician", "therapist"), ("judged", "senior")),
        heat=Who(("technician", "therapist"), ("judged", "senior")),
        gaps=Who(("technician", "therapist"), ("judged", "senior")),
        two=("senior",),
        operator=None,
        holds=rows("never", _OUTPUT_NEVER) | rows("stop", _OUTPUT_STOP),
    ),
    "thermometer-calibration": File(
        roles=("supervisor",),
        reasons=("judged", "senior"),
        stop=Who(("supervisor",), ("judged", "senior")),
        red=Who(("supervisor",), ("judged", "senior")),
        heat=Who(("supervisor",), ("judged", "senior")),
        gaps=Who(("supervisor",), ("judged", "senior")),
        two=(),
        operator=None,
        holds=rows("never", _THERMOMETER_NEVER) | rows("stop", _THERMOMETER_STOP),
    ),
}
