"""Real sessions on real journals: cut at every write and resumed, the visit ends with the same readings."""

import os
from functools import cache
from pathlib import Path

import pytest
from record_samples import START, wall
from ruamel.yaml import YAML

from handsfree.clock import ManualClock
from handsfree.export.choose import Form, export
from handsfree.model.effects import Append, Close
from handsfree.model.events import ClockTicked, CommandSpoken, SessionInterrupted, SessionStarted
from handsfree.procedure.loader import load_bundle
from handsfree.procedure.session import Session
from handsfree.record.journal import Journal
from handsfree.record.lines import RECORD_FILE
from handsfree.record.replay import differences
from handsfree.record.restore import restore
from handsfree.record.verify import State, verify
from handsfree.understanding.interpreter import interpret, typed

SCENARIOS = Path(__file__).resolve().parents[2] / "scripts" / "scenarios"
PROMPT_S = 2.0


@cache
def scenario(name):
    yaml = YAML(typ="safe", pure=True)
    yaml.version = (1, 2)
    script = yaml.load((SCENARIOS / f"{name}.yaml").read_text(encoding="utf-8"))
    return script["lines"], load_bundle(script["procedure"])


class Visit:
    """Types the lines of a rehearsal script into a session on a journal."""

    def __init__(self, name, folder):
        self.lines, self.bundle = scenario(name)
        self.folder = folder
        self.session = Session(self.bundle)
        self.now_s = 0.0
        self.closed = False
        self.hot = False
        self.strap_off = False

    def start(self):
        header = {"record_id": "visit", "procedure": self.bundle.procedure.id, "practice": True, "started": wall(0)}
        self.journal = Journal.create(self.folder, header, clock=ManualClock(START))
        self.handle(
            SessionStarted(
                at_s=0.0,
                wall=wall(0),
                local_offset_minutes=0,
                today="2026-11-25",
                record_id="visit",
                practice=True,
            )
        )
        return self

    def resume(self):
        self.journal, found = restore(self.folder, self.session.handle, clock=ManualClock(START))
        self.now_s = found.last_at_s
        self.handle(SessionInterrupted(at_s=self.now_s, wall=wall(self.now_s), gap_s=found.gap_s))
        return self

    def handle(self, event):
        effects = self.session.handle(event)
        if effects:
            self.journal.append(event, [effect for effect in effects if isinstance(effect, Append)])
        self.closed = self.closed or any(isinstance(effect, Close) for effect in effects)

    def wait(self, seconds):
        end_s = round(self.now_s + seconds, 3)
        while (deadline_s := self.session.next_deadline_s) is not None and deadline_s <= end_s and not self.closed:
            self.now_s = max(self.now_s, deadline_s)
            self.handle(ClockTicked(at_s=self.now_s, wall=wall(self.now_s)))
        self.now_s = end_s

    def say(self, text):
        heard = typed(text.replace(",", ""), self.session.wanted, self.now_s)
        assert heard is not None, (text, self.session.snapshot)
        command = interpret(heard, self.session.wanted)
        assert command is not None, text
        self.handle(
            CommandSpoken(at_s=self.now_s, wall=wall(self.now_s), command=command, heard=heard, probability=1.0)
        )

    def settle(self):
        while not self.closed and self.session.snapshot.read_back:
            self.wait(PROMPT_S)
            self.say("affirmative")

    def answer_mode(self):
        """Answer what the session asks beside the script: light, warmth, what follows a break. Whether it did."""
        snapshot = self.session.snapshot
        self.wait(0.4)
        answers = {
            "reconfirm": "affirmative",
            "warmth": "warm",
            "late_heat": "warm",
            "paused": "resume",
            "latched": "override",
            "override_role": "hand therapist",
            "override_reason": "settled after inspection",
        }
        if snapshot.mode in answers:
            self.say(answers[snapshot.mode])
        elif snapshot.mode == "lit":
            lit = next(zone for zone in snapshot.zones if zone.lit)
            if lit.id == "outer_edge" and not self.hot:
                self.wait(2)
                self.hot = True
                self.say("hot")
            else:
                self.wait(max(0.1, lit.target_s - lit.lit_s + 0.2))
                self.say("light off")
        elif snapshot.mode == "open_items":
            self.wait(max(0.0, (self.session.next_deadline_s or 0.0) - self.now_s) + 0.1)
        elif snapshot.step_id.startswith("expose"):
            strap_on = snapshot.step_id == "expose_strap" and "strap off first" in snapshot.prompt.lower()
            first = snapshot.step_id == "expose_strap" and not self.strap_off
            self.strap_off = self.strap_off or first
            self.say("strap off" if first or strap_on else "light on")
        else:
            return self.session.snapshot.mode != snapshot.mode  # the late question may come up in the pause
        return True

    def finish(self):
        """Say what the script has for the step at hand, until the session closes."""
        index = 0
        with self.journal:
            for _ in range(600):
                if self.closed:
                    break
                self.settle()
                if self.closed:
                    break
                if self.answer_mode():
                    continue
                step = self.session.snapshot.step_id
                index = next(
                    number
                    for number in [*range(index, len(self.lines)), *range(index)]
                    if self.lines[number]["after"] == step
                )
                line = self.lines[index]
                index += 1
                self.wait(line.get("wait_s", 0.4))
                if not self.closed:
                    self.say(line["say"])
        assert self.closed, self.session.snapshot
        return verify(self.folder)


def readings(record):
    """What stands at the end, by place."""
    return {
        (item.data["stage"], item.data["field"]): item.data["value"]
        for item in record.readings
        if item.superseded_by is None
    }


THOROUGH = "HANDSFREE_THOROUGH" in os.environ
"""Set it to cut the whole fitting at over 200 places instead of a few: ten minutes or so on a small machine."""


@pytest.mark.parametrize(
    ("name", "stride"),
    [("light-output-check", 1), ("neurovascular-check", 9), ("ulnar-fitting", 6 if THOROUGH else 121)],
)
def test_cut_at_every_write_the_visit_ends_with_the_same_readings(tmp_path, name, stride):
    whole = Visit(name, tmp_path / "whole").start().finish()
    assert whole.state is State.COMPLETE, whole.faults
    expected = readings(whole.record)
    assert len(expected) >= 5
    content = (tmp_path / "whole" / RECORD_FILE).read_bytes()
    ends = [index + 1 for index, byte in enumerate(content) if byte == 10]
    # After each line, so between and inside batches; and inside a line at places that differ from line to line.
    sizes = sorted({size for number, end in enumerate(ends[:-1]) for size in (end, end + 1 + 37 * number % 200)})[
        ::stride
    ]
    confirmed_after = {}
    for number, size in enumerate(sizes):
        folder = tmp_path / f"cut-{size}"
        folder.mkdir()
        (folder / RECORD_FILE).write_bytes(content[:size])
        before = verify(folder)
        assert before.state is State.INTERRUPTED
        visit = Visit(name, folder)
        if before.record.events == ():
            continue  # nothing had been said yet
        visit.resume()
        after = verify(folder)
        for place, value in readings(before.record).items():
            assert readings(after.record)[place] == value
        if THOROUGH or stride > 1 or number % 8 == 0 or size == sizes[-1]:
            if not after.record.sealed:
                after = visit.finish()
            assert after.state is State.COMPLETE, after.faults
            assert readings(after.record) == expected
            confirmed_after[size] = len(after.record.readings)
        visit.journal.close()
    assert len(sizes) * stride >= 90
    assert len(confirmed_after) >= 10


@pytest.mark.parametrize("name", ["neurovascular-check", "light-output-check"])
def test_a_visit_replays_to_itself_and_exports(tmp_path, name):
    record = Visit(name, tmp_path / "r").start().finish().record
    assert differences(record, Session(scenario(name)[1]).handle) == []
    bundle_model = pytest.importorskip("fhir.resources.R4B.bundle", reason="fhir.resources is a development tool")
    text = export(tmp_path / "r", Form.FHIR, allow_practice=True)
    assert bundle_model.Bundle.model_validate_json(text).type == "collection"
    assert export(tmp_path / "r", Form.NOTE).count("(entry ") >= len(readings(record))
