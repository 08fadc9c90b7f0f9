"""Loads procedures and profiles, and reports every fault of a file at once."""

import hashlib
import json
import os
import stat
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

from handsfree.definition.blocks import expand
from handsfree.definition.cross_checks import Profiles, procedure_faults
from handsfree.definition.form import Procedure
from handsfree.definition.plan import Plan, compile_procedure
from handsfree.definition.profile_form import DeviceProfile, LightFile
from handsfree.definition.source_lines import SourceLines, read_source, validate
from handsfree.definition.translation import is_translation, translated
from handsfree.errors import ProcedureFileError
from handsfree.exposure.beam import irradiance_at
from handsfree.exposure.light_cues import GuidanceProfile
from handsfree.exposure.profiles import LightProfile, ToneProfile, ZoneProfile
from handsfree.exposure.units import Length
from handsfree.record.approval_file import approval_path, as_kept
from handsfree.regular_files import read_named, reason_of

_FOLDER = Path(str(files("handsfree").joinpath("procedures")))
_PROFILES = _FOLDER / "profiles"
_BLOCKS = _FOLDER / "blocks"
Profile = TypeVar("Profile", DeviceProfile, LightFile)


@dataclass(frozen=True)
class Bundle:
    """A procedure with the profiles that it names.

    Attributes:
        procedure: The procedure.
        device: Device profile, where it names one.
        light: Light profile, where it names one.
        sha256: Digest of all the files together; what a record refers to.
        words_for: Identifier and version of the procedure that this one says in other words, or None.
        expanded: All of it as it was checked, with its blocks put in, as JSON: what travels with a record.
        approval: The approval file beside it as it was read, whoever it is by; None where there is none.
    """

    procedure: Procedure
    device: DeviceProfile | None
    light: LightFile | None
    sha256: str
    words_for: tuple[str, str] | None = None
    expanded: bytes = b""
    approval: bytes | None = None

    @cached_property
    def plan(self) -> Plan:
        """The procedure as it is walked through."""
        return compile_procedure(self.procedure)

    @property
    def titles(self) -> tuple[str, ...]:
        """Titles of its parts: the procedure, the device, the light."""
        return tuple(part.title for part in (self.procedure, self.device, self.light) if part is not None)


def bundled_procedures() -> tuple[str, ...]:
    """Identifiers of the bundled procedures."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.yaml")))


def find_procedure(name: str) -> Path:
    """The file of a bundled identifier or of a path.

    Raises:
        ProcedureFileError: There is neither; names the bundled ones.
    """
    path = Path(name)
    try:
        found = path.stat() if name else None
    except (FileNotFoundError, NotADirectoryError):
        found = None
    except (OSError, ValueError) as error:
        raise ProcedureFileError(f"{name}: cannot be read: {reason_of(error)}") from error
    if found is not None and stat.S_ISREG(found.st_mode):
        return path
    if found is not None:
        what = "is a folder (give the procedure file in it)" if path.is_dir() else "it is no regular file"
        raise ProcedureFileError(f"{name}: {what}")
    if name in bundled_procedures():
        return _FOLDER / f"{name}.yaml"
    said = f"{name}: there is no such file and" if name else "the name is empty; there is"
    raise ProcedureFileError(f"{said} no bundled procedure of that name (bundled: {_bundled_names()})")


def named_beside(file: Path, name: str) -> str:
    """The procedure that a script or a scenario names: the file of that name beside it, else as it stands."""
    beside = file.parent / name
    return str(beside) if Path(name).suffix and beside.is_file() else name


def _bundled_names() -> str:
    return ", ".join(bundled_procedures())


@dataclass(frozen=True)
class FileReading:
    """Everything that was read for a procedure, faulty or not.

    Attributes:
        procedure: The procedure, or None if its form is wrong.
        device: Device profile, if there is a valid one.
        light: Light profile, if there is a valid one.
        sources: The files: the procedure with its blocks put in, then the profiles.
        approval: The approval file beside it, or None.
    """

    procedure: Procedure | None
    device: DeviceProfile | None
    light: LightFile | None
    sources: tuple[SourceLines, ...]
    approval: bytes | None = None

    @property
    def faults(self) -> tuple[str, ...]:
        """Every fault of every file, as file:line: path: what is wrong."""
        return tuple(line for part in self.sources for line in part.described_faults())


def read_expanded(path: Path) -> SourceLines:
    """A procedure file with its blocks put in, or one of other words for a procedure put into it.

    Blocks are looked for beside it, in its folder `blocks`, and bundled; what it translates beside it and bundled.

    Raises:
        ProcedureFileError: A file cannot be read, is not YAML, or translates what is not there.
    """
    source = read_source(path)
    if not is_translation(source):
        bundled = [file.stem for file in _BLOCKS.glob("*.yaml")]
        return expand(source, lambda name: _find(path, "blocks", _BLOCKS, name), bundled)
    name = source.data.get("translates") if isinstance(source.data, dict) else None
    place = next((at for at in (path.parent / f"{name}.yaml", _FOLDER / f"{name}.yaml") if at.is_file()), None)
    line = source.line_of(("translates",))
    if place is None:
        raise ProcedureFileError(f"{path}:{line}: translates: there is no {name}.yaml beside this file or bundled")
    procedure = read_source(place)
    if is_translation(procedure):
        raise ProcedureFileError(f"{path}:{line}: translates: {name} is itself a translation; name the procedure")
    return translated(expand(procedure, lambda block: _find(place, "blocks", _BLOCKS, block)), source)


def read_procedure(name: str) -> FileReading:
    """Read a procedure, by bundled identifier or path, and its profiles, and note what is wrong.

    Profiles are looked for beside the file, in its folder `profiles`, and among the bundled ones.

    Raises:
        ProcedureFileError: A file cannot be read, or is not YAML.
    """
    path = find_procedure(name)
    source = read_expanded(path)
    procedure = validate(source, Procedure)
    sources = [source]
    device: DeviceProfile | None = None
    light: LightFile | None = None
    if procedure is not None:
        device = _profile(path, procedure.device_profile, DeviceProfile, "device_profile", sources)
        light = _profile(path, procedure.light_profile, LightFile, "light_profile", sources)
        missing = any(where.path in {("device_profile",), ("light_profile",)} for where, _ in source.faults)
        faulty = missing or any(part.faults for part in sources[1:])
        for at, text in procedure_faults(procedure, Profiles(device, light, faulty=faulty)):
            source.fault(at, text)
    approval = approval_path(path)
    return FileReading(
        procedure, device, light, tuple(sources), read_named(approval) if os.path.lexists(approval) else None
    )


def load_bundled(identifier: str) -> Bundle:
    """Load a bundled procedure by its identifier, as a record names it: it is never taken for a path.

    Raises:
        ProcedureFileError: There is none of that name.
    """
    if identifier not in bundled_procedures():
        raise ProcedureFileError(f"there is no bundled procedure of that name (bundled: {_bundled_names()})")
    return load_bundle(str(_FOLDER / f"{identifier}.yaml"))


def load_bundle(name: str) -> Bundle:
    """Load a procedure and its profiles. See `read_procedure`.

    Raises:
        ProcedureFileError: Every fault of every file, one a line, as file:line: path: what is wrong.
    """
    path = find_procedure(name)
    return _bundled(path.stem) if path.parent == _FOLDER else _load(name)


@cache
def _bundled(identifier: str) -> Bundle:
    """One of the bundled procedures, which do not change while the program runs."""
    return _load(str(_FOLDER / f"{identifier}.yaml"))


def _load(name: str) -> Bundle:
    reading = read_procedure(name)
    faults = reading.faults
    if faults or reading.procedure is None:
        raise ProcedureFileError("\n".join(faults))
    digest = hashlib.sha256()
    for source in reading.sources:
        for part in source.parts:
            digest.update(read_named(Path(part)))
    words = reading.sources[0].words_for
    words_for = words[:2] if words else None
    return Bundle(
        reading.procedure,
        reading.device,
        reading.light,
        digest.hexdigest(),
        words_for,
        _expanded(reading, words_for),
        reading.approval,
    )


def _expanded(reading: FileReading, words_for: tuple[str, str] | None) -> bytes:
    """What was read as one JSON text. The order of keys stays: of phrases and options the first one is said."""
    profiles = iter(reading.sources[1:])
    whole = {
        "procedure": reading.sources[0].data,
        "device": next(profiles).data if reading.device is not None else None,
        "light": next(profiles).data if reading.light is not None else None,
        "words_for": words_for,
    }
    return as_kept(whole)


def load_carried(content: bytes, sha256: str) -> Bundle:
    """The procedure that a record carried with it.

    Args:
        content: What `Bundle.expanded` was when the record was begun; whether it is that very text was checked before.
        sha256: Digest of the files that it was read from, as the record has it.

    Raises:
        ProcedureFileError: It cannot be read any more: another version of the program wrote it.
    """
    try:
        whole = json.loads(content)
        return Bundle(
            Procedure.model_validate_json(json.dumps(whole["procedure"])),
            DeviceProfile.model_validate_json(json.dumps(whole["device"])) if whole["device"] is not None else None,
            LightFile.model_validate_json(json.dumps(whole["light"])) if whole["light"] is not None else None,
            sha256,
            (str(whole["words_for"][0]), str(whole["words_for"][1])) if whole["words_for"] is not None else None,
            content,
        )
    except (ValueError, KeyError, TypeError, IndexError, RecursionError) as error:
        raise ProcedureFileError("the procedure that the record carries has another form than this version") from error


def load_device(name: str) -> DeviceProfile:
    """Load one device profile, by bundled identifier or path.

    Raises:
        ProcedureFileError: Every fault of the file, one a line.
    """
    return _load_profile(name, DeviceProfile)


def load_light(name: str) -> LightFile:
    """Load one light profile, by bundled identifier or path.

    Raises:
        ProcedureFileError: Every fault of the file, one a line.
    """
    return _load_profile(name, LightFile)


def _load_profile(name: str, model: type[Profile]) -> Profile:
    path = Path(name)
    if path.suffix not in {".yaml", ".yml"} and not (name and os.path.lexists(path)):
        bundled = sorted(file.stem for file in _PROFILES.glob("*.yaml"))
        if name not in bundled:
            raise ProcedureFileError(
                f"{name}: there is no such file and no bundled profile of that name (bundled: {', '.join(bundled)})"
            )
        path = _PROFILES / f"{name}.yaml"
    source = read_source(path)
    profile = _checked(source, model)
    if source.faults or profile is None:
        raise ProcedureFileError("\n".join(source.described_faults()))
    return profile


def zones_of(device: DeviceProfile) -> tuple[ZoneProfile, ...]:
    """Zones in the order of work."""
    return tuple(
        ZoneProfile(row.id, row.name, row.target_s, row.target_j_cm2, row.spots, row.strap_shadowed)
        for row in sorted(device.zones, key=lambda row: row.order)
    )


def light_of(light: LightFile) -> LightProfile:
    """The light for exposure arithmetic.

    Raises:
        ValueError: A figure is out of range.
    """
    tone = light.tone
    return LightProfile(
        id=light.id,
        irradiance_table=tuple((point.distance_cm, point.mw_cm2) for point in light.irradiance),
        wavelength_nm=light.wavelength_nm,
        window_cm=light.window_diameter_cm,
        output_checked_on=light.output_checked_on,
        approved_by=light.approved_by,
        tone=ToneProfile(**tone.model_dump()) if tone is not None else None,
        spectrum=tuple((point.nm, point.relative) for point in light.spectrum),
    )


def guidance_of(device: DeviceProfile | None) -> GuidanceProfile:
    """When to speak while lit: the figures of the device profile, and this project's own where it says nothing.

    Raises:
        ValueError: The figures do not fit together.
    """
    said = device.guidance if device is not None else None
    return GuidanceProfile(**said.model_dump(exclude_none=True)) if said is not None else GuidanceProfile()


def irradiance_of(light: LightFile) -> float:
    """Irradiance at beam centre at the stated distance, mW/cm², from the measured table."""
    return irradiance_at(light_of(light), Length.of_cm(light.stated_distance_cm)).mw_cm2


def _find(path: Path, folder: str, bundled: Path, name: str) -> SourceLines | None:
    """A file beside the procedure, in a folder of its own, or bundled; None if there is none."""
    for place in (path.parent, path.parent / folder, bundled):
        candidate = place / f"{name}.yaml"
        if candidate.is_file():
            return read_source(candidate)
    return None


def _profile(
    path: Path, name: str | None, model: type[Profile], key: str, sources: list[SourceLines]
) -> Profile | None:
    """The profile a procedure names; what is wrong goes to its own source, or to the procedure's if there is none."""
    if name is None:
        return None
    source = _find(path, "profiles", _PROFILES, name)
    if source is None:
        bundled = ", ".join(sorted(file.stem for file in _PROFILES.glob("*.yaml")))
        sources[0].fault(
            (key,), f"there is no profile {name}.yaml beside the procedure or bundled (bundled: {bundled})"
        )
        return None
    sources.append(source)
    return _checked(source, model)


def _checked(source: SourceLines, model: type[Profile]) -> Profile | None:
    profile = validate(source, model)
    if isinstance(profile, LightFile):
        _check_light(profile, source)
    elif isinstance(profile, DeviceProfile):
        _check_device(profile, source)
    return profile


def _check_light(light: LightFile, source: SourceLines) -> None:
    try:
        irradiance_of(light)
    except ValueError as error:
        key, _, text = str(error).partition(": ")
        if key not in {"tone", "spectrum"}:
            key, text = "irradiance", str(error)
        source.fault((key,), text)


def _check_device(device: DeviceProfile, source: SourceLines) -> None:
    for key, values in (("id", [z.id for z in device.zones]), ("order", [z.order for z in device.zones])):
        if len(set(values)) != len(values):
            source.fault(("zones",), f"two zones have the same {key}")
    try:
        guidance_of(device)
    except ValueError as error:
        source.fault(("guidance",), str(error))
