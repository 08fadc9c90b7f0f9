"""A check by sound of a whole procedure file: which steps and voices, and what an author is told."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from handsfree.authoring.acoustic_check import count_planned, try_out
from handsfree.authoring.acoustic_findings import findings_of
from handsfree.authoring.findings import Finding
from handsfree.authoring.spoken_trials import Tally, TrialVerdict, choose_voices
from handsfree.authoring.step_contexts import hearings
from handsfree.definition.loader import read_procedure
from handsfree.definition.plan import compile_procedure
from handsfree.errors import VoiceError
from handsfree.simulation import voices as installed


@dataclass(frozen=True, slots=True)
class AcousticReport:
    """What a check by sound came to.

    Attributes:
        findings: What an author should look at.
        summary: One line with the counts.
    """

    findings: tuple[Finding, ...] = ()
    summary: str = "nothing was tried: the file has faults"


def check_aloud(
    file: str,
    voice_count: int,
    step_limit: int | None,
    *,
    engine: str,
    jobs: int,
    cache: Path,
    progress: Callable[[int, int], None],
    out_of_time: Callable[[], bool],
) -> AcousticReport:
    """Speak what may be said in each different step of a procedure, and recognise it under the grammar of that step.

    Args:
        file: Procedure file or bundled identifier.
        voice_count: How many voices speak beyond the tool's own.
        step_limit: Only the first so many different steps, or None for all.
        engine: Recogniser.
        jobs: Processes.
        cache: File of earlier results.
        progress: Is told the utterances tried and to try.
        out_of_time: Asked after each step: once it is so, no more is tried.

    Raises:
        VoiceError: No voice is installed.
        ModelError: The recogniser is not installed.
    """
    reading = read_procedure(file)
    if reading.procedure is None:
        return AcousticReport()
    voices = choose_voices(installed.available_voices(), voice_count)
    if not voices:
        raise VoiceError("no voice is installed to speak with (install espeak-ng, or the speech parts of this package)")
    steps = {
        hearing.graph.key: hearing
        for hearing in hearings(compile_procedure(reading.procedure), reading.device, reading.light)
    }
    chosen = list(steps.values())[:step_limit]
    tallies = try_out(chosen, voices, engine=engine, cache=cache, jobs=jobs, progress=progress, out_of_time=out_of_time)
    trials = sum(len(tally.heard) for tally in tallies)
    left = count_planned(chosen, voices) - trials
    right = sum(tally.right for tally in tallies)
    places = {step.id: number for number, step in enumerate(reading.procedure.steps)}
    return AcousticReport(
        tuple(findings_of(tallies, reading.sources[0], places)),
        f"{len(chosen)} different steps, {len(tallies)} phrases, {trials} utterances, {right} understood; "
        f"{_by_level(tallies)}; voices: {', '.join(' '.join(voice).strip() for voice in voices)}"
        + (f"; OUT OF TIME, {left} utterances not tried: the same command goes on with them" if left else ""),
    )


def _by_level(tallies: Sequence[Tally]) -> str:
    """How many answers of the file were understood at each level."""
    counts: dict[float, list[int]] = {}
    for tally in tallies:
        if tally.phrase.field is not None and not tally.phrase.by_book:
            for trial, heard in zip(tally.trials, tally.heard, strict=True):
                count = counts.setdefault(trial.noise_db, [0, 0])
                count[0] += heard.verdict is TrialVerdict.RIGHT
                count[1] += 1
    told = ", ".join(
        f"{right} of {said} at {level:g} dB" for level, (right, said) in sorted(counts.items(), reverse=True)
    )
    return f"answers: {told}"
