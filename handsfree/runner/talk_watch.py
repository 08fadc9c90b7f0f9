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
        self._level, self._early = DoubleTalk(), DoubleTalk()
        self._somebody_dbfs = self._words_dbfs = SILENCE_DBFS
        self._something_s = float("-inf")
        self._is_paused = False
        self.since_s = float("-inf")
        self.held_blocks = HELD_BLOCKS if canceller is None else HELD_CLEANED_BLOCKS

    @property
    def is_full(self) -> bool:
        """Whether what is said over the tool's voice can be understood."""
        return self._canceller is not None

    def clean(self, block: AudioBlock) -> Cleaned:
        """The block as it is listened to: without the tool's own voice, where that can be taken out."""
        if self._canceller is None:
            return Cleaned(block, block)
        cleaned = self._canceller.echo.clean(block)
        self._canceller.nearby.hear(cleaned.somebody)
        self._somebody_dbfs = level_dbfs(np.frombuffer(cleaned.somebody.pcm, dtype="<i2"))
        self._words_dbfs = level_dbfs(np.frombuffer(cleaned.words.pcm, dtype="<i2"))
        return cleaned

    def forget(self) -> None:
        """A device was lost or came back."""
        if self._canceller is not None:
            self._canceller.echo.forget()
        self._level, self._early = DoubleTalk(), DoubleTalk()

    def hear(self, block: AudioBlock, room: RoomLevel, *, own: bool) -> Over:
        """What sounds over the tool now.

        Args:
            block: Cleaned.
            room: Has heard the block.
            own: Whether the tool's own voice may be in it.
        """
        if not own and not self._is_paused:
            self._level.forget()
            self._early.forget()
            self._pause(paused=False)
            return Over.NOBODY
        played_dbfs = self._player.played_dbfs(block.start_s - ECHO_S, block.end_s)
        canceller = self._canceller
        if canceller is None:
            is_over = self._level.hear(room.level_dbfs, played_dbfs, room.floor_dbfs)
            return Over.SOMEBODY if is_over else Over.NOBODY
        is_speech = canceller.nearby.probability >= SPEECH and not canceller.echo.is_echo
        over = self._level.hear(self._somebody_dbfs, played_dbfs, room.floor_dbfs, learns=not is_speech)
        # What suppresses all that may be echo lets somebody through late, by up to 0.1 s and more where a word begins
        # softly; what is only predicted hides nobody, and is enough to wait for who it is.
        early = self._early.hear(self._words_dbfs, played_dbfs, room.floor_dbfs, learns=not is_speech)
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
