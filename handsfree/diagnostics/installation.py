"""Versions, weights and settings of this installation."""

import os
import platform
import re
from importlib import metadata
from pathlib import Path

from handsfree import __version__
from handsfree.build import build
from handsfree.config import Config, ConfigFileError, read_config
from handsfree.errors import ModelError, UsageError
from handsfree.model.effects import Json
from handsfree.recognition import models

GIVEN = "given"
"""In place of a setting that is a path or names something."""
_REQUIREMENT = re.compile(r"[A-Za-z0-9._-]+")
_NOT_FOR_USE = ("dev", "train")


def program() -> dict[str, Json]:
    """Name, version and build."""
    return {"name": "handsfree", "version": __version__, "build": build()}


def python() -> dict[str, Json]:
    """The interpreter."""
    return {"version": platform.python_version(), "implementation": platform.python_implementation()}


def system() -> dict[str, Json]:
    """The operating system and the processor; not the name of the machine."""
    found: dict[str, Json] = {
        "name": platform.system(),
        "release": platform.release(),
        "machine": platform.machine(),
        "processors": os.cpu_count(),
    }
    try:
        found["distribution"] = platform.freedesktop_os_release().get("PRETTY_NAME")
    except OSError:
        found["distribution"] = None
    return found


def libraries() -> dict[str, Json]:
    """Every library that the program asks for at work, and the version that is installed, or None.

    Raises:
        PackageNotFoundError: The program runs without having been installed.
    """
    wanted = metadata.requires("handsfree") or []
    at_work = (line for line in wanted if not any(f"extra == '{extra}'" in line for extra in _NOT_FOR_USE))
    names = [name.group() for line in at_work if (name := _REQUIREMENT.match(line)) is not None]
    return {name: _version(name) for name in sorted(names)}


def _version(name: str) -> str | None:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return None


def weights() -> dict[str, Json]:
    """State of every model that the manifest knows, each file held against its SHA-256.

    Raises:
        ModelError: The manifest cannot be read.
    """
    found: dict[str, Json] = {
        model.id: {"engine": model.engine, "default": model.default, "state": _state(model.id)}
        for model in models.list_models()
    }
    return {"models": found, "folder_by_variable": models.FOLDER_VARIABLE in os.environ}


def _state(model_id: str) -> str:
    if not models.is_installed(model_id):
        return "not installed, or not whole"
    try:
        models.verify(model_id)
    except ModelError:
        return "altered: a SHA-256 differs"
    return "whole: every SHA-256 fits"


def settings(file: Path | None, usual: Path) -> tuple[Config, dict[str, Json]]:
    """Settings of the configuration, without what names a place or a person.

    Args:
        file: Configuration file that is asked for, or None.
        usual: The usual one of this user, which need not be there.

    Returns:
        The configuration, an empty one where it cannot be read, and what a diagnosis says of it.
    """
    which = "named" if file is not None else "usual" if os.path.lexists(usual) else "none"
    told: dict[str, Json] = {"file": which}
    config = Config()
    try:
        if which != "none":
            config = read_config(file if file is not None else usual)
    except ConfigFileError as error:
        told["faults"] = [{"line": fault.line, "setting": _known(fault.setting)} for fault in error.faults]
        return config, told
    except UsageError:
        return config, told | {"faults": ["not a readable TOML file"]}
    values = config.model_dump(mode="json")
    private = [("records", name) for name in ("folder", "recall_list", "patient_reference", "room", "store")]
    private += [("screen", name) for name in ("address", "name", "certificate", "key", "token_file")]
    for table, name in (*private, ("listening", "attention")):
        values[table][name] = GIVEN if values[table][name] is not None else None
    return config, told | {"values": values}


def _known(setting: str) -> str:
    """A setting by its name, if it is one: any other word of a file is somebody's own."""
    table, _, name = setting.partition(".")
    names = Config().model_dump().get(table)
    return setting if names is not None and (not name or name in names) else "unknown"
