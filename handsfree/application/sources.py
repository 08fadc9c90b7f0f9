"""Where a session's words come from: a microphone, a sound file or pipe, typed lines."""

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Protocol

from rich.console import Console

from handsfree.application.screen_beside import WantedScreen, room_screen
from handsfree.application.terminal_outputs import PromptKeeper, TerminalOutputs
from handsfree.clock import Clock, ManualClock, SystemClock
from handsfree.definition.loader import Bundle
from handsfree.display import ConversationView
from handsfree.runner import Outputs, SessionClock, SessionRunner, View, is_typed_into, run_blocks, run_typed

if TYPE_CHECKING:
    from handsfree.application.equipment import LiveSettings

TYPED = "typed"
"""Name of the recogniser where words are typed."""
USUAL_ENGINE = "neural"
"""Name of the recogniser where none is asked for."""


@dataclass(frozen=True)
class Surrounding:
    """What a session speaks through, and what drives it once it has started.

    Attributes:
        outputs: Carries out prompts.
        drive: Runs a started session to its end, or to the end of what is heard.
    """

    outputs: Outputs
    drive: Callable[[SessionRunner], None]


class Source(Protocol):
    """Where words come from."""

    live: ClassVar[bool]
    """Whether a person is at a microphone, who may end the visit from the keyboard."""
    sound: ClassVar[bool]
    """Whether there is sound that can be kept."""

    @property
    def beside(self) -> bool:
        """Whether people wait for answers, so that the record is written beside."""

    @property
    def engine_name(self) -> str:
        """What a record says of the recogniser."""

    def clock(self) -> SessionClock:
        """Session time, from 0."""

    def open(self, clock: Clock, bundle: Bundle) -> AbstractContextManager[Surrounding]:
        """Make ready what is needed, and free it afterwards.

        Raises:
            HandsfreeError: Something is missing; nothing was recorded yet.
        """


@dataclass(frozen=True)
class AtMicrophone:
    """A person in a room. See `Source`.

    Attributes:
        settings: Devices, voice, listening.
        console: Where the view goes.
        screen: A screen for the room, or None.
    """

    live: ClassVar[bool] = True
    sound: ClassVar[bool] = True

    settings: "LiveSettings"
    console: Console
    screen: WantedScreen | None = None

    @property
    def beside(self) -> bool:
        """See `Source.beside`."""
        return True

    @property
    def engine_name(self) -> str:
        """See `Source.engine_name`."""
        return self.settings.engine or USUAL_ENGINE

    def clock(self) -> SessionClock:
        """See `Source.clock`."""
        return SessionClock(SystemClock())

    @contextmanager
    def open(self, clock: Clock, bundle: Bundle) -> Iterator[Surrounding]:
        """See `Source.open`."""
        from handsfree.application.equipment import equipment, standing_prompts

        with (
            room_screen(self.screen, bundle) as room,
            equipment(self.settings, clock, self.console, standing_prompts(bundle), room) as live,
        ):
            yield Surrounding(live.outputs, lambda runner: live.run(runner, clock))


@dataclass(frozen=True)
class FromSound:
    """Sound whose samples are the clock: a file or a pipe. See `Source`.

    Attributes:
        file: WAV or FLAC at any rate, or None for raw 16-bit little-endian mono samples on standard input.
        rate_hz: Samples a second on standard input.
        engine: Name of the recogniser, or None for the usual one.
        console: Where the conversation is shown.
        prompts: Folder for the prompts as WAV files, or None.
        voice: Name of the tool's voice, or None for the best there is.
        screen: A screen for the room, or None.
    """

    live: ClassVar[bool] = False
    sound: ClassVar[bool] = True

    file: Path | None
    rate_hz: int
    engine: str | None
    console: Console
    prompts: Path | None = None
    voice: str | None = None
    screen: WantedScreen | None = None

    @property
    def beside(self) -> bool:
        """See `Source.beside`: the samples are the clock, and wait."""
        return False

    @property
    def engine_name(self) -> str:
        """See `Source.engine_name`."""
        return self.engine or USUAL_ENGINE

    def clock(self) -> SessionClock:
        """See `Source.clock`."""
        return SessionClock(ManualClock(SystemClock().wall()))

    @contextmanager
    def open(self, clock: Clock, bundle: Bundle) -> Iterator[Surrounding]:
        """See `Source.open`."""
        from handsfree.audio.pipe import read_pipe
        from handsfree.audio.wav import read_wav
        from handsfree.recognition.choose import make_recognizer

        blocks = read_wav(self.file) if self.file is not None else read_pipe(sys.stdin.buffer, self.rate_hz)
        recognizer = make_recognizer(self.engine)
        with room_screen(self.screen, bundle) as room:
            yield Surrounding(
                _shown(self.console, clock, self.prompts, self.voice, room),
                lambda runner: run_blocks(runner, recognizer, blocks, clock),
            )


@dataclass(frozen=True)
class TypedLines:
    """Lines that somebody types, or that are at hand. See `Source`.

    Attributes:
        console: Where the conversation is shown.
        prompts: Folder for the prompts as WAV files, or None.
        voice: Name of the tool's voice, or None for the best there is.
        lines: The lines; standard input where None.
        screen: A screen for the room, or None.
    """

    live: ClassVar[bool] = False
    sound: ClassVar[bool] = False

    console: Console
    prompts: Path | None = None
    voice: str | None = None
    lines: Iterable[str] | None = None
    screen: WantedScreen | None = None

    @property
    def beside(self) -> bool:
        """See `Source.beside`."""
        return is_typed_into(self.lines if self.lines is not None else sys.stdin)

    @property
    def engine_name(self) -> str:
        """See `Source.engine_name`."""
        return TYPED

    def clock(self) -> SessionClock:
        """See `Source.clock`."""
        return SessionClock(SystemClock())

    @contextmanager
    def open(self, clock: Clock, bundle: Bundle) -> Iterator[Surrounding]:
        """See `Source.open`."""
        with room_screen(self.screen, bundle) as room:
            yield Surrounding(
                _shown(self.console, clock, self.prompts, self.voice, room),
                lambda runner: run_typed(runner, self.lines if self.lines is not None else sys.stdin),
            )


def _shown(
    console: Console, clock: Clock, prompts: Path | None, voice: str | None, room: View | None
) -> TerminalOutputs:
    keeper = PromptKeeper(prompts, voice) if prompts is not None else None
    return TerminalOutputs(ConversationView(console), clock, keeper, room)
