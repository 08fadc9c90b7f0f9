"""What a record holds must follow from what was heard: forged values, all hashes made right again, show in the replay.

Whole visits stand in for outside checks of the words: what they mean is held against spoken numbers elsewhere.
"""

import dataclasses
import os
import shutil
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner
from forgery import changed, forged, lines_of, own_line, values_changed
from record_golden import PLACES, copy_of
from record_visits import SCENARIOS, Visit

from handsfree import __version__
from handsfree.application.replaying import Replay, _misheard, replay, session_of, verify_and_replay
from handsfree.commands.record import verify as verify_command
from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.commands import DateSlot, GiveValues, SlotValue, Wanted
from handsfree.model.events import CommandSpoken
from handsfree.model.facts import VisitBegun
from handsfree.model.readings import HowToSay, NeedsAsking, SpokenDate
from handsfree.record.comparison import differences
from handsfree.record.verify import RecordState, verify
from handsfree.understanding.interpreter import typed

CHECK = "neurovascular-check"
THOROUGH = "HANDSFREE_THOROUGH" in os.environ
HONEST = sorted(path.stem for path in SCENARIOS.glob("*.yaml")) if THOROUGH else [CHECK, "light-output-check"]
"""Scripts of whole visits; all of them, which takes two minutes on a small machine, where it is set."""

PROCEDURES_OF_FORM_2 = Path(__file__).resolve().parents[1] / "golden" / "form-2-procedures"
"""The bundled files as they were when the records of form 2 were written."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A check from end to end, on a real session."""
    folder = tmp_path_factory.mktemp("replay") / "r"
    Visit(CHECK, folder).start().finish()
    return folder


@pytest.fixture
def folder(whole, tmp_path):
    return shutil.copytree(whole, tmp_path / "r")


def told(folder):
    """What the replay finds in a record whose hashes are right."""
    assert verify(folder).state is RecordState.COMPLETE
    found, why_not = verify_and_replay(folder)
    assert why_not == ""
    assert (found.state is RecordState.BROKEN) is bool(found.faults)
    return " / ".join(map(str, found.faults))


def index_of(lines, kind, holding=""):
    return next(seq for seq, line in enumerate(lines) if line.kind == kind and holding in str(line.data))


@pytest.mark.parametrize("name", HONEST)
def test_an_honest_visit_replays(tmp_path, name):
    Visit(name, tmp_path / "r").start().finish()
    assert told(tmp_path / "r") == ""


def test_a_stored_value_that_was_changed_is_found(folder):
    def change(lines):
        lines[seq] = values_changed(lines[seq], '"value":"1.4"', '"value":"1.3"')

    seq = index_of(lines_of(folder), "reading_confirmed", "'value': '1.4'")
    forged(folder, change)
    assert f"line {seq + 1}: the record says" in told(folder)


def everywhere(folder, *changes):
    """Put one piece of JSON in place of another in every line that has it."""

    def change(lines):
        for old, new in changes:
            having = [seq for seq, line in enumerate(lines) if old.encode() in line.raw]
            assert having, old
            for seq in having:
                lines[seq] = values_changed(lines[seq], old, new)

    return forged(folder, change)


def written_by(folder, version):
    record = verify(folder).record
    return dataclasses.replace(record, header=dataclasses.replace(record.header, versions={"handsfree": version}))


def test_what_another_version_of_the_program_stated_otherwise_is_not_replayed(folder):
    def change(lines):
        lines[seq] = values_changed(lines[seq], '"value":"1.4"', '"value":"1.3"')

    seq = index_of(lines_of(folder), "reading_confirmed", "'value': '1.4'")
    forged(folder, change)
    assert replay(written_by(folder, __version__)).faults
    assert replay(written_by(folder, "0.1.9")) == Replay(
        (), f"handsfree 0.1.9 wrote it, and {__version__} states other facts"
    )


def test_what_another_version_of_the_program_stated_as_this_one_does_is_replayed(folder):
    assert replay(written_by(folder, "0.1.9")) == Replay(())


def test_a_value_changed_in_event_and_facts_does_not_follow_from_the_words(folder):
    everywhere(folder, ('"value":"1.4"', '"value":"1.3"'))
    assert 'refill one point four color usual temperature warm"' in told(folder)
    assert "the command does not follow from the words" in told(folder)


def test_words_that_mean_something_else_than_was_taken_from_them_are_found(folder):
    everywhere(folder, ('"one","point","four"', '"one","point","three"'), ("one point four", "one point three"))
    assert "do not mean what they were taken for" in told(folder)


def test_a_fact_that_was_removed_is_found(folder):
    seq = index_of(lines_of(folder), "reading_confirmed")
    forged(folder, lambda lines: lines.pop(seq))
    assert "facts of this event, replay gives" in told(folder)


def test_an_event_that_was_removed_with_its_facts_is_found(folder):
    lines = lines_of(folder)
    seq = index_of(lines, "reading_confirmed")
    lead = max(number for number in range(seq) if lines[number].kind == "event")
    end = next(number for number in range(seq, len(lines)) if lines[number].kind in ("event", "sealed"))
    forged(folder, lambda lines: lines.__delitem__(slice(lead, end)))
    assert told(folder) != ""


def test_an_event_that_was_put_in_is_found(folder):
    def put_in(lines):
        seq = index_of(lines, "reading_confirmed")
        lead = max(number for number in range(seq) if lines[number].kind == "event")
        lines[lead:lead] = lines[lead : seq + 1]

    forged(folder, put_in)
    assert told(folder) != ""


def test_a_reading_put_in_without_an_event_is_found(folder):
    def put_in(lines):
        seq = index_of(lines, "reading_confirmed")
        lead = own_line("event", lines[seq].at, event=None, clip_sha256=None)
        at = next(number for number in range(seq, len(lines)) if lines[number].kind == "event")
        lines[at:at] = [lead, lines[seq]]

    forged(folder, put_in)
    assert "reading_confirmed follows from no event" in told(folder)


def test_a_visit_that_never_began_is_found(folder):
    """Header, an ending without anything before, a seal: what the chain alone takes for a record."""

    def shorten(lines):
        seq = index_of(lines, "visit_closed")
        lead = max(number for number in range(seq) if lines[number].kind == "event")
        del lines[1:lead]

    forged(folder, shorten)
    assert told(folder) != ""


def test_a_first_line_of_another_procedure_is_found(folder):
    forged(folder, lambda lines: lines.__setitem__(0, changed(lines[0], procedure_sha256="0" * 64)))
    assert verify(folder).fine
    found, why_not = verify_and_replay(folder)
    assert "the visit began with another procedure" in str(found.faults[0])
    assert "is not the version that the record was begun with" in why_not


def test_what_is_not_replayed_is_told_in_one_line(folder):
    def other_files(lines):
        lines[0] = changed(lines[0], procedure_sha256="0" * 64)
        seq = index_of(lines, "visit_begun")
        lines[seq] = changed(lines[seq], procedure_sha256="0" * 64)

    forged(folder, other_files)
    done = CliRunner().invoke(verify_command, [str(folder)])
    assert done.exit_code == 0, done.output
    (line,) = [line for line in done.output.splitlines() if line.startswith("not replayed: ")]
    assert line == (
        f"not replayed: the bundled {CHECK} is not the version that the record was begun with; "
        "give its file with --procedure"
    )
    as_json = CliRunner().invoke(verify_command, [str(folder), "--json"])
    assert '"not_replayed": "the bundled' in as_json.output


def test_a_procedure_that_is_not_bundled_is_given(folder):
    def renamed(lines):
        for seq, line in enumerate(lines):
            if line.kind in ("header", "visit_begun"):
                lines[seq] = changed(line, procedure="../elsewhere")

    forged(folder, renamed)
    assert "../elsewhere is not bundled" in verify_and_replay(folder)[1]
    with pytest.raises(ProcedureFileError):
        verify_and_replay(folder, procedure=folder / "none.yaml")


def test_the_command_fails_where_the_replay_differs(folder):
    fine = CliRunner().invoke(verify_command, [str(folder)])
    assert fine.exit_code == 0, fine.output
    assert "not replayed" not in fine.output
    seq = index_of(lines_of(folder), "reading_confirmed")
    forged(folder, lambda lines: lines.pop(seq))
    bad = CliRunner().invoke(verify_command, [str(folder)])
    assert bad.exception.exit_code == 8
    assert bad.output.startswith("broken")


@pytest.mark.parametrize("place", [place for place in PLACES if place.startswith("form-2/")])
def test_a_record_that_was_cut_or_amended_replays(tmp_path, place):
    record = verify(copy_of(place.partition("/")[2], tmp_path, form=2)).record
    path = PROCEDURES_OF_FORM_2 / f"{record.header.procedure}.yaml"
    begun = load_bundle(str(path))
    if begun.sha256 != record.header.procedure_sha256:
        record = begun_with(record, begun.sha256)  # the files were changed since, and the facts did not
    if all(one.heard.tags for one in record.events if isinstance(one, CommandSpoken)):
        assert replay(record, path) == Replay(())
    assert differences(record, session_of(begun, record.header).handle) == []


def begun_with(record, sha256):
    """A record as if its visit had begun with the files of today."""
    facts = [
        dataclasses.replace(item, fact=dataclasses.replace(item.fact, procedure_sha256=sha256))
        if isinstance(item.fact, VisitBegun)
        else item
        for item in record.facts
    ]
    header = dataclasses.replace(record.header, procedure_sha256=sha256)
    return dataclasses.replace(record, header=header, facts=tuple(facts))


def test_a_31st_that_an_earlier_version_asked_about_contradicts_nothing():
    wanted = Wanted(frozenset(), (DateSlot("date", ("date",)),))
    heard = typed("thirty one december two zero two six", wanted, 1.0)
    wall = "2026-11-25T09:00:01.000Z"

    def of(value):
        command = GiveValues((SlotValue("date", value),))
        return CommandSpoken(at_s=1.0, wall=wall, command=command, heard=heard, probability=1.0)

    assert _misheard(of(NeedsAsking(HowToSay.THIRTEEN_OR_THIRTY)), wanted) == ""
    assert "does not follow" in _misheard(of(SpokenDate(date(2026, 12, 30))), wanted)
