"""The file form of device and light profiles: strict, frozen.

A device profile says sizes, bands, zones, seconds and when to speak; a light profile says the measured output. The
product's own instructions win over both.
"""

from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from handsfree.definition.form_base import FileId, Identifier, Phrase, Spoken, Strict, Version
from handsfree.definition.outline_checks import outline_fault
from handsfree.exposure.profiles import EndMark

FRAME = (100.0, 150.0)
"""Width and height in which outlines are given: the back of a right hand with its forearm, fingers up."""
Point = tuple[
    Annotated[float, Field(ge=0, le=FRAME[0])],
    Annotated[float, Field(ge=0, le=FRAME[1])],
]
"""A place in the frame: from its left, from its top."""


class SizeRow(Strict):
    """One row of a size chart, ends included.

    Attributes:
        size: Its name: small.
        from_: Smallest measure, in the chart's unit, written `from`.
        to: Largest measure.
    """

    size: Identifier
    from_: Annotated[Decimal, Field(alias="from")]
    to: Decimal


class SizeChart(Strict):
    """A size chart.

    Attributes:
        landmark: Where the circumference is taken: wrist crease.
        unit: UCUM code of the rows: cm.
        rows: Sizes, smallest first, without overlap; a shared end belongs to the smaller size.
        between: "ask": a value in a gap between two rows, or off the chart, holds the visit until it is measured again
            or somebody answers for it.
    """

    landmark: Spoken
    unit: Literal["cm"]
    rows: Annotated[tuple[SizeRow, ...], Field(min_length=1)]
    between: Literal["ask"]

    @model_validator(mode="after")
    def _rising(self) -> Self:
        ends = [end for row in self.rows for end in (row.from_, row.to)]
        if ends != sorted(ends):
            raise ValueError("rows must rise without overlap, from before to")
        return self

    def size_of(self, value_cm: Decimal) -> str | None:
        """The size for a circumference in cm, or None between two sizes or off the chart."""
        return next((row.size for row in self.rows if row.from_ <= value_cm <= row.to), None)


class Band(Strict):
    """Where a measured number should lie, in the unit of the field that names the band.

    Attributes:
        low: Smallest accepted value.
        confirm_from: From here to `confirm_to` the value is as planned; outside it is flagged amber.
        confirm_to: See `confirm_from`; above it.
        high: Largest accepted value; outside low … high is a hard stop.
        direction: Word read back after the value, for example "extension", so that the sign is never open.
    """

    low: Decimal
    confirm_from: Decimal
    confirm_to: Decimal
    high: Decimal
    direction: Phrase

    @model_validator(mode="after")
    def _nested(self) -> Self:
        if not self.low <= self.confirm_from < self.confirm_to <= self.high:
            raise ValueError("must be low <= confirm_from < confirm_to <= high")
        return self


class ZoneRow(Strict):
    """A zone of the device; see `exposure.profiles.ZoneProfile`.

    Attributes:
        id: Identifier, unique in the device.
        name: What it is called aloud: "knuckle part". Saying it chooses the zone for more light.
        order: Place in the order of work, unique in the device.
        target_s: Seconds of light for each spot, above 0, at most 600; or `target_j_cm2`.
        target_j_cm2: Dose at beam centre for each spot, J/cm², above 0; the seconds follow from the light profile.
        strap_shadowed: Whether a strap keeps the light away until it is taken off.
        spots: Positions of the light in the zone, 1 … 50; all of them count towards the sum.
        outline: Where it is drawn, schematically: 3 … 40 points [x, y] once round it, x from 0 at the left to 100,
            y from 0 at the fingertips to 150 at the forearm, on the back of a right hand. Zones without one are shown
            in a row.
    """

    id: Identifier
    name: Phrase
    order: int
    target_s: Annotated[float, Field(gt=0, le=600)] | None = None
    target_j_cm2: Annotated[float, Field(gt=0)] | None = None
    strap_shadowed: bool = False
    spots: Annotated[int, Field(ge=1, le=50)] = 1
    outline: Annotated[tuple[Point, ...], Field(min_length=3, max_length=40)] | None = None

    @model_validator(mode="after")
    def _drawable(self) -> Self:
        if self.outline is not None and (fault := outline_fault(self.outline)) is not None:
            raise ValueError(fault)
        return self

    @model_validator(mode="after")
    def _one_target(self) -> Self:
        if (self.target_s is None) == (self.target_j_cm2 is None):
            raise ValueError("needs either target_s or target_j_cm2")
        return self


class Guidance(Strict):
    """When to speak while lit and what to ask; what is left out is as in `exposure.light_cues.GuidanceProfile`.

    Attributes:
        tolerance_share: Part of the target that may be missing when the light goes off, 0 … 0.1.
        overrun_factor: Lit seconds over target seconds from which a zone is flagged as over target, above 1, at most 3.
        ceiling_factor: Lit seconds over target seconds at which the ceiling of exposure lies: "take the light away",
            again and again; at least `overrun_factor`, at most 4.
        repeat_every_s: Seconds from one prompt to end the light to the next, from the target on, and after a cry or a
            stop word until "light off" is heard, 6 … 10.
        warmth_every_s: Longest lit time without an answer about warmth, s, above 0, at most 120.
        cue_lead_s: How long before the target the cue to put the light off begins, s, 0 … 3; once runs of the visit
            have shown how fast people answer it, their median counts.
        cue_lead_most_s: The longest such median that counts, s, from `cue_lead_s` to 3.
        pain_stop: Pain on the scale from 0 to 10 from which the visit is held, 1 … 10.
        silent_every_s: As `warmth_every_s`, for a patient who cannot be relied on to report heat; at most that.
        warmth_again_s: Seconds in which nobody speaks until a question about warmth that is open after the light, or
            after a stop word while lit, is asked again, 10 … 120.
        silent_sign: What the clinician does then in place of asking: "Watch, and touch the zone."
    """

    tolerance_share: Annotated[float | None, Field(ge=0, le=0.1)] = None
    overrun_factor: Annotated[float | None, Field(gt=1, le=3)] = None
    ceiling_factor: Annotated[float | None, Field(gt=1, le=4)] = None
    repeat_every_s: Annotated[float | None, Field(ge=6, le=10)] = None
    warmth_every_s: Annotated[float | None, Field(gt=0, le=120)] = None
    cue_lead_s: Annotated[float | None, Field(ge=0, le=3)] = None
    cue_lead_most_s: Annotated[float | None, Field(ge=0, le=3)] = None
    pain_stop: Annotated[int | None, Field(ge=1, le=10)] = None
    silent_every_s: Annotated[float | None, Field(gt=0, le=120)] = None
    warmth_again_s: Annotated[float | None, Field(ge=10, le=120)] = None
    silent_sign: Spoken | None = None


class DeviceProfile(Strict):
    """A device, as its own instructions state it.

    Attributes:
        id: Identifier, also the name of the file.
        title: What people call it.
        version: Version of the file.
        approved_by: Role of who approved it; null while nobody has, and every visit says so.
        note: Where its figures come from, for those who read the file.
        body_part: What it is worn on.
        size_chart: Sizes by circumference, for a step with `size_from`.
        bands: Where measured numbers should lie, by the name that `Number.band` gives.
        zones: What is lit, each as one.
        seen_from: The side of the hand that the picture of the zones shows: "back" or "palm".
        cautions: What its instructions warn of, for those who read the file; the tool says those of the procedure.
        guidance: When to speak while lit.
    """

    id: FileId
    title: Spoken
    version: Version
    approved_by: str | None
    note: str
    body_part: Spoken
    size_chart: SizeChart | None = None
    bands: dict[Identifier, Band] = Field(default_factory=dict)
    zones: Annotated[tuple[ZoneRow, ...], Field(min_length=1)]
    seen_from: Literal["back", "palm"] = "back"
    cautions: tuple[Spoken, ...] = ()
    guidance: Guidance | None = None


class IrradiancePoint(Strict):
    """One measured point.

    Attributes:
        distance_cm: From the light, cm, 0 or more, rising from point to point.
        mw_cm2: Irradiance at beam centre, mW/cm², above 0.
    """

    distance_cm: Annotated[float, Field(ge=0)]
    mw_cm2: Annotated[float, Field(gt=0)]


class Tone(Strict):
    """The lamp's own beep; see `exposure.profiles.ToneProfile`, which says why it must be so high and so long.

    Attributes:
        frequency_hz: Pitch, Hz, 2000 up to below 8000 with the tolerance.
        duration_s: Length of one beep, s, 0.2 or more.
        tolerance_hz: How far the pitch may be off, Hz, above 0.
        tolerance_s: How far the length may be off, s, above 0, at most 0.35 of the length: with more,
            noise is taken for beeps.
        interval_s: Seconds from one beep to the next while lit; null where it does not beep regularly.
        ends_run: "beep": one beep as it goes off ends a run, without interval; "silence": beeps that cease do, with
            one; null: beeps only stand beside the spoken times.
    """

    frequency_hz: float
    duration_s: float
    tolerance_hz: float
    tolerance_s: float
    interval_s: float | None = None
    ends_run: Annotated[EndMark | None, Field(strict=False)] = None


class SpectralPoint(Strict):
    """One measured point of the spectrum.

    Attributes:
        nm: Wavelength, nm, 300 … 700, rising from point to point.
        relative: Power at it relative to the other points, 0 or more.
    """

    nm: Annotated[float, Field(ge=300, le=700)]
    relative: Annotated[float, Field(ge=0)]


class LightFile(Strict):
    """A light, as measured.

    Attributes:
        id: Identifier, also the name of the file.
        title: What people call it.
        version: Version of the file.
        approved_by: Role of who approved it; null while nobody has, and every visit says so.
        note: Where its figures come from, for those who read the file.
        wavelength_nm: Peak wavelength, nm, 300 … 700.
        window_diameter_cm: Diameter of the window, cm, above 0.
        irradiance: Measured output at two distances or more; between them it is interpolated, beyond them never.
        stated_distance_cm: Distance at which the light is held, cm, within the measured ones; doses are counted there.
        output_checked_on: Day of the last output check, ISO 8601, in quotes.
        output_check_valid_days: How long that check is good, days; later a visit is held as it begins.
        spectrum: Measured spectrum, for the eye-hazard arithmetic: three points or more, or none.
        tone: The lamp's own beep.
    """

    id: FileId
    title: Spoken
    version: Version
    approved_by: str | None
    note: str
    wavelength_nm: float
    window_diameter_cm: Annotated[float, Field(gt=0)]
    irradiance: Annotated[tuple[IrradiancePoint, ...], Field(min_length=2)]
    stated_distance_cm: Annotated[float, Field(gt=0)]
    output_checked_on: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]
    output_check_valid_days: Annotated[int, Field(gt=0)]
    spectrum: tuple[SpectralPoint, ...] = ()
    tone: Tone | None = None
