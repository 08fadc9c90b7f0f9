"""Replay compares facts and codes: wording may change, everything else may not."""

import re
import shutil
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from record_samples import exact, heard, refill, said, wall
from record_visits import Visit

import handsfree
from handsfree.model.commands import Control, ControlCommand, GiveValues, SlotValue
from handsfree.model.events import CommandSpoken
from handsfree.model.facts import (
    CloseRefused,
    CommandRefused,
    DoubtSettled,
    HoldSet,
    LightStillOn,
    ReadingConfirmed,
    ReadingRefused,
    SaidAgain,
    StepReviewed,
)
from handsfree.model.open_items import OpenHold, OpenStep, OpenZone
from handsfree.model.readings import HowToSay, Refused, Side, Timing
from handsfree.model.reasons import AsWritten, Grounds, OverLimit, Severity, UnderLimit
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.record.comparison import same_fact
from handsfree.record.verify import RecordState, verify

OVER = OverLimit("refill", Decimal(2))
READING: ReadingConfirmed = refill("2.5", Side.LEFT, Timing.AFTER, severity=Severity.AMBER, grounds=Grounds(OVER)).fact
REFUSED = ReadingRefused(stage="a", field="f", reason=Refusal(RefusalCode.NOT_NOW), heard=said())


@pytest.mark.parametrize("fact", [READING, REFUSED, SaidAgain(stage="a"), LightStillOn(zone="z", at_s=1.0, cues=())])
def test_a_fact_is_the_same_as_itself(fact):
    assert same_fact(fact, replace(fact))


@pytest.mark.parametrize(
    "change",
    [
        {"value": exact("2.6")},
        {"value": exact("2.50")},
        {"side": Side.RIGHT},
        {"severity": Severity.RED},
        {"grounds": None},
        {"grounds": Grounds(OVER, repeated=True)},
        {"grounds": Grounds(OVER, alike="look")},
        {"grounds": Grounds(UnderLimit("refill", Decimal(2)))},
        {"grounds": Grounds(OverLimit("refill", Decimal(3)))},
        {"asked": True},
        {"heard": said("two")},
        {"stage": "b"},
    ],
)
def test_any_other_member_makes_another_fact(change):
    for older in (False, True):
        assert not same_fact(READING, replace(READING, **change), older=older)
        assert not same_fact(replace(READING, **change), READING, older=older)


def test_facts_of_two_kinds_differ():
    assert not same_fact(SaidAgain(stage="a"), StepReviewed(stage="a"))


@pytest.mark.parametrize("role", ["injured", "other"])
def test_a_stage_by_the_role_of_its_side_is_the_stage_by_either_side(role):
    on_file = SaidAgain(stage=f"pulse@{role}")
    assert all(same_fact(on_file, SaidAgain(stage=f"pulse@{side}")) for side in ("left", "right", role))
    assert not any(same_fact(on_file, SaidAgain(stage=stage)) for stage in ("pulse", "skin@left", "pulse@both"))
    assert not same_fact(SaidAgain(stage="pulse@left"), SaidAgain(stage="pulse@right"))


def test_a_reason_in_words_equals_any_reason_but_no_reason_is_none():
    words = replace(READING, grounds=Grounds(AsWritten("refill is over two")))
    assert same_fact(words, READING)
    assert same_fact(words, replace(words, grounds=Grounds(AsWritten("refill lies over two"))))
    assert not same_fact(words, replace(READING, grounds=None))
    assert not same_fact(words, replace(READING, grounds=Grounds(OVER, repeated=True)))
    assert same_fact(replace(REFUSED, reason=AsWritten("Not now.")), REFUSED)
    assert not same_fact(replace(REFUSED, reason=AsWritten("Not now."), stage="b"), REFUSED)
    held = HoldSet(hold="red", stage="a", grounds=Grounds(AsWritten("hot")))
    assert same_fact(held, replace(held, grounds=Grounds(OVER)))
    assert not same_fact(held, replace(held, hold="stop"))


def test_open_items_are_compared_one_by_one():
    written = CloseRefused(open_items=(OpenHold(Grounds(AsWritten("hot"))), OpenStep("a")))
    assert same_fact(written, CloseRefused(open_items=(OpenHold(Grounds(OVER)), OpenStep("a"))))
    assert not same_fact(written, CloseRefused(open_items=(OpenHold(Grounds(OVER)), OpenStep("b"))))
    assert not same_fact(written, CloseRefused(open_items=(OpenHold(Grounds(OVER)),)))


def test_what_an_older_form_did_not_write_is_not_compared_there():
    bare = CommandRefused(reason=Refusal(RefusalCode.NOT_NOW), stage="a", command=None, heard=None)
    full = replace(bare, command="skip", heard=said())
    assert same_fact(bare, full, older=True)
    assert not same_fact(bare, full)
    assert not same_fact(full, bare, older=True)
    assert not same_fact(replace(bare, command="help"), full, older=True)
    assert same_fact(replace(REFUSED, heard=None), REFUSED, older=True)
    assert not same_fact(replace(REFUSED, heard=None), REFUSED)
    settled = DoubtSettled(right=False, words="cool", heard=None)
    assert same_fact(settled, replace(settled, heard=said()), older=True)
    named = CloseRefused(open_items=(OpenZone("fracture_side", "fracture side"),))
    unnamed = CloseRefused(open_items=(OpenZone("", "fracture side"),))
    assert same_fact(unnamed, named, older=True)
    assert not same_fact(unnamed, named)
    assert not same_fact(unnamed, CloseRefused(open_items=(OpenZone("x", "outer edge"),)), older=True)


def test_rewording_every_sentence_leaves_an_interrupted_record_resumable(tmp_path):
    visit = Visit("neurovascular-check", tmp_path / "r").start()
    said_so = heard("same as before", 1.0)
    copied = GiveValues((SlotValue("kind", Refused(HowToSay.NO_EARLIER_VALUE)),))
    for at_s, command in ((1.0, copied), (2.0, ControlCommand(Control.STRAP_OFF)), (3.0, ControlCommand(Control.SKIP))):
        visit.handle(CommandSpoken(at_s=at_s, wall=wall(at_s), command=command, heard=said_so, probability=1.0))
    visit.now_s = 3.0
    visit.say("practice session")
    visit.journal.close()
    before = verify(tmp_path / "r")
    assert before.state is RecordState.INTERRUPTED
    assert len(before.record.of(ReadingRefused)) == 1
    assert len(before.record.of(CommandRefused)) == 2
    package = Path(handsfree.__file__).parent
    copy = Path(
        shutil.copytree(package, tmp_path / "other" / "handsfree", ignore=shutil.ignore_patterns("__pycache__"))
    )
    shutil.copytree(package.parent / "grammars", tmp_path / "other" / "grammars")
    sentences = copy / "session" / "prompts" / "en-US.toml"
    text = sentences.read_text(encoding="utf-8")
    changed = re.sub(r'^(\S+ = ")', r"\1reworded ", text, flags=re.MULTILINE)
    assert changed.count("reworded") > 20
    sentences.write_text(changed, encoding="utf-8")
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "handsfree",
            "run",
            "neurovascular-check",
            "--typed",
            "--resume",
            "--record",
            tmp_path / "r",
        ],
        input="",
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        cwd=tmp_path / "other",
        env={"PYTHONPATH": str(tmp_path / "other"), "PATH": "/usr/bin:/bin", "HOME": str(tmp_path)},
    )
    assert done.returncode == 0, done.stderr
    after = verify(tmp_path / "r")
    assert len(after.record.interruptions) == 1
    assert after.record.facts[: len(before.record.facts)] == before.record.facts
