"""Loads procedures and profiles, and reports every fault of a file at once."""

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

from handsfree.errors import ProcedureFileError
from handsfree.exposure.dose import irradiance_at
from handsfree.exposure.profiles import LightProfile, ToneProfile, Zone
from handsfree.exposure.units import Length
from handsfree.procedure.form import DeviceProfile, LightFile, Procedure, Step, StepField
from handsfree.procedure.source import Source, read_source, validate

LONGEST_PROMPT_WORDS = 12
"""One action in about five seconds at 150 words a minute; common practice, no source."""
_FOLDER = Path(str(files("handsfree").joinpath("procedures")))
_PROFILES = _FOLDER / "profiles"
_PLACEHOLDERS = {"{side}"}
Profile = TypeVar("Profile", DeviceProfile, LightFile)


@dataclass(frozen=True)
class Bundle:
    """A procedure with the profiles that it names.

    Attributes:
        procedure: The procedure.
        device: Device profile, where it names one.
        light: Light profile, where it names one.
        sha256: Digest of all the files together; what a record refers to.
    """

    procedure: Procedure
    device: DeviceProfile | None
    light: LightFile | None
    sha256: str

    @property
    def unapproved(self) -> tuple[str, ...]:
        """Titles of the parts that nobody has approved."""
        parts = (self.procedure, self.device, self.light)
        return tuple(part.title for part in parts if part is not None and part.approved_by is None)


def bundled_procedures() -> tuple[str, ...]:
    """Identifiers of the bundled procedures."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.yaml")))


def find_procedure(name: str) -> Path:
    """The file of a bundled identifier or of a path.

    Raises:
        ProcedureFileError: There is neither; names the bundled ones.
    """
    path = Path(name)
    if path.suffix in {".yaml", ".yml"} or path.exists():
        return path
    bundled = _FOLDER / f"{name}.yaml"
    if re.fullmatch(r"[a-z][a-z0-9-]*", name) and bundled.is_file():
        return bundled
    raise ProcedureFileError(
        f"{name}: there is no such file and no bundled procedure of that name "
        f"(bundled: {', '.join(bundled_procedures())})"
    )


def load_bundle(name: str) -> Bundle:
    """Load a procedure, by bundled identifier or path, and its profiles.

    Profiles are looked for beside the procedure, in its folder `profiles`, and among the bundled ones.

    Raises:
        ProcedureFileError: Every fault of every file, one a line, as file:line: path: what is wrong.
    """
    path = find_procedure(name)
    source = read_source(path)
    procedure = validate(source, Procedure)
    sources = [source]
    device: DeviceProfile | None = None
    light: LightFile | None = None
    if procedure is not None:
        device = _profile(path, procedure.device_profile, DeviceProfile, "device_profile", sources)
        light = _profile(path, procedure.light_profile, LightFile, "light_profile", sources)
        for where, text in _procedure_faults(procedure, device):
            source.fault(where, text)
    faults = [line for part in sources for line in part.described_faults()]
    if faults or procedure is None:
        raise ProcedureFileError("\n".join(faults))
    digest = hashlib.sha256()
    for part in sources:
        digest.update(Path(part.name).read_bytes())
    return Bundle(procedure, device, light, digest.hexdigest())


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
    if path.suffix not in {".yaml", ".yml"} and not path.exists():
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


def zones_of(device: DeviceProfile) -> tuple[Zone, ...]:
    """Zones in the order of work."""
    return tuple(
        Zone(row.id, row.name, row.target_s, row.target_j_cm2, row.spots, row.strap_shadowed)
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
        tone=ToneProfile(tone.frequency_hz, tone.duration_s, tone.tolerance_hz, tone.tolerance_s, tone.interval_s)
        if tone is not None
        else None,
    )


def irradiance_of(light: LightFile) -> float:
    """Irradiance at beam centre at the stated distance, mW/cm², from the measured table."""
    return irradiance_at(light_of(light), Length.of_cm(light.stated_distance_cm)).mw_cm2


def _profile(path: Path, name: str | None, model: type[Profile], key: str, sources: list[Source]) -> Profile | None:
    """The profile a procedure names; what is wrong goes to its own source, or to the procedure's if there is none."""
    if name is None:
        return None
    for folder in (path.parent, path.parent / "profiles", _PROFILES):
        candidate = folder / f"{name}.yaml"
        if candidate.is_file():
            source = read_source(candidate)
            sources.append(source)
            return _checked(source, model)
    sources[0].fault((key,), f"there is no profile {name}.yaml beside the procedure or among the bundled ones")
    return None


def _checked(source: Source, model: type[Profile]) -> Profile | None:
    profile = validate(source, model)
    if isinstance(profile, LightFile):
        _check_light(profile, source)
    elif isinstance(profile, DeviceProfile):
        _check_device(profile, source)
    return profile


def _check_light(light: LightFile, source: Source) -> None:
    try:
        irradiance_of(light)
    except ValueError as error:
        text = str(error)
        source.fault(("tone" if text.startswith("tone: ") else "irradiance",), text.removeprefix("tone: "))


def _check_device(device: DeviceProfile, source: Source) -> None:
    for key, values in (("id", [z.id for z in device.zones]), ("order", [z.order for z in device.zones])):
        if len(set(values)) != len(values):
            source.fault(("zones",), f"two zones have the same {key}")


Fault = tuple[tuple[str | int, ...], str]


def _procedure_faults(procedure: Procedure, device: DeviceProfile | None) -> Iterator[Fault]:
    earlier: dict[str, Step] = {}
    every = {step.id for step in procedure.steps}
    for index, step in enumerate(procedure.steps):
        where = ("steps", index)
        if step.id in earlier:
            yield (*where, "id"), f"two steps are called {step.id}"
        yield from _step_faults(procedure, step, where, earlier, every, device)
        for key in ("prompt", "expert", "red_action"):
            yield from _wording_faults(getattr(step, key), (*where, key), step)
        for number, item in enumerate(step.items):
            yield from _wording_faults(item.say, (*where, "items", number, "say"), step)
        earlier[step.id] = step
    yield from _reference_faults(procedure)


def _wording_faults(text: str | None, where: tuple[str | int, ...], step: Step) -> Iterator[Fault]:
    if text is None:
        return
    words = max(len(sentence.split()) for sentence in re.split(r"[.!?]\s+", text))
    if words > LONGEST_PROMPT_WORDS:
        yield (
            where,
            f"has {words} words in a sentence (at most {LONGEST_PROMPT_WORDS}, so that it can be heard in one go)",
        )
    found = set(re.findall(r"\{[^}]*\}", text))
    if found - _PLACEHOLDERS:
        yield where, f"{', '.join(sorted(found - _PLACEHOLDERS))} is not known (only {{side}} is)"
    if "{side}" in found and step.for_each is None:
        yield where, "{side} needs for_each: side"


def _step_faults(
    procedure: Procedure,
    step: Step,
    where: tuple[str | int, ...],
    earlier: dict[str, Step],
    every: set[str],
    device: DeviceProfile | None,
) -> Iterator[Fault]:
    if step.source not in procedure.sources:
        yield (*where, "source"), f"{step.source} is not listed under sources"
    for name in step.requires:
        if name not in earlier:
            text = "comes later (a step can only require earlier ones)" if name in every else "is no step"
            yield (*where, "requires"), f"{name} {text}"
        elif earlier[name].when is not None and earlier[name].when != step.when:
            yield (*where, "requires"), f"{name} may be left out by its own when, so this could never be reached"
    if step.when is not None:
        yield from _when_faults(step, where, earlier)
    if step.for_each is not None and procedure.side_from is None:
        yield (*where, "for_each"), "needs side_from at the top of the file"
    yield from _group_faults(step, where)
    yield from _profile_faults(procedure, step, where, device)
    for number, field in enumerate(step.fields):
        yield from _field_faults(step, field, (*where, "fields", number), earlier, device)


def _group_faults(step: Step, where: tuple[str | int, ...]) -> Iterator[Fault]:
    """Faults between the fields of one step."""
    ids = [field.id for field in step.fields]
    if len(set(ids)) != len(ids):
        yield (*where, "fields"), "two fields have the same id"
    labels = [field.label for field in step.fields]
    if len(set(labels)) != len(labels):
        yield (*where, "fields"), "two fields have the same label, so nobody could tell them apart aloud"
    if step.agree and any(set(field.options or ()) != set(step.fields[0].options or ()) for field in step.fields):
        yield (*where, "agree"), "needs fields with the same options"
    if step.repeat_within is not None and set(step.repeat_within.fields) - set(ids):
        yield (*where, "repeat_within", "fields"), "names no field of this step"


def _profile_faults(
    procedure: Procedure, step: Step, where: tuple[str | int, ...], device: DeviceProfile | None
) -> Iterator[Fault]:
    """Faults between a step and the device and light that it works on."""
    if step.size_from is not None and (device is None or device.size_chart is None):
        yield (*where, "size_from"), "needs a device profile with a size_chart"
    if step.kind != "expose":
        return
    if device is None or procedure.light_profile is None:
        yield (*where, "kind"), "expose needs device_profile and light_profile"
    elif not any(zone.strap_shadowed is (step.zones == "strap") for zone in device.zones):
        yield (*where, "zones"), f"the device profile has no zone for {step.zones}"


def _when_faults(step: Step, where: tuple[str | int, ...], earlier: dict[str, Step]) -> Iterator[Fault]:
    assert step.when is not None  # noqa: S101 - the caller checks
    name, _, field_id = step.when.step.partition(".")
    field = next((f for f in earlier[name].fields if f.id == field_id), None) if name in earlier else None
    if field is None:
        yield (*where, "when", "step"), f"{step.when.step} is no field of an earlier step"
    elif set(step.when.is_) - set(field.options or ()):
        yield (*where, "when", "is"), f"names no option of {step.when.step}"


def _field_faults(
    step: Step,
    field: StepField,
    where: tuple[str | int, ...],
    earlier: dict[str, Step],
    device: DeviceProfile | None,
) -> Iterator[Fault]:
    phrases = [phrase for group in (field.options or {}).values() for phrase in group]
    for phrase in sorted({phrase for phrase in phrases if phrases.count(phrase) > 1}):
        yield (*where, "options"), f'"{phrase}" means two options'
    if field.number is not None and field.number.band is not None:
        bands = device.bands if device is not None else {}
        if field.number.band not in bands:
            yield (*where, "number", "band"), f"{field.number.band} is no band of the device profile"
    if field.compare is not None:
        with_step = earlier.get(field.compare.with_)
        other = next((f for f in with_step.fields if f.id == field.id), None) if with_step else None
        if other is None:
            yield (*where, "compare", "with"), f"{field.compare.with_} is no earlier step with a field {field.id}"
        elif set(field.scale) - set(other.options or ()):
            yield (*where, "scale"), f"has options that {field.compare.with_} does not have"
        if with_step is not None and with_step.for_each != step.for_each:
            yield (*where, "compare", "with"), f"{field.compare.with_} is not taken for the same sides"


def _reference_faults(procedure: Procedure) -> Iterator[Fault]:
    fields = {f"{step.id}.{field.id}": field for step in procedure.steps for field in step.fields}
    if procedure.side_from is not None:
        options = set(fields[procedure.side_from].options or ()) if procedure.side_from in fields else set()
        if options != {"left", "right"}:
            yield ("side_from",), f"{procedure.side_from} is no field with the options left and right"
    if procedure.kind_from is not None:
        options = set(fields[procedure.kind_from].options or ()) if procedure.kind_from in fields else set()
        if options != {"live", "practice"}:
            yield ("kind_from",), f"{procedure.kind_from} is no field with the options live and practice"
    used = {step.source for step in procedure.steps}
    for name in procedure.sources:
        if name not in used:
            yield ("sources", name), "no step uses it"
