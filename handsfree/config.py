"""The configuration file: devices, voice, wording, listening, record. TOML, strict, every fault at once."""

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    Field,
    ValidationError,
)

from handsfree.errors import UsageError
from handsfree.model.patient_reference import DEFAULT_PATTERN
from handsfree.model.working import Working
from handsfree.record.clips import Retention
from handsfree.regular_files import read_named
from handsfree.room_settings import Keys, Name, Screen, Table
from handsfree.store.address import checked_address

LOCALES = ("en-US",)
"""Languages that have grammars."""


def _compiles(pattern: str) -> str:
    try:
        re.compile(pattern)
    except re.error as error:
        raise ValueError(f"is no regular expression: {error}") from None
    return pattern


def _names_store(address: str) -> str:
    try:
        return checked_address(address)
    except UsageError as error:
        raise ValueError(str(error)) from None


class Verbosity(StrEnum):
    """How much is said."""

    NOVICE = "novice"
    EXPERT = "expert"


class Confirming(StrEnum):
    """How findings are confirmed."""

    GOING_ON = "going_on"
    EACH = "each"


class VoiceName(StrEnum):
    """Voices that may be asked for."""

    NEURAL = "neural"
    SYSTEM = "system"


class Duplex(StrEnum):
    """Whether what is said over the tool's voice is understood."""

    CHECKED = "checked"
    HALF = "half"
    FULL = "full"


class EngineName(StrEnum):
    """Recognisers that may be asked for."""

    NEURAL = "neural"
    NEURAL_BASE = "neural-base"
    NEURAL_TUNED = "neural-tuned"
    POCKETSPHINX = "pocketsphinx"
    VOSK = "vosk"


class Devices(Table):
    """Which sound devices.

    Attributes:
        microphone: Name or a part that no other device has; None for the system's default.
        loudspeaker: As `microphone`.
    """

    microphone: Name | None = None
    loudspeaker: Name | None = None


class Voice(Table):
    """How the tool speaks.

    Attributes:
        name: Which voice; None for the best that works.
        rate: Words a minute, 90 … 220; sentences with numbers are spoken slower in proportion.
        verbosity: "novice" for whole prompts, "expert" for short ones; None for short ones while somebody narrates.
    """

    name: VoiceName | None = None
    rate: Annotated[int, Field(ge=90, le=220, strict=True)] = 150
    verbosity: Verbosity | None = None


class Listening(Table):
    """How the tool listens.

    Attributes:
        engine: Which recogniser; None for the default.
        locale: Language of what is said.
        attention: Phrase that must come first in a busy room, two to four words, or None. Stop words need none.
        talk_over: Whether somebody who speaks over a prompt cuts it short; a key always does.
        duplex: Whether what is said over a prompt is understood: "checked" as the last sound check of these devices
            found, and not where there was none; "half" never, only stop words act; "full" wherever the canceller of
            echoes is installed.
    """

    engine: EngineName | None = None
    locale: Annotated[str, Field(pattern="|".join(f"^{locale}$" for locale in LOCALES))] = LOCALES[0]
    attention: Annotated[str, Field(pattern=r"^[A-Za-z']+( [A-Za-z']+){1,3}$")] | None = None
    talk_over: Annotated[bool, Field(strict=True)] = True
    duplex: Duplex = Duplex.CHECKED

    @property
    def phrase(self) -> tuple[str, ...]:
        """The attention phrase in lower-case words, or ()."""
        return tuple((self.attention or "").lower().split())


class WayOfWorking(Table):
    """Who leads, and how findings are confirmed.

    Attributes:
        way: "guided" asks step by step, "narrated" listens and asks for what is missing; changed by voice at any time.
        confirm: "going_on": findings that are heard well stand unless somebody objects to their read-back; "each": each
            is affirmed. Numbers, codes, dates, sides and what holds a visit are always affirmed.
    """

    way: Working = Working.GUIDED
    confirm: Confirming = Confirming.GOING_ON


class Records(Table):
    """What is kept.

    Attributes:
        folder: Where new records go unless told otherwise; None asks for --record. A leading ~ is the home folder.
        retention: How long sound is kept.
        patient_reference: Regular expression that the whole of a patient reference must match. What is spelled aloud
            or typed in a visit has capitals and digits alone: make separators optional ("[A-Z]{2}-?[0-9]{6}"). None for
            the usual form (`model.patient_reference`).
        recall_list: CSV file with lots that stop a new session; None for none. A leading ~ is the home folder.
        store: Address of a store of several rooms (postgresql://...), to which closed visits are sent in the
            background; None for none. It holds no password: that is libpq's own (password file, service file).
        room: Where this installation stands, as the site calls it; each new record says it. None for nothing.
    """

    folder: Name | None = None
    retention: Retention = Retention.OFF
    patient_reference: Annotated[Name, AfterValidator(_compiles)] | None = None
    recall_list: Name | None = None
    store: Annotated[Name, AfterValidator(_names_store)] | None = None
    room: Name | None = None

    @property
    def place(self) -> Path | None:
        """The folder as a path."""
        return Path(self.folder).expanduser() if self.folder is not None else None

    @property
    def reference_pattern(self) -> str:
        """The regular expression of a patient reference."""
        return self.patient_reference or DEFAULT_PATTERN

    @property
    def recalls(self) -> Path | None:
        """The recall list as a path."""
        return Path(self.recall_list).expanduser() if self.recall_list is not None else None


class Approvals(Table):
    """Who may approve procedures.

    Attributes:
        keys: Public keys of the site, 64 hexadecimal digits each, as `handsfree approve` prints them: an approval has
            to be signed with one of them. None: it may be unsigned, or signed with the key of this installation.
    """

    keys: tuple[Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")], ...] = ()


class Config(Table):
    """Everything that may be configured; an empty file is a good one."""

    devices: Devices = Devices()
    voice: Voice = Voice()
    listening: Listening = Listening()
    records: Records = Records()
    working: WayOfWorking = WayOfWorking()
    screen: Screen = Screen()
    keys: Keys = Keys()
    approval: Approvals = Approvals()


@dataclass(frozen=True, slots=True)
class SettingFault:
    """What is wrong with one setting.

    Attributes:
        line: Line of the file, from 1.
        setting: Table and name, as they stand there.
        text: What is wrong, and what would be right.
    """

    line: int
    setting: str
    text: str


class ConfigFileError(UsageError):
    """A configuration file has faults; the message has each on a line of its own, as file:line: setting: what.

    Attributes:
        faults: The faults.
    """

    lists_faults = True

    def __init__(self, path: Path, faults: tuple[SettingFault, ...]) -> None:
        super().__init__("\n".join(f"{path}:{one.line}: {one.setting}: {one.text}" for one in faults))
        self.faults = faults


def option_defaults(config: Config) -> dict[str, dict[str, object]]:
    """What the file says in place of options that are left out.

    Returns:
        Command to option to value, as a command line takes them (a "default map"). A setting that is left out stands
        for itself; settings that are no option stay in the configuration alone.
    """
    devices: dict[str, object] = {"microphone": config.devices.microphone, "loudspeaker": config.devices.loudspeaker}
    engine = config.listening.engine.value if config.listening.engine is not None else None
    spoken: dict[str, object] = {
        "engine": engine,
        "voice": config.voice.name.value if config.voice.name is not None else None,
        "expert": config.voice.verbosity is Verbosity.EXPERT if config.voice.verbosity is not None else None,
    }
    worked: dict[str, object] = {
        "working": config.working.way.value,
        "going_on": config.working.confirm is Confirming.GOING_ON,
    }
    kept: dict[str, object] = {
        "clips": config.records.retention is not Retention.OFF,
        "recall_list": config.records.recalls,
    }
    by_command: dict[str, dict[str, object]] = {
        "run": {**devices, **spoken, **kept, **worked},
        "soundcheck": {**devices, "engine": engine},
        "practice": spoken,
    }
    return {
        command: {option: value for option, value in options.items() if value is not None}
        for command, options in by_command.items()
    }


def read_config(path: Path) -> Config:
    """Read a configuration file.

    Raises:
        UsageError: It is missing or no TOML.
        ConfigFileError: It has faults.
    """
    try:
        text = read_named(path).decode("utf-8")
    except OSError as error:
        raise UsageError(f"{path}: cannot be read: {error.strerror} (give a TOML file)") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: is not UTF-8 text (a configuration is a TOML file)") from error
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also a number too long, or tables too deep, for Python
        raise UsageError(f"{path}: is no TOML: {error}") from error
    try:
        return Config.model_validate(raw)
    except ValidationError as error:
        lines = text.splitlines()
        faults = []
        for fault in error.errors():
            keys = [str(part) for part in fault["loc"]]
            faults.append(SettingFault(_line_of(lines, keys), ".".join(keys), _words(fault)))
        raise ConfigFileError(path, tuple(faults)) from error


def _line_of(lines: Sequence[str], keys: Sequence[str]) -> int:
    """Line of a key: its table's heading, then the key; the heading, or 1, where the key is written another way."""
    table, key = keys[0], keys[1] if len(keys) > 1 else ""
    here, found = "", 0
    for number, line in enumerate(lines, start=1):
        heading = re.match(r"\s*\[\s*([\w-]+)\s*\]", line)
        if heading is not None:
            here = heading.group(1)
            found = found or (number if here == table else 0)
            continue
        name = re.match(r"\s*([\w.-]+)\s*=", line)
        if name is None:
            continue
        full = f"{here}.{name.group(1)}" if here else name.group(1)
        if full == f"{table}.{key}" or full.partition(".")[0] == table != here:
            return number
    return found or 1


def _words(fault: Any) -> str:  # noqa: ANN401 - pydantic's own record of a fault
    """What is wrong and what would be right."""
    kind, context, given = fault["type"], fault.get("ctx", {}), fault["input"]
    match kind:
        case "extra_forbidden":
            return f"there is no such setting (there are: {_known(fault['loc'])})"
        case "enum":
            return f"{given!r} is none of {context['expected']}"
        case "string_pattern_mismatch" if fault["loc"][-1] == "attention":
            return f"{given!r} is no phrase of two to four words"
        case "string_pattern_mismatch" if fault["loc"][0] == "approval":
            return f"{given!r} is no public key (64 hexadecimal digits, in small letters)"
        case "string_pattern_mismatch":
            return f"{given!r} is not known ({', '.join(LOCALES)} is)"
        case "value_error" if fault["loc"][0] in {"screen", "keys"}:
            return str(context["error"])
        case "greater_than_equal" | "less_than_equal" if fault["loc"][-1] == "port":
            return f"{given!r} is no port from 0 to 65535"
        case "greater_than_equal" | "less_than_equal":
            return f"{given!r} is outside 90 to 220 words a minute"
        case "value_error" if fault["loc"][-1] == "store":
            return str(context["error"])  # what was given may hold a password
        case _:
            return f"{given!r}: {fault['msg'][0].lower()}{fault['msg'][1:]}"


def _known(place: tuple[Any, ...]) -> str:
    table = Config.model_fields[str(place[0])].annotation if len(place) > 1 else Config
    fields = getattr(table, "model_fields", {})
    return ", ".join(fields)
