"""Facts about light."""

from dataclasses import dataclass
from typing import Literal

from handsfree.model.fact_base import Fact, StatedSeconds, Utterance
from handsfree.model.light import (
    Cue,
    LampAgreement,
    LampDisagreement,
    LightFlag,
    RunEnd,
    Warmth,
    ZoneStanding,
    standing_of,
)
from handsfree.model.refusals import RefusalReason


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneChosen(Fact):
    """A zone was named.

    Attributes:
        zone: Its identifier.
        heard: The words.
    """

    zone: str
    heard: Utterance
    kind: Literal["zone_chosen"] = "zone_chosen"


@dataclass(frozen=True, slots=True, kw_only=True)
class LightTurnedOn(Fact):
    """The light went on.

    Attributes:
        stage: Where the visit stood.
        zone: The zone.
        counted_from_s: Session time from which it counts, seconds.
        possible_from_s: Session time from which it may have been on, where "light on" was doubted first; else None.
        heat_reported: Whether the patient can be relied on to report heat.
        heard: The words.
    """

    stage: str
    zone: str
    counted_from_s: float
    heat_reported: bool
    heard: Utterance
    possible_from_s: StatedSeconds = None
    kind: Literal["light_turned_on"] = "light_turned_on"


@dataclass(frozen=True, slots=True, kw_only=True)
class LightOnRepeated(Fact):
    """The words "light on" were said of a zone that is lit already."""

    zone: str
    heard: Utterance
    kind: Literal["light_on_repeated"] = "light_on_repeated"


@dataclass(frozen=True, slots=True, kw_only=True)
class CryHeard(Fact):
    """Something was said that may be a cry of heat or pain, where light may have been on or heat was asked about.

    It ended the light, if there was any.

    Attributes:
        zone: The zone that was lit, or that was asked about; "" where there is none.
        words: What was heard, without a grammar where the engine wrote that down.
        heard: The words, as they were matched.
    """

    zone: str
    words: str
    heard: Utterance
    kind: Literal["cry_heard"] = "cry_heard"


@dataclass(frozen=True, slots=True, kw_only=True)
class CrySettled(Fact):
    """The question whether it was hot or painful was answered, or nobody did.

    Attributes:
        heat: Whether it was; None where nobody answered, which is a stop.
        heard: The words, or None.
    """

    heat: bool | None
    heard: Utterance | None
    kind: Literal["cry_settled"] = "cry_settled"


@dataclass(frozen=True, slots=True, kw_only=True)
class LightOffConfirmed(Fact):
    """After a break, a cry or a stop word cut a run short, somebody said that the light is off. What is credited stays.

    Attributes:
        zone: The zone of the run.
        heard: The words.
    """

    zone: str
    heard: Utterance
    kind: Literal["light_off_confirmed"] = "light_off_confirmed"


@dataclass(frozen=True, slots=True, kw_only=True)
class StrayLightBegan(Fact):
    """The words "light on" where no light was permitted: it may be on, and no zone is credited with it.

    Attributes:
        at_s: Session time from which it may be on, seconds.
        stage: Where the visit stood.
        why: What spoke against light.
        heard: The words, as far as they were understood.
    """

    at_s: float
    stage: str
    why: RefusalReason
    heard: Utterance
    kind: Literal["stray_light_began"] = "stray_light_began"


@dataclass(frozen=True, slots=True, kw_only=True)
class StrayLightEnded(Fact):
    """Somebody said what became of light outside a zone.

    Attributes:
        from_s: Session time from which it may have been on, seconds.
        to_s: Session time up to which.
        lit: Whether it was on; False where "negative" said that no light was on.
        heard: The words.
    """

    from_s: float
    to_s: float
    lit: bool
    heard: Utterance
    kind: Literal["stray_light_ended"] = "stray_light_ended"

    @property
    def seconds(self) -> float:
        """Seconds for which it may have been on."""
        return max(0.0, self.to_s - self.from_s) if self.lit else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LightStillOn(Fact):
    """A sign of life while lit: what a crash can leave uncounted.

    Attributes:
        zone: The zone.
        at_s: Session time, seconds.
        cues: What was due to be said.
    """

    zone: str
    at_s: float
    cues: tuple[Cue, ...]
    kind: Literal["light_still_on"] = "light_still_on"


@dataclass(frozen=True, slots=True, kw_only=True)
class LightTurnedOff(Fact):
    """A run of light ended.

    Attributes:
        zone: The zone.
        counted_from_s: Session time of its beginning, seconds.
        counted_to_s: Session time up to which it is known to have been on.
        possible_to_s: Session time up to which it may have been on.
        credited_s: Seconds credited.
        dose_j_cm2: Their light-on exposure at beam centre, J/cm².
        end: How it ended.
        reason: Stop word or words that ended it, or "".
        beeps: How the words go together with the lamp's sound.
        flags: What is to be kept beside it.
        heard: The words that ended it, or None.
    """

    zone: str
    counted_from_s: float
    counted_to_s: float
    possible_to_s: float
    credited_s: float
    dose_j_cm2: float
    end: RunEnd
    reason: str
    beeps: LampAgreement
    flags: tuple[LightFlag, ...]
    heard: Utterance | None
    kind: Literal["light_turned_off"] = "light_turned_off"


@dataclass(frozen=True, slots=True, kw_only=True)
class LightOffSaidAfterSound(Fact):
    """The words "light off" were said after the lamp's sound had ended the run.

    Attributes:
        zone: The zone.
        agrees: Whether words and sound agree.
        counted_from_s: As in `LightTurnedOff`, as counted now.
        counted_to_s: As in `LightTurnedOff`.
        possible_to_s: As in `LightTurnedOff`.
        heard: The words.
    """

    zone: str
    agrees: bool
    counted_from_s: float
    counted_to_s: float
    possible_to_s: float
    heard: Utterance
    kind: Literal["light_off_said_after_sound"] = "light_off_said_after_sound"


@dataclass(frozen=True, slots=True, kw_only=True)
class LampDisagreed(Fact):
    """Lamp and words do not go together; neither is taken for the truth.

    Attributes:
        what: How.
        zone: The zone, or None.
    """

    what: LampDisagreement
    zone: str | None
    kind: Literal["lamp_disagreed"] = "lamp_disagreed"


@dataclass(frozen=True, slots=True, kw_only=True)
class LampBeeped(Fact):
    """The lamp's own beep was heard.

    Attributes:
        from_s: Session time when it began, seconds.
        to_s: Session time when it ended.
        zone: The zone that was lit, or None.
    """

    from_s: float
    to_s: float
    zone: str | None
    kind: Literal["lamp_beeped"] = "lamp_beeped"


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneTotalled(Fact):
    """The new sum of a zone: light-on exposure at beam centre.

    Attributes:
        zone: The zone.
        lit_s: Credited seconds.
        possible_s: Seconds for which it may have been lit.
        target_s: Seconds asked for.
        dose_j_cm2: J/cm².
        tolerance_s: Seconds that may be missing to it, by the profile; None where the record does not state it.
        over_from_s: Credited seconds from which it is over its target, by the profile; None likewise.
    """

    zone: str
    lit_s: float
    possible_s: float
    target_s: float
    dose_j_cm2: float
    tolerance_s: StatedSeconds = None
    over_from_s: StatedSeconds = None
    kind: Literal["zone_totalled"] = "zone_totalled"

    @property
    def standing(self) -> ZoneStanding:
        """How it stands to its target."""
        return standing_of(self.lit_s, self.target_s, self.tolerance_s, self.over_from_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmthAnswered(Fact):
    """The question about warmth was answered.

    Attributes:
        answer: How.
        zone: The zone, or None for the late question.
        late: Whether it answers the late question.
        heard: The words.
    """

    answer: Warmth
    zone: str | None
    late: bool
    heard: Utterance
    kind: Literal["warmth_answered"] = "warmth_answered"


@dataclass(frozen=True, slots=True, kw_only=True)
class LateHeatAsked(Fact):
    """The late question about heat was asked.

    Attributes:
        overdue: Whether later than planned.
    """

    overdue: bool
    kind: Literal["late_heat_asked"] = "late_heat_asked"


@dataclass(frozen=True, slots=True, kw_only=True)
class StrapRemoved(Fact):
    """The strap was taken off.

    Attributes:
        at_s: Session time, seconds.
        heard: The words.
    """

    at_s: float
    heard: Utterance
    kind: Literal["strap_removed"] = "strap_removed"


@dataclass(frozen=True, slots=True, kw_only=True)
class StrapReplaced(Fact):
    """The strap was put on again.

    Attributes:
        at_s: Session time, seconds.
        heard: The words.
    """

    at_s: float
    heard: Utterance
    kind: Literal["strap_replaced"] = "strap_replaced"


@dataclass(frozen=True, slots=True, kw_only=True)
class MoreLightAsked(Fact):
    """From a held step somebody asked for more light on a zone.

    Attributes:
        stage: Where the visit was held, and goes back to.
        zone: The zone.
        target_s: Seconds that it asks for now, with those that it had.
        heard: The words.
    """

    stage: str
    zone: str
    target_s: float
    heard: Utterance
    kind: Literal["more_light_asked"] = "more_light_asked"


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLeft(Fact):
    """A zone was left short of its light; it stays open.

    Attributes:
        zone: The zone.
        role: Who answered for it.
        reason: Identifier of the reason in the file.
        code: Code of the person, where another than the operator answered; else None.
        heard: The words that settled it.
    """

    zone: str
    role: str
    reason: str
    code: str | None
    heard: Utterance
    kind: Literal["zone_left"] = "zone_left"
