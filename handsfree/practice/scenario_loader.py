"""Loads a practice scenario with its procedure, and reports every fault of the file at once as file:line."""

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from handsfree.definition.form import Step, StepField
from handsfree.definition.loader import Bundle, load_bundle, named_beside
from handsfree.definition.source_lines import Path_, SourceLines, read_source, validate
from handsfree.errors import ProcedureFileError, ScriptError
from handsfree.practice.computed_truth import numbers_named
from handsfree.practice.event_kinds import bundled_kinds, fill_events
from handsfree.practice.scenario import LEARNER, PATIENT, Scenario, ScenarioEvent
from handsfree.practice.scenario_settings import AS_WRITTEN, PracticeSettings, with_settings
from handsfree.regular_files import read_named
from handsfree.simulation.spoken_answers import value_fault

_FOLDER = Path(str(files("handsfree").joinpath("practice", "scenarios")))


@dataclass(frozen=True)
class LoadedScenario:
    """A scenario that fits its procedure.

    Attributes:
        scenario: The scenario.
        bundle: The procedure with its profiles.
        sha256: Digest of the scenario's file.
        settings: What was set beside it.
    """

    scenario: Scenario
    bundle: Bundle
    sha256: str
    settings: PracticeSettings = AS_WRITTEN


def bundled_scenarios() -> tuple[str, ...]:
    """Identifiers of the bundled scenarios."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.yaml")))


def find_scenario(name: str) -> Path:
    """The file of a bundled identifier or of a path.

    Raises:
        ScriptError: There is neither; names the bundled ones.
    """
    path = Path(name)
    if name and (path.suffix in {".yaml", ".yml"} or os.path.lexists(path)):
        return path
    if name in bundled_scenarios():
        return _FOLDER / f"{name}.yaml"
    raise ScriptError(
        f"{name}: there is no such file and no bundled scenario of that name "
        f"(bundled: {', '.join(bundled_scenarios())})"
    )


def load_scenario(name: str, procedure: str | None = None, settings: PracticeSettings = AS_WRITTEN) -> LoadedScenario:
    """Load a scenario, by bundled identifier or path.

    Args:
        name: The scenario.
        procedure: The procedure that it must be about, where the caller names one.
        settings: What is set beside it for this practice.

    Raises:
        ScriptError: The file cannot be read, or has faults: each on a line of its own, as file:line: path: text.
        ProcedureFileError: The procedure has faults.
    """
    path = find_scenario(name)
    try:
        source = read_source(path)
    except ProcedureFileError as error:
        raise ScriptError(str(error).replace("(a procedure is", "(a scenario is")) from error
    fill_events(source)
    scenario = validate(source, Scenario)
    if scenario is None or source.faults:
        raise ScriptError("\n".join(source.described_faults()))
    bundle = load_bundle(named_beside(path, scenario.procedure))
    if procedure not in {None, scenario.procedure} and load_bundle(str(procedure)).sha256 != bundle.sha256:
        source.fault(("procedure",), f"this scenario is about {scenario.procedure}, not {procedure}")
    for at, text in _faults(scenario, bundle):
        source.fault(at, text)
    _raise(source)
    # Practice asks nobody whose visit it is; the first step has hardly begun.
    names_patient = (bundle.procedure.patient_from or "").partition(".")[0]
    quiet = [
        step.id
        for step in bundle.procedure.steps[1:]
        if step.kind not in {"expose", "compute"}
        and step.when is None
        and step.for_each is None
        and step.id != names_patient
    ]
    played = with_settings(scenario, settings, quiet)
    return LoadedScenario(played, bundle, hashlib.sha256(read_named(path)).hexdigest(), settings)


def _raise(source: SourceLines) -> None:
    if source.faults:
        raise ScriptError("\n".join(source.described_faults()))


def _faults(scenario: Scenario, bundle: Bundle) -> Iterator[tuple[Path_, str]]:
    steps = {step.id: step for step in bundle.procedure.steps}
    for needed in (LEARNER, PATIENT):
        if needed not in scenario.voices:
            yield ("voices",), f"the voice of the {needed} is missing"
    for place, value in scenario.case.items():
        yield from _value_faults(steps, ("case", place), place, value)
    for name, times in scenario.times.items():
        if fault := _times_fault(steps, scenario, name, times):
            yield ("times", name), fault
    for name, values in (("id", [e.id for e in scenario.events]), ("key", [e.key for e in scenario.events if e.key])):
        if len(set(values)) != len(values):
            yield ("events",), f"two events have the same {name}"
    for index, event in enumerate(scenario.events):
        for at, text in _event_faults(event, scenario, bundle, steps):
            yield ("events", index, *at), text


def _event_faults(
    event: ScenarioEvent, scenario: Scenario, bundle: Bundle, steps: dict[str, Step]
) -> Iterator[tuple[Path_, str]]:
    kinds = (*bundled_kinds(), *scenario.kinds)
    if event.kind not in kinds:
        yield ("kind",), f"there is no kind {event.kind} (there are: {', '.join(kinds)}; kinds can define others)"
    if event.who is not None and event.who not in scenario.voices:
        yield ("who",), f"{event.who} has no voice (there are: {', '.join(scenario.voices)})"
    for number, place in enumerate(event.at.steps):
        fault = _place_fault(steps, place)
        if fault:
            yield ("at", "steps", number), fault
        elif event.at.zone is not None and steps[place.partition("@")[0]].kind != "expose":
            yield ("at", "zone"), f"{place} lights nothing"
    zones = [zone.id for zone in bundle.device.zones] if bundle.device is not None else []
    if event.at.zone is not None and event.at.zone not in zones:
        yield ("at", "zone"), f"there is no zone {event.at.zone} (there are: {', '.join(zones) or 'none'})"
    for key, values in (("shows", event.shows), ("remedy", event.remedy)):
        for place, value in values.items():
            yield from _value_faults(steps, (key, place), place, value)
    if event.settle is not None:
        known: tuple[tuple[str, tuple[str, ...], dict[str, tuple[str, ...]]], ...] = (
            ("reasons", event.settle.reasons, bundle.procedure.override_reasons),
            ("roles", event.settle.roles, bundle.procedure.roles),
        )
        for key, named, there in known:
            for name in sorted(set(named) - set(there)):
                yield ("settle", key), f"the procedure has no {name} (there are: {', '.join(there)})"
    if event.at.cue and event.key is None:
        yield ("at", "cue"), "an event that only a trainer sets off needs a key"


def _place_fault(steps: dict[str, Step], place: str) -> str | None:
    name, _, which = place.partition("@")
    step = steps.get(name)
    if step is None:
        return f"the procedure has no step {name}"
    if which.isdecimal():
        if step.repeat is None:
            return f"{name} is not repeated"
        return f"{name} is done {step.repeat.most} times at most" if int(which) > step.repeat.most else None
    return f"{name} is not done for each side" if which and step.for_each is None else None


def _times_fault(steps: dict[str, Step], scenario: Scenario, name: str, times: int) -> str | None:
    step = steps.get(name)
    if step is None or step.repeat is None:
        return _place_fault(steps, name) or f"{name} is not repeated"
    least, most, named = step.repeat.least, step.repeat.most, max(numbers_named(scenario, step), default=0)
    if not least <= times <= most:
        return f"{name} is done from {least} to {most} times"
    return f"the case names number {named} of {name}, there are {times}" if named > times else None


def _computed_fault(field: StepField) -> str | None:
    """Nobody finds what is computed: its truth follows from that of the values behind it."""
    if field.computed is None:
        return None
    return f"it is computed; say what is true of {', '.join(field.computed.inputs)}, and it follows"


def _value_faults(steps: dict[str, Step], at: Path_, place: str, value: str) -> Iterator[tuple[Path_, str]]:
    where, _, name = place.partition(".")
    fault = _place_fault(steps, where)
    if fault is None:
        step = steps[where.partition("@")[0]]
        fields = {field.id: field for field in step.fields}
        if name in fields:
            fault = _computed_fault(fields[name]) or value_fault(step, fields[name], value)
        else:
            fault = f"{where} has no field {name} (there are: {', '.join(fields) or 'none'})"
    if fault is not None:
        yield at, fault
