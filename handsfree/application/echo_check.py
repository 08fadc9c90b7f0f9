"""The check of the echo: whether what is said over the tool's own voice can be understood with these devices.

A test sound is played; from what the microphone hears of it come delay, level and how much of it can be taken out. What
was found is kept for these devices, and `run` goes by it.
"""

import json
import logging
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from enum import StrEnum
from pathlib import Path
from typing import Protocol

import numpy as np
import numpy.typing as npt

from handsfree.application.places import echo_checks
from handsfree.audio.audio_link import AudioLink
from handsfree.audio.devices import name_of
from handsfree.audio.echo_canceller import LONGEST_DELAY_S, EchoCanceller, delay_s
from handsfree.audio.levels import level_dbfs
from handsfree.audio.played_sound import MARGIN_S
from handsfree.audio.port import Player
from handsfree.audio.resample import to_pcm
from handsfree.clock import Clock
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock, Speech
from handsfree.model.effects import Priority

_LOG = logging.getLogger(__name__)
QUIET_S = 1.0
SOUND_S = 6.0
AFTER_S = 0.6
"""Quiet before the sound, the sound, and the echo after it."""
LEVEL = 0.12
"""Of full scale, as loud as the tool speaks."""
SYLLABLES_HZ = 4.0
"""Speech swells and falls about four times a second (Houtgast and Steeneken 1985, from memory)."""
HEARD_DB = 6.0
"""What stands out of the room's noise by less is no echo that could be taken for somebody."""
LEAST_LOSS_DB = 20.0
"""Of an echo that much must be taken out: the tool's voice is then softer than a person near it."""
LEFT_OVER_FLOOR_DB = 10.0
"""Or what is left stands out of the noise by no more."""
STEADY_S = 0.02
"""The delay may differ by so much between the first and the second half."""
CLIPPED = 32_700
CLIPPED_SHARE = 0.001


class DuplexWay(StrEnum):
    """How a visit listens while the tool speaks."""

    FULL = "full"
    HALF = "half"


class DuplexReason(StrEnum):
    """Why."""

    TAKEN_OUT = "taken_out"
    NO_ECHO = "no_echo"
    NOT_INSTALLED = "not_installed"
    NO_LOUDSPEAKER = "no_loudspeaker"
    NO_REFERENCE = "no_reference"
    CLIPPED = "clipped"
    NO_DELAY = "no_delay"
    UNSTEADY = "unsteady"
    TOO_LITTLE = "too_little"


WORDS: Mapping[DuplexReason, str] = {
    DuplexReason.TAKEN_OUT: "the tool's own voice can be taken out",
    DuplexReason.NO_ECHO: "the microphone does not hear the loudspeaker",
    DuplexReason.NOT_INSTALLED: "the echo canceller is not installed (pip install 'handsfree[speech]')",
    DuplexReason.NO_LOUDSPEAKER: "no loudspeaker can be used",
    DuplexReason.NO_REFERENCE: "the loudspeaker does not tell what it plays, or plays nothing",
    DuplexReason.CLIPPED: "the microphone cuts off the sound of the loudspeaker: turn one of them down",
    DuplexReason.NO_DELAY: "what the microphone hears is no copy of what is played: turn off effects of the devices",
    DuplexReason.UNSTEADY: "the delay from loudspeaker to microphone changes: use a wired loudspeaker",
    DuplexReason.TOO_LITTLE: "too little of the tool's own voice can be taken out: turn the loudspeaker down",
}


@dataclass(frozen=True, slots=True)
class EchoChecked:
    """What the check came to.

    Attributes:
        way: Full or half duplex.
        reason: Why.
        delay_ms: From handing sound to the loudspeaker until the microphone hears it; None where it was not found.
        echo_db: Level of the sound at the microphone over that of the room's noise, dB; None where none was heard.
        loss_db: How much of it was taken out, dB; None where nothing was tried.
    """

    way: DuplexWay
    reason: DuplexReason
    delay_ms: int | None = None
    echo_db: float | None = None
    loss_db: float | None = None

    @property
    def data(self) -> dict[str, object]:
        """As JSON-ready data."""
        return asdict(self)

    @property
    def line(self) -> str:
        """In one line for people."""
        known = [
            f"{self.delay_ms} ms late" if self.delay_ms is not None else "",
            f"{self.echo_db:.0f} dB over the noise" if self.echo_db is not None else "",
            f"{self.loss_db:.0f} dB of it taken out" if self.loss_db is not None else "",
        ]
        heard = ", ".join(part for part in known if part)
        what = "is understood" if self.way is DuplexWay.FULL else "is not understood, only stop words act"
        return f"speech over the tool's voice {what}: {WORDS[self.reason]}{f' ({heard})' if heard else ''}"


class SoundHere(Player, Protocol):
    """A microphone and a loudspeaker."""

    def __iter__(self) -> Iterator[AudioBlock]:
        """Blocks of the microphone."""


def test_sound() -> Speech:
    """Noise with the long-term spectrum of speech, roughly, that swells like it; always the same."""
    random = np.random.default_rng(4)
    count = round(SOUND_S * SAMPLE_RATE_HZ)
    spectrum = np.fft.rfft(random.standard_normal(count))
    pitch = np.maximum(np.fft.rfftfreq(count, 1 / SAMPLE_RATE_HZ), 1.0)
    # Flat to 500 Hz, then 9 dB an octave down: the long-term average of speech, roughly (Byrne et al. 1994, memory).
    spectrum *= np.where(pitch < 100, 0.0, np.minimum(1.0, (500.0 / pitch) ** 1.5))
    sound = np.fft.irfft(spectrum, count)
    sound *= 0.5 - 0.5 * np.cos(2 * np.pi * SYLLABLES_HZ * np.arange(count) / SAMPLE_RATE_HZ)
    return Speech(to_pcm((LEVEL * sound / np.sqrt(np.mean(sound**2))).astype(np.float32)), SAMPLE_RATE_HZ)


def check_echo(sound: SoundHere) -> EchoChecked:
    """Play the test sound and listen to it; takes eight seconds.

    Args:
        sound: The devices.

    Raises:
        AudioDeviceError: The microphone is lost.
    """
    played: list[npt.NDArray[np.int16]] = []

    def referred(start_s: float, count: int) -> npt.NDArray[np.int16]:
        played.append(sound.played(start_s, count))
        return played[-1]

    try:
        canceller = EchoCanceller(referred)
    except AudioDeviceError:
        return EchoChecked(DuplexWay.HALF, DuplexReason.NOT_INSTALLED)
    begun_s: float | None = None
    heard: list[npt.NDArray[np.int16]] = []
    left: list[npt.NDArray[np.int16]] = []
    is_played = False
    for block in sound:
        begun_s = block.start_s if begun_s is None else begun_s
        cleaned = canceller.clean(block)
        heard.append(np.frombuffer(block.pcm, dtype="<i2"))
        left.append(np.frombuffer(cleaned.words.pcm, dtype="<i2"))
        if not is_played and block.end_s - begun_s >= QUIET_S:
            is_played = True
            sound.play(test_sound(), Priority.PROMPT, heard_out=True)
        if block.end_s - begun_s >= QUIET_S + SOUND_S + AFTER_S:
            break
    found = judge(np.concatenate(heard), np.concatenate(left), np.concatenate(played))
    _LOG.info("echo_checked way=%s reason=%s delay_ms=%s", found.way, found.reason, found.delay_ms)
    return found


def check_devices(
    clock: Clock, microphone: str | None, loudspeaker: str | None, tell: Callable[[str], None]
) -> EchoChecked:
    """Check the echo with the devices of this machine, and keep what was found for `run`.

    Args:
        clock: Session time.
        microphone: Device name or a part of it, or None for the system's default.
        loudspeaker: As `microphone`.
        tell: Tells people what is going on.

    Raises:
        AudioDeviceError: There is no microphone, or it is lost.
    """
    names = name_of("input", microphone), ""
    try:
        names = names[0], name_of("output", loudspeaker)
        tell("Be silent: a test sound is played.")
        with AudioLink(clock, microphone, loudspeaker) as sound:
            found = check_echo(sound)
    except AudioDeviceError:
        # Without a loudspeaker there is nothing to check; whether the microphone works is found out next.
        found = EchoChecked(DuplexWay.HALF, DuplexReason.NO_LOUDSPEAKER)
    keep(found, names, echo_checks())
    return found


def judge(heard: npt.NDArray[np.int16], left: npt.NDArray[np.int16], played: npt.NDArray[np.int16]) -> EchoChecked:
    """What the sound of a check shows.

    Args:
        heard: Samples of the microphone: quiet, the test sound, its echo.
        left: The same with what was taken out.
        played: The reference of the same time.
    """
    second = SAMPLE_RATE_HZ
    begin, end = round((QUIET_S + 0.5) * second), round((QUIET_S + SOUND_S) * second)
    floor_dbfs = level_dbfs(heard[second // 5 : round(QUIET_S * second)])
    if level_dbfs(played[begin:end]) < -60.0:
        return EchoChecked(DuplexWay.HALF, DuplexReason.NO_REFERENCE)
    echo_db = round(level_dbfs(heard[begin:end]) - floor_dbfs, 1)
    if echo_db < HEARD_DB:
        return EchoChecked(DuplexWay.FULL, DuplexReason.NO_ECHO, echo_db=echo_db)
    middle = (begin + end) // 2
    back = round(LONGEST_DELAY_S * second)
    delays = [delay_s(heard[at:to], played[at - back : to]) for at, to in ((begin, middle), (middle, end))]
    first, last = delays
    # The last two seconds: by then the canceller knows the room.
    late = slice(end - 2 * second, end)
    loss_db = round(level_dbfs(heard[late]) - level_dbfs(left[late]), 1)
    if np.mean(np.abs(heard[begin:end].astype(np.int32)) >= CLIPPED) > CLIPPED_SHARE:
        return EchoChecked(DuplexWay.HALF, DuplexReason.CLIPPED, None, echo_db, loss_db)
    if first is None or last is None:
        return EchoChecked(DuplexWay.HALF, DuplexReason.NO_DELAY, None, echo_db, loss_db)
    delay_ms = round(1000 * (last + MARGIN_S))
    if abs(first - last) > STEADY_S:
        return EchoChecked(DuplexWay.HALF, DuplexReason.UNSTEADY, delay_ms, echo_db, loss_db)
    if loss_db < LEAST_LOSS_DB and level_dbfs(left[late]) - floor_dbfs > LEFT_OVER_FLOOR_DB:
        return EchoChecked(DuplexWay.HALF, DuplexReason.TOO_LITTLE, delay_ms, echo_db, loss_db)
    return EchoChecked(DuplexWay.FULL, DuplexReason.TAKEN_OUT, delay_ms, echo_db, loss_db)


def keep(found: EchoChecked, devices: tuple[str, str], file: Path) -> None:
    """Keep what was found for a microphone and a loudspeaker; without a place for it, `run` stays with half duplex."""
    with suppress(OSError):
        kept = _kept(file)
        kept[" | ".join(devices)] = {"way": found.way.value, "reason": found.reason.value}
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(kept, indent=1, sort_keys=True), encoding="utf-8")


def way_found(devices: tuple[str, str], file: Path) -> DuplexWay | None:
    """What the last check of these devices found; None where there was none."""
    found = _kept(file).get(" | ".join(devices))
    return (
        DuplexWay.FULL
        if found is not None and found.get("way") == DuplexWay.FULL
        else DuplexWay.HALF
        if found is not None
        else None
    )


def _kept(file: Path) -> dict[str, dict[str, str]]:
    """What is kept; a file that is none counts as empty, because a new check makes it good."""
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(data, dict):
        return {}
    return {str(name): entry for name, entry in data.items() if isinstance(entry, dict)}
