"""What a step rules, as short lines: conditions, stops, limits, who may lift what, what is told and taken.

The checked step is walked key by key. A key that has words here gets them; one that has none is shown by its name with
its value, so that no rule which somebody approves can be missing on a card because nobody thought of it here.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from pydantic import BaseModel

from handsfree.definition.computed_form import Computed
from handsfree.definition.condition_form import reference_words
from handsfree.definition.field_form import Again, Compare, DateField, Number, Sides
from handsfree.definition.form import Procedure, Step, StepField
from handsfree.definition.lift_form import Lift, LiftRule, LiftRules
from handsfree.definition.profile_form import DeviceProfile
from handsfree.definition.side_words import on_paper
from handsfree.definition.step_form import RepeatWithin, Timer


class RuleKind(StrEnum):
    """Kinds of rules in the order in which they are read; the value is what stands before them."""

    ONLY_IF = "Only if"
    AFTER = "After"
    STOP = "STOP"
    RED = "RED"
    AMBER = "Amber"
    ACT = "Do"
    LIFT = "Lift"
    TELL = "Tell"
    CHECK = "Note"


@dataclass(frozen=True, slots=True)
class StepRule:
    """One rule of a step.

    Attributes:
        kind: Of which kind.
        text: What it says, in short.
        about: Label of the field that it is about; "" where it is about the whole step.
        of_options: Whether it gives options their class, as the words of an answer show it too.
    """

    kind: RuleKind
    text: str
    about: str = ""
    of_options: bool = False


Words = Callable[[Any, Any], Iterator[StepRule]]
"""Puts the value of a key into rules; the second argument is the part that has the key."""
_CLASSES = {"stop": RuleKind.STOP, "red": RuleKind.RED, "amber": RuleKind.AMBER}
_ON_ITS_LINE = frozenset(("id", "kind", "phase", "prompt", "expert", "source", "fields", "topic", "reported", "hard"))
_NO_RULE = frozenset(("explained", "for_each", "group", "timing", "time_out", "zones"))
_NO_RULE_OF_FIELD = frozenset(("id", "label", "also", "options", "identifier", "source", "scale", "code", "told"))
_NO_RULE_OF_NUMBER = frozenset(
    ("unit", "spoken", "low", "high", "decimals", "range_source", "fractions", "error_source")
) | frozenset(("flag_class", "flag_above", "flag_below"))
"""Keys that stand on the line of the step, are part of another rule, or rule nothing by themselves."""
_PRINTED_UNITS = {"deg": "°", "Cel": " °C", "%": "%", "{score}": "", "1": "", "[in_i]": " in", "[lb_av]": " lb"}


@dataclass(frozen=True, slots=True)
class RuleBook:
    """The rules of a procedure.

    Attributes:
        procedure: The procedure.
        device: The device profile that its bands are of, or None.
    """

    procedure: Procedure
    device: DeviceProfile | None = None

    def of(self, step: Step) -> tuple[StepRule, ...]:
        """Every rule of a step, in the order of `RuleKind`."""
        own: Mapping[str, Words] = {
            "when": lambda _, __: one(RuleKind.ONLY_IF, self.condition(step)),
            "lift": lambda rule, _: self._lift(rule),
        }
        found = [*_keys(step, {**_STEP_WORDS, **own}, _ON_ITS_LINE | _NO_RULE)]
        for field in step.fields:
            found += self._field(field)
        found += self._zones(step)
        order = list(RuleKind)
        return tuple(sorted(dict.fromkeys(found), key=lambda rule: order.index(rule.kind)))

    def condition(self, step: Step) -> str:
        """What must have been answered for a step to be done, in the words that are said; "" where nothing must."""
        said = {
            f"{other.id}.{field.id}": {name: phrases[0] for name, phrases in (field.options or {}).items()}
            for other in self.procedure.steps
            for field in other.fields
        }
        return step.when.words(said) if step.when is not None else ""

    def lifts(self) -> tuple[str, ...]:
        """Who may lift what where no step says otherwise, a line each."""
        lines = []
        for key in LiftRules.model_fields:
            rule = getattr(self.procedure.lift, key)
            if isinstance(rule, Lift) or rule == "never":
                lines.append(f"{words_of(key)}: {self.lift_text(rule)}")
            elif rule:
                lines.append(f"{words_of(key)}: {' or '.join(map(self._reason, rule))}")
        if self.procedure.lift.red is None or self.procedure.lift.stop is None:
            lines.append("where nothing is said: every role, every reason")
        return tuple(lines)

    def lift_text(self, rule: LiftRule) -> str:
        """Who may lift, and why, in the words that are said."""
        if not isinstance(rule, Lift):
            return "nobody"
        roles = self.procedure.roles
        by = [roles[name][0] if name in roles else words_of(name) for name in rule.by]
        return f"{' or '.join(by)}, {' or '.join(map(self._reason, rule.reasons))}"

    def _reason(self, name: str) -> str:
        known = self.procedure.override_reasons
        return known[name][0] if name in known else words_of(name)

    def _zones(self, step: Step) -> Iterator[StepRule]:
        """What the zones of a step get, as the device profile has it."""
        for zone in sorted(self.device.zones if self.device is not None else (), key=lambda zone: zone.order):
            if step.zones == ("strap" if zone.strap_shadowed else "open"):
                dose = f"{zone.target_s:g} s" if zone.target_s is not None else f"{zone.target_j_cm2:g} J/cm²"
                yield StepRule(RuleKind.ACT, dose + (f", {zone.spots} spots" if zone.spots > 1 else ""), zone.name)

    def _lift(self, rule: LiftRule, about: str = "") -> Iterator[StepRule]:
        yield StepRule(RuleKind.LIFT, self.lift_text(rule), about)

    def _field(self, field: StepField) -> Iterator[StepRule]:
        def said(options: tuple[str, ...]) -> str:
            return " or ".join((field.options or {})[name][0] for name in options)

        def classed(kind: RuleKind) -> Words:
            return lambda value, _: iter((StepRule(kind, said(value), of_options=True),))

        words: Mapping[str, Words] = {
            "stop": classed(RuleKind.STOP),
            "red": classed(RuleKind.RED),
            "amber": classed(RuleKind.AMBER),
            "no_heat_report": lambda value, _: iter(
                (StepRule(RuleKind.ACT, f"{said(value)}: touch, no report of heat to rely on"),)
            ),
            "number": lambda value, _: _number(value, self.device),
            "computed": _computed,
            "date": lambda value, _: _date(value),
            "compare": lambda value, _: _compare(value),
            "sides": lambda value, _: _sides(value),
            "again": lambda value, _: _again(value),
            "lift": lambda value, _: self._lift(value),
        }
        for rule in _keys(field, words, _NO_RULE_OF_FIELD):
            yield replace(rule, about=field.label)


def grouped(rules: Iterable[StepRule]) -> tuple[tuple[RuleKind, str], ...]:
    """The rules of each kind in one text; what is alike for several labels is said once."""
    kinds: dict[RuleKind, dict[str, list[str]]] = {}
    for rule in rules:
        kinds.setdefault(rule.kind, {}).setdefault(rule.text, []).append(rule.about)
    return tuple(
        (
            kind,
            "; ".join(f"{', '.join(filter(None, abouts))} {text}".strip() for text, abouts in texts.items()).rstrip(
                "."
            ),
        )
        for kind, texts in kinds.items()
    )


def words_of(name: str) -> str:
    """An identifier as words."""
    return name.replace("_", " ").strip()


def unit_after(number: Number) -> str:
    """The unit of a number after it, as it is printed: " cm", "%"; "" for numbers without one."""
    if number.spoken is not None:
        return f" {number.spoken}"
    return _PRINTED_UNITS.get(number.unit, f" {number.unit}")


def _keys(part: BaseModel, words: Mapping[str, Words], known: frozenset[str]) -> Iterator[StepRule]:
    """The rules of one part of a file: each key that says something, by its words or by its name."""
    for key, info in type(part).model_fields.items():
        value = getattr(part, key)
        if key in known or value == info.get_default(call_default_factory=True):
            continue
        if key in words:
            yield from words[key](value, part)
        else:
            yield StepRule(RuleKind.CHECK, by_name(info.alias or key, value))


def by_name(key: str, value: object) -> str:
    """A key with its value, for keys that have no words of their own."""
    return words_of(key) if value is True else f"{words_of(key)} {plain_value(value)}"


def plain_value(value: object) -> str:
    """A value of a file in words."""
    if isinstance(value, BaseModel):
        said = [
            by_name(info.alias or key, getattr(value, key))
            for key, info in type(value).model_fields.items()
            if getattr(value, key) != info.get_default(call_default_factory=True)
        ]
        return f"({', '.join(said)})"
    if isinstance(value, Mapping):
        return ", ".join(f"{words_of(str(key))}: {plain_value(one)}" for key, one in value.items())
    if isinstance(value, tuple | list):
        return ", ".join(map(plain_value, value))
    return words_of(str(value))


def one(kind: RuleKind, text: str) -> Iterator[StepRule]:
    """One rule."""
    yield StepRule(kind, text)


def _items(_: object, step: Step) -> Iterator[StepRule]:
    for item in step.items:
        yield StepRule(RuleKind.TELL, on_paper(item.say).rstrip("."))


def _red_action(value: str, step: Step) -> Iterator[StepRule]:
    side = "injured side red" if step.red_action_other is not None else "red"
    yield StepRule(RuleKind.ACT, f"{side}: {value}")


def _repeat(rule: RepeatWithin, _: Step) -> Iterator[StepRule]:
    named = " and ".join(map(words_of, rule.fields))
    yield StepRule(RuleKind.CHECK, f"{named} differ by over {rule.tolerance}: both again")


def _timers(timers: tuple[Timer, ...], _: Step) -> Iterator[StepRule]:
    for timer in timers:
        yield StepRule(RuleKind.TELL, f"after {timer.after} {timer.unit}, by itself: {timer.say.rstrip('.')}")


def _computed(rule: Computed, _: StepField) -> Iterator[StepRule]:
    named = [reference_words(name) for name in rule.inputs]
    between = {"difference": "less", "elapsed": "to"}.get(rule.how, "and")
    of = {"difference": "", "elapsed": "the time from "}.get(rule.how, f"the {rule.how} of ")
    yield StepRule(RuleKind.CHECK, f"is {of}{f' {between} '.join(named)}")


def _late(window: tuple[int, int], _: Step) -> Iterator[StepRule]:
    yield StepRule(RuleKind.ACT, f"heat asked again {window[0]} to {window[1]} s after the last light")


_STEP_WORDS: Mapping[str, Words] = {
    "requires": lambda value, _: one(RuleKind.AFTER, ", ".join(map(words_of, value))),
    "agree": lambda _, __: one(RuleKind.STOP, "answers differ"),
    "repeat_within": _repeat,
    "size_from": lambda _, __: one(RuleKind.STOP, "no size of the chart fits"),
    "light_must_be_off": lambda _, __: one(RuleKind.CHECK, "light off first"),
    "red_action": _red_action,
    "red_action_other": lambda value, _: one(RuleKind.ACT, f"other side red: {value}"),
    "at_early_end": lambda _, __: one(RuleKind.CHECK, "asked at an early end too"),
    "more_light": lambda _, __: one(RuleKind.CHECK, "“more light” goes back to a zone"),
    "warmth": lambda _, __: one(RuleKind.ACT, "asks about warmth after each light"),
    "late_question_s": _late,
    "items": _items,
    "together": lambda _, __: one(RuleKind.CHECK, "told in one go"),
    "timers": _timers,
    "second_person": lambda value, _: one(
        RuleKind.STOP, f"another person than the operator confirms, {value.role} and {value.code}"
    ),
    "repeat": lambda value, _: one(RuleKind.CHECK, f"{value.least} to {value.most} times, “that was the last” ends it"),
}


def _number(number: Number, device: DeviceProfile | None) -> Iterator[StepRule]:
    unit = unit_after(number)
    for limit in number.limits:
        yield StepRule(_CLASSES[limit.class_], f"{'over' if limit.above else 'under'} {limit.bound}{unit}")
    words: Mapping[str, Words] = {
        "band": lambda value, _: _band(value, unit, device),
        "due": lambda _, __: one(RuleKind.CHECK, "says when that is by the clock"),
        "measuring_error": lambda value, _: one(RuleKind.CHECK, f"± {value}{unit} says nothing"),
    }
    yield from _keys(number, words, _NO_RULE_OF_NUMBER)


def _band(name: str, unit: str, device: DeviceProfile | None) -> Iterator[StepRule]:
    band = device.bands.get(name) if device is not None else None
    if band is None:
        yield StepRule(RuleKind.STOP, "outside its band")
        return
    yield StepRule(RuleKind.STOP, f"outside {band.low} to {band.high}{unit}")
    if (band.confirm_from, band.confirm_to) != (band.low, band.high):
        yield StepRule(RuleKind.AMBER, f"outside {band.confirm_from} to {band.confirm_to}{unit}")


def _date(date: DateField) -> Iterator[StepRule]:
    words: Mapping[str, Words] = {
        "not_before": lambda value, _: one(RuleKind.STOP, f"before {value}"),
        "earliest": lambda value, _: one(RuleKind.CHECK, f"not before {value}"),
        "latest": lambda value, _: one(RuleKind.CHECK, f"not after {value}"),
    }
    yield from _keys(date, words, frozenset({"month_only", "range_source"}))


def _compare(rule: Compare) -> Iterator[StepRule]:
    if rule.worse is not None:
        yield StepRule(_CLASSES[rule.worse], "worse than before")
    if rule.class_ is not None:
        yield StepRule(_CLASSES[rule.class_], f"up by {rule.rise}")
    yield from _keys(rule, {}, frozenset({"with_", "earlier", "worse", "rise", "class_"}))


def _sides(rule: Sides) -> Iterator[StepRule]:
    if rule.worse is not None:
        yield StepRule(_CLASSES[rule.worse], "worse than the other side")
    if rule.class_ is not None:
        yield StepRule(_CLASSES[rule.class_], f"{rule.differ} apart from the other side")
    if rule.alike is not None:
        yield StepRule(RuleKind.ACT, f"flagged on both sides: {rule.alike}")
    yield from _keys(rule, {}, frozenset({"worse", "differ", "class_", "alike"}))


def _again(rule: Again) -> Iterator[StepRule]:
    yield StepRule(RuleKind.ACT, f"amber: {rule.say}")
    yield StepRule(_CLASSES[rule.class_], "flagged twice")
    yield from _keys(rule, {}, frozenset({"say", "class_"}))
