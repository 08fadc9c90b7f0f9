"""Every error that a user can meet, with its exit code."""

from collections.abc import Mapping
from types import MappingProxyType

INTERRUPTED = 130
"""128 and the number of SIGINT, as shells have it (POSIX.1-2017, XCU 2.8.2: above 128; the sum is common practice)."""
OUTPUT_CLOSED = 141
"""128 and the number of SIGPIPE, as for a program that the signal ends."""
EXIT_CODES: Mapping[int, str] = MappingProxyType(
    {
        0: "done",
        1: "a bug in this program, or an error of the system that nobody foresaw",
        2: "usage: command line, configuration, a name that cannot be used, an output that cannot be written",
        3: "procedure, profile or block file",
        4: "grammar",
        5: "recogniser weights",
        6: "sound device or sound file, or the packages for sound are missing",
        7: "voice",
        8: "record, signing key or store of attempts: none there, broken, not complete, or not to be written",
        9: "rehearsal script, scenario or table of points, or a rehearsal that did not reach its end",
        10: "store of several rooms, or a server of another system: not reached, not permitted, of another schema",
        INTERRUPTED: "interrupted with Ctrl-C, or with Ctrl-D at a question",
        OUTPUT_CLOSED: "output closed before its end, by whoever read it",
    }
)
"""What the process exits with, and what each means."""


class HandsfreeError(Exception):
    """Base of all errors that are explained to the user in one line.

    Attributes:
        exit_code: What the process exits with.
        lists_faults: Whether the message is a list of faults, a line each.
    """

    exit_code = 1
    lists_faults = False


class UsageError(HandsfreeError):
    """The command line or the configuration asks for something that does not exist."""

    exit_code = 2


class ProcedureFileError(HandsfreeError):
    """A procedure or profile file has faults; the message lists every one, a line each."""

    exit_code = 3
    lists_faults = True


class GrammarError(HandsfreeError):
    """A grammar file cannot be parsed or refers to something undefined."""

    exit_code = 4
    lists_faults = True


class ModelError(HandsfreeError):
    """Recogniser weights are missing, damaged or cannot be fetched."""

    exit_code = 5


class AudioDeviceError(HandsfreeError):
    """A sound device or sound file cannot be used."""

    exit_code = 6


class VoiceError(HandsfreeError):
    """No synthesizer can render a prompt."""

    exit_code = 7


class RecordError(HandsfreeError):
    """A record cannot be written, or is altered, torn or incomplete."""

    exit_code = 8


class ScriptError(HandsfreeError):
    """A rehearsal script, a scenario or a table of points has faults, or the rehearsal did not reach its end."""

    exit_code = 9
    lists_faults = True


class StoreError(HandsfreeError):
    """A store of several rooms cannot be used: not reached, not permitted, of another schema, or not installed for."""

    exit_code = 10
