"""Whatever is said in a visit of the trial procedures: no exception, every fact can be written, and always a way on."""

import random
from decimal import Decimal
from pathlib import Path

import pytest
from talking import Talk

import handsfree
from handsfree.definition.loader import load_bundle
from handsfree.model.commands import Control, IdentifierSlot, NumberSlot, OptionSlot
from handsfree.model.effects import Append
from handsfree.record.codec import decode_fact, encode_fact
from handsfree.session.session import Session

FOLDER = Path(handsfree.__file__).parent / "procedures" / "guide"
NAMES = ("cast-removal", "wheel-bolts", "water-bath")
TURNS = 100


class Person(Talk):
    """Somebody who says anything, and then what is wanted."""

    def good(self, step, field):
        second = step.second_person
        return "#Z9" if second is not None and field.id == second.code else super().good(step, field)

    def anything(self, rng):
        wanted = self.session.wanted
        match rng.choice(("control", "value", "value", "value", "wait", "crash", "doubt", "answer", "answer")):
            case "control":
                self.say(rng.choice([one for one in Control if one is not Control.END_VISIT]))
            case "value" if wanted.all_slots:
                slot = rng.choice(wanted.all_slots)
                self.give(**{slot.slot: value_for(slot, rng)}, doubted=rng.random() < 0.1)
            case "wait":
                self.wait(rng.choice((1, 30, 200)))
            case "crash":
                self.crash(rng.choice((5.0, 400.0)))
            case "doubt":
                self.say(rng.choice(sorted(wanted.all_controls)), doubted=True)
            case _:
                self.answer()


def value_for(slot, rng):
    match slot:
        case NumberSlot():
            return Decimal(rng.randint(int(slot.low) - 5, int(slot.high) + 5))
        case OptionSlot():
            return rng.choice(slot.options).value
        case IdentifierSlot():
            return rng.choice(("#A4", "#B7", "#C1"))
        case _:
            raise AssertionError(slot)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("seed", range(8))
def test_there_is_always_a_way_on(name, seed):
    rng = random.Random(f"{name} {seed}")
    bundle = load_bundle(str(FOLDER / f"{name}.yaml"))
    person = Person(bundle, practice=True)
    for _ in range(TURNS):
        if person.outcome is not None:
            break
        person.anything(rng)
    person.finish()
    facts = [effect.fact for effects in person.history for effect in effects if isinstance(effect, Append)]
    for fact in facts:
        assert decode_fact(*encode_fact(fact)) == fact
    # The same events give the same facts.
    again = Session(bundle)
    told = [effect.fact for event in person.events for effect in again.handle(event) if isinstance(effect, Append)]
    assert told == facts
