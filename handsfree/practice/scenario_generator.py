"""Makes a new scenario of a wanted difficulty for a procedure. Pure; the same seed makes the same scenario.

Nobody learns by heart what is drawn anew: the side, codes, measures, what is found and where, who interrupts.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from handsfree.definition.form import Step, StepField
from handsfree.definition.loader import Bundle
from handsfree.practice.scenario import Difficulty, PatientManner
from handsfree.practice.scenario_bank import Bank, BankFinding, BankHappening
from handsfree.simulation.spoken_answers import value_fault

_LETTERS, _DIGITS = "ABCDEFGHJKLMPRTVXYZ", "23456789"
_SIDES = ("left", "right")
LONG_ENOUGH_S = 5.0
"""A zone must be lit for so long that something can happen in it and be answered before its cue."""


@dataclass(frozen=True, slots=True)
class _Measure:
    """How much happens.

    Attributes:
        findings: Findings that stop the work.
        happenings: Things that happen around it.
        lit: Things that happen while the light is on.
        manners: How the patient may be.
        snr_db: Speech over the noise of the room, dB.
    """

    findings: int
    happenings: int
    lit: int
    manners: tuple[PatientManner, ...]
    snr_db: int


_MEASURES: Mapping[Difficulty, _Measure] = {
    Difficulty.EASY: _Measure(1, 1, 0, (PatientManner.USUAL,), 30),
    Difficulty.MIDDLE: _Measure(2, 2, 1, (PatientManner.USUAL, PatientManner.IMPATIENT), 26),
    Difficulty.HARD: _Measure(3, 3, 2, (PatientManner.IMPATIENT, PatientManner.SILENT), 22),
}
"""Invented for practice; whether a trainer finds them easy or hard was not asked."""


def generated(procedure: str, bundle: Bundle, difficulty: Difficulty, seed: int, bank: Bank) -> dict[str, object]:
    """A scenario as plain data, in the form of a scenario's file.

    Args:
        procedure: Bundled identifier or path of the procedure, as it is to stand in the file.
        bundle: The procedure.
        difficulty: How much happens.
        seed: What is drawn follows from it, and from nothing else.
        bank: What may happen.
    """
    chance = Random(f"{seed} {procedure} {difficulty.value}")  # noqa: S311 - the same each time, which is the point
    measure = _MEASURES[difficulty]
    side = chance.choice(_SIDES)
    case = dict(_case(bundle, side, chance))
    events = [
        *_findings(bundle, bank, measure.findings, side, chance),
        *_happenings(bundle, bank, measure.happenings, chance),
        *_under_light(bundle, bank, measure.lit, chance),
    ]
    about = bundle.procedure.id
    sided = any(place.startswith("side_verification") for place in case)
    return {
        "form": 1,
        "id": f"{about}-{difficulty.value}-{seed}",
        "title": f"{bundle.procedure.title}: drawn, {difficulty.value}, number {seed}",
        "version": "0.1.0",
        "approved_by": None,
        "procedure": procedure,
        "difficulty": difficulty.value,
        "family": f"{about}-{difficulty.value}",
        "patient": chance.choice(measure.manners).value,
        "seed": seed,
        "briefing": [
            f"You work on an invented {side} hand." if sided else "Nobody's hand is in this.",
            "Other people are in the room. The instructor tells you what you would see.",
            "Say it to the tool as it is.",
        ],
        "voices": {
            "learner": {"engine": "neural"},
            "patient": {"engine": "espeak-ng", "voice": "en-us+f3"},
            "instructor": {"engine": "flite", "voice": "rms"},
            "assistant": {"engine": "flite", "voice": "rms"},
            "colleague": {"engine": "flite", "voice": "slt"},
        },
        "tool_voice": "system",
        "noise": {"kind": "pink", "snr_db": measure.snr_db},
        "case": case,
        "events": events,
    }


# What is true


def _case(bundle: Bundle, side: str, chance: Random) -> Iterator[tuple[str, str]]:
    procedure = bundle.procedure
    bands = bundle.device.bands if bundle.device is not None else {}
    # The same angle is measured several times: it stays where it is, but for a degree.
    base = {name: chance.randint(int(band.confirm_from) + 2, int(band.confirm_to) - 2) for name, band in bands.items()}
    for step in _asked(bundle):
        for field in step.fields:
            place = f"{step.id}.{field.id}"
            if place == procedure.kind_from:
                yield place, "practice"
            elif place == procedure.side_from or (step.agree and set(field.options or ()) == set(_SIDES)):
                yield place, side
            elif place == procedure.role_from and field.options:
                yield place, chance.choice(sorted(field.options))
            elif field.identifier is not None:
                yield place, _code(field.identifier.max_length, chance)
            elif field.number is not None:
                amount = _amount(step, field, base)
                if amount is not None:
                    yield place, str(amount + chance.choice((-1, 0, 1)))


def _asked(bundle: Bundle) -> Iterator[Step]:
    """Steps that every practice comes to."""
    names_patient = (bundle.procedure.patient_from or "").partition(".")[0]
    return (step for step in bundle.procedure.steps if step.when is None and step.id != names_patient)


def _code(longest: int, chance: Random) -> str:
    pattern = (_LETTERS, _DIGITS, _LETTERS, _DIGITS)[: max(1, min(4, longest))]
    return "".join(chance.choice(characters) for characters in pattern)


def _amount(step: Step, field: StepField, base: Mapping[str, int]) -> int | None:
    """A number where the file says what is as planned; None elsewhere: then it is found as the procedure hopes."""
    # Two measures of the same thing are held against each other, so they are left as the procedure hopes.
    if field.number is None or step.repeat_within is not None or field.number.band is None:
        return None
    return base.get(field.number.band)


# What happens


def _findings(bundle: Bundle, bank: Bank, count: int, side: str, chance: Random) -> Iterator[dict[str, object]]:
    """Findings at different steps, those that may end the work last."""
    fitting = [one for one in bank.findings if _fits(bundle, one, side)]
    chance.shuffle(fitting)
    drawn: dict[str, BankFinding] = {}
    for one in fitting:
        senior = one.senior and any(other.senior for other in drawn.values())
        if len(drawn) < count and one.step not in drawn and not senior:
            drawn[one.step] = one
    for number, one in enumerate(drawn.values(), start=1):
        yield _finding(one, side, number)


def _fits(bundle: Bundle, one: BankFinding, side: str) -> bool:
    step = next((step for step in _asked(bundle) if step.id == one.step), None)
    field = next((field for field in step.fields if field.id == one.field), None) if step is not None else None
    if step is None or field is None or one.own_side != (step.for_each is not None):
        return False
    if one.senior and not (
        {"senior"} <= set(bundle.procedure.override_reasons) and "surgeon" in bundle.procedure.roles
    ):
        return False
    values = [one.value, *([one.remedy] if one.remedy is not None else [])]
    return all(value_fault(step, field, _meant(value, side)) is None for value in values)


def _meant(value: str, side: str) -> str:
    other = _SIDES[1 - _SIDES.index(side)]
    return {"$true": side, "$other": other}.get(value, value)


def _finding(one: BankFinding, side: str, number: int) -> dict[str, object]:
    at = f"{one.step}@{side}" if one.own_side else one.step
    event: dict[str, object] = {
        "id": f"finding_{number}",
        "kind": one.kind,
        "at": {"steps": [at]},
        "key": str(number),
        "who": "instructor",
        "say": one.say,
        "shows": {f"{at}.{one.field}": _meant(one.value, side)},
    }
    if one.remedy is not None:
        event["remedy"] = {f"{at}.{one.field}": _meant(one.remedy, side)}
    if one.settle is not None:
        event["settle"] = one.settle.model_dump(mode="json", exclude_defaults=True)
    elif one.senior:
        event["settle"] = {"ways": ["overridden", "ended"], "reasons": ["senior"], "roles": ["surgeon"], "look_s": 10}
    return event


def _happenings(bundle: Bundle, bank: Bank, count: int, chance: Random) -> Iterator[dict[str, object]]:
    """Different kinds as far as there are, at steps without light, each at one of its own."""
    steps = [step.id for step in _asked(bundle) if step.kind != "expose" and step.for_each is None][1:]
    places = chance.sample(steps, min(count, len(steps)))
    for number, (one, step) in enumerate(zip(_drawn(bank.happenings, count, chance), places, strict=False), start=1):
        yield _happening(one, f"around_{number}", "abc"[number - 1]) | {"at": {"steps": [step], "after_s": [0, 0.3]}}


def _under_light(bundle: Bundle, bank: Bank, count: int, chance: Random) -> Iterator[dict[str, object]]:
    exposing = next((step for step in _asked(bundle) if step.kind == "expose" and step.zones == "open"), None)
    if exposing is None or bundle.device is None:
        return
    zones = [zone for zone in bundle.device.zones if not zone.strap_shadowed and (zone.target_s or 0) >= LONG_ENOUGH_S]
    chosen = chance.sample(zones, min(count, len(zones)))
    for number, (one, zone) in enumerate(zip(_drawn(bank.lit, count, chance), chosen, strict=False), start=1):
        moment = {"steps": [exposing.id], "zone": zone.id, "after_s": [0.2, 0.8]}
        yield _happening(one, f"lit_{number}", "xy"[number - 1]) | {"at": moment}


def _drawn(bank: Sequence[BankHappening], count: int, chance: Random) -> list[BankHappening]:
    """So many of a bank, of different kinds as long as there are other ones."""
    shuffled = chance.sample(list(bank), len(bank))
    first = list({one.kind: one for one in shuffled}.values())
    return [*first, *(one for one in shuffled if one not in first)][:count]


def _happening(one: BankHappening, name: str, key: str) -> dict[str, object]:
    return {"id": name, "key": key} | one.model_dump(mode="json", exclude_none=True)
