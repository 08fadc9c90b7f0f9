"""Speaks what may be said in each step and recognises it under that step's own grammar, before any person does.

Synthetic voices are no people, and few: a word that fails here will fail at work; one that passes may still fail.
"""

import hashlib
import json
import os
from collections import OrderedDict, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from handsfree.authoring.hearing import Hearing
from handsfree.authoring.phrases import Phrase, phrases_of
from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.model.commands import Wanted
from handsfree.model.graph import WordGraph
from handsfree.practice.mixing import Signal, active_level, add_noise, samples_of, signal_of
from handsfree.practice.script import VoiceSpec
from handsfree.practice.voices import render
from handsfree.recognition.choose import make_engine
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import Engine
from handsfree.recognition.meaning import same_meaning_key
from handsfree.understanding.decision import Outcome, decide
from handsfree.understanding.graphs import match
from handsfree.understanding.interpreter import interpret

NOISE_DB = (30.0, 15.0)
"""Speech over noise: a quiet room, and one in which the recognisers begin to fail."""
PREFERRED_VOICES = (("neural", ""), ("espeak-ng", "en-us"), ("flite", "rms"), ("espeak-ng", "en-gb"), ("flite", "slt"))
"""Voices in the order in which they are taken: first such as sound unlike one another."""
_PAD_BEFORE_S = 0.3
_PAD_AFTER_S = 0.2
_LEVEL = 0.1
_CACHED = 50_000


@dataclass(frozen=True, slots=True)
class Trial:
    """One phrase, spoken once in one step.

    Attributes:
        phrase: What was said.
        voice: Engine and name of the voice.
        noise_db: Level of the speech over the noise, dB.
    """

    phrase: str
    voice: tuple[str, str]
    noise_db: float


@dataclass(frozen=True, slots=True)
class Heard:
    """What became of a trial.

    Attributes:
        text: The words heard, or "".
        right: Whether they mean what was said.
        outcome: accept, ask or ignore.
    """

    text: str
    right: bool
    outcome: str


@dataclass
class Tally:
    """All trials of one phrase in one step.

    Attributes:
        hearing: The step.
        phrase: The phrase.
        heard: What became of each trial.
    """

    hearing: Hearing
    phrase: Phrase
    heard: list[Heard] = field(default_factory=list)

    @property
    def right(self) -> int:
        """How many were heard right, with or without a question."""
        return sum(one.right and one.outcome != Outcome.IGNORE for one in self.heard)

    @property
    def confused(self) -> dict[str, int]:
        """What was heard instead and would have been taken or asked about, with how often."""
        found: dict[str, int] = defaultdict(int)
        for one in self.heard:
            if not one.right and one.text and one.outcome != Outcome.IGNORE:
                found[one.text] += 1
        return dict(found)


@dataclass(frozen=True, slots=True)
class _Job:
    graph: WordGraph
    wanted: Wanted
    trials: tuple[Trial, ...]


def choose_voices(available: Sequence[tuple[str, str]], limit: int) -> tuple[tuple[str, str], ...]:
    """As many voices as are wanted, unlike ones first."""
    order = [voice for voice in PREFERRED_VOICES if voice in available]
    order += [voice for voice in available if voice not in order]
    return tuple(order[:limit])


def try_out(
    hearings: Iterable[Hearing],
    voices: Sequence[tuple[str, str]],
    *,
    engine: str = "neural",
    noise_db: Sequence[float] = NOISE_DB,
    cache: Path | None = None,
    jobs: int = 2,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Tally, ...]:
    """Speak and recognise. Answers are said by every voice at every level, commands by one voice at the worst level.

    Args:
        hearings: The steps; such as have the same grammar are tried once.
        voices: Engine and name of each voice.
        engine: Recogniser.
        noise_db: Levels of the speech over the noise, dB.
        cache: File in which results are kept by content; None keeps none.
        jobs: Processes.
        progress: Told how many of how many trials are done.

    Raises:
        ModelError: The recogniser is not installed.
        VoiceError: A voice is missing.
    """
    kept = _read(cache)
    tallies: list[Tally] = []
    work: OrderedDict[str, _Job] = OrderedDict()
    for hearing in hearings:
        if hearing.graph.key in work:
            continue
        planned = list(_planned(hearing, voices, noise_db))
        tallies += [Tally(hearing, phrase) for phrase, _ in planned]
        trials = tuple(trial for _, several in planned for trial in several)
        work[hearing.graph.key] = _Job(hearing.graph, hearing.wanted, trials)
    todo = [
        _Job(job.graph, job.wanted, missing)
        for key, job in work.items()
        if (missing := tuple(trial for trial in job.trials if _key(engine, key, trial) not in kept))
    ]
    done, total = 0, sum(len(job.trials) for job in todo)
    for job, heard in _results(todo, engine, jobs):
        for trial, one in zip(job.trials, heard, strict=True):
            kept[_key(engine, job.graph.key, trial)] = one
        done += len(heard)
        _write(cache, kept)
        if progress is not None:
            progress(done, total)
    for tally in tallies:
        key = tally.hearing.graph.key
        for trial in work[key].trials:
            if trial.phrase == tally.phrase.words:
                tally.heard.append(kept[_key(engine, key, trial)])
    return tuple(tallies)


def _planned(
    hearing: Hearing, voices: Sequence[tuple[str, str]], noise_db: Sequence[float]
) -> Iterator[tuple[Phrase, tuple[Trial, ...]]]:
    for number, phrase in enumerate(phrases_of(hearing)):
        if phrase.field is None:
            yield phrase, (Trial(phrase.words, voices[number % len(voices)], min(noise_db)),)
        else:
            yield phrase, tuple(Trial(phrase.words, voice, level) for voice in voices for level in noise_db)


def _results(todo: list[_Job], engine: str, jobs: int) -> Iterator[tuple[_Job, list[Heard]]]:
    if jobs <= 1 or len(todo) <= 1:
        for job in todo:
            yield job, _run(engine, job)
        return
    # Spawned, not forked: the recogniser's library has threads.
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        yield from zip(todo, pool.map(_run, [engine] * len(todo), todo), strict=True)


@lru_cache(maxsize=2)
def _engine(name: str) -> Engine:
    return make_engine(name)


@lru_cache(maxsize=1024)
def _spoken(phrase: str, voice: tuple[str, str]) -> Signal:
    """The phrase at one level, with silence around it as the endpointer would leave it."""
    signal = signal_of(render(VoiceSpec.model_validate({"engine": voice[0], "voice": voice[1]}), phrase))
    loud = np.flatnonzero(np.abs(signal) > 0.01 * np.abs(signal).max())
    cut = signal[loud[0] : loud[-1] + 1] if len(loud) else signal
    cut = cut * (_LEVEL / max(active_level(cut), 1e-9))
    return np.pad(cut, (round(_PAD_BEFORE_S * SAMPLE_RATE_HZ), round(_PAD_AFTER_S * SAMPLE_RATE_HZ)))


def _run(engine: str, job: _Job) -> list[Heard]:
    return [_try(_engine(engine), job, trial) for trial in job.trials]


def _try(engine: Engine, job: _Job, trial: Trial) -> Heard:
    clean = _spoken(trial.phrase, trial.voice)
    seed = int.from_bytes(hashlib.sha256(f"{trial}".encode()).digest()[:4], "big")
    pcm = samples_of(add_noise(clean, "pink", trial.noise_db, seed)).astype("<i2").tobytes()
    length_s = len(clean) / SAMPLE_RATE_HZ
    spoken_s = length_s - _PAD_BEFORE_S - _PAD_AFTER_S
    segment = Segment(pcm, 0.0, _PAD_BEFORE_S, length_s - _PAD_AFTER_S, spoken_s, trial.noise_db)
    hypothesis = engine.recognise(segment, job.graph)
    meant = match(job.graph, trial.phrase.split())
    right = meant is not None and same_meaning_key(meant.tags) == same_meaning_key(hypothesis.tags)
    command = interpret(hypothesis, job.wanted) if hypothesis.words else None
    outcome = decide(hypothesis, command, job.wanted).outcome if command is not None else Outcome.IGNORE
    return Heard(hypothesis.text, right, outcome.value)


def _key(engine: str, graph: str, trial: Trial) -> str:
    return hashlib.sha256(f"{engine}|{graph}|{trial}".encode()).hexdigest()[:32]


def _read(cache: Path | None) -> dict[str, Heard]:
    """What was kept; a file that is damaged or from another version costs time only."""
    if cache is None:
        return {}
    with suppress(OSError, ValueError, TypeError):
        return {key: Heard(*row) for key, row in json.loads(cache.read_text(encoding="utf-8")).items()}
    return {}


def _write(cache: Path | None, kept: dict[str, Heard]) -> None:
    if cache is None:
        return
    rows = {key: [one.text, one.right, one.outcome] for key, one in list(kept.items())[-_CACHED:]}
    with suppress(OSError):
        cache.parent.mkdir(parents=True, exist_ok=True)
        partial = cache.with_suffix(f".{os.getpid()}")
        partial.write_text(json.dumps(rows), encoding="utf-8")
        partial.replace(cache)
