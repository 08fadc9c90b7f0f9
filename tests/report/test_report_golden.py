"""Records that version 0.1.0 wrote are summed up as that version did (tests/golden/README.md).

What differs on purpose: a hold was called a latch, and steps by their identifiers; whoever lifted a hold by another
answer was called None; the reason of a skip was its bare code; values stood as they were stored, not as they were
spoken; and the clock of the light rounded where the page cuts off. How a visit ended was not told, nor who ended it
early or answered for missing values.
"""

import re
from decimal import Decimal, InvalidOperation

import pytest
from golden_records import FOLDER, beside, having, unpacked

from handsfree.record.verify import verify
from handsfree.report.first_screen import first_screen
from handsfree.report.record_page import make_report
from handsfree.report.summary import summary_lines

CLOCK = re.compile(r"  (\d+):(\d\d)  (.*)")
AT_A_STEP = ("  red hold: ", "  stop hold: ", "  flagged ", "  taken again: ", "  read-back refused ")
READING = re.compile(r"(  \S+\.\S+: )(.+?)((?: \[| \(|   heard ).*)")


def as_now(line):
    """A line of then in the words of now."""
    line = line.replace("  open: latch: ", "  open: held: ")
    line = re.sub(r"^  (red|stop) latch: ", r"  \1 hold: ", line)
    if line.startswith(AT_A_STEP):
        line = re.sub(r"\(\w+(@\w+)?\)$", lambda place: place[0].replace("_", " ").replace("@", ", "), line)
    line = line.replace("lifted by None:", "lifted by whoever answered:")
    line = line.replace(": answered again (", ": another answer took its place (")
    line = line.replace(", not_indicated", ", not indicated")
    if line.startswith(("  open: step: ", "  open: no value: ", "  skipped: ")):
        line = line.replace(": step: ", ": not done: ").replace("_", " ").replace("@", ", ")
        line = re.sub(r"(no value: .+)\.", r"\1: ", line)
    return line.replace("; then 4 (circulation", "; then 4.0 s (circulation")


def amount(text):
    """A value as two stored forms have in common: its number and unit, or its words."""
    first, _, unit = text.partition(" ")
    try:
        return Decimal(first), unit
    except InvalidOperation:
        return text.replace("_", " ")


def told_alike(then, now):
    then = as_now(then)
    if (one := CLOCK.fullmatch(then)) and (two := CLOCK.fullmatch(now)):
        seconds = [int(found[1]) * 60 + int(found[2]) for found in (one, two)]
        return one[3] == two[3] and seconds[0] - seconds[1] in {0, 1}
    if (one := READING.fullmatch(then)) and (two := READING.fullmatch(now)):
        return (one[1], amount(one[2]), one[3]) == (two[1], amount(two[2]), two[3])
    return then == now


@pytest.mark.parametrize("name", having("summary.txt.gz"))
def test_an_earlier_record_is_summed_up_as_it_was(name, tmp_path):
    found = verify(unpacked(name, tmp_path / "record"))
    told = list(summary_lines(found.record, found.state.value))
    assert told[2].startswith("outcome: ") is (found.record.closing is not None)
    now = [
        line
        for line in told
        if not line.startswith(("outcome: ", "  Missing values accepted by ", "  Visit ended early by "))
    ]
    then = beside(name, "summary.txt.gz").splitlines()
    assert len(now) == len(then)
    assert [(one, two) for one, two in zip(then, now, strict=True) if not told_alike(one, two)] == []


@pytest.mark.parametrize("name", ["numb-finger-hasty", "dressing-change"])
def test_an_earlier_record_has_a_page_that_says_why_it_shows_no_prompts(name, tmp_path):
    text, _ = make_report(unpacked(name, tmp_path / "record"))
    assert "is not at hand, so the prompts are not shown" in text
    assert all(words in text for words in ("Look at this first", "Course of the visit", "closed, not attested"))


@pytest.mark.parametrize("name", sorted(path.name for path in FOLDER.iterdir()))
def test_every_earlier_record_fits_one_screen(name, tmp_path):
    found = verify(unpacked(name, tmp_path / "record"))
    told = list(first_screen(found.record))
    assert len(told) <= 24
    assert max(map(len, told)) <= 80
    assert any("Not approved by anybody" in line for line in told)
