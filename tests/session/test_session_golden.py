"""The session answers the events of earlier records with the same facts, and its codes say the same words.

The records were written by version 0.1.0 (tests/golden/README.md); they are read through the one written mapping of
form 1 to the present form (`handsfree.record.forms`). What form 1 did not hold is named here.
"""

import dataclasses
import gzip
from pathlib import Path

import pytest

from handsfree.definition.loader import load_bundle
from handsfree.model.commands import Control, ControlCommand
from handsfree.model.effects import Append
from handsfree.model.facts import LightStillOn, VisitBegun
from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import AsWritten, Grounds, Reason
from handsfree.model.refusals import RefusalReason
from handsfree.record.comparison import same_fact
from handsfree.record.verify import verify
from handsfree.session.prompts.wording import Wording
from handsfree.session.session import Session

GOLDEN = Path(__file__).resolve().parents[1] / "golden" / "form-1"
PROCEDURES = GOLDEN.with_name("form-1-procedures")
"""The procedures as that version had them: since then the files say who may lift what, and so on."""
CODE_ASKED = {"numb-finger-forgetful": 575, "numb-finger-good": 517}
"""Line at which a record goes its own way: another role than the operator's answers, and now gives a code too."""
NAMES = sorted(folder.name for folder in GOLDEN.iterdir())


def golden(name, folder):
    """A golden record, unpacked."""
    folder.mkdir()
    (folder / "record.jsonl").write_bytes(gzip.decompress((GOLDEN / name / "record.jsonl.gz").read_bytes()))
    (folder / "record.end").write_bytes((GOLDEN / name / "record.end").read_bytes())
    found = verify(folder)
    assert found.record is not None, found.faults
    return found.record


def session_for(record):
    bundle = load_bundle(str(PROCEDURES / f"{record.header.procedure}.yaml"))
    return Session(bundle, expert=record.header.versions.get("wording") == "expert")


def comparable(fact):
    """The files have been added to since (who the operator is, which step is the time-out), and so their digest."""
    return dataclasses.replace(fact, procedure_sha256="", versions={}) if isinstance(fact, VisitBegun) else fact


def without_stray_light(session, event, given):
    """The one place where the same events lead elsewhere now.

    Version 0.1.0 refused "light on" where no light was permitted, and went on; now it is light outside a zone until
    somebody says what became of it. "Negative" leads the visit back to where the earlier one stood.
    """
    if [fact.kind for fact in given] != ["command_refused", "stray_light_began"]:
        return given
    denied = dataclasses.replace(event, command=ControlCommand(Control.NEGATE))
    after = [effect.fact.kind for effect in session.handle(denied) if isinstance(effect, Append)]
    assert after == ["stray_light_ended"]
    return given[:1]


@pytest.mark.parametrize("name", NAMES)
def test_the_same_events_give_the_same_facts(name, tmp_path):
    record = golden(name, tmp_path / "record")
    session = session_for(record)
    on_file = {}
    for item in record.facts:
        on_file.setdefault(item.event_seq, []).append(comparable(item.fact))
    for event, line in zip(record.events, record.event_lines, strict=True):
        if line == CODE_ASKED.get(name):
            assert session.snapshot.mode == "override_code"
            return
        given = [comparable(effect.fact) for effect in session.handle(event) if isinstance(effect, Append)]
        stated = on_file.get(line, [])
        given = without_stray_light(session, event, given)
        assert [fact.kind for fact in stated] == [fact.kind for fact in given], f"line {line + 1}"
        for one, other in zip(stated, given, strict=True):
            assert same_fact(one, other, older=True), f"line {line + 1}: {one} / {other}"
    assert session.snapshot.mode == "closed"


def words_in_pairs(one, other):
    """Every reason that form 1 kept in words, beside the code that is given now."""
    if isinstance(one, AsWritten):
        yield one.text, other
    elif isinstance(one, Grounds) and isinstance(one.ground, AsWritten):
        yield one.ground.text, other.ground
        assert (one.repeated, bool(one.alike)) == (other.repeated, bool(other.alike))
    elif isinstance(one, tuple):
        for pair in zip(one, other, strict=True):
            yield from words_in_pairs(*pair)
    elif dataclasses.is_dataclass(one):
        for item in dataclasses.fields(one):
            yield from words_in_pairs(getattr(one, item.name), getattr(other, item.name))


def words_of(reason):
    wording = Wording()
    if isinstance(reason, Grounds):
        return wording.reason(reason)
    if isinstance(reason, OpenItem):
        return wording.open_item(reason)
    assert isinstance(reason, Reason)
    return wording.refusal(reason) if isinstance(reason, RefusalReason) else wording.reason(reason)


def test_codes_say_what_was_said_before(tmp_path):
    compared = set()
    for name in NAMES:
        record = golden(name, tmp_path / name)
        session = session_for(record)
        on_file = {}
        for item in record.facts:
            on_file.setdefault(item.event_seq, []).append(item.fact)
        for event, line in zip(record.events, record.event_lines, strict=True):
            if line == CODE_ASKED.get(name):
                break
            given = [effect.fact for effect in session.handle(event) if isinstance(effect, Append)]
            given = without_stray_light(session, event, given)
            for one, other in zip(on_file.get(line, []), given, strict=True):
                if isinstance(one, LightStillOn):
                    continue  # cues hold no words; which are due has changed (`record.comparison`)
                for text, reason in words_in_pairs(one, other):
                    assert words_of(reason) == text, f"{name} line {line + 1}"
                    compared.add(text)
    assert len(compared) >= 6
