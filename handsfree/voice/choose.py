"""Which voice speaks."""

from collections.abc import Callable, Container
from functools import partial
from pathlib import Path

from handsfree.errors import UsageError, VoiceError
from handsfree.voice.neural_voice import NeuralVoice
from handsfree.voice.port import Synthesizer
from handsfree.voice.prompt_cache import CachedSynthesizer
from handsfree.voice.prompt_rate import PROMPT_WPM
from handsfree.voice.system_voice import SystemVoice
from handsfree.voice.voice_process import VoiceApart

VOICES: dict[str, Callable[..., Synthesizer]] = {"neural": NeuralVoice, "system": SystemVoice}
"""Names that may be asked for, best first."""
COMPUTED_HERE = frozenset({"neural"})
"""Voices that hold the interpreter while they load and render; the others start a process of their own anyway."""


def choose_synthesizer(
    name: str | None = None,
    cache_folder: Path | None = None,
    rate_wpm: int = PROMPT_WPM,
    standing: Container[str] = (),
    *,
    apart: bool = False,
) -> Synthesizer:
    """The voice asked for, or the best one that works here, behind a cache.

    Args:
        name: A key of `VOICES`, or None for the first that works.
        cache_folder: Where rendered prompts are kept between runs; None keeps them in memory only.
        rate_wpm: Words a minute of a sentence without a number.
        standing: Prompts that hold no reading, which may be kept between runs.
        apart: Render in another process, which is made ready meanwhile: for sessions that play and listen.

    Raises:
        UsageError: There is no voice of that name.
        VoiceError: The voice, or every voice, is missing; says what to install.
    """
    if name is not None and name not in VOICES:
        raise UsageError(f"there is no voice named {name!r} (there are: {', '.join(VOICES)})")
    faults: list[str] = []
    for key in VOICES if name is None else (name,):
        try:
            make = partial(VOICES[key], rate_wpm)
            voice = VoiceApart(make) if apart and key in COMPUTED_HERE else make()
            return CachedSynthesizer(voice, cache_folder, standing, variant=f"{rate_wpm} without quiet ends")
        except VoiceError as error:
            faults.append(str(error))
    raise VoiceError("; ".join(faults))
