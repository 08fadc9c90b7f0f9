"""`handsfree run`: a procedure by voice, live or from a file or a pipe, or by typed lines."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click
import platformdirs
from rich.console import Console

from handsfree.application.baseline import read_baseline
from handsfree.application.opening import NO_RECALLS, open_session, resume_session
from handsfree.application.recall_list import read_recalls
from handsfree.clock import Clock, ManualClock, SystemClock
from handsfree.config import Config, Verbosity, checked_config, read_config
from handsfree.definition.loader import Bundle, load_bundle
from handsfree.display import ConversationView
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis
from handsfree.record.clips import Retention
from handsfree.runner import Outputs, SessionClock, SessionRunner, run_blocks, run_typed
from handsfree.session.snapshot import Snapshot


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


_PATH = click.Path(path_type=Path)


class _Folder(click.Path):
    """A folder by name; an empty one, as of a variable that is not set, would be the current folder."""

    def convert(
        self, value: str | os.PathLike[str], param: click.Parameter | None, ctx: click.Context | None
    ) -> str | bytes | os.PathLike[str]:
        if value == "":
            self.fail("the name is empty; give the folder of a record", param, ctx)
        return super().convert(value, param, ctx)


_FOLDER = _Folder(path_type=Path)


@dataclass(frozen=True)
class _Surrounding:
    """What a session speaks through, and what drives it once it has started."""

    outputs: Outputs
    drive: Callable[[SessionRunner], None]


@click.command()
@click.argument("procedure")
@click.option("--record", "folder", type=_FOLDER, help="Folder of the record; a new one in the configured folder else.")
@click.option("--wav", type=_PATH, help="Listen to this sound file (WAV or FLAC, any rate) instead of a microphone.")
@click.option("--stdin-pcm", is_flag=True, help="Listen to raw 16-bit little-endian mono samples on standard input.")
@click.option("--rate", type=int, default=16_000, show_default=True, help="Samples a second of --stdin-pcm.")
@click.option("--typed", is_flag=True, help="Take typed lines instead of sound; needs no speech packages.")
@click.option("--microphone", help="Microphone by name or a part of it; see `handsfree devices`.")
@click.option("--loudspeaker", help="Loudspeaker by name or a part of it.")
@click.option("--resume", is_flag=True, help="Go on with the interrupted record in --record.")
@click.option("--practice", is_flag=True, help="The record can only ever be practice.")
@click.option("--expert/--novice", default=None, help="Short prompts, or whole ones (default).")
@click.option("--patient", "patient_reference", help="Reference of the patient: letters and digits, never a name.")
@click.option(
    "--engine", default=None, help="Recogniser: neural (default), neural-base, neural-tuned, pocketsphinx or vosk."
)
@click.option("--voice", default=None, help="The tool's voice: neural (default) or system.")
@click.option("--prompts", type=_PATH, help="Without a loudspeaker: keep each prompt as a WAV file in this folder.")
@click.option("--clips/--no-clips", default=None, help="Keep the sound of each utterance beside the record.")
@click.option("--recall-list", type=_PATH, help="CSV file with the columns lot and reason: lots that stop the session.")
@click.option("--baseline", type=_PATH, help="Record of an earlier visit that this one is compared with.")
@click.option("--config", "config_file", type=_PATH, help="Configuration file (TOML).")
def run(
    procedure: str,
    folder: Path | None,
    wav: Path | None,
    rate: int,
    microphone: str | None,
    loudspeaker: str | None,
    patient_reference: str | None,
    prompts: Path | None,
    recall_list: Path | None,
    baseline: Path | None,
    config_file: Path | None,
    *,
    stdin_pcm: bool,
    typed: bool,
    resume: bool,
    practice: bool,
    expert: bool | None,
    engine: str | None,
    voice: str | None,
    clips: bool | None,
) -> None:
    """Run PROCEDURE, a bundled identifier or a file, and write its record.

    Listens to the microphone and speaks through the loudspeaker, unless --wav, --stdin-pcm or --typed is given; then
    prompts are shown, and kept with --prompts. A key cuts a prompt short.
    """
    live = not (wav is not None or stdin_pcm or typed)
    if [wav is not None, stdin_pcm, typed].count(True) > 1:
        raise click.UsageError("give one of --wav FILE, --stdin-pcm, --typed, or none for the microphone")
    if typed and clips:
        raise click.UsageError("--clips keeps sound; --typed has none")
    if not live and (microphone or loudspeaker):
        raise click.UsageError("--microphone and --loudspeaker are for the live session; leave out the other source")
    if live and prompts is not None:
        raise click.UsageError("--prompts keeps prompts where no loudspeaker plays them; leave it out")
    config = _config(config_file, microphone, loudspeaker, engine, voice, expert)
    keep_clips = not typed and (clips if clips is not None else config.records.retention is not Retention.OFF)
    bundle = load_bundle(procedure)
    folder = folder or _new_folder(config, bundle.procedure.id, resume=resume)
    place = recall_list or (config.records.recalls if not resume else None)
    recalls = read_recalls(place) if place is not None else NO_RECALLS
    before = read_baseline(baseline, bundle) if baseline is not None else None
    clock = SessionClock(SystemClock() if live or typed else ManualClock(SystemClock().wall()))
    if live:
        surrounding = _live(config, clock, bundle)
    elif typed:
        surrounding = _typed(config, clock, prompts)
    else:
        surrounding = _from_sound(wav, rate, config, clock, prompts)
    with surrounding as around:
        if resume:
            conductor, journal = resume_session(
                bundle,
                folder,
                clock,
                around.outputs,
                practice=practice,
                keep_clips=False if typed else clips,
                patient_reference=patient_reference,
                expert=expert,
                recalls=recalls,
                baseline=before,
            )
        else:
            conductor, journal = open_session(
                bundle,
                folder,
                clock,
                around.outputs,
                practice=practice,
                engine="typed" if typed else _engine(config) or "neural",
                keep_clips=keep_clips,
                retention=config.records.retention if config.records.retention is not Retention.OFF else Retention.KEEP,
                patient_reference=patient_reference,
                expert=config.voice.verbosity is Verbosity.EXPERT,
                recalls=recalls,
                baseline=before,
            )
        with journal:
            try:
                if not conductor.closed:
                    around.drive(conductor)
            except KeyboardInterrupt:
                if not live:
                    raise
    if not conductor.closed:
        click.echo(f"not closed: go on with --resume --record {folder}", err=True)
    elif live:
        click.echo(f"{conductor.outcome}: {folder}", err=True)


def _config(
    file: Path | None,
    microphone: str | None,
    loudspeaker: str | None,
    engine: str | None,
    voice: str | None,
    expert: bool | None,
) -> Config:
    """The configuration file, with what the command line says instead."""
    usual = Path(platformdirs.user_config_dir("handsfree", appauthor=False)) / "config.toml"
    config = read_config(file) if file is not None else read_config(usual) if usual.exists() else Config()
    tables: dict[str, dict[str, object]] = config.model_dump()
    verbosity = None if expert is None else Verbosity.EXPERT if expert else Verbosity.NOVICE
    for table, key, value in (
        ("devices", "microphone", microphone),
        ("devices", "loudspeaker", loudspeaker),
        ("listening", "engine", engine),
        ("voice", "name", voice),
        ("voice", "verbosity", verbosity),
    ):
        if value is not None:
            tables[table][key] = value
    return checked_config(tables, "command line")


def _engine(config: Config) -> str | None:
    return config.listening.engine.value if config.listening.engine is not None else None


def _voice(config: Config) -> str | None:
    return config.voice.name.value if config.voice.name is not None else None


def _new_folder(config: Config, procedure_id: str, *, resume: bool) -> Path:
    place = config.records.place
    if place is None:
        raise click.UsageError("give --record FOLDER, or folder under [records] in the configuration")
    if resume:
        raise click.UsageError("--resume needs --record FOLDER: which record is to go on?")
    return place / f"{SystemClock().wall():%Y-%m-%d-%H%M%S}-{procedure_id}"


@contextmanager
def _live(config: Config, clock: Clock, bundle: Bundle) -> Iterator[_Surrounding]:
    from handsfree.application.equipment import equipment, standing_prompts

    with equipment(config, clock, Console(), standing_prompts(bundle)) as live:
        yield _Surrounding(live.outputs, lambda conductor: live.run(conductor, clock))


@contextmanager
def _typed(config: Config, clock: Clock, prompts: Path | None) -> Iterator[_Surrounding]:
    view = ConversationView(Console(soft_wrap=True))
    yield _Surrounding(
        TerminalOutputs(view, clock, prompts, _voice(config)), lambda conductor: run_typed(conductor, sys.stdin)
    )


@contextmanager
def _from_sound(
    wav: Path | None, rate: int, config: Config, clock: Clock, prompts: Path | None
) -> Iterator[_Surrounding]:
    from handsfree.audio.pipe import read_pipe
    from handsfree.audio.wav import read_wav
    from handsfree.recognition.choose import make_recognizer

    blocks = read_wav(wav) if wav is not None else read_pipe(sys.stdin.buffer, rate)
    recognizer = make_recognizer(_engine(config))
    view = ConversationView(Console(soft_wrap=True))
    yield _Surrounding(
        TerminalOutputs(view, clock, prompts, _voice(config)),
        lambda conductor: run_blocks(conductor, recognizer, blocks, clock),
    )
