"""Lines of a rehearsal that the session has gone past. Behaviour of our own; no outside source."""

from types import SimpleNamespace

import pytest

from handsfree.errors import ScriptError
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
        session = SimpleNamespace(snapshot=snapshot, next_deadline_s=None)
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
    assert Rehearsal(_script(), scene, leave_out_done=True).run().outcome == "completed"
    assert scene.said == ["light on", "skin intact"]


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
