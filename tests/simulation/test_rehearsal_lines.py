"""Lines of a rehearsal that the session has gone past. Behaviour of our own; no outside source."""

from types import SimpleNamespace

import pytest

from handsfree.errors import ScriptError
from handsfree.model.commands import Control
from handsfree.simulation.rehearsal import Rehearsal
from handsfree.simulation.script import ScriptLine


class _Scene:
    """A session that is done with the light after one run, and closes after the last step."""

    def __init__(self):
        self.said = []
        self.utterances = 0
        self.now_s = 0.0
        self.outputs = SimpleNamespace(spoken_s=0.0)
        snapshot = SimpleNamespace(step_id="light", doubted=None, read_back=None, prompt="", mode="asking", section="")
        session = SimpleNamespace(snapshot=snapshot, next_deadline_s=None, timers_end_s=0.0)
        self.runner = SimpleNamespace(session=session, closed=False, outcome=None, wanted=SimpleNamespace(slots=()))

    def listen_until_quiet(self):
        pass

    def listen_s(self, seconds):
        pass

    def speak(self, who, text, note=""):
        self.said.append(text)
        if text == "light on":
            self.runner.session.snapshot.step_id = "skin"
        elif text == "skin intact":
            self.runner.closed, self.runner.outcome = True, "completed"
        return True


def _script():
    lines = [
        ScriptLine(after="light", who="a", say="light on"),
        ScriptLine(after="light", who="a", say="light on again"),
    ]
    lines.append(ScriptLine(after="skin", who="a", say="skin intact"))
    return SimpleNamespace(procedure="mine.yaml", lines=lines, whenever=[], voices={"a": None})


def test_a_line_for_a_step_that_was_left_is_left_out_where_that_is_asked_for():
    scene = _Scene()
    assert Rehearsal(_script(), scene, real_time=True).run().outcome == "completed"
    assert scene.said == ["light on", "skin intact"]


class _LampScene(_Scene):
    """A zone whose light in real time was too short by a moment: it asks for light again, once."""

    def __init__(self, runs):
        super().__init__()
        self.runs = runs
        self.runner.wanted = SimpleNamespace(slots=(), controls={Control.LIGHT_ON})

    def listen_for(self, words, seconds):
        return True

    def speak(self, who, text, note=""):
        super().speak(who, text)
        done = text == "warm" and self.said.count("light on") == self.runs
        self.runner.session.snapshot.step_id = "skin" if done else "light"
        return True


def _lamp_script():
    lines = [
        ScriptLine(after="light", who="a", say="light on"),
        ScriptLine(after="light", who="a", say="light off", hears="light off"),
        ScriptLine(after="light", who="a", say="warm"),
        ScriptLine(after="skin", who="a", say="skin intact"),
    ]
    return SimpleNamespace(procedure="mine.yaml", lines=lines, whenever=[], voices={"a": None})


def test_a_run_of_light_is_said_once_more_where_light_is_asked_for_again():
    scene = _LampScene(2)
    assert Rehearsal(_lamp_script(), scene, real_time=True).run().outcome == "completed"
    assert scene.said == ["light on", "light off", "warm"] * 2 + ["skin intact"]


def test_a_zone_that_never_has_enough_light_fails_the_rehearsal():
    with pytest.raises(ScriptError, match="line 4 waits for step skin, but the session is at light"):
        Rehearsal(_lamp_script(), _LampScene(99), real_time=True).run()


def test_where_time_is_counted_no_run_of_light_is_added():
    scene = _LampScene(2)
    with pytest.raises(ScriptError, match="line 4 waits for step skin"):
        Rehearsal(_lamp_script(), scene).run()
    assert scene.said.count("light on") == 1


def test_else_such_a_line_is_a_fault_of_the_script():
    with pytest.raises(ScriptError, match="line 2 waits for step light, but the session is at skin"):
        Rehearsal(_script(), _Scene()).run()


def test_what_was_not_understood_is_told_with_what_the_session_said_to_it():
    scene = _Scene()
    scene.runner.session.snapshot.prompt = "Say it digit by digit."
    scene.speak = lambda who, text, note="": False
    with pytest.raises(ScriptError, match=r'line 1: "light on" was not understood .* said: Say it digit by digit'):
        Rehearsal(_script(), scene).run()


def test_a_meaning_that_is_never_read_back_is_told_with_what_was():
    scene = _Scene()
    scene.runner.session.snapshot.prompt = "pain three. Correct?"
    scene.speak = lambda who, text, note="": scene.said.append(text) or True
    scene.listen_until_quiet = lambda: (
        scene.said and vars(scene.runner.session.snapshot).update(read_back={"pain.score": "3"})
    )
    lines = [ScriptLine(after="light", who="a", say="three", means={"pain.score": "4"})]
    script = SimpleNamespace(procedure="mine.yaml", lines=lines, whenever=[], voices={"a": None})
    with pytest.raises(ScriptError, match=r"Correct\?; pain.score was read back as 3, and means says 4"):
        Rehearsal(script, scene).run()


class _CryScene(_Scene):
    """Whatever is said first is taken for what may be a cry, and it is asked whether it was one."""

    def speak(self, who, text, note=""):
        snapshot = self.runner.session.snapshot
        snapshot.mode = "cried" if not self.said else "asking"
        self.said.append(text)
        if text in ("affirmative", "negative"):
            self.runner.closed, self.runner.outcome = True, "completed"
        return True


@pytest.mark.parametrize(
    ("said", "answer"), [("hot", "affirmative"), ("it burns", "affirmative"), ("light off", "negative")]
)
def test_whether_a_cry_was_heat_is_answered_by_what_was_said(said, answer):
    scene = _CryScene()
    lines = [ScriptLine(after="light", who="patient", say=said), ScriptLine(after="light", who="a", say="light on")]
    script = SimpleNamespace(procedure="mine.yaml", lines=lines, whenever=[], voices={"a": None, "patient": None})
    assert Rehearsal(script, scene).run().outcome == "completed"
    assert scene.said == [said, answer]


def test_what_leaves_something_open_is_not_said_for_ever():
    scene = _Scene()
    scene.runner.session.snapshot.prompt = "Still missing: liner."
    scene.speak = lambda who, text, note="": scene.said.append(text) or True
    lines = [
        ScriptLine(after="light", who="a", say="shell whole"),
        ScriptLine(after="skin", who="a", say="skin intact"),
    ]
    script = SimpleNamespace(procedure="mine.yaml", lines=lines, whenever=[], voices={"a": None})
    with pytest.raises(ScriptError, match="line 2 waits for step skin, but the session is at light: Still missing"):
        Rehearsal(script, scene).run()
    assert scene.said == ["shell whole"] * 6


class _HoldScene(_Scene):
    """Reads back what is said first, holds the visit once it was affirmed, and closes after a correction."""

    def speak(self, who, text, note=""):
        snapshot = self.runner.session.snapshot
        self.said.append(text)
        if text == "shell cracked":
            snapshot.read_back = {"light.shell": "cracked"}
        elif text.startswith("correction,"):
            self.runner.closed, self.runner.outcome = True, "completed"
        else:
            snapshot.read_back = {}
        return True


@pytest.mark.parametrize(
    ("means", "said"),
    [
        ({"light.shell": "cracked"}, ["shell cracked", "affirmative", "correction, shell whole"]),
        ({}, ["shell cracked", "correction, shell whole"]),
    ],
)
def test_a_correction_in_one_breath_comes_behind_the_read_back_of_what_was_meant(means, said):
    scene = _HoldScene()
    lines = [
        ScriptLine(after="light", who="a", say="shell cracked", means=means),
        ScriptLine(after="light", who="a", say="correction, shell whole"),
    ]
    script = SimpleNamespace(procedure="mine.yaml", lines=lines, whenever=[], voices={"a": None})
    assert Rehearsal(script, scene).run().outcome == "completed"
    assert scene.said == said


@pytest.mark.parametrize(("timers_end_s", "longest_s"), [(0.0, 120.0), (300.0, 420.0)])
def test_who_waits_for_words_waits_for_the_timers_that_run(timers_end_s, longest_s):
    scene = _Scene()
    scene.runner.session.timers_end_s = timers_end_s
    waited = []
    scene.listen_for = lambda words, seconds: waited.append(seconds) or False
    lines = [ScriptLine(after="light", who="a", say="light on", hears="five minutes are over")]
    script = SimpleNamespace(procedure="mine.yaml", lines=lines, whenever=[], voices={"a": None})
    with pytest.raises(ScriptError, match=f'did not say "five minutes are over" within {longest_s:.0f} s'):
        Rehearsal(script, scene).run()
    assert waited == [longest_s]


class _PartsScene(_Scene):
    """Takes nothing that is said in one breath, and doubts each part of it; the first doubt is about other words."""

    def __init__(self):
        super().__init__()
        self.doubts = {"liner clean": ["liner green", "liner clean"], "loops frayed": ["loops frayed"]}
        self.taken = []

    def speak(self, who, text, note=""):
        snapshot = self.runner.session.snapshot
        self.said.append(text)
        if text in ("affirmative", "negative"):
            if text == "affirmative":
                self.taken.append(snapshot.doubted)
            snapshot.doubted = None
            if self.taken == ["liner clean", "loops frayed"]:
                self.runner.closed, self.runner.outcome = True, "completed"
        elif text in self.doubts:
            assert snapshot.doubted is None
            snapshot.doubted = self.doubts[text].pop(0)
        else:
            return False
        return True


def test_what_is_doubted_of_a_line_is_held_against_the_part_that_was_said():
    scene = _PartsScene()
    lines = [ScriptLine(after="light", who="a", say="liner clean, loops frayed", wait_s=6)]
    script = SimpleNamespace(procedure="mine.yaml", lines=lines, whenever=[], voices={"a": None})
    assert Rehearsal(script, scene).run().outcome == "completed"
    whole = "liner clean, loops frayed"
    first = ["liner clean", "negative", "liner clean", "affirmative"]
    assert scene.said == [whole, whole, *first, "loops frayed", "affirmative"]


def test_what_a_line_waited_for_is_not_waited_for_again():
    scene = _Scene()
    scene.listen_for = lambda words, seconds: waited.append(words) or True
    scene.listen_s = lambda seconds: waited.append(seconds)
    waited = []
    lines = [ScriptLine(after="light", who="a", say="nothing", hears="light off", wait_s=300)]
    script = SimpleNamespace(procedure="mine.yaml", lines=[*lines, _script().lines[2]], whenever=[], voices={"a": None})
    with pytest.raises(ScriptError, match="line 2 waits for step skin"):
        Rehearsal(script, scene).run()
    assert waited == ["light off", 300, *[0.4] * 5]
