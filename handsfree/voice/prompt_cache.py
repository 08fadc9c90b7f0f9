"""Keeps rendered prompts, because most are said many times."""

import hashlib
import os
import wave
from collections import OrderedDict
from collections.abc import Container
from contextlib import suppress
from pathlib import Path

from handsfree.model.audio import Speech
from handsfree.regular_files import open_within
from handsfree.scratch_folders import scratch_folder
from handsfree.voice.port import Synthesizer

MEMORY_BYTES = 16 * 1024 * 1024
"""About six minutes of speech at 24 kHz."""
DISK_BYTES = 64 * 1024 * 1024


class CachedSynthesizer:
    """A synthesizer that renders each text once. See `Synthesizer`.

    On disk a prompt is named by the SHA-256 of voice, variant and text. Prompts repeat readings aloud, so only those go
    there that are named as holding none. A folder that cannot be written or a damaged file costs time only.

    Args:
        synthesizer: Renders what is not held.
        folder: Where prompts are kept between runs, or None.
        standing: Prompts that hold no reading, which may be kept there.
        memory_bytes: Bound on what is held in memory; the longest unused goes first.
        disk_bytes: Bound on the folder; the oldest goes first.
        variant: What makes the same voice say the same text another way, such as its rate.
    """

    def __init__(
        self,
        synthesizer: Synthesizer,
        folder: Path | None = None,
        standing: Container[str] = (),
        memory_bytes: int = MEMORY_BYTES,
        disk_bytes: int = DISK_BYTES,
        variant: str = "",
    ) -> None:
        self._variant = variant
        self._synthesizer = synthesizer
        self._folder = folder
        self._standing = standing
        self._memory_bytes = memory_bytes
        self._disk_bytes = disk_bytes
        self._held: OrderedDict[str, Speech] = OrderedDict()
        self._held_bytes = 0

    @property
    def name(self) -> str:
        """See `Synthesizer.name`."""
        return self._synthesizer.name

    @property
    def held_bytes(self) -> int:
        """Bytes of sound held in memory."""
        return self._held_bytes

    def render(self, text: str) -> Speech:
        """See `Synthesizer.render`."""
        key = hashlib.sha256(f"{self.name}\0{self._variant}\0{text}".encode()).hexdigest()
        speech = self._held.get(key)
        if speech is not None:
            self._held.move_to_end(key)
            return speech
        lasts = text in self._standing
        speech = self._load(key) if lasts else None
        if speech is None:
            speech = self._synthesizer.render(text)
            if lasts:
                self._store(key, speech)
        self._hold(key, speech)
        return speech

    def _hold(self, key: str, speech: Speech) -> None:
        self._held[key] = speech
        self._held_bytes += len(speech.pcm)
        while self._held_bytes > self._memory_bytes:
            _, dropped = self._held.popitem(last=False)
            self._held_bytes -= len(dropped.pcm)

    def _load(self, key: str) -> Speech | None:
        if self._folder is None:
            return None
        with suppress(OSError, wave.Error, EOFError), wave.open(str(self._folder / f"{key}.wav"), "rb") as file:
            frames = file.getnframes()
            pcm = file.readframes(frames)
            if frames and len(pcm) == 2 * frames and file.getnchannels() == 1:
                return Speech(pcm, file.getframerate())
        return None

    def _store(self, key: str, speech: Speech) -> None:
        if self._folder is None or not speech.pcm:
            return
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            with scratch_folder(self._folder) as scratch:
                handle = open_within(scratch, "prompt", os.O_WRONLY | os.O_CREAT)
                with os.fdopen(handle, "wb") as raw, wave.open(raw, "wb") as file:
                    file.setnchannels(1)
                    file.setsampwidth(2)
                    file.setframerate(speech.sample_rate_hz)
                    file.writeframes(speech.pcm)
                (scratch / "prompt").replace(self._folder / f"{key}.wav")
            self._prune(self._folder)

    def _prune(self, folder: Path) -> None:
        files = sorted((path.stat().st_mtime_ns, path.stat().st_size, path) for path in folder.glob("*.wav"))
        total = sum(size for _, size, _ in files)
        for _, size, path in files[:-1]:
            if total <= self._disk_bytes:
                return
            path.unlink(missing_ok=True)
            total -= size
