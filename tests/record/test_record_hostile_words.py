"""Words of a record from elsewhere reach a terminal, a list and a chart as words: none moves a cursor or starts a line.

Control sequences of terminals: ECMA-48, 5.3 and 5.4 (ESC, CSI). Characters that turn the direction of what follows:
Unicode Standard Annex 9, 2.1 to 2.5.
"""

import contextlib

import pytest
from record_visits import Visit

from handsfree.cli import main
from handsfree.record.display_text import one_line
from handsfree.record.journal import Journal
from handsfree.record.own_lines import Amended, AmendedLine
from handsfree.record.verify import RecordState, verify

WORDS = "x\x1b[2J\x9b2J\rBROKEN: line 1\nOUTCOME: completed\u202egnol\u2066\x07"
SHOWN = r"x\x1b[2J\x9b2J BROKEN: line 1 OUTCOME: completed\u202egnol\u2066\x07"


def test_words_are_shown_on_one_line():
    assert one_line(WORDS) == SHOWN
    assert one_line("half\ud800") == r"half\ud800"
    assert one_line("Größe 1.5 °C, 50 → 51") == "Größe 1.5 °C, 50 → 51"


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """A record whose folder, role and reason hold what no person says; its chain is right."""
    folder = tmp_path_factory.mktemp("store") / WORDS
    Visit("light-output-check", folder).start().finish()
    record = verify(folder).record
    reading = next(one for one in record.readings if one.stands.field == "first")
    was, now = Amended(value=reading.stands.value), Amended(value=record.readings[-3].stands.value)
    with Journal.reopen_closed(folder) as journal:
        journal.append_later(AmendedLine(entry=reading.recorded.seq, was=was, now=now, by=WORDS, reason=WORDS))
    assert verify(folder).state is RecordState.COMPLETE
    return folder


@pytest.mark.parametrize("command", ["verify", "summary", "summary --all", "records", "day", "export"])
def test_words_of_a_record_move_no_cursor_and_start_no_line(capsys, record, command):
    more = {
        "verify": (record, "--head", "0" * 64),  # a fault, so that the name of the folder is told
        "summary": (record,),
        "summary --all": (record,),
        "records": (record.parent,),
        "day": (record.parent, "--date", "2026-11-25"),
        "export": (record, "--to", "note"),
    }
    with contextlib.suppress(SystemExit):
        main([*command.split(), *map(str, more[command])])
    out = capsys.readouterr()
    text = f"{out.out}{out.err}"
    assert SHOWN in text
    assert [line for line in text.split("\n") if not line.isprintable()] == []
    assert [line for line in text.split("\n") if line.startswith(("OUTCOME", "BROKEN"))] == []
