"""How scripted learners work: data. The figures are invented."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Persona:
    """How a learner works.

    Attributes:
        think_s: Seconds before an answer.
        heeds: Whether findings and calls of others are taken up.
        listens: Whether a read-back is compared with what was meant.
        look_s: Seconds from a hold until "override" is said.
        settles_well: Whether a hold is settled as the scenario wants it.
        looks: Whether papers are read and findings looked at; else what is usual is said, and codes are made up.
        other_side: Whether left and right are taken for each other.
        ends_light: Whether "light off" is said when something happens; else it is left to the patient or the cue.
        pushes: At every so many steps "next step" is tried before the answer; 0 for never.
        push_once: Whether "next step" is tried at one step only.
        skips: Whether steps are skipped where that is allowed.
        light_share: Part of a zone's seconds after which "light off" is said; 0 waits for the tool's cue.
        off_delay_s: Seconds after the cue before "light off" is said.
        forgets_strap: Whether the light is asked for before the strap is off.
        asks_again: Share of steps at which "say again" is said first.
        slips: Share of values that are said wrong at first, by chance.
        slips_every: Every so many values one is said wrong at first; 0 for never.
        slip_once: Whether one number of the case is said a digit off, and its read-back affirmed.
        slip_number: At which number of a repeated step its value is said a digit off and affirmed; 0 for none.
        copies: Whether the first value of a repeated step is said for each of its numbers.
        stops_early: Whether a repeated step is ended as soon as the tool lets it be.
        waits: Whether a timer is waited for where the time since counts.
        lights_early: Whether the light is asked for at the first step that it needs, before that is answered.
    """

    think_s: float = 0.6
    heeds: bool = True
    listens: bool = True
    look_s: float = 14.0
    settles_well: bool = True
    looks: bool = True
    other_side: bool = False
    ends_light: bool = True
    pushes: int = 0
    push_once: bool = False
    skips: bool = False
    light_share: float = 0.0
    off_delay_s: float = 0.0
    forgets_strap: bool = False
    asks_again: float = 0.0
    slips: float = 0.0
    slips_every: int = 0
    slip_once: bool = False
    slip_number: int = 0
    copies: bool = False
    stops_early: bool = False
    waits: bool = True
    lights_early: bool = False

    @property
    def affirms_slips(self) -> bool:
        """Whether a slip of their own is affirmed when it is read back, by somebody who listens else."""
        return self.slip_once or self.slip_number > 0 or self.copies


PERSONAS: Mapping[str, Persona] = {
    "good": Persona(),
    "hasty": Persona(
        think_s=0.2,
        heeds=False,
        listens=False,
        look_s=0.2,
        settles_well=False,
        pushes=3,
        skips=True,
        light_share=0.6,
        forgets_strap=True,
        stops_early=True,
        waits=False,
        lights_early=True,
    ),
    "forgetful": Persona(think_s=2.0, off_delay_s=3.5, asks_again=0.25, slips=0.15, forgets_strap=True),
    "one_push": Persona(push_once=True),
    "one_slip": Persona(slip_once=True),
    "second_slip": Persona(slip_number=2),
    "copies": Persona(copies=True),
    "stops_early": Persona(stops_early=True),
    "unsure": Persona(asks_again=0.5),
    "skips": Persona(skips=True),
    "slow": Persona(think_s=5.0, off_delay_s=3.0),
    "freezes": Persona(ends_light=False),
    "pusher": Persona(pushes=1),
    "careless": Persona(slips_every=3, listens=False),
    "guessing": Persona(looks=False, listens=False),
    "wrong_side": Persona(other_side=True),
}
"""The learners that there are."""
