"""Settings of a practice: how the patient is, where the people come from, noise. Pure but for the choice by seed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random

from handsfree.errors import ScriptError
from handsfree.practice.event_kinds import bundled_kinds
from handsfree.practice.scenario import LEARNER, PATIENT, Moment, PatientManner, Scenario, ScenarioEvent
from handsfree.simulation.script import NoiseSpec, VoiceSpec

ACCENTS: Mapping[str, str] = {
    "american": "en-us",
    "british": "en-gb",
    "caribbean": "en-029",
    "lancashire": "en-gb-x-gbclan",
    "received": "en-gb-x-rp",
    "scottish": "en-gb-scotland",
    "west-midlands": "en-gb-x-gbcwmd",
}
"""Accents of the players, as voices of espeak-ng. Synthetic: they are no measure of people who speak so."""
_IMPATIENCE = "impatience"
_IMPATIENT_TIMES = 2


@dataclass(frozen=True, slots=True)
class PracticeSettings:
    """What is set for one practice beside its scenario.

    Attributes:
        patient: How the patient is; None: as the scenario says.
        accent: A key of `ACCENTS` for everybody but the learner; None: as the scenario says.
        noise: The room; None: as the scenario says.
    """

    patient: PatientManner | None = None
    accent: str | None = None
    noise: NoiseSpec | None = None

    @property
    def words(self) -> str:
        """The settings in words, "" for none: attempts with other ones are not set beside each other."""
        parts = []
        if self.patient is not None:
            parts.append(f"{self.patient.value} patient")
        if self.accent is not None:
            parts.append(f"{self.accent} accent")
        if self.noise is not None:
            parts.append(f"{self.noise.kind} noise, {self.noise.snr_db:g} dB")
        return ", ".join(parts)


AS_WRITTEN = PracticeSettings()


def noise_of(text: str) -> NoiseSpec:
    """Noise as given on the command line: "babble:15".

    Raises:
        ScriptError: It is none.
    """
    kind, _, level = text.partition(":")
    try:
        return NoiseSpec.model_validate({"kind": kind, "snr_db": float(level)})
    except ValueError as error:
        raise ScriptError(
            f"{text!r} is no noise; white, pink or babble with dB of speech over it, such as babble:15, would be right"
        ) from error


def with_settings(scenario: Scenario, settings: PracticeSettings, quiet_steps: Sequence[str]) -> Scenario:
    """The scenario as it is played.

    Args:
        scenario: As the file says.
        settings: What is set beside it.
        quiet_steps: Steps without light, where somebody may grow impatient.

    Raises:
        ScriptError: The patient is to be silent, and an event has no sign to see instead.
    """
    manner = settings.patient or scenario.patient
    changes: dict[str, object] = {"patient": manner}
    if manner is PatientManner.SILENT:
        changes["events"] = tuple(_unsaid(event, scenario) for event in scenario.events)
    elif manner is PatientManner.IMPATIENT and not any(event.kind == _IMPATIENCE for event in scenario.events):
        changes["events"] = (*scenario.events, *_impatience(scenario, quiet_steps))
    if settings.accent is not None:
        changes["voices"] = {who: _accented(who, voice, settings.accent) for who, voice in scenario.voices.items()}
    if settings.noise is not None:
        changes["noise"] = settings.noise
    return scenario.model_copy(update=changes)


def _unsaid(event: ScenarioEvent, scenario: Scenario) -> ScenarioEvent:
    """What a silent patient does in place of words: somebody else tells it."""
    if event.who != PATIENT:
        return event
    teller = next((who for who in scenario.voices if who not in {LEARNER, PATIENT}), None)
    if event.sign is None or teller is None:
        lacks = "no sign to see" if event.sign is None else "nobody to tell it: give a voice beside learner and patient"
        raise ScriptError(f"{event.id}: the patient is silent, and there is {lacks}")
    return event.model_copy(update={"who": teller, "say": event.sign, "repeat": 0})


def _impatience(scenario: Scenario, quiet_steps: Sequence[str]) -> tuple[ScenarioEvent, ...]:
    kind = bundled_kinds()[_IMPATIENCE]
    chance = Random(f"{scenario.seed} impatience")  # noqa: S311 - the same each time, which is the point
    steps = chance.sample(list(quiet_steps), min(_IMPATIENT_TIMES, len(quiet_steps)))
    told = kind.model_dump(exclude={"settle"})
    return tuple(
        ScenarioEvent(id=f"{_IMPATIENCE}_{number}", kind=_IMPATIENCE, at=Moment(steps=(step,)), **told)
        for number, step in enumerate(steps, start=1)
    )


def _accented(who: str, voice: VoiceSpec, accent: str) -> VoiceSpec:
    if who == LEARNER:
        return voice
    _, _, variant = voice.voice.partition("+")
    usual = "f3" if who == PATIENT else "m3"
    return VoiceSpec(engine="espeak-ng", voice=f"{ACCENTS[accent]}+{variant or usual}", rate=voice.rate)
