"""The page of a very long record: small, quick, and it says what it leaves out."""

import re
from dataclasses import replace

import pytest
from report_samples import amended, confirmed, heard, record_of, ticked, written

from handsfree.model.facts import NoteTaken, SaidAgain, StepEntered, StopWordHeard
from handsfree.record.recorded import RecordedFact
from handsfree.record.verify import verify
from handsfree.report.embedded_sound import Sounds
from handsfree.report.page import report_page
from handsfree.report.page_size import MOST_ITEMS, MOST_LOG_LINES
from handsfree.report.readings_table import MOST_EARLIER
from handsfree.report.timeline_strips import MOST_MARKS

EVENTS = 12_000
LIMIT = 10_000_000
"""Characters: a page goes into a message or onto a slow machine. Chosen here, no source."""
RECORD_LINES = 100_000


def facts_of(number):
    """Facts of one event; the kinds take turns."""
    match number % 6:
        case 0:
            yield StopWordHeard(word="stop", while_lit=False, mode="asking", heard=heard("stop", at_s=number))
        case 1:
            yield amended("fit", "girth", "loose", "tight", why="repeated", heard=heard("loose", at_s=number))
        case 2 if number % 36 == 2:
            yield NoteTaken(text=f"padding {number}", verified=False, broken_off=False, stage="fit")
        case 3:
            yield StepEntered(stage="fit", step="fit", phase="before", again=True)
        case _:
            yield SaidAgain(stage="fit")


@pytest.fixture(scope="module")
def long_page(tmp_path_factory):
    folder = written(tmp_path_factory.mktemp("long") / "r", confirmed("fit", "girth", "tight"))
    record = record_of(folder)
    events, facts, lines, seq = [], [], [], 1
    for number in range(EVENTS):
        lead, seq = seq, seq + 1
        event = ticked(float(number))
        events.append(event)
        lines.append(lead)
        for fact in facts_of(number):
            facts.append(RecordedFact(seq, event.wall, fact, lead))
            seq += 1
    record = replace(record, events=tuple(events), event_lines=tuple(lines), facts=tuple(facts), lines=seq)
    return record, report_page(replace(verify(folder), record=record), record, None, Sounds((), 0))


def test_a_page_of_a_hundred_thousand_lines_would_stay_under_its_limit(long_page):
    record, page = long_page
    assert record.lines > 20_000
    # What is shown of every line without end are the notes; the rest has a most of its own.
    notes = sum(len(part) for part in re.findall(r'<section id="notes".*?</section>', page, re.DOTALL))
    assert len(page) - notes < LIMIT / 4
    assert notes * RECORD_LINES / record.lines < LIMIT / 2


def test_what_is_left_out_is_counted(long_page):
    record, page = long_page
    log = re.search(r'<section id="log".*?</section>', page, re.DOTALL)[0]
    (all_lines,) = re.findall(r"Everything in order: (\d+) lines", log)
    left_out = [int(count) for count in re.findall(r"(\d+) lines are left out here", log)]
    rows = log.count("<tr") - 1 - len(left_out)
    assert rows >= MOST_LOG_LINES
    assert rows + sum(left_out) == int(all_lines)
    stops = len(record.of(StopWordHeard))
    assert f"{stops - MOST_ITEMS} more of this kind are not listed" in page
    assert f'<span class="count">{stops}</span> Stopped' in page
    assert f"{len(record.readings) - 1 - MOST_EARLIER} values" in page


def test_every_link_of_a_shortened_page_leads_somewhere(long_page):
    _, page = long_page
    places = set(re.findall(r'id="([^"]+)"', page))
    links = set(re.findall(r'href="#([^"]+)"', page))
    assert len(links) > MOST_ITEMS
    assert links <= places


def test_marks_in_one_place_are_drawn_as_one(long_page):
    record, page = long_page
    drawing = re.search(r'<svg class="drawing".*?</svg>', page, re.DOTALL)[0]
    together = re.findall(r"and (\d+) more in the same place", drawing)
    stops = re.findall(r'<path class="mark stop"', drawing)
    assert MOST_MARKS / 10 < len(stops) <= MOST_MARKS
    assert sum(map(int, together)) > EVENTS / 6
    assert len(record.of(StopWordHeard)) == EVENTS / 6
