"""`handsfree rate` and `progress`: ratings, learning curves, agreement, and what assessors sign."""

import sys
from pathlib import Path

import click
from rich.console import Console

from handsfree.application.output_files import write_output
from handsfree.application.sources import AtMicrophone, Source, TypedLines
from handsfree.clock import SystemClock
from handsfree.config import Config
from handsfree.errors import UsageError
from handsfree.options import ATTEMPTS, ATTEMPTS_PLACE, CONFIG, KEY_FILE, PATH
from handsfree.practice.agreement_text import agreement_lines
from handsfree.practice.attempt_lines import AttemptOutcome
from handsfree.practice.attempts import AttemptLines, AttemptStore, reference
from handsfree.practice.learning_curves import CusumLimits, LearningLimits, Weights
from handsfree.practice.practice_plan import planned_in
from handsfree.practice.progress import Progress, progress_csv, progress_lines, progress_of
from handsfree.practice.raters import compare_raters
from handsfree.practice.rating import ITEMS, marks_of
from handsfree.practice.rating_form import ask_marks
from handsfree.practice.stored_attempts import attempts_at
from handsfree.record.signing import installation_key
from handsfree.report.record_page import readable


@click.command()
@click.argument("record", type=PATH)
@click.option("--by", "rater", required=True, help="Reference of the rater: letters and digits, never a name.")
@click.option("--marks", help="Seven marks from 1 to 5 with commas, in the order of the form, instead of asking.")
@click.option("--overall", type=click.Choice(["passed", "failed"]), help="The judgement that goes with --marks.")
@click.option("--typed", is_flag=True, help="Ask on the screen; without it and --marks, ask aloud.")
@click.option("--form", "folder", type=PATH, help="New folder for the record of the form that is asked.")
@CONFIG
@ATTEMPTS
def rate(
    record: Path,
    rater: str,
    marks: str | None,
    overall: str | None,
    folder: Path | None,
    config: Config,
    store_file: Path,
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
        filled = ask_marks(folder, _rater(config, typed=typed))
    AttemptStore(store_file, SystemClock()).add_rating(rated.header.record_id, rater, filled)
    told = ", ".join(f"{item.replace('_', ' ')} {filled.items[item]}" for item in ITEMS)
    click.echo(f"{filled.total} of 35, {'passed' if filled.passed else 'failed'}: {told}")


def _numbers(marks: str) -> list[int]:
    try:
        return [int(mark) for mark in marks.split(",")]
    except ValueError as error:
        raise UsageError(f"{marks!r} are no marks; seven such as 3,4,4,3,5,3,4 would be right") from error


def _rater(config: Config, *, typed: bool) -> Source:
    console = Console(soft_wrap=True)
    if typed:
        return TypedLines(console, lines=sys.stdin)
    # The sound library comes with the speech packages; a typed form does without.
    from handsfree.application.equipment import LiveSettings

    return AtMicrophone(LiveSettings.of(config), console)


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


def _course(store: AttemptLines, trainee: str, limits: dict[str, float]) -> Progress:
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
@click.option("--page", type=PATH, help="Write a page with the curves as well.")
@ATTEMPTS_PLACE
@_limits
def show(trainee: str, page: Path | None, place: Path | str, **limits: float) -> None:
    """The attempts of TRAINEE with CUSUM and LC-CUSUM."""
    course = _course(attempts_at(place), trainee, limits)
    click.echo("\n".join(progress_lines(course)))
    if page is not None:
        from handsfree.practice.pages import progress_page

        write_output(page, progress_page(course))


@progress.command("csv")
@click.option("--output", type=PATH, help="File to write; standard output where left out.")
@ATTEMPTS_PLACE
@_limits
def csv(output: Path | None, place: Path | str, **limits: float) -> None:
    """All attempts and ratings as a table."""
    store = attempts_at(place)
    trainees = dict.fromkeys(one.trainee for one in store.attempts())
    text = progress_csv([_course(store, trainee, limits) for trainee in trainees])
    if output is None:
        click.echo(text, nl=False)
    else:
        write_output(output, text)


@progress.command("agreement")
@click.argument("first")
@click.argument("second")
@click.option(
    "--weights", type=click.Choice([one.value for one in Weights]), default=Weights.QUADRATIC.value, show_default=True
)
@ATTEMPTS_PLACE
def agreement(first: str, second: str, weights: str, place: Path | str) -> None:
    """Cohen's kappa of two raters, FIRST and SECOND, on the attempts that both rated, with its interval."""
    compared = compare_raters(attempts_at(place).ratings(), first, second, Weights(weights))
    click.echo("\n".join(agreement_lines(compared)))


@progress.command("sign")
@click.argument("trainee")
@click.option("--by", "assessor", required=True, help="Reference of the assessor: never a name.")
@click.option("--role", required=True, help="Role of the assessor.")
@click.option(
    "--outcome", type=click.Choice([one.value for one in AttemptOutcome]), required=True, help="The judgement."
)
@KEY_FILE
@ATTEMPTS
def sign(trainee: str, assessor: str, role: str, outcome: str, key_file: Path, store_file: Path) -> None:
    """Sign a judgement about TRAINEE. Only an assessor makes one; no curve does."""
    key = installation_key(key_file)
    signed = AttemptStore(store_file, SystemClock()).sign(trainee, assessor, role, AttemptOutcome(outcome), key)
    click.echo(f"{signed.outcome.value.replace('_', ' ')} signed by {signed.assessor} after {signed.attempts} attempts")
