"""`handsfree run`: a procedure by voice from a file or a pipe, or by typed lines."""

import sys
from pathlib import Path

import click
from rich.console import Console

from handsfree.clock import Clock, ManualClock, SystemClock
from handsfree.commands.opening import open_session
from handsfree.display import ConversationView
from handsfree.model.effects import Earcon, Priority
from handsfree.model.events import SessionInterrupted
from handsfree.model.hypotheses import Hypothesis
from handsfree.procedure.loader import Bundle, load_bundle
from handsfree.procedure.session import Session, Snapshot
from handsfree.record.journal import Journal
from handsfree.record.restore import restore
from handsfree.runner import Conductor, ResumedClock, run_blocks, run_typed, stamp


class TerminalOutputs:
    """Shows the conversation in a terminal; with a folder given, keeps each prompt as sound.

    Args:
        view: Where lines go.
        clock: Gives the time in front of each line.
        prompts: Folder for the prompts as WAV files, or None.
        voice: Name of the tool's voice, or None for the best there is.
    """

    def __init__(self, view: ConversationView, clock: Clock, prompts: Path | None, voice: str | None) -> None:
        self._view = view
        self._clock = clock
        self._keeper = _PromptKeeper(prompts, voice) if prompts is not None else None

    def say(self, text: str, priority: Priority) -> None:
        """See `runner.Outputs.say`."""
        self._view.tool(self._clock.monotonic_s(), text, priority)
        if self._keeper is not None:
            self._keeper.keep(text)

    def earcon(self, earcon: Earcon) -> None:
        """See `runner.Outputs.earcon`."""
        self._view.sound(self._clock.monotonic_s(), earcon)

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `runner.Outputs.heard`."""
        self._view.heard(self._clock.monotonic_s(), hypothesis.text if hypothesis else "", outcome, probability)

    def show(self, snapshot: Snapshot) -> None:
        """See `runner.Outputs.show`; the conversation already says it."""


class _PromptKeeper:
    """Renders prompts to numbered WAV files where no loudspeaker plays them."""

    def __init__(self, folder: Path, voice: str | None) -> None:
        from handsfree.voice.choose import choose_synthesizer

        self._synthesizer = choose_synthesizer(voice)
        self._folder = folder
        self._count = 0
        folder.mkdir(parents=True, exist_ok=True)

    def keep(self, text: str) -> None:
        from handsfree.audio.wav import write_wav

        self._count += 1
        write_wav(self._folder / f"prompt-{self._count:04d}.wav", self._synthesizer.render(text))


@click.command()
@click.argument("procedure")
@click.option("--record", "folder", type=click.Path(path_type=Path), required=True, help="Folder of the record.")
@click.option("--wav", type=click.Path(path_type=Path), help="Listen to this sound file (WAV or FLAC, any rate).")
@click.option("--stdin-pcm", is_flag=True, help="Listen to raw 16-bit little-endian mono samples on standard input.")
@click.option("--rate", type=int, default=16_000, show_default=True, help="Samples a second of --stdin-pcm.")
@click.option("--typed", is_flag=True, help="Take typed lines instead of sound; needs no speech packages.")
@click.option("--resume", is_flag=True, help="Go on with the interrupted record in --record.")
@click.option("--practice", is_flag=True, help="The record can only ever be practice.")
@click.option("--patient", "patient_reference", help="Reference of the patient: letters and digits, never a name.")
@click.option("--engine", default=None, help="Recogniser: neural (default), pocketsphinx or vosk.")
@click.option("--voice", default=None, help="The tool's voice for --prompts: neural (default) or system.")
@click.option("--prompts", type=click.Path(path_type=Path), help="Keep each prompt as a WAV file in this folder.")
@click.option("--clips/--no-clips", default=False, help="Keep the sound of each utterance beside the record.")
def run(
    procedure: str,
    folder: Path,
    wav: Path | None,
    rate: int,
    patient_reference: str | None,
    engine: str | None,
    voice: str | None,
    prompts: Path | None,
    *,
    stdin_pcm: bool,
    typed: bool,
    resume: bool,
    practice: bool,
    clips: bool,
) -> None:
    """Run PROCEDURE, a bundled identifier or a file, and write its record.

    Give one of --wav, --stdin-pcm, --typed. Without a loudspeaker the prompts are shown, and kept with --prompts.
    """
    if [wav is not None, stdin_pcm, typed].count(True) != 1:
        raise click.UsageError("give one of --wav FILE, --stdin-pcm, --typed")
    if typed and clips:
        raise click.UsageError("--clips keeps sound; --typed has none")
    bundle = load_bundle(procedure)
    clock: Clock = SystemClock() if typed else ManualClock(SystemClock().wall())
    blocks = None
    recognizer = None
    if not typed:
        from handsfree.audio.pipe import read_pipe
        from handsfree.audio.wav import read_wav
        from handsfree.recognition.choose import make_recognizer

        blocks = read_wav(wav) if wav is not None else read_pipe(sys.stdin.buffer, rate)
        recognizer = make_recognizer(engine)
    console = Console(soft_wrap=True)
    clock = ResumedClock(clock)
    outputs = TerminalOutputs(ConversationView(console), clock, prompts, voice)
    name = "typed" if typed else engine or "neural"
    if resume:
        conductor, journal = _resume(bundle, folder, clock, outputs, keep_clips=clips)
    else:
        conductor, journal = open_session(
            bundle,
            folder,
            clock,
            outputs,
            practice=practice,
            engine=name,
            keep_clips=clips,
            patient_reference=patient_reference,
        )
    with journal:
        if blocks is not None and recognizer is not None:
            run_blocks(conductor, recognizer, blocks, clock)
        else:
            run_typed(conductor, sys.stdin)
    if not conductor.closed:
        click.echo(f"not closed: go on with --resume --record {folder}", err=True)


def _resume(
    bundle: Bundle, folder: Path, clock: ResumedClock, outputs: TerminalOutputs, *, keep_clips: bool
) -> tuple[Conductor, Journal]:
    session = Session(bundle)
    journal, found = restore(folder, session.handle, clock=clock)
    journal.keep_clips = keep_clips
    clock.go_on_from(found.last_at_s)
    conductor = Conductor(session, journal, outputs, clock)
    conductor.dispatch(SessionInterrupted(at_s=clock.monotonic_s(), wall=stamp(clock.wall()), gap_s=found.gap_s))
    return conductor, journal
