"""Options and kinds of arguments that several commands take, each in one place."""

import os
import sys
import webbrowser
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from handsfree.application.places import usual_attempts, usual_config, usual_key
from handsfree.config import Config, EngineName, VoiceName, option_defaults, read_config
from handsfree.errors import UsageError
from handsfree.model.working import Working
from handsfree.regular_files import reason_of
from handsfree.store.address import checked_address, is_address

if TYPE_CHECKING:
    from handsfree.application.screen_beside import WantedScreen

DEFAULT_START = "2026-11-25T09:00:00+00:00"
"""Wall time at which a rehearsal begins unless told otherwise, so that the same script gives the same record."""


class _NamedPath(click.Path):
    """A file or folder by name, there or not.

    An empty name, as of a variable that is not set, would be the current folder. A name that the system takes for none,
    or that lies in a folder which may not be entered, is refused here, before anything is done.
    """

    def convert(
        self, value: str | os.PathLike[str], param: click.Parameter | None, ctx: click.Context | None
    ) -> str | bytes | os.PathLike[str]:
        label = param.human_readable_name if param is not None else "path"
        if value == "":
            raise UsageError(f"{label}: the name is empty; give a file or a folder")
        try:
            os.lstat(value)
        except (FileNotFoundError, NotADirectoryError):
            pass
        except (OSError, ValueError) as error:
            raise UsageError(f"{label}: {value} cannot be used: {reason_of(error)}") from error
        return super().convert(value, param, ctx)


class _RecordsPlace(_NamedPath):
    """A folder of records, or the address of a store of many rooms."""

    def convert(
        self, value: str | os.PathLike[str], param: click.Parameter | None, ctx: click.Context | None
    ) -> str | bytes | os.PathLike[str]:
        if isinstance(value, str) and is_address(value):
            return checked_address(value)
        return super().convert(value, param, ctx)


PLACE = _RecordsPlace(path_type=Path, readable=False)
PATH = _NamedPath(path_type=Path, readable=False)  # what cannot be read is told in one line where it is read


def _device_name(_: click.Context, param: click.Parameter, name: str | None) -> str | None:
    """A device by name or a part of it; an empty one would fit every device."""
    if name is not None and not name.strip():
        raise click.BadParameter("the name is empty; give one of `handsfree devices`, or a part of it", param=param)
    return name.strip() if name is not None else None


def _wall_time(_: click.Context, param: click.Parameter, text: str) -> datetime:
    """A moment in ISO 8601; in UTC where it names no offset."""
    try:
        wall = datetime.fromisoformat(text)
    except ValueError as error:
        raise click.BadParameter(f"{text} is no time such as {DEFAULT_START}", param=param) from error
    return wall if wall.tzinfo is not None else wall.replace(tzinfo=UTC)


def _take_config(ctx: click.Context, _: click.Parameter, file: Path | None) -> Config:
    """Read the configuration before any other option is looked at, and let options that are left out come from it."""
    if ctx.resilient_parsing:
        return Config()
    usual = usual_config()
    config = read_config(file or usual) if file is not None or _is_there(usual) else Config()
    ctx.default_map = option_defaults(config).get(ctx.command.name or "", {})
    return config


def _is_there(usual: Path) -> bool:
    """Whether there is a file of a name; settings in a folder that may not be entered are not left out in silence."""
    try:
        usual.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError as error:
        raise UsageError(f"{usual}: cannot be read: {reason_of(error)}") from error
    return True


_config = partial(
    click.option,
    "--config",
    type=PATH,
    is_eager=True,
    callback=_take_config,
    help="Configuration file (TOML); the usual one of this user else, if it is there.",
)
CONFIG = _config()
"""The configuration, read; options that are left out come from it."""
CONFIG_DEFAULTS = _config(expose_value=False)
"""The same for commands whose options hold all that they take from it."""


def typed_by_user(name: str) -> bool:
    """Whether an option of the command that is being carried out stands on the command line itself."""
    return click.get_current_context().get_parameter_source(name) is ParameterSource.COMMANDLINE


WORDING = click.option(
    "--expert/--novice",
    default=None,
    help="Short prompts and read-backs, or whole ones; where left out short ones while somebody narrates.",
)
WORKING = click.option(
    "--working",
    type=click.Choice([way.value for way in Working]),
    help="Who leads: guided asks step by step (default), narrated listens, and asks for what is missing. Changed by "
    "voice at any time.",
)
GOING_ON = click.option(
    "--going-on/--affirm-each",
    "going_on",
    default=None,
    help="Findings that are heard well stand unless somebody objects (default), or each is affirmed.",
)
MICROPHONE = click.option(
    "--microphone", callback=_device_name, help="Microphone by name or a part of it; see `handsfree devices`."
)
LOUDSPEAKER = click.option("--loudspeaker", callback=_device_name, help="Loudspeaker by name or a part of it.")
ENGINE = click.option(
    "--engine", type=click.Choice([engine.value for engine in EngineName]), help="Recogniser; neural where left out."
)
VOICES = click.Choice([voice.value for voice in VoiceName])
BASELINE = click.option("--baseline", type=PATH, help="Record of an earlier visit that this one is compared with.")
BASELINE_MEANT = click.option(
    "--baseline-meant", is_flag=True, help="The --baseline record is meant, though it be of another patient or side."
)
RECALL_LIST = click.option(
    "--recall-list", type=PATH, help="CSV file with the columns lot and reason: lots that stop the session."
)
START = click.option(
    "--start",
    callback=_wall_time,
    default=DEFAULT_START,
    show_default=True,
    help="Wall time of the start, with offset.",
)
KEY_FILE = click.option(
    "--key-file", type=PATH, default=usual_key, help="Signing key, made on first use; that of this installation else."
)
ATTEMPTS = click.option(
    "--attempts", "store_file", type=PATH, default=usual_attempts, help="Store of attempts; the one of this user else."
)
ATTEMPTS_PLACE = click.option(
    "--attempts",
    "place",
    type=PLACE,
    default=usual_attempts,
    help="Store of attempts, a file or the address of a store of many rooms; the file of this user else.",
)
PROCEDURE_FILE = click.option(
    "--procedure", type=PATH, help="Procedure file of the record, where it is not a bundled one."
)
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
SCREEN = click.option(
    "--screen", is_flag=True, help="Show the visit on a page for the room as well, readable from two metres."
)
BROWSER = click.option(
    "--browser/--no-browser",
    default=True,
    show_default=True,
    help="Open the page of --screen, or only print its address.",
)


def _has_desktop() -> bool:
    """Whether there are windows: without them a browser would take the terminal, in which the visit is."""
    return sys.platform in {"win32", "darwin"} or bool({"DISPLAY", "WAYLAND_DISPLAY"} & {*os.environ})


def screen_of(config: Config, *, browser: bool) -> "WantedScreen":
    """The screen of --screen; its address is printed, and opened where it is one of this machine."""
    # Servers and templates are loaded by those alone who show something.
    from handsfree.application.screen_beside import WantedScreen

    def announce(address: str) -> None:
        click.echo(f"screen: {address}", err=True)
        if browser and config.screen.is_local and _has_desktop():
            webbrowser.open(address)

    return WantedScreen(config.screen, announce)
