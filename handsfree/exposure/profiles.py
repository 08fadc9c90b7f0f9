"""What the ledger and the arithmetic need to know of a device and a light: zones, light and tone profiles.

Every figure here is data from the product's own instructions or from a measurement, never a default of this program.
"""

import itertools
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite


def require_positive(name: str, value: float) -> None:
    """Refuse a quantity that is not a finite number above zero.

    Raises:
        ValueError: The value is zero, negative, infinite or not a number.
    """
    if not isfinite(value) or value <= 0:
        raise ValueError(f"{name} is {value}; it must be a number above 0")


@dataclass(frozen=True, slots=True)
class ZoneProfile:
    """A part of the device that is lit as one.

    Attributes:
        id: Identifier, unique in the device.
        label: Words fit to be spoken.
        target_s: Seconds of light for each spot, or None where the dose is given instead.
        target_j_cm2: Dose at beam centre for each spot in J/cm², or None where the seconds are given.
        spots: Positions of the light in this zone, at least 1.
        strap_shadowed: Whether a strap keeps the light away until it is taken off.

    Raises:
        ValueError: Neither or both targets are given, or one is not above 0, or there is no spot or no identifier.
    """

    id: str
    label: str
    target_s: float | None = None
    target_j_cm2: float | None = None
    spots: int = 1
    strap_shadowed: bool = False

    def __post_init__(self) -> None:
        if not self.id:
            raise ValueError("a zone needs an identifier")
        if (self.target_s is None) == (self.target_j_cm2 is None):
            raise ValueError(f"zone {self.id}: give either target_s or target_j_cm2, one of them")
        if self.target_s is not None:
            require_positive(f"zone {self.id}: target_s", self.target_s)
        if self.target_j_cm2 is not None:
            require_positive(f"zone {self.id}: target_j_cm2", self.target_j_cm2)
        if self.spots < 1:
            raise ValueError(f"zone {self.id}: spots is {self.spots}; it must be at least 1")

    def spot_s(self, irradiance_mw_cm2: float) -> float:
        """Seconds of light for one spot at this irradiance (mW/cm², at beam centre)."""
        if self.target_s is not None:
            return self.target_s
        assert self.target_j_cm2 is not None  # noqa: S101 - the constructor refuses a zone without a target
        return self.target_j_cm2 * 1000 / irradiance_mw_cm2

    def total_s(self, irradiance_mw_cm2: float) -> float:
        """Seconds of light for all spots of the zone at this irradiance (mW/cm², at beam centre)."""
        return self.spot_s(irradiance_mw_cm2) * self.spots


class EndMark(StrEnum):
    """How a lamp's sound ends a run without words: one beep as it goes off, or beeps that cease."""

    BEEP = "beep"
    SILENCE = "silence"


LOWEST_TONE_HZ = 2000.0
"""Below it the overtones of voices are taken for beeps too often (see `ToneProfile`)."""
SHORTEST_TONE_S = 0.2
"""Shorter, pieces of speech are taken for beeps too often (see `ToneProfile`)."""

WIDEST_TONE_TOLERANCE = 0.35
"""Part of its length by which a beep may be longer or shorter; with more, noise is taken for beeps.
Set on made-up sound."""


@dataclass(frozen=True, slots=True)
class ToneProfile:
    """The sound that a lamp makes by itself while it is lit.

    A beep that the detector cannot tell from speech is refused, because a wrong beep is worse than none. Measured by
    scripts/bench_tone.py in made-up noise with speech as loud as the beep, beep 10 dB over the noise, 6 min and 156
    beeps each: 2700 Hz 0.15 s 1.7 false hits in 10 min, 2700 Hz 0.1 s 25, 1500 Hz 0.2 s 3.3, 2000 Hz 0.2 s none,
    each with a tolerance of 0.35 of the length.
    With 0.15 s of 0.2 s: 56 in 4 min of noise and other machines' beeps without any speech; with 0.12 s and less none.

    Attributes:
        frequency_hz: Pitch, `LOWEST_TONE_HZ` up to below 8000 Hz.
        duration_s: Length of one beep, at least `SHORTEST_TONE_S`.
        tolerance_hz: How far the pitch may be off.
        tolerance_s: How far the length may be off, at most `WIDEST_TONE_TOLERANCE` of it.
        interval_s: Seconds from one beep to the next while lit, or None where not known.
        ends_run: How the sound alone ends a run, or None where it only stands beside the words.

    Raises:
        ValueError: A figure is out of range.
    """

    frequency_hz: float
    duration_s: float
    tolerance_hz: float
    tolerance_s: float
    interval_s: float | None = None
    ends_run: EndMark | None = None

    def __post_init__(self) -> None:
        for name in ("frequency_hz", "duration_s", "tolerance_hz", "tolerance_s"):
            require_positive(f"tone: {name}", getattr(self, name))
        if self.frequency_hz < LOWEST_TONE_HZ:
            raise ValueError(
                f"tone: a beep of {self.frequency_hz:g} Hz lies among the overtones of voices and cannot be told from "
                f"speech; {LOWEST_TONE_HZ:g} Hz or more can. For this lamp leave the tone out"
            )
        if self.duration_s < SHORTEST_TONE_S:
            raise ValueError(
                f"tone: a beep of {self.duration_s:g} s is too short to be told from speech; {SHORTEST_TONE_S:g} s or "
                "more can. For this lamp leave the tone out"
            )
        if self.frequency_hz + self.tolerance_hz >= 8000:
            raise ValueError(f"tone: frequency_hz is {self.frequency_hz}; with its tolerance it must stay below 8000")
        widest_s = WIDEST_TONE_TOLERANCE * self.duration_s
        if self.tolerance_s > widest_s + 1e-9:
            raise ValueError(
                f"tone: tolerance_s is {self.tolerance_s:g}; with so much noise is taken for beeps of "
                f"{self.duration_s:g} s, at most {widest_s:g} can be told from it"
            )
        if self.interval_s is not None and self.interval_s <= self.duration_s:
            raise ValueError("tone: interval_s must be longer than duration_s")
        if self.ends_run is EndMark.SILENCE and self.interval_s is None:
            raise ValueError("tone: ends_run: silence needs interval_s, or nobody knows when a beep is overdue")
        if self.ends_run is EndMark.BEEP and self.interval_s is not None:
            raise ValueError("tone: ends_run: beep takes no interval_s: the last beep would sound like the ones before")


@dataclass(frozen=True, slots=True)
class LightProfile:
    """A light as measured.

    Attributes:
        id: Identifier.
        irradiance_table: Pairs of distance in cm and measured irradiance at beam centre in mW/cm², distance rising.
        wavelength_nm: Peak wavelength, 300 … 700 nm.
        window_cm: Diameter of the window.
        output_checked_on: Day of the last output check, ISO 8601.
        approved_by: Role that approved the profile, not a personal name; None where nobody has yet.
        tone: The lamp's own beep, or None.
        spectrum: Wavelength in nm, rising, and power at it relative to the rest; empty where it was not measured.

    Raises:
        ValueError: The table has fewer than two points or is not rising in distance, or a figure is out of range.
    """

    id: str
    irradiance_table: tuple[tuple[float, float], ...]
    wavelength_nm: float
    window_cm: float
    output_checked_on: str
    approved_by: str | None
    tone: ToneProfile | None = None
    spectrum: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if len(self.irradiance_table) < 2:
            raise ValueError(
                f"light {self.id}: irradiance is needed at two distances or more; one value cannot be extrapolated"
            )
        for distance_cm, irradiance_mw_cm2 in self.irradiance_table:
            if not isfinite(distance_cm) or distance_cm < 0:
                raise ValueError(f"light {self.id}: distance {distance_cm} cm; it must be 0 or more")
            require_positive(f"light {self.id}: irradiance at {distance_cm} cm", irradiance_mw_cm2)
        distances = [distance_cm for distance_cm, _ in self.irradiance_table]
        if any(b <= a for a, b in itertools.pairwise(distances)):
            raise ValueError(f"light {self.id}: distances must rise from one point to the next")
        if not 300 <= self.wavelength_nm <= 700:
            raise ValueError(f"light {self.id}: wavelength {self.wavelength_nm} nm; 300 to 700 is known here")
        require_positive(f"light {self.id}: window_cm", self.window_cm)
        if self.spectrum and len(self.spectrum) < 3:
            raise ValueError("spectrum: needs three points or more, or none")
        if any(b[0] <= a[0] for a, b in itertools.pairwise(self.spectrum)):
            raise ValueError("spectrum: wavelengths must rise from one point to the next")
        if self.spectrum and not any(power > 0 for _, power in self.spectrum):
            raise ValueError("spectrum: has no power at any wavelength")
