"""A person who works through a rehearsal script by typed lines, on a real session and a real journal."""

from functools import cache
from pathlib import Path

from record_samples import START, wall
from ruamel.yaml import YAML

from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.model.effects import Append, Close
from handsfree.model.events import ClockTicked, CommandSpoken, SessionInterrupted, SessionStarted
from handsfree.model.facts import ItemTaught, StepConfirmed
from handsfree.model.light import ZoneStanding
from handsfree.model.readings import value_text
from handsfree.record.contents import RecordHeader
from handsfree.record.journal import Journal
from handsfree.record.restore import restore
from handsfree.record.verify import verify
from handsfree.session.prompts.fixed import WayOn
from handsfree.session.session import Session
from handsfree.understanding.interpreter import interpret, typed

SCENARIOS = Path(__file__).resolve().parents[2] / "scripts" / "scenarios"
PROMPT_S = 2.0


@cache
def scenario(name):
    yaml = YAML(typ="safe", pure=True)
    yaml.version = (1, 2)
    script = yaml.load((SCENARIOS / f"{name}.yaml").read_text(encoding="utf-8"))
    return script["lines"], load_bundle(script["procedure"])


def start_of_visit():
    return SessionStarted(
        at_s=0.0, wall=wall(0), local_offset_minutes=0, today="2026-11-25", record_id="visit", practice=True
    )


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
        header = RecordHeader(
            record_id="visit",
            procedure=self.bundle.procedure.id,
            title=self.bundle.procedure.title,
            procedure_sha256=self.bundle.sha256,
            practice=True,
            versions={},
            build="test",
            started=wall(0),
        )
        self.journal = Journal.create(self.folder, header, clock=ManualClock(START))
        self.handle(start_of_visit())
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
            "held": "override" if WayOn.OVERRIDE in snapshot.ways else "correction",
            "misheard": "affirmative",
            "override_code": "sierra two",
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

    def work(self):
        """Say what the script has for the step at hand, until the session closes."""
        index = 0
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

    def finish(self):
        """Work until the record is closed."""
        with self.journal:
            self.work()
        return verify(self.folder)


class Mirror(Visit):
    """Works on no record of its own: gives the lines that are still to be typed into a real process."""

    def __init__(self, name, folder):
        super().__init__(name, folder)
        self.said = []

    def handle(self, event):
        self.closed = self.closed or any(isinstance(effect, Close) for effect in self.session.handle(event))

    def say(self, text):
        super().say(text)
        self.said.append(text.replace(",", ""))

    def rest(self):
        """Lines from where the record stands, as after a resumption."""
        record = verify(self.folder).record if self.folder.exists() else None
        events = record.events if record is not None else ()
        for event in events:
            self.handle(event)
        if events:
            self.now_s = events[-1].at_s
            self.handle(SessionInterrupted(at_s=self.now_s, wall=wall(self.now_s), gap_s=0.0))
        else:
            self.handle(start_of_visit())
        self.work()
        return self.said


def ending(record):
    """All that a visit leaves behind but its times: readings, confirmed steps, what was explained, how it closed."""
    steps = frozenset(item.fact.stage for item in record.of(StepConfirmed))
    taught = frozenset(item.fact.item for item in record.of(ItemTaught))
    zones = frozenset(zone.zone for zone in record.zones if zone.standing is not ZoneStanding.SHORT)
    return readings(record), steps, taught, zones, record.closing.fact.outcome, record.open_items


def readings(record):
    """What stands at the end, by place."""
    return {
        (item.stands.stage, item.stands.field): value_text(item.stands.value)
        for item in record.readings
        if item.superseded_by is None
    }
