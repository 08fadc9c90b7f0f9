"""The values that a scripted learner has in mind and says: true ones, guessed ones, slips."""

from datetime import date
from decimal import Decimal
from random import Random

from handsfree.definition.form import Step, StepField
from handsfree.practice.event_injection import EventInjector
from handsfree.practice.personas import Persona
from handsfree.practice.scenario_loader import LoadedScenario
from handsfree.simulation.spoken_answers import hoped_for

MADE_UP_CODE = "X9"
ANOTHER_MADE_UP = "X8"
"""For a second person: nobody confirms their own work."""
PRACTICE = "practice"
_OTHER_SIDE = {"left": "right", "right": "left"}


class LearnerValues:
    """What a learner knows and says.

    Args:
        case: The scenario with its procedure.
        manner: How the learner works.
        injector: What has happened.
        today: Local date.
        chance: Draws slips that come by chance.

    Attributes:
        remedied: Events that the learner has put right.
    """

    def __init__(
        self, case: LoadedScenario, manner: Persona, injector: EventInjector, today: date, chance: Random
    ) -> None:
        self._case = case
        self._manner = manner
        self._injector = injector
        self._today = today
        self._chance = chance
        self._slipped: set[str] = set()
        self._said_before: set[str] = set()
        self._values_said = 0
        self.remedied: set[str] = set()

    def slipped_at(self, stage: str) -> bool:
        """Whether a value of this stage was said wrong."""
        return any(place.rpartition(".")[0] == stage for place in self._slipped)

    def true(self, step: Step, stage: str) -> dict[str, str]:
        """What is so, as this learner sees it."""
        values = {}
        for field in step.fields:
            place = f"{step.id}.{field.id}"
            known = self._known(place, f"{stage}.{field.id}")
            if not self._manner.looks:
                known = self._made_up(step, field)
            if place == self._case.bundle.procedure.kind_from:
                # A record of practice takes nothing else.
                known = PRACTICE
            value = known or hoped_for(field, self._case.bundle, self._today, step)
            values[field.id] = _OTHER_SIDE.get(value, value) if self._manner.other_side else value
        return values

    def _made_up(self, step: Step, field: StepField) -> str | None:
        if field.identifier is None:
            return None
        second = step.second_person is not None and step.second_person.code == field.id
        return (ANOTHER_MADE_UP if second else MADE_UP_CODE)[: field.identifier.max_length]

    def _known(self, *places: str) -> str | None:
        found = None
        for place in places:
            found = self._case.scenario.case.get(place, found)
        if self._manner.heeds and self._manner.looks:
            for one in self._injector.fired:
                for place in places:
                    found = one.event.shows.get(place, found)
                    if one.event.id in self.remedied:
                        found = one.event.remedy.get(place, found)
        return found

    def said(self, step: Step, stage: str, values: dict[str, str]) -> dict[str, str]:
        """What is said, with the slips of this learner: a value has one the first time it is said, or none."""
        said = dict(values)
        for field in step.fields:
            place = f"{stage}.{field.id}"
            if field.id not in values or place in self._said_before:
                continue
            self._said_before.add(place)
            first = f"{step.id}@1"
            if self._manner.copies and step.repeat is not None and stage != first:
                said[field.id] = self.true(step, first)[field.id]
            elif self._slips(step, field, stage):
                said[field.id] = _slipped(field, values[field.id])
            if said[field.id] != values[field.id]:
                self._slipped.add(place)
        return said

    def _slips(self, step: Step, field: StepField, stage: str) -> bool:
        """Whether this value is said wrong."""
        self._values_said += 1
        place = f"{stage}.{field.id}"
        if self._manner.slip_number:
            return step.repeat is not None and stage == f"{step.id}@{self._manner.slip_number}"
        if self._manner.slip_once:
            # Of two that must agree the tool itself finds the one that is off.
            named = field.number is not None and self._known(f"{step.id}.{field.id}", place) is not None
            return named and step.repeat_within is None and not self._slipped
        if self._manner.slips_every:
            return self._values_said % self._manner.slips_every == 0
        return bool(self._manner.slips) and self._chance.random() < self._manner.slips


def _slipped(field: StepField, value: str) -> str:
    """A value said wrong in a way that still fits its field: a digit or a character off, another option."""
    if field.options is not None:
        return next((option for option in field.options if option != value), value)
    if field.date is not None:
        return value
    last = value[-1]
    following = {"9": "8", "Z": "Y"}.get(last, chr(ord(last) + 1))
    said = value[:-1] + following
    if field.number is not None and not field.number.low <= Decimal(said) <= field.number.high:
        return value
    return said
