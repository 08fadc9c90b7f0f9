"""Speaks what may be said in each step and recognises it under that step's own grammar, before any person does.

Synthetic voices are no people, and few: a word that fails here will fail at work; one that passes may still fail.
"""

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from handsfree import __version__
from handsfree.authoring.spoken_trials import (
    NOISE_DB,
    Tally,
    Trial,
    TrialHeard,
    TrialVerdict,
    is_question,
    planned,
    same_effect,
)
from handsfree.authoring.step_contexts import Hearing
from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.model.commands import Wanted
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.choose import make_engine
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import Engine
from handsfree.recognition.models import list_models
from handsfree.scratch_folders import scratch_folder
from handsfree.simulation.mixing import Signal, active_level, add_noise, samples_of, signal_of
from handsfree.simulation.script import VoiceSpec
from handsfree.simulation.voices import render
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.graphs import match
from handsfree.understanding.interpreter import interpret

_PAD_BEFORE_S = 0.3
_PAD_AFTER_S = 0.2
_LEVEL = 0.1
_CACHED = 50_000


@dataclass(frozen=True, slots=True)
class _Job:
    graph: WordGraph
    wanted: Wanted
    trials: tuple[Trial, ...]


def try_out(
    hearings: Iterable[Hearing],
    voices: Sequence[tuple[str, str]],
    *,
    engine: str = "neural",
    noise_db: Sequence[float] = NOISE_DB,
    cache: Path | None = None,
    jobs: int = 2,
    progress: Callable[[int, int], None] | None = None,
    out_of_time: Callable[[], bool] = lambda: False,
) -> tuple[Tally, ...]:
    """Speak and recognise; see `planned` for what is said.

    Args:
        hearings: The steps; such as have the same grammar are tried once.
        voices: Engine and name of each voice.
        engine: Recogniser.
        noise_db: Levels of the speech over the noise, dB.
        cache: File in which results are kept by content; None keeps none.
        jobs: Processes.
        progress: Told how many of how many trials are done.
        out_of_time: Asked after each step: once it is so, no more is tried. What was tried is kept, and goes on later.

    Returns:
        The phrases with what was tried of them, the quiet rooms first.

    Raises:
        ModelError: The recogniser is not installed.
        VoiceError: A voice is missing.
    """
    work = _TrialWork(engine, jobs, cache, progress, out_of_time, _read(cache))
    tallies: list[tuple[Tally, tuple[Trial, ...]]] = []
    for hearing, plan in planned(hearings, voices, noise_db):
        tallies += [(Tally(hearing, phrase), trials) for phrase, trials in plan]
    work.do(tallies)
    return tuple(tally for tally, _ in tallies)


def count_planned(hearings: Iterable[Hearing], voices: Sequence[tuple[str, str]]) -> int:
    """How many utterances a whole check speaks."""
    return sum(len(trials) for _, plan in planned(hearings, voices, NOISE_DB) for _, trials in plan)


@dataclass
class _TrialWork:
    """Trials to be done, and those that were done before."""

    engine: str
    jobs: int
    cache: Path | None
    progress: Callable[[int, int], None] | None
    out_of_time: Callable[[], bool]
    kept: dict[str, TrialHeard]

    def do(self, tallies: list[tuple[Tally, tuple[Trial, ...]]]) -> None:
        """Do what was not done before, step by step, and add everything to the tallies."""
        base = _base(self.engine)
        steps: dict[tuple[float, str], tuple[Hearing, list[Trial]]] = {}
        for tally, trials in tallies:
            graph = tally.hearing.graph
            for trial in trials:
                if _key(base, graph, trial) not in self.kept:
                    steps.setdefault((trial.noise_db, graph.key), (tally.hearing, []))[1].append(trial)
        # What fails in a quiet room is a fault, so that is known first.
        order = sorted(steps.items(), key=lambda one: -one[0][0])
        todo = [_Job(hearing.graph, hearing.wanted, tuple(trials)) for _, (hearing, trials) in order]
        done, total = 0, sum(len(job.trials) for job in todo)
        for job, heard in _results(todo if not self.out_of_time() else [], self.engine, self.jobs):
            for trial, one in zip(job.trials, heard, strict=True):
                self.kept[_key(base, job.graph, trial)] = one
            done += len(heard)
            _write(self.cache, self.kept)
            if self.progress is not None:
                self.progress(done, total)
            if self.out_of_time():
                break
        for tally, trials in tallies:
            for trial in trials:
                if (found := self.kept.get(_key(base, tally.hearing.graph, trial))) is not None:
                    tally.trials.append(trial)
                    tally.heard.append(found)


def _results(todo: list[_Job], engine: str, jobs: int) -> Iterator[tuple[_Job, list[TrialHeard]]]:
    if jobs <= 1 or len(todo) <= 1:
        for job in todo:
            yield job, _run(engine, job)
        return
    # Spawned, not forked: the recogniser's library has threads.
    pool = ProcessPoolExecutor(jobs, mp_context=get_context("spawn"))
    try:
        yield from zip(todo, pool.map(_run, [engine] * len(todo), todo), strict=True)
    finally:
        pool.shutdown(cancel_futures=True)


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


def _run(engine: str, job: _Job) -> list[TrialHeard]:
    return [_try(_engine(engine), job, trial) for trial in job.trials]


def _try(engine: Engine, job: _Job, trial: Trial) -> TrialHeard:
    clean = _spoken(trial.phrase, trial.voice)
    seed = int.from_bytes(hashlib.sha256(f"{trial}".encode()).digest()[:4], "big")
    pcm = samples_of(add_noise(clean, "pink", trial.noise_db, seed)).astype("<i2").tobytes()
    length_s = len(clean) / SAMPLE_RATE_HZ
    spoken_s = length_s - _PAD_BEFORE_S - _PAD_AFTER_S
    segment = Segment(pcm, 0.0, _PAD_BEFORE_S, length_s - _PAD_AFTER_S, spoken_s, trial.noise_db)
    hypothesis = engine.recognise(segment, job.graph)
    meant = match(job.graph, trial.phrase.split())
    assert meant is not None  # noqa: S101 - only legal phrases are planned
    said = interpret(Hypothesis(tuple(trial.phrase.split()), meant.tags, 0.0, 0.0, "said"), job.wanted)
    command = interpret(hypothesis, job.wanted) if hypothesis.words else None
    if command is None or decide(hypothesis, command, job.wanted).outcome is DecisionOutcome.IGNORE:
        return TrialHeard(hypothesis.text, TrialVerdict.NOTHING)
    if same_effect(said, command):
        return TrialHeard(hypothesis.text, TrialVerdict.RIGHT)
    return TrialHeard(hypothesis.text, TrialVerdict.ASKED if is_question(command) else TrialVerdict.WRONG)


def _base(engine: str) -> str:
    """What a result depends on besides the words: the engine, its weights and their choice, the gates, this version."""
    gates = files("handsfree.understanding").joinpath("acceptance.toml").read_text(encoding="utf-8")
    chosen = files("handsfree.recognition").joinpath("weights.toml").read_text(encoding="utf-8")
    digests = [file.sha256 for model in list_models() for file in model.files]
    return "|".join([engine, __version__, gates, chosen, *digests])


def _key(base: str, graph: WordGraph, trial: Trial) -> str:
    return hashlib.sha256(f"{base}|{graph.key}|{trial}".encode()).hexdigest()[:32]


def _read(cache: Path | None) -> dict[str, TrialHeard]:
    """What was kept; a file that is damaged or from another version costs time only."""
    if cache is None:
        return {}
    with suppress(OSError, ValueError, TypeError, LookupError, AttributeError):
        return {
            key: TrialHeard(row[0], TrialVerdict(row[1]))
            for key, row in json.loads(cache.read_text(encoding="utf-8")).items()
        }
    return {}


def _write(cache: Path | None, kept: dict[str, TrialHeard]) -> None:
    if cache is None:
        return
    rows = {key: [one.text, one.verdict.value] for key, one in list(kept.items())[-_CACHED:]}
    with suppress(OSError):
        cache.parent.mkdir(parents=True, exist_ok=True)
        with scratch_folder(cache.parent) as scratch:
            partial = scratch / cache.name
            partial.write_text(json.dumps(rows), encoding="utf-8")
            partial.replace(cache)
