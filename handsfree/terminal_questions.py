"""Questions of a command to whoever sits at its terminal: a wrong answer is told what is right, and asked again."""

import os
import select
import signal
import sys
from collections.abc import Callable

import click

_YES, _NO = frozenset({"y", "yes"}), frozenset({"", "n", "no"})


def ask(question: str, *, usual: str = "", wrong: Callable[[str], str | None] = lambda _: None) -> str:
    """The answer, without spaces around it.

    Args:
        question: What is asked.
        usual: What an empty answer means; it is shown.
        wrong: What is wrong with an answer and what would be right, or None.

    Raises:
        click.exceptions.Abort: Somebody pressed Ctrl-C or Ctrl-D.
    """
    while True:
        try:
            click.echo(f"{question} [{usual}]: " if usual else f"{question}: ", nl=False)
            _wait_for_a_line()
            text = str(click.prompt("", prompt_suffix="", default=usual, show_default=False)).strip()
        except (KeyboardInterrupt, click.exceptions.Abort):
            # The cursor stands behind the question.
            click.echo(err=True)
            raise click.exceptions.Abort from None
        told = wrong(text) if text.isprintable() else "that holds a key that writes nothing; type letters and digits"
        if told is None:
            return text
        click.echo(told, err=True)


def _wait_for_a_line() -> None:
    """Return once a line, or Ctrl-D, is there to be read.

    A Ctrl-C just before a read begins is noted and then waits until the read ends: for a key, for ever. A wait that a
    signal wakes by a pipe of its own has no such moment.

    Raises:
        KeyboardInterrupt: Somebody pressed Ctrl-C.
    """
    if os.name != "posix" or not sys.stdin.isatty():
        return
    woken, wake = os.pipe()
    os.set_blocking(wake, False)
    before = signal.set_wakeup_fd(wake, warn_on_full_buffer=False)
    try:
        ready: list[int] = []
        while sys.stdin.fileno() not in ready:
            ready, _, _ = select.select([sys.stdin.fileno(), woken], [], [])
            if woken in ready:
                os.read(woken, 1)  # a signal that raises nothing changes nothing
    finally:
        signal.set_wakeup_fd(before)
        os.close(woken)
        os.close(wake)


def ask_filled(question: str, *, wrong: Callable[[str], str | None] = lambda _: None) -> str:
    """As `ask`; an empty answer is none."""
    return ask(question, wrong=lambda text: wrong(text) if text else "an answer is needed; Ctrl-C leaves all as it was")


def ask_whether(question: str) -> bool:
    """Whether it is so; an empty answer is no."""
    known = _YES | _NO
    told = "y or n, please"
    text = ask(f"{question} [y/N]", wrong=lambda text: None if text.lower() in known else told)
    return text.lower() in _YES
