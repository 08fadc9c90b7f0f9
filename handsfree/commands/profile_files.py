"""Reads what the exposure commands need from device and light profile files."""

from io import StringIO
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from handsfree.errors import ProcedureFileError
from handsfree.exposure.profiles import LightProfile, ToneProfile, Zone


class _Part(BaseModel):
    # A profile holds more than the exposure commands read; its own loader judges the rest.
    model_config = ConfigDict(strict=True, extra="ignore")


class _ZonePart(_Part):
    id: str
    name: str
    order: int
    target_s: float | None = None
    target_j_cm2: float | None = None
    spots: int = 1
    strap_shadowed: bool


class _DevicePart(_Part):
    id: str
    approved_by: str | None
    zones: list[_ZonePart]


class _PointPart(_Part):
    distance_cm: float
    mw_cm2: float


class _TonePart(_Part):
    frequency_hz: float
    duration_s: float
    tolerance_hz: float
    tolerance_s: float
    interval_s: float | None = None


class _LightPart(_Part):
    id: str
    approved_by: str | None
    wavelength_nm: float
    window_diameter_cm: float
    irradiance: list[_PointPart]
    stated_distance_cm: float
    output_checked_on: str
    tone: _TonePart | None = None


_P = TypeVar("_P", bound=_Part)


class Device:
    """A device as far as exposure is concerned.

    Attributes:
        id: Identifier.
        approved_by: Role that approved the profile, or None.
        zones: Zones in the order of work.
    """

    def __init__(self, id_: str, approved_by: str | None, zones: tuple[Zone, ...]) -> None:
        self.id = id_
        self.approved_by = approved_by
        self.zones = zones


def _read(path: Path, kind: type[_P]) -> _P:
    try:
        text = path.read_text(encoding="utf-8")
        content = YAML(typ="safe", pure=True).load(StringIO(text))
        return kind.model_validate(content)
    except OSError as error:
        raise ProcedureFileError(f"{path}: cannot be read: {error.strerror}") from error
    except (YAMLError, UnicodeDecodeError) as error:
        raise ProcedureFileError(f"{path}: is not YAML in UTF-8: {' '.join(str(error).split())}") from error
    except ValidationError as error:
        lines = [f"{path}: {'.'.join(map(str, fault['loc'])) or 'file'}: {fault['msg']}" for fault in error.errors()]
        raise ProcedureFileError("\n".join(lines)) from error


def read_device(path: Path) -> Device:
    """The zones of a device profile.

    Raises:
        ProcedureFileError: The file cannot be read or has faults; every one is listed.
    """
    part = _read(path, _DevicePart)
    zones: list[Zone] = []
    faults: list[str] = []
    for zone in sorted(part.zones, key=lambda z: z.order):
        try:
            zones.append(Zone(zone.id, zone.name, zone.target_s, zone.target_j_cm2, zone.spots, zone.strap_shadowed))
        except ValueError as error:
            faults.append(f"{path}: zones: {error}")
    if faults or not zones:
        raise ProcedureFileError("\n".join(faults) or f"{path}: zones: there is none; at least one is needed")
    return Device(part.id, part.approved_by, tuple(zones))


def read_light(path: Path) -> tuple[LightProfile, float]:
    """A light profile and its stated working distance in cm.

    Raises:
        ProcedureFileError: The file cannot be read or has faults.
    """
    part = _read(path, _LightPart)
    try:
        tone = ToneProfile(**part.tone.model_dump()) if part.tone is not None else None
        light = LightProfile(
            part.id,
            tuple((point.distance_cm, point.mw_cm2) for point in part.irradiance),
            part.wavelength_nm,
            part.window_diameter_cm,
            part.output_checked_on,
            part.approved_by,
            tone,
        )
    except ValueError as error:
        raise ProcedureFileError(f"{path}: {error}") from error
    return light, part.stated_distance_cm
