"""The file form of device and light profiles: strict, frozen.

A device profile says sizes, bands, zones, seconds and when to speak; a light profile says the measured output. The
product's own instructions win over both.
"""

from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from handsfree.definition.form import FileId, Identifier, Phrase, Spoken, Strict, Version
from handsfree.exposure.profiles import EndMark


class SizeRow(Strict):
    """One row of a size chart, ends included."""

    size: Identifier
    from_: Annotated[Decimal, Field(alias="from")]
    to: Decimal


class SizeChart(Strict):
    """A size chart.

    Attributes:
        landmark: Where the circumference is taken.
        unit: UCUM code of the rows.
        rows: Sizes, smallest first, without overlap.
        between: What a value in a gap between two rows leads to.
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
    """Where an angle should lie.

    Attributes:
        low: Smallest accepted value.
        confirm_from: From here to `confirm_to` the value is as planned; outside it is flagged amber.
        confirm_to: See `confirm_from`.
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
    """A zone of the device; see `exposure.profiles.Zone`."""

    id: Identifier
    name: Phrase
    order: int
    target_s: Annotated[float, Field(gt=0, le=600)] | None = None
    target_j_cm2: Annotated[float, Field(gt=0)] | None = None
    strap_shadowed: bool = False
    spots: Annotated[int, Field(ge=1, le=50)] = 1

    @model_validator(mode="after")
    def _one_target(self) -> Self:
        if (self.target_s is None) == (self.target_j_cm2 is None):
            raise ValueError("needs either target_s or target_j_cm2")
        return self


class Guidance(Strict):
    """When to speak while lit and what to ask; what is left out is as in `exposure.guidance.GuidanceProfile`."""

    overrun_factor: Annotated[float | None, Field(gt=1, le=3)] = None
    warmth_every_s: Annotated[float | None, Field(gt=0, le=120)] = None
    cue_lead_s: Annotated[float | None, Field(ge=0, le=3)] = None
    pain_stop: Annotated[int | None, Field(ge=1, le=10)] = None
    silent_every_s: Annotated[float | None, Field(gt=0, le=120)] = None
    silent_sign: Spoken | None = None


class DeviceProfile(Strict):
    """A device, as its own instructions state it."""

    id: FileId
    title: Spoken
    version: Version
    approved_by: str | None
    note: str
    body_part: Spoken
    size_chart: SizeChart | None = None
    bands: dict[Identifier, Band] = Field(default_factory=dict)
    zones: Annotated[tuple[ZoneRow, ...], Field(min_length=1)]
    cautions: tuple[Spoken, ...] = ()
    guidance: Guidance | None = None


class IrradiancePoint(Strict):
    """One measured point."""

    distance_cm: Annotated[float, Field(ge=0)]
    mw_cm2: Annotated[float, Field(gt=0)]


class Tone(Strict):
    """The lamp's own beep; see `exposure.profiles.ToneProfile`."""

    frequency_hz: float
    duration_s: float
    tolerance_hz: float
    tolerance_s: float
    interval_s: float | None = None
    ends_run: Annotated[EndMark | None, Field(strict=False)] = None


class SpectralPoint(Strict):
    """One measured point of the spectrum."""

    nm: Annotated[float, Field(ge=300, le=700)]
    relative: Annotated[float, Field(ge=0)]


class LightFile(Strict):
    """A light, as measured."""

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
