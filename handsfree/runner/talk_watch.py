"""Who speaks over the tool: by level alone, or by what an echo canceller leaves of the microphone."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from handsfree.audio.doubletalk import ECHO_S, DoubleTalk
from handsfree.audio.echo_canceller import Cleaned, EchoCanceller
from handsfree.audio.half_duplex_gate import HELD_BLOCKS, HELD_CLEANED_BLOCKS
from handsfree.audio.levels import SILENCE_DBFS, level_dbfs
from handsfree.audio.port import Player
from handsfree.audio.room_level import RoomLevel
from handsfree.model.audio import AudioBlock
from handsfree.model.effects import Priority
from handsfree.recognition.speech_nearby import SPEECH, SpeechNearby

GOES_ON_S = 0.7
"""The gate stays open for so long after the last sound of somebody: pauses between two words are shorter."""
ONSET_S = 0.2
"""A word is noticed so long after its first soft sound."""
LEARNT_BLOCKS = 50
"""What is taken out is judged by 1 s of the tool's own voice."""
LEARNT_DB = 12.0
"""So much must be out of it before what is said over it is heard. Chosen on the simulated sound card, no source."""
NOTHING_DB, NOTHING_DBFS = 3.0, -60.0
"""Own sound that stands out of the room no more than this, or is softer than that, is not heard at all."""
JUST_S, LEAST_PLAYED_DBFS = 0.3, -45.0
"""Pauses between the tool's sentences teach nothing of its echo."""
PAUSED_S = 0.5
"""Speech goes on so long after the last sound that might have been somebody: a cough, a clatter."""


@dataclass(frozen=True, slots=True)
class Canceller:
    """What full duplex needs.

    Attributes:
        echo: Takes the tool's own voice out of the microphone.
        nearby: Tells speech from coughs and beeps in what is left.
    """

    echo: EchoCanceller
    nearby: SpeechNearby


class Over(StrEnum):
    """What sounds over the tool's voice."""

    NOBODY = "nobody"
    SOMETHING = "something"
    """Louder than what is left of the tool's voice: a cough, a beep, or a word too short to be known for speech yet."""
    SOMEBODY = "somebody"


class _Learnt:
    """Whether the canceller takes the tool's own voice out already: it has to hear some of it first.

    Until then words may be the tool's own, and a recogniser must not get them.
    """

    def __init__(self, echo: EchoCanceller) -> None:
        self._echo = echo
        self._changes = echo.changes
        self._heard: list[float] = []
        self._left: list[float] = []
        self.enough = False

    def hear(self, near_dbfs: float, left_dbfs: float, floor_dbfs: float, *, own: bool) -> None:
        """Take a block: its level as captured and as left, the floor of the room, and whether own sound is in it."""
        if self._echo.changes != self._changes:
            self._changes, self.enough = self._echo.changes, False
            self._heard, self._left = [], []
        if self.enough or not own:
            return
        self._heard.append(near_dbfs)
        self._left.append(left_dbfs)
        if len(self._heard) < LEARNT_BLOCKS:
            return
        heard_dbfs, left_dbfs = _mean_dbfs(self._heard), _mean_dbfs(self._left)
        is_out = heard_dbfs - left_dbfs >= LEARNT_DB
        # Through headphones, or from a far loudspeaker, there is nothing to take out.
        self.enough = is_out or heard_dbfs <= max(floor_dbfs + NOTHING_DB, NOTHING_DBFS)
        self._heard, self._left = [], []


class TalkWatch:
    """Watches each block of the microphone for somebody who speaks while the tool does.

    With a canceller: what might be somebody lets the tool's voice pause at once, and speech breaks the prompt off
    where that may be. Without: only a voice that is clearly louder than the echo does, as `DoubleTalk` tells.

    Args:
        player: Plays the tool's voice.
        canceller: Full duplex, or None for half.

    Attributes:
        since_s: Since when what was noticed last may have been speaking, session time.
        held_blocks: How many blocks a gate has to hold back.
    """

    def __init__(self, player: Player, canceller: Canceller | None = None) -> None:
        self._player = player
        self._canceller = canceller
        self._learnt = None if canceller is None else _Learnt(canceller.echo)
        self._level, self._early, self._raw = DoubleTalk(), DoubleTalk(), DoubleTalk()
        self._near_dbfs = self._somebody_dbfs = self._words_dbfs = SILENCE_DBFS
        self._something_s = float("-inf")
        self._is_paused = False
        self.since_s = float("-inf")
        self.held_blocks = HELD_BLOCKS if canceller is None else HELD_CLEANED_BLOCKS

    @property
    def is_full(self) -> bool:
        """Whether what is said over the tool's voice can be understood now."""
        return self._learnt is not None and self._learnt.enough

    def was_own_voice(self, from_s: float, to_s: float) -> bool:
        """Whether words of that span of session time were the tool's own, as its canceller tells afterwards."""
        return self._canceller is not None and self._canceller.echo.was_echo(from_s, to_s)

    def clean(self, block: AudioBlock) -> Cleaned:
        """The block as it is listened to: without the tool's own voice, where that can be taken out."""
        if self._canceller is None:
            return Cleaned(block, block)
        cleaned = self._canceller.echo.clean(block)
        self._canceller.nearby.hear(cleaned.somebody)
        self._somebody_dbfs = level_dbfs(np.frombuffer(cleaned.somebody.pcm, dtype="<i2"))
        self._words_dbfs = level_dbfs(np.frombuffer(cleaned.words.pcm, dtype="<i2"))
        self._near_dbfs = level_dbfs(np.frombuffer(block.pcm, dtype="<i2"))
        if not self.is_full:
            # Whoever is let through is heard from where they were noticed; before that it may be the tool.
            return Cleaned(block, AudioBlock(bytes(len(block.pcm)), block.start_s))
        return cleaned

    def forget(self) -> None:
        """A device was lost or came back."""
        if self._canceller is not None:
            self._canceller.echo.forget()
        self._level, self._early, self._raw = DoubleTalk(), DoubleTalk(), DoubleTalk()

    def hear(self, block: AudioBlock, room: RoomLevel, *, own: bool) -> Over:
        """What sounds over the tool now.

        Args:
            block: Cleaned.
            room: Has heard the block.
            own: Whether the tool's own voice may be in it.
        """
        if self._learnt is not None:
            was_enough = self._learnt.enough
            self._learnt.hear(self._near_dbfs, self._words_dbfs, room.floor_dbfs, own=own and self._sounds(block))
            if was_enough and not self._learnt.enough:
                # Another device has another echo; by level alone, it would be somebody louder.
                self._raw = DoubleTalk()
        if not own and not self._is_paused:
            self._level.forget()
            self._early.forget()
            self._raw.forget()
            self._pause(paused=False)
            return Over.NOBODY
        played_dbfs = self._player.played_dbfs(block.start_s - ECHO_S, block.end_s)
        canceller = self._canceller
        if canceller is None:
            return self._by_level(block, room, played_dbfs)
        is_speech = canceller.nearby.probability >= SPEECH and not canceller.echo.is_echo
        over = self._level.hear(self._somebody_dbfs, played_dbfs, room.floor_dbfs, learns=not is_speech)
        # What suppresses all that may be echo lets somebody through late, by up to 0.1 s and more where a word begins
        # softly; what is only predicted hides nobody, and is enough to wait for who it is.
        early = self._early.hear(self._words_dbfs, played_dbfs, room.floor_dbfs, learns=not is_speech)
        if not self.is_full:
            return self._by_level(block, room, played_dbfs)
        if over and not is_speech and canceller.echo.is_echo:
            over = False
        if over or (early and not canceller.echo.rest_may_be_echo):
            if block.end_s - self._something_s > PAUSED_S:
                self.since_s = block.start_s - ONSET_S
            self._something_s = block.end_s
            self._pause(paused=True)
        elif block.end_s - self._something_s > PAUSED_S:
            self._pause(paused=False)
        if not over:
            return Over.NOBODY
        return Over.SOMEBODY if is_speech else Over.SOMETHING

    def _by_level(self, block: AudioBlock, room: RoomLevel, played_dbfs: float) -> Over:
        is_over = self._raw.hear(room.level_dbfs, played_dbfs, room.floor_dbfs)
        self.since_s = block.end_s - HELD_BLOCKS * (block.end_s - block.start_s)
        return Over.SOMEBODY if is_over else Over.NOBODY

    def _sounds(self, block: AudioBlock) -> bool:
        """Whether so much was played just now that its echo can be looked for."""
        return self._player.played_dbfs(block.start_s - JUST_S, block.end_s) > LEAST_PLAYED_DBFS

    def break_off(self) -> bool:
        """Silence the prompt that somebody speaks over; whether it was, or must go on."""
        cut = self._player.break_off() if self.is_full else self._player.cut(Priority.ATTENTION)
        if cut:
            self._is_paused = False
            self._player.pause(paused=False)
        return cut

    def _pause(self, *, paused: bool) -> None:
        if paused != self._is_paused:
            self._is_paused = paused
            self._player.pause(paused=paused)


def _mean_dbfs(levels: list[float]) -> float:
    return 10.0 * float(np.log10(np.mean(10.0 ** (np.array(levels) / 10.0))))
