"""`handsfree rate` and `progress`: ratings, learning curves, agreement, and what assessors sign."""

import sys
from pathlib import Path

import click
import platformdirs
from rich.console import Console

from handsfree.application.opening import open_session
from handsfree.clock import SystemClock
from handsfree.commands.record import key_file as usual_key_file
from handsfree.config import Config, read_config
from handsfree.definition.loader import load_bundle
from handsfree.display import ConversationView
from handsfree.errors import UsageError
from handsfree.practice.attempt_lines import AttemptOutcome
from handsfree.practice.attempts import AttemptStore, reference
from handsfree.practice.learning_curves import CusumLimits, LearningLimits, Weights
from handsfree.practice.practice_plan import planned_in
from handsfree.practice.progress import FEW, Progress, compare_raters, progress_csv, progress_lines, progress_of
from handsfree.practice.rating import FORM, ITEMS, Marks, marks_in, marks_of
from handsfree.record.signing import installation_key
from handsfree.report.record_page import readable
from handsfree.runner import SessionClock, run_typed

_PATH = click.Path(path_type=Path)
STORE = click.option(
    "--attempts", "store_file", type=_PATH, default=None, help="Store of attempts; the one of this user else."
)


def store_at(file: Path | None) -> AttemptStore:
    """The store of attempts that is given, or that of this user."""
    usual = Path(platformdirs.user_data_dir("handsfree", appauthor=False)) / "attempts.jsonl"
    return AttemptStore(file or usual, SystemClock())


def write_page(file: Path, text: str) -> None:
    """Write a page or a table that only its owner may read.

    Raises:
        UsageError: It cannot be written.
    """
    try:
        file.touch(mode=0o600)
        file.write_bytes(text.encode())
    except OSError as error:
        raise UsageError(f"cannot write {file}: {error.strerror}; give a file in a writable folder") from error


@click.command()
@click.argument("record", type=_PATH)
@click.option("--by", "rater", required=True, help="Reference of the rater: letters and digits, never a name.")
@click.option("--marks", help="Seven marks from 1 to 5 with commas, in the order of the form, instead of asking.")
@click.option("--overall", type=click.Choice(["passed", "failed"]), help="The judgement that goes with --marks.")
@click.option("--typed", is_flag=True, help="Ask on the screen; without it and --marks, ask aloud.")
@click.option("--form", "folder", type=_PATH, help="New folder for the record of the form that is asked.")
@click.option("--config", "config_file", type=_PATH, help="Configuration file (TOML) for a form that is asked aloud.")
@STORE
def rate(
    record: Path,
    rater: str,
    marks: str | None,
    overall: str | None,
    folder: Path | None,
    config_file: Path | None,
    store_file: Path | None,
    *,
    typed: bool,
) -> None:
    """Rate the practice session in RECORD: seven items from 1 to 5 and one judgement.

    Items: respect for tissue, time and motion, handling, knowledge of the material, use of helpers, flow and planning,
    knowledge of the procedure (OSATS, Br J Surg 1997;84:273; the wording is this project's own).
    """
    reference(rater, "rater")
    _, rated = readable(record)
    planned_in(rated)
    if (marks is None) != (overall is None):
        raise click.UsageError("--marks and --overall go together")
    if marks is not None:
        filled = marks_of(_numbers(marks), passed=overall == "passed")
    elif folder is None:
        raise click.UsageError("give --form FOLDER, where the record of the form is kept, or --marks and --overall")
    else:
        filled = _asked(folder, config_file, typed=typed)
    store_at(store_file).add_rating(rated.header.record_id, rater, filled)
    told = ", ".join(f"{item.replace('_', ' ')} {filled.items[item]}" for item in ITEMS)
    click.echo(f"{filled.total} of 35, {'passed' if filled.passed else 'failed'}: {told}")


def _numbers(marks: str) -> list[int]:
    try:
        return [int(mark) for mark in marks.split(",")]
    except ValueError as error:
        raise UsageError(f"{marks!r} are no marks; seven such as 3,4,4,3,5,3,4 would be right") from error


def _asked(folder: Path, config_file: Path | None, *, typed: bool) -> Marks:
    """Let the form be filled like any procedure, by voice or keys."""
    bundle, clock, console = load_bundle(FORM), SessionClock(SystemClock()), Console(soft_wrap=True)
    if typed:
        from handsfree.commands.run import TerminalOutputs

        outputs = TerminalOutputs(ConversationView(console), clock, None, None)
        conductor, journal = open_session(
            bundle, folder, clock, outputs, practice=True, engine="typed", keep_clips=False
        )
        with journal:
            run_typed(conductor, sys.stdin)
    else:
        from handsfree.application.equipment import equipment

        config = read_config(config_file) if config_file is not None else Config()
        with equipment(config, clock, console) as live:
            conductor, journal = open_session(
                bundle, folder, clock, live.outputs, practice=True, engine="neural", keep_clips=False
            )
            with journal:
                live.run(conductor, clock)
    return marks_in(readable(folder)[1])


@click.group()
def progress() -> None:
    """Attempts of learners over time. It shows a course; assessors judge and sign."""


def _limits(command: click.decorators.FC) -> click.decorators.FC:
    for option in (
        click.option("--p0", type=float, default=0.10, show_default=True, help="Acceptable failure rate."),
        click.option("--p1", type=float, default=0.20, show_default=True, help="Unacceptable failure rate."),
        click.option("--alpha", type=float, default=0.10, show_default=True, help="Chance of a false alarm."),
        click.option("--beta", type=float, default=0.10, show_default=True, help="Chance of a missed alarm."),
        click.option("--delta", type=float, default=0.10, show_default=True, help="LC-CUSUM: above p0, inadequate."),
        click.option("--h", type=float, default=1.25, show_default=True, help="LC-CUSUM: line at which it signals."),
    ):
        command = option(command)
    return command


def _course(store: AttemptStore, trainee: str, limits: dict[str, float]) -> Progress:
    return progress_of(
        trainee,
        store.attempts(),
        store.ratings(),
        store.signatures(),
        CusumLimits(limits["p0"], limits["p1"], limits["alpha"], limits["beta"]),
        LearningLimits(limits["p0"], limits["delta"], limits["h"]),
    )


@progress.command("show")
@click.argument("trainee")
@click.option("--page", type=_PATH, help="Write a page with the curves as well.")
@STORE
@_limits
def show(trainee: str, page: Path | None, store_file: Path | None, **limits: float) -> None:
    """The attempts of TRAINEE with CUSUM and LC-CUSUM."""
    course = _course(store_at(store_file), trainee, limits)
    for line in progress_lines(course):
        click.echo(line)
    if page is not None:
        from handsfree.practice.pages import progress_page

        write_page(page, progress_page(course))


@progress.command("csv")
@click.option("--output", type=_PATH, help="File to write; standard output where left out.")
@STORE
@_limits
def csv(output: Path | None, store_file: Path | None, **limits: float) -> None:
    """All attempts and ratings as a table."""
    store = store_at(store_file)
    trainees = dict.fromkeys(one.trainee for one in store.attempts())
    text = progress_csv([_course(store, trainee, limits) for trainee in trainees])
    if output is None:
        click.echo(text, nl=False)
    else:
        write_page(output, text)


@progress.command("agreement")
@click.argument("first")
@click.argument("second")
@click.option(
    "--weights", type=click.Choice([one.value for one in Weights]), default=Weights.QUADRATIC.value, show_default=True
)
@STORE
def agreement(first: str, second: str, weights: str, store_file: Path | None) -> None:
    """Cohen's kappa of two raters, FIRST and SECOND, on the attempts that both rated."""
    compared = compare_raters(store_at(store_file).ratings(), first, second, Weights(weights))
    for one in compared:
        found = one.found
        kappa = "n/a" if found.kappa is None else f"{found.kappa:.3f}"
        click.echo(
            f"{one.what.replace('_', ' ')}: kappa {kappa} ({found.band}, weights {one.weights.value}), "
            f"observed {found.observed:.3f}, by chance {found.expected:.3f}, n {found.count}"
        )
    if compared[-1].found.count < FEW:
        click.echo(f"{compared[-1].found.count} attempts are few: kappa says little yet.")


@progress.command("sign")
@click.argument("trainee")
@click.option("--by", "assessor", required=True, help="Reference of the assessor: never a name.")
@click.option("--role", required=True, help="Role of the assessor.")
@click.option(
    "--outcome", type=click.Choice([one.value for one in AttemptOutcome]), required=True, help="The judgement."
)
@click.option("--key-file", type=_PATH, help="Signing key; made on first use.")
@STORE
def sign(trainee: str, assessor: str, role: str, outcome: str, key_file: Path | None, store_file: Path | None) -> None:
    """Sign a judgement about TRAINEE. Only an assessor makes one; no curve does."""
    key = installation_key(key_file or usual_key_file())
    signed = store_at(store_file).sign(trainee, assessor, role, AttemptOutcome(outcome), key)
    click.echo(f"{signed.outcome.value.replace('_', ' ')} signed by {signed.assessor} after {signed.attempts} attempts")


COMMANDS = (rate, progress)
