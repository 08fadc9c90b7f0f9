"""A record on one screen of a terminal: who and when, how it stands, ten lines. Pure."""

import textwrap
from collections.abc import Iterator, Sequence

from handsfree.record.account_words import AccountWords
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases
from handsfree.record.contents import Record
from handsfree.record.declared_sides import with_declared_sides
from handsfree.record.display_text import one_line
from handsfree.record.display_values import due_lines, local_time, operator_words
from handsfree.record.first_look import FirstLook, first_look
from handsfree.record.visit_account import account_of
from handsfree.session.prompts.reason_words import reason_words

COLUMNS = 80
"""Width of the smallest terminal that is reckoned with."""
NOTHING = "Nothing was stopped, overridden, red, off target, doubtful, changed or left open, by this record."


def account_words(record: Record, phrases: CodePhrases = CODES_ALONE) -> AccountWords:
    """The account of a record, with the words of the tool for its reasons."""
    return AccountWords(account_of(with_declared_sides(record)), reason_words, phrases)


def first_screen(record: Record, phrases: CodePhrases = CODES_ALONE, faults: Sequence[str] = ()) -> Iterator[str]:
    """The lines of one screen, none of them wider than it; no word of the record starts a line.

    Args:
        record: The folded record.
        phrases: What the procedure calls roles and reasons.
        faults: What verification found wrong, in words.
    """
    words = account_words(record, phrases)
    for line in _lines(words, first_look(words, tuple(faults))):
        yield from textwrap.wrap(one_line(line), COLUMNS, subsequent_indent="    ", break_on_hyphens=False)


def who_line(words: AccountWords) -> str:
    """Whose visit it was, which side, who worked, when, how long."""
    record = words.account.record
    began = f", {local_time(record, record.started.wall)}" if record.started is not None else ""
    side = f", {record.side} side" if record.side else ""
    who = f", by {operator_words(record)}" if operator_words(record) else ""
    return f"Patient {record.patient_reference or 'not given'}{side}{who}{began}, {words.lasted()}"


def _lines(words: AccountWords, look: FirstLook) -> Iterator[str]:
    record = words.account.record
    practice = "PRACTICE: " if words.account.practice else ""
    yield f"{practice}{record.header.title or record.header.procedure}"
    yield who_line(words)
    yield "; ".join(look.statuses)
    yield from due_lines(record)
    yield from look.texts()
    if not look.shown:
        yield NOTHING
