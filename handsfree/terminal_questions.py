"""Questions of a command to whoever sits at its terminal: a wrong answer is told what is right, and asked again."""

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
            text = str(click.prompt(question, default=usual, show_default=bool(usual))).strip()
        except click.exceptions.Abort:
            # The cursor stands behind the question.
            click.echo(err=True)
            raise
        told = wrong(text) if text.isprintable() else "that holds a key that writes nothing; type letters and digits"
        if told is None:
            return text
        click.echo(told, err=True)


def ask_filled(question: str, *, wrong: Callable[[str], str | None] = lambda _: None) -> str:
    """As `ask`; an empty answer is none."""
    return ask(question, wrong=lambda text: wrong(text) if text else "an answer is needed; Ctrl-C leaves all as it was")


def ask_whether(question: str) -> bool:
    """Whether it is so; an empty answer is no."""
    known = _YES | _NO
    told = "y or n, please"
    text = ask(f"{question} [y/N]", wrong=lambda text: None if text.lower() in known else told)
    return text.lower() in _YES
