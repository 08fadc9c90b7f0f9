"""What the session is doing at its stage: a stack of modes, because what interrupts returns to what it interrupted."""

from collections.abc import Mapping
from enum import StrEnum


class Mode(StrEnum):
    """What the session is doing."""

    ASKING = "asking"
    HELD = "held"
    OPEN_ITEMS = "open_items"
    RECONFIRM = "reconfirm"
    CLOSED = "closed"
    READING_BACK = "reading_back"
    CHECKING = "checking"
    LIT = "lit"
    WARMTH = "warmth"
    LATE_HEAT = "late_heat"
    SKIP_REASON = "skip_reason"
    OVERRIDE_ROLE = "override_role"
    OVERRIDE_REASON = "override_reason"
    OVERRIDE_CODE = "override_code"
    OVERRIDE_CONFIRM = "override_confirm"
    MISHEARD = "misheard"
    NOTING = "noting"
    PAUSED = "paused"
    DOUBTING = "doubting"
    CRIED = "cried"
    STRAY = "stray"


RESTING = frozenset({Mode.ASKING, Mode.HELD, Mode.OPEN_ITEMS, Mode.RECONFIRM, Mode.CLOSED})
"""The lowest of a stack: where the visit rests; `navigation` says which."""
_AT_WORK = (RESTING - {Mode.CLOSED}) | {Mode.READING_BACK, Mode.CHECKING, Mode.WARMTH}
_IDLE = _AT_WORK | {Mode.LATE_HEAT}
_OVERRIDE = frozenset({Mode.OVERRIDE_ROLE, Mode.OVERRIDE_REASON, Mode.OVERRIDE_CODE, Mode.OVERRIDE_CONFIRM})
_ENDED_FROM = _IDLE | {Mode.PAUSED, Mode.MISHEARD, Mode.SKIP_REASON}

LIES_ON: Mapping[Mode, frozenset[Mode]] = {
    Mode.READING_BACK: frozenset({Mode.ASKING}),
    Mode.CHECKING: frozenset({Mode.ASKING}),
    Mode.LIT: frozenset({Mode.ASKING}),
    Mode.WARMTH: frozenset({Mode.ASKING}),
    Mode.CRIED: frozenset(Mode) - {Mode.CLOSED, Mode.LIT, Mode.STRAY, Mode.CRIED},
    Mode.LATE_HEAT: frozenset({Mode.ASKING, Mode.OPEN_ITEMS}),
    Mode.SKIP_REASON: frozenset({Mode.ASKING}),
    **dict.fromkeys(_OVERRIDE, _ENDED_FROM),
    Mode.MISHEARD: frozenset({Mode.HELD}),
    Mode.NOTING: _IDLE | {Mode.PAUSED},
    Mode.PAUSED: _IDLE,
    Mode.STRAY: frozenset(Mode) - {Mode.CLOSED, Mode.LIT, Mode.STRAY},
    Mode.DOUBTING: _IDLE | _OVERRIDE | {Mode.SKIP_REASON, Mode.PAUSED, Mode.MISHEARD},
}
"""What each mode may interrupt. Modes that are not named here interrupt nothing."""

BY_VOICE_ALONE = _OVERRIDE | {Mode.MISHEARD}
"""Where "affirmative" lifts what holds a visit, or answers for it: who does that says so, and presses no key."""

DROPPED_BY_A_STOP = _OVERRIDE | {
    Mode.LIT,
    Mode.STRAY,
    Mode.CRIED,
    Mode.LATE_HEAT,
    Mode.SKIP_REASON,
    Mode.NOTING,
    Mode.PAUSED,
    Mode.DOUBTING,
    Mode.MISHEARD,
}
"""What a stop word breaks off; a read-back and the question about warmth wait until the session goes on."""


class ModeStack:
    """The modes, lowest first. It refuses what `LIES_ON` does not allow, and then is unchanged."""

    def __init__(self) -> None:
        self._modes = [Mode.ASKING]

    @property
    def top(self) -> Mode:
        """What the session is doing now."""
        return self._modes[-1]

    @property
    def resting(self) -> Mode:
        """Where the visit rests below everything that interrupts it."""
        return self._modes[0]

    @property
    def all(self) -> tuple[Mode, ...]:
        """Every mode, lowest first."""
        return tuple(self._modes)

    def push(self, mode: Mode) -> None:
        """Interrupt what is going on.

        Raises:
            ValueError: It may not interrupt that.
        """
        if self.top not in LIES_ON.get(mode, frozenset()):
            raise ValueError(f"{mode} may not interrupt {self.top}")
        self._modes.append(mode)

    def pop(self, mode: Mode) -> None:
        """End an interruption: back to what it interrupted.

        Raises:
            ValueError: Another mode is on top.
        """
        if self.top is not mode or len(self._modes) == 1:
            raise ValueError(f"{mode} does not interrupt anything here, {self.top} is on top")
        self._modes.pop()

    def turn_into(self, mode: Mode) -> None:
        """Let the interruption go on as another one.

        Raises:
            ValueError: The other may not interrupt what lies below.
        """
        below = self._modes[-2] if len(self._modes) > 1 else None
        if below is None or below not in LIES_ON.get(mode, frozenset()):
            raise ValueError(f"{self.top} cannot go on as {mode} here")
        self._modes[-1] = mode

    def rest(self, mode: Mode) -> None:
        """Come to rest: nothing is interrupted any more.

        Raises:
            ValueError: It is no mode to rest in.
        """
        if mode not in RESTING:
            raise ValueError(f"{mode} is no mode to rest in")
        self._modes = [mode]

    def drop(self, modes: frozenset[Mode]) -> None:
        """Break off whatever of these modes is on top, down to the first that is none of them."""
        while len(self._modes) > 1 and self.top in modes:
            self._modes.pop()
