"""Faults as a diagnosis tells them: what and where in the program, without a path of the machine."""

import re
import tempfile
from collections.abc import Callable
from pathlib import Path
from traceback import extract_tb

from handsfree.errors import AudioDeviceError, HandsfreeError
from handsfree.model.effects import Json

HIDDEN = "<path>"
_PATHS = re.compile(r"(?<![\w<])(?:[A-Za-z]:[\\/]|\\\\|~?/)[^\s'\":;,()]+")


def fault_of(error: Exception) -> dict[str, Json]:
    """An error as a fault: its kind, its place in the program, and what it says where that can hold no file's name."""
    told: dict[str, Json] = {"kind": type(error).__name__}
    frames = extract_tb(error.__traceback__)
    if frames:
        told["at"] = f"{Path(frames[-1].filename).name}:{frames[-1].lineno}"
    if isinstance(error, HandsfreeError):
        told["exit_code"] = error.exit_code
    if isinstance(error, ModuleNotFoundError):
        told["missing"] = error.name
    if isinstance(error, AudioDeviceError):
        told["says"] = without_paths(str(error))
    return told


def without_paths(text: str) -> str:
    """A text in which no absolute path is left."""
    for folder in sorted({str(Path.home()), str(Path.cwd()), tempfile.gettempdir()}, key=len, reverse=True):
        text = text.replace(folder, "/") if len(folder) > 1 else text
    return _PATHS.sub(HIDDEN, text)


def guarded(find: Callable[[], dict[str, Json]]) -> dict[str, Json]:
    """What `find` finds, or its fault: one part that is broken must not hide the others."""
    try:
        return find()
    except Exception as error:  # noqa: BLE001 - whatever it is, it is what somebody wants to know
        return {"fault": fault_of(error)}
