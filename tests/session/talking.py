"""People who speak to a session without sound: commands in, effects out, time by hand."""

import datetime
from decimal import Decimal

from procedure_files import DEVICE, LIGHT, PROCEDURE, write_files

from handsfree.definition.loader import load_bundle
from handsfree.definition.value_checking import days_of
from handsfree.model.commands import Control, ControlCommand, DictateText, GiveValues, SlotValue
from handsfree.model.effects import Append, Close, PlayEarcon, Say
from handsfree.model.events import (
    ClockTicked,
    CommandDoubted,
    CommandSpoken,
    RejectionReason,
    SessionInterrupted,
    SessionStarted,
    SoundLost,
    SoundReturned,
    SpeechRejected,
    ToneHeard,
)
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Exact, Option, Side, SpelledText, SpokenDate
from handsfree.session.session import Session

TODAY = "2026-11-25"
WORD_S = 0.4
"""How long a command is spoken."""
LATE_S = 0.6
"""How long after its end it is recognised."""


def wall_at(now_s, today=TODAY):
    """The stamp of a session time: the visit began at nine in the morning, UTC."""
    began = datetime.datetime.fromisoformat(f"{today}T09:00:00+00:00")
    return f"{began + datetime.timedelta(seconds=now_s):%Y-%m-%dT%H:%M:%S.000Z}"


def value_of(value):
    """A short form of a spoken value: Decimal as a number, "#A4" as a code, a date, else an option."""
    if isinstance(value, str):
        return SpelledText(value[1:]) if value.startswith("#") else Option(value)
    if isinstance(value, int | Decimal):
        number = Decimal(value)
        return Exact(number, max(0, -number.as_tuple().exponent))
    if isinstance(value, datetime.date):
        return SpokenDate(value, month_only=False)
    return value


class Talk:
    """One session and everything that came of it."""

    def __init__(self, bundle, *, practice=False, today=TODAY, **session):
        self.bundle = bundle
        # Well enough to stand, where findings may.
        self.probability = 0.97 if session.get("going_on") else 0.9
        self.session = Session(bundle, **session)
        self.now_s = 0.0
        self.events = []
        self.history = []
        self.effects = ()
        self.send(
            SessionStarted(
                at_s=0.0,
                wall=wall_at(0.0, today),
                local_offset_minutes=0,
                today=today,
                record_id="record-1",
                practice=practice,
            )
        )

    def send(self, event):
        """Hand one event over; keeps what came of it."""
        self.events.append(event)
        self.effects = self.session.handle(event)
        self.history.append(self.effects)
        return self.effects

    def speak(self, command, *, doubted=False, words="words", begun_s=None):
        """Speak a command; it arrives `LATE_S` after its last word. It may have begun before a pause."""
        from_s = self.now_s if begun_s is None else begun_s
        heard = Hypothesis(tuple(words.split()), (), from_s, self.now_s + WORD_S, "test")
        self.now_s += WORD_S + LATE_S
        kind = CommandDoubted if doubted else CommandSpoken
        at = {"at_s": self.now_s, "wall": wall_at(self.now_s)}
        return self.send(kind(**at, command=command, heard=heard, probability=self.probability))

    def say(self, control, *, doubted=False):
        """Speak a control, by its value ("light_on")."""
        control = Control(control)
        return self.speak(ControlCommand(control), doubted=doubted, words=control.value.replace("_", " "))

    def give(self, *, on_side=None, doubted=False, begun_s=None, **values):
        """Speak values."""
        given = tuple(SlotValue(slot, value_of(value), on_side) for slot, value in values.items())
        return self.speak(GiveValues(given), doubted=doubted, begun_s=begun_s)

    def dictate(self, text):
        """Speak free text."""
        return self.speak(DictateText(text), words=text)

    def reject(self, reason=RejectionReason.NOT_UNDERSTOOD):
        """Speak so that nothing is taken."""
        return self.send(SpeechRejected(at_s=self.now_s, wall=wall_at(self.now_s), reason=reason))

    def wait(self, seconds):
        """Let time pass, with a tick at every deadline that the session names."""
        end_s = self.now_s + seconds
        for _ in range(2000):
            due_s = self.session.next_deadline_s
            if due_s is None or due_s > end_s:
                break
            before_s = self.now_s
            self.now_s = max(self.now_s, due_s)
            self.send(ClockTicked(at_s=self.now_s, wall=wall_at(self.now_s)))
            if self.session.next_deadline_s == due_s and before_s == self.now_s:
                break
        self.now_s = end_s

    def lose(self, what="microphone"):
        """The sound device goes away."""
        return self.send(SoundLost(at_s=self.now_s, wall=wall_at(self.now_s), what=what))

    def find(self, what="microphone"):
        """The sound device is back."""
        return self.send(SoundReturned(at_s=self.now_s, wall=wall_at(self.now_s), what=what))

    def beep(self):
        """The lamp beeps for a fifth of a second, and is heard a little later."""
        from_s, self.now_s = self.now_s, self.now_s + 0.5
        return self.send(ToneHeard(at_s=self.now_s, wall=wall_at(self.now_s), from_s=from_s, to_s=from_s + 0.2))

    def crash(self, gap_s=30.0):
        """The program ended and came back."""
        return self.send(SessionInterrupted(at_s=self.now_s, wall=wall_at(self.now_s), gap_s=gap_s))

    @property
    def at(self):
        """Step with side."""
        return self.session.step_id

    @property
    def mode(self):
        """What the session is doing."""
        return self.session.mode

    @property
    def said(self):
        """What the last event made the tool say."""
        return " ".join(effect.text for effect in self.effects if isinstance(effect, Say))

    @property
    def kinds(self):
        """Kinds of the facts of the last event."""
        return [effect.fact.kind for effect in self.effects if isinstance(effect, Append)]

    @property
    def earcons(self):
        """Short sounds of the last event."""
        return [effect.earcon for effect in self.effects if isinstance(effect, PlayEarcon)]

    @property
    def outcome(self):
        """How it closed, or None."""
        closes = [effect.outcome for effects in self.history for effect in effects if isinstance(effect, Close)]
        assert len(closes) <= 1
        return closes[0] if closes else None

    def facts(self, kind):
        """All facts of a kind so far."""
        return [
            effect.fact
            for effects in self.history
            for effect in effects
            if isinstance(effect, Append) and effect.fact.kind == kind
        ]

    def step(self):
        """The step of the file at which the session stands."""
        return next(step for step in self.bundle.procedure.steps if step.id == self.at.partition("@")[0])

    def affirm(self):
        """Say "affirmative"."""
        return self.say("affirm")

    def override(self):
        """Override, by the first role and the first reason that the file permits, with a code where it asks for one."""
        self.say("override")
        self.give(role=self._permitted(self.bundle.procedure.roles))
        self.give(reason=self._permitted(self.bundle.procedure.override_reasons))
        if self.mode == "override_code":
            self.give(code="#S2")
        return self.affirm()

    def _permitted(self, listed):
        able = self.session.snapshot.may_answer
        return next((code for code, phrases in listed.items() if phrases[0] in able), next(iter(listed)))

    def light(self, seconds):
        """Light on, and off after some seconds, counted between the words."""
        self.say("light_on")
        self.wait(seconds - LATE_S)
        return self.say("light_off")

    def answer(self):
        """Do what is wanted now, in the way that flags nothing."""
        match self.mode:
            case "reading_back" | "checking" | "reconfirm" | "doubting" | "override_confirm":
                self.affirm()
            case "warmth" | "late_heat":
                self.give(warmth="cool")
            case "paused":
                self.say("resume")
            case "noting":
                self.say("end_note")
            case "held":
                self.override()
            case "lit" | "stray":
                self.say("light_off")
            case "cried" | "skip_reason" | "override_role" | "override_reason":
                self.say("negate")
            case "open_items":
                self.wait(130)
            case _:
                self._answer_step()

    def _answer_step(self):
        step = self.step()
        if self.session.wanted.narration is not None:
            self._narrate_step(step)
        elif step.kind == "expose":
            if step.zones == "strap":
                self.say("strap_off")
            zone = next((zone for zone in self.session.snapshot.zones if zone.lit_s < zone.target_s), None)
            self.light(zone.target_s - zone.lit_s + 0.1 if zone is not None else 1.0)
        elif not self.session.wanted.slots and "affirm" not in self.session.wanted.controls:
            self.say("next_step")
        elif not self.session.wanted.slots:
            self.affirm()
        else:
            missing = {slot.slot for slot in self.session.wanted.slots}
            self.give(**{field.id: self.good(step, field) for field in step.fields if field.id in missing})

    def _narrate_step(self, step):
        """Answer what the tool asks, or narrate what is open of the step that was spoken of last; else go on."""
        state = self.session._state
        open_ = [field for field in step.fields if field.id not in state.answers.get(state.place, {})]
        part = self.at.partition("@")[2]
        side = "" if part.isdecimal() else part
        if step.kind in {"teach", "confirm"} and Control.AFFIRM in self.session.wanted.controls:
            self.affirm()
        elif state.place in state.done or (not step.fields and not step.reported) or not (open_ or step.reported):
            self.say("next_step")
        elif step.reported:
            self.give(**{f"{step.id}.": "done"})
        else:
            given = {f"{step.id}.{field.id}": self.good(step, field) for field in open_}
            self.give(on_side=Side(side) if side else None, **given)

    def good(self, step, field):
        """A value that nothing in the files flags."""
        if field.options is not None:
            classed = {*field.stop, *field.amber, *field.red}
            return next((value for value in field.options if value not in classed), next(iter(field.options)))
        if f"{step.id}.{field.id}" == self.bundle.procedure.patient_from:
            return "#DEMO0001"
        if field.identifier is not None:
            return "#A4"
        if field.date is not None:
            earliest, latest = days_of(field.date, datetime.date.fromisoformat(TODAY))
            return min(max(datetime.date(2027, 11, 30), earliest or datetime.date.min), latest or datetime.date.max)
        if field.number.band is not None:
            return self.bundle.device.bands[field.number.band].confirm_from
        if step.size_from is not None:
            return self.bundle.device.size_chart.rows[0].from_
        return field.number.low

    def go_to(self, step_id):
        """Answer until a step is reached; its own read-back and questions are not answered."""
        for _ in range(400):
            if self.at == step_id and self.mode == "asking":
                return self
            assert self.outcome is None, f"closed before {step_id}"
            self.answer()
        raise AssertionError(f"{step_id} was not reached: {self.at} {self.mode} {self.said}")

    def finish(self):
        """Answer until the record closes."""
        for _ in range(400):
            if self.outcome is not None:
                return self
            self.answer()
        raise AssertionError(f"did not close: {self.at} {self.mode} {self.said} {self.session.open_items}")


TONE = "tone: {frequency_hz: 2700, duration_s: 0.2, tolerance_hz: 25, tolerance_s: 0.07"


def talk_of(folder, tone="", device=DEVICE, procedure=PROCEDURE, **session):
    """A session whose lamp beeps as `tone` says; None for a lamp without a tone."""
    light = LIGHT + (f"{TONE}{tone}}}\n" if tone is not None else "")
    return Talk(load_bundle(str(write_files(folder, procedure=procedure, device=device, light=light))), **session)


def lit_s(talk, zone):
    """Seconds of light of a zone as the screen shows them."""
    return next(view.lit_s for view in talk.session.snapshot.zones if view.id == zone)
