"""Whole visits on record: the rehearsal scripts, by their meaning, with a tone as the sound where wanted.

No grammar is compiled: lines become commands by the script's own "means", or by the phrases that the session offers.
Only where a record must replay are its words understood as well (`understood`).
"""

from array import array
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from math import pi, sin
from pathlib import Path
from re import sub

from ruamel.yaml import YAML

from handsfree.application.opening import open_session
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.model.commands import (
    Control,
    ControlCommand,
    DateSlot,
    DictateText,
    GiveValues,
    IdentifierSlot,
    NumberSlot,
    OptionSlot,
    SlotValue,
)
from handsfree.model.events import CommandSpoken
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Exact, Option, SpelledText, SpokenDate
from handsfree.stamps import stamp
from handsfree.understanding.interpreter import interpret, typed

SCENARIOS = Path(__file__).resolve().parents[2] / "scripts" / "scenarios"
START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
PROMPT_S = 2.0
CUE_S = 0.7
"""How long the tool takes to say a cue of two words; nobody answers before its end."""
RATE_HZ = 16_000


def tone(hertz, seconds=0.3):
    """16-bit mono samples."""
    samples = array("h", (int(8000 * sin(2 * pi * hertz * n / RATE_HZ)) for n in range(int(RATE_HZ * seconds))))
    return samples.tobytes()


def value_of(slot, meant, text):
    """A value for a slot: what the script says it means, or the option whose phrase was said."""
    match slot:
        case OptionSlot(options=options):
            chosen = [one.value for one in options if one.value == meant or text in one.phrases]
            return Option(chosen[0]) if chosen else None
        case NumberSlot() if meant is not None:
            return Exact(Decimal(meant), max(0, -Decimal(meant).as_tuple().exponent))
        case IdentifierSlot() if meant is not None:
            return SpelledText(meant)
        case DateSlot(month_only=month_only) if meant is not None:
            return SpokenDate(date.fromisoformat(meant), month_only)
    return None


class Said:
    """Takes down what the session says."""

    def __init__(self):
        self.prompts = []

    def say(self, text, priority, heard_out=0):
        self.prompts.append(text)

    def earcon(self, earcon):
        pass

    def heard(self, hypothesis, outcome, probability):
        pass

    def show(self, snapshot):
        pass


class Typist:
    """Types into a session on a record, at counted times."""

    def __init__(self, procedure, folder, *, practice=True, clips=False, patient=None, understood=False, **more):
        self.clock = ManualClock(START)
        self.outputs = Said()
        self.bundle = load_bundle(procedure)
        self.clips = clips
        self.understood = understood
        self.count = 0
        self.runner, self.journal = open_session(
            self.bundle,
            folder,
            self.clock,
            self.outputs,
            practice=practice,
            engine="typed",
            keep_clips=clips,
            patient_reference=patient,
            **more,
        )
        self.heard_before = 0

    @property
    def session(self):
        return self.runner.session

    def wait(self, seconds):
        end_s = self.clock.monotonic_s() + seconds
        while (deadline_s := self.session.next_deadline_s) is not None and deadline_s <= end_s:
            self.clock.sleep_until(deadline_s)
            self.runner.tick()
        self.clock.sleep_until(end_s)

    def wait_for(self, words):
        for _ in range(600):
            if any(words.lower() in said.lower() for said in self.outputs.prompts[self.heard_before :]):
                self.wait(CUE_S)
                return
            self.wait(0.1)
        raise AssertionError(f"never said: {words}")

    def say(self, text, means=()):
        self.heard_before = len(self.outputs.prompts)
        self.count += 1
        now_s = self.clock.monotonic_s()
        words = tuple(text.replace(",", "").split())
        clip = tone(200 + 10 * self.count) if self.clips else None
        heard = Hypothesis(words, (), now_s, now_s, "typed", clip=clip)
        if self.understood:
            heard = replace(typed(text.replace(",", ""), self.session.wanted, now_s), clip=clip)
            command = interpret(heard, self.session.wanted)
        else:
            command = self.meant(text, dict(means))
        self.runner.dispatch(
            CommandSpoken(
                at_s=now_s,
                wall=stamp(self.clock.wall()),
                command=command,
                heard=heard,
                probability=1.0,
            )
        )

    def meant(self, text, means):
        wanted = self.session.wanted
        control = {"affirmative": "affirm"}.get(text, text.replace(" ", "_"))
        if control in {one.value for one in wanted.all_controls}:
            return ControlCommand(Control(control))
        if wanted.dictation:
            return DictateText(text)
        lead = "override" if wanted.overriding and text.startswith("override, ") else ""
        # Where both hands are read back, the script names the hand; the slots of one hand do not.
        means = {sub("@[a-z]+", "", name): value for name, value in means.items()}
        # In one breath with a question's own values stand those of the next one, by the name of its step.
        own = f"{self.session.snapshot.step_id.partition('@')[0]}."
        names = sorted(means, key=lambda name: name.startswith(own))
        given = {name.partition(".")[2]: means[name] for name in names} | means
        slots = wanted.overriding if lead else wanted.slots
        found = [SlotValue(slot.slot, value_of(slot, given.get(slot.slot), text)) for slot in slots]
        found = [one for one in found if one.value is not None]
        assert found, (text, self.session.snapshot)
        assert len(found) >= len(means), (text, found)
        return GiveValues(tuple(found), lead)

    def settle(self):
        while not self.runner.closed and self.session.snapshot.read_back:
            self.wait(PROMPT_S)
            self.say("affirmative")

    def play(self, script):
        standing = {line["after"]: line["say"] for line in script.get("whenever", ())}
        for line in script["lines"]:
            self.settle()
            if self.session.snapshot.step_id in standing:
                self.say(standing[self.session.snapshot.step_id])
            if "hears" in line:
                self.wait_for(line["hears"])
            self.wait(line.get("wait_s", 0.4))
            self.say(line["say"], line.get("means", {}))
        self.settle()
        while not self.runner.closed and (deadline_s := self.session.next_deadline_s) is not None:
            self.wait(deadline_s - self.clock.monotonic_s())
            if self.session.snapshot.step_id in standing:
                self.say(standing[self.session.snapshot.step_id])
        return self


def script(name):
    yaml = YAML(typ="safe", pure=True)
    yaml.version = (1, 2)
    return yaml.load((SCENARIOS / f"{name}.yaml").read_text(encoding="utf-8"))


def rehearsed(name, folder, **how):
    """A script played to its end; gives what the session said."""
    lines = script(name)
    typist = Typist(lines["procedure"], folder, **how)
    with typist.journal:
        typist.play(lines)
    assert typist.runner.outcome.startswith("completed")
    return typist


LIGHT_CODE = {"light_code.code": "L3"}
LOW = {"condition.window": "clean", "condition.battery": "low", "condition.cable": "intact"}


def ended_early(folder, **how):
    """A light check with a note, broken off: open items and an unverified note are left."""
    typist = Typist("light-output-check", folder, practice=False, patient="DEMO-0001", **how)
    with typist.journal:
        for words, means in (
            ("live session", {}),
            ("lima three", LIGHT_CODE),
            ("affirmative", {}),
            ("take note", {}),
            ("cable tie is missing", {}),
            ("end note", {}),
            ("window clean, battery running low, cable intact", LOW),
            ("affirmative", {}),
            ("stop", {}),
            ("override", {}),
            ("cast technician", {}),
            ("technical decision", {}),
            ("affirmative", {}),
        ):
            typist.wait(2)
            typist.say(words, means)
    assert typist.runner.outcome == "stopped", typist.outputs.prompts[-3:]
    return typist
