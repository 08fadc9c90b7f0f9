"""Plays a script: scripted people speak as sound through detection, recogniser, session and journal.

Time is the sample clock, so a rehearsal runs faster than real time and the same way each time.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from handsfree.errors import ScriptError
from handsfree.model.commands import Control
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Side
from handsfree.simulation.scene import Scene
from handsfree.simulation.script import Script, ScriptLine
from handsfree.understanding.heat_words import may_be_cry

TRIES = 5
"""How often a person says the same thing, not understood or not enough, before the rehearsal counts as failed."""
AGAIN_AFTER_S = 0.4
"""How long after a question a person says again what was not taken."""
LONGEST_DETOUR = 40
"""Questions in a row, beside the script, after which the rehearsal counts as failed."""
LONGEST_WAIT_S = 120.0
"""How long a person waits for words of the tool, beyond the end of every timer that runs."""


@dataclass(frozen=True)
class RehearsalResult:
    """What a rehearsal came to.

    Attributes:
        outcome: How the session closed.
        utterances: How many utterances were spoken as sound.
        repeats: How many of them were said again because they were not taken, or taken wrongly.
        duration_s: Length of the visit on the sample clock.
        tool_spoke_s: How much of it the tool was speaking.
    """

    outcome: str
    utterances: int
    repeats: int
    duration_s: float
    tool_spoke_s: float


class Rehearsal:
    """One run of one script.

    Args:
        script: The script.
        scene: Where it is played; its session has started.
        real_time: Whether light runs in real time, so that a zone may need one run fewer or more than the script
            foresees: lines for a step that the session has left are left out, and a run of light is said once more
            where the session asks for light again.
    """

    def __init__(self, script: Script, scene: Scene, *, real_time: bool = False) -> None:
        self._script = script
        self._scene = scene
        self._runner = scene.runner
        self._real_time = real_time
        self._repeats = 0
        self._meant: dict[str, str] = {}
        self._last: ScriptLine | None = None
        self._last_said: ScriptLine | None = None
        self._said: list[ScriptLine] = []
        scene.objects = self._hears_wrong

    def run(self) -> RehearsalResult:
        """Speak every line in order.

        Raises:
            ScriptError: The session did not come to the step that a line waits for, a line was not understood after
                `TRIES` tries, or the lines ended before the session closed.
        """
        for number, line in enumerate(self._script.lines, start=1):
            self._settle(line, number)
            if self._runner.closed:
                break
            if not self._is_past(line, number):
                self._say(line, number)
        self._settle(None, len(self._script.lines))
        if self._runner.outcome is None:
            raise ScriptError(
                f"the script ended at step {self._runner.session.snapshot.step_id} before the session closed"
            )
        return RehearsalResult(
            outcome=self._runner.outcome,
            utterances=self._scene.utterances,
            repeats=self._repeats,
            duration_s=self._scene.now_s,
            tool_spoke_s=self._scene.outputs.spoken_s,
        )

    def _settle(self, line: ScriptLine | None, number: int) -> None:
        """Listen until the tool is quiet and at the step of `line`, answering what it asks on the way."""
        asked, said_again = 0, 0
        while not self._runner.closed:
            self._scene.listen_until_quiet()
            snapshot = self._runner.session.snapshot
            asks = snapshot.mode != "open_items"
            standing = next((item for item in self._script.whenever if asks and item.after == snapshot.step_id), None)
            if snapshot.doubted is not None:
                self._answer_doubt(snapshot.doubted, number)
            elif snapshot.mode == "cried":
                self._answer_cry(number)
            elif snapshot.read_back and line is not None and self._answers(line, snapshot.read_back):
                return
            elif snapshot.read_back:
                self._answer_read_back(snapshot.read_back, number)
            elif standing is not None:
                self._say(standing, number, remember=False)
            elif line is None:
                if not self._wait_for_deadline():
                    return
            elif line.after in {snapshot.step_id, snapshot.section} or self._is_past(line, number):
                return
            elif self._last is not None and snapshot.step_id == self._last.after and said_again < TRIES:
                said_again += 1
                run = self._run_of_light_again(number)
                for one in run:
                    self._say(one, number)
                if not run:
                    self._say_what_is_missing(self._last, number)
            else:
                raise ScriptError(
                    f"line {number} waits for step {line.after}, but the session is at {snapshot.step_id}: "
                    f"{snapshot.prompt}"
                )
            asked += 1
            if asked > LONGEST_DETOUR:
                unlike = [
                    f"{key} was read back as {value}, and means says {self._meant[key]}"
                    for key, value in snapshot.read_back.items()
                    if self._meant.get(key, value) != value
                ]
                raise ScriptError("; ".join([f"line {number}: the session kept asking: {snapshot.prompt}", *unlike]))

    def _answers(self, line: ScriptLine, read_back: Mapping[str, str]) -> bool:
        """Whether a line itself answers the read-back that waits, as people do who go on in the same breath.

        What a script says is meant is affirmed first: a correction behind it is for what that answer sets off, a hold.
        """
        meant = self._last.means if self._last is not None else {}
        if line.say.startswith("correction,"):
            return not meant.keys() & read_back.keys()
        right = all(read_back.get(key, value) == value for key, value in meant.items())
        return line.say.startswith("affirmative,") and right

    def _is_past(self, line: ScriptLine, number: int) -> bool:
        """Whether the session stands where only later lines wait for it, and such lines are left out."""
        here = self._runner.session.snapshot.step_id
        later = (other.after for other in self._script.lines[number:])
        return self._real_time and here != line.after and here in later

    def _run_of_light_again(self, number: int) -> Sequence[ScriptLine]:
        """Light on and off once more, and what is answered after it, where the session asks for light again."""
        snapshot, lines = self._runner.session.snapshot, self._script.lines[: number - 1]
        if not self._real_time or Control.LIGHT_ON not in self._runner.wanted.controls:
            return ()
        off = next((at for at in reversed(range(1, len(lines))) if lines[at].hears is not None), None)
        if off is None or any(line.after != snapshot.step_id for line in lines[off - 1 :]):
            return ()
        return lines[off - 1 :]

    def _say_what_is_missing(self, line: ScriptLine, number: int) -> None:
        """Say again what was refused: of several values, those that the tool still asks for."""
        labels = [label for slot in self._runner.wanted.slots for label in slot.labels]
        parts = [part.strip() for part in line.say.split(",")]
        missing = [part for part in parts if any(part.startswith(f"{label} ") for label in labels)]
        self._repeats += 1
        self._say_again(line.model_copy(update={"say": ", ".join(missing or parts)}), number, remember=False)

    def _wait_for_deadline(self) -> bool:
        """Let time pass until the session's next deadline; whether there was one."""
        deadline_s = self._runner.session.next_deadline_s
        if deadline_s is None:
            return False
        self._scene.listen_s(max(0.0, deadline_s - self._scene.now_s) + 0.1)
        return True

    def _hears_wrong(self) -> bool:
        """Whether what the tool says back is not what was said."""
        snapshot = self._runner.session.snapshot
        if snapshot.doubted is not None:
            return not self._is_what_was_said(snapshot.doubted)
        return any(self._meant.get(key, value) != value for key, value in snapshot.read_back.items())

    def _is_what_was_said(self, doubted: str) -> bool:
        line = self._last_said
        return line is not None and line.say.lower().replace(",", "").split() == doubted.lower().split()

    def _answer_doubt(self, doubted: str, number: int) -> None:
        line = self._last_said
        right = self._is_what_was_said(doubted)
        who = line.who if line is not None else next(iter(self._script.voices))
        self._say(ScriptLine(after="", who=who, say="affirmative" if right else "negative"), number, remember=False)
        if not right and line is not None:
            self._repeats += 1
            self._scene.listen_until_quiet()
            self._say_again(line, number, remember=line is self._last)

    def _answer_cry(self, number: int) -> None:
        """The clinician says whether it was hot or painful: it was, if those were the words."""
        line = self._last_said
        text = line.say if line is not None else ""
        words = Hypothesis(tuple(text.split()), (), 0.0, 0.0, "scripted", free_text=text)
        answer = "affirmative" if may_be_cry(words) else "negative"
        self._say(ScriptLine(after="", who=next(iter(self._script.voices)), say=answer), number, remember=False)

    def _answer_read_back(self, read_back: Mapping[str, str], number: int) -> None:
        line = self._last
        if self._runner.session.snapshot.mode == "checking":
            # What stands is of many lines, and perhaps not of the last one.
            wrong = any(self._meant.get(key, value) != value for key, value in read_back.items())
        else:
            # Of several answers that are read back together, the first that was heard wrong is said again.
            said = [one for one in self._said if read_back.keys() & one.means.keys()]
            bad = (one for one in said if any(read_back.get(key, value) != value for key, value in one.means.items()))
            first = next(bad, None)
            wrong, line = first is not None, first or line
        who = line.who if line is not None else next(iter(self._script.voices))
        if wrong and line is not None:
            self._repeats += 1
            if len({key.partition(".")[0] for key in read_back}) > 1:
                # Where both hands are read back, nobody knows of which hand it is that does not say so.
                side = line.after.partition("@")[2]
                words = " ".join(("correction", *([side] if side in set(Side) else []), line.say))
                self._say_again(line.model_copy(update={"say": words}), number, remember=False)
                return
            self._say(ScriptLine(after=line.after, who=who, say="negative"), number, remember=False)
            self._scene.listen_until_quiet()
            if self._runner.session.snapshot.doubted is None:
                self._say_again(line, number, remember=True)
        else:
            self._say(ScriptLine(after="", who=who, say="affirmative"), number, remember=False)

    def _say(self, line: ScriptLine, number: int, *, remember: bool = True) -> None:
        """Speak until the tool has taken it, with or without doubt."""
        if remember:
            self._last = line
            self._meant |= line.means
            self._said = [one for one in self._said if not one.means.keys() & line.means.keys()] + [line]
        if line.hears is not None:
            self._listen_for(line.hears, number)
        self._scene.listen_s(line.wait_s)
        self._answer_meanwhile(line)
        for attempt in range(TRIES):
            # Like a person who is not understood twice, say one thing at a time.
            parts = line.say.split(",") if attempt >= 2 else [line.say]
            if all(self._say_part(line, part.strip(), attempt) for part in self._without_doubt(parts, number)):
                return
            self._answer_meanwhile(line)
        # Who writes a file of their own finds the words that are taken for others by the check.
        raise ScriptError(
            f'line {number}: "{line.say}" was not understood after {TRIES} tries; '
            f"the session said: {self._runner.session.snapshot.prompt} "
            f"(what would be understood: handsfree card {self._script.procedure}; "
            f"which words are mistaken: handsfree check {self._script.procedure} --acoustic)"
        )

    def _without_doubt(self, parts: Sequence[str], number: int) -> Iterator[str]:
        """Parts of a line, each once the doubt about the one before is answered; see `TRIES`."""
        for place, part in enumerate(parts):
            for _ in range(TRIES if place else 0):
                self._scene.listen_until_quiet()
                doubted = self._runner.session.snapshot.doubted
                if doubted is None:
                    break
                self._answer_doubt(doubted, number)
            yield part

    def _say_part(self, line: ScriptLine, part: str, attempt: int) -> bool:
        """Say one thing of a line, or all of it, once; whether it was taken, with or without doubt."""
        self._last_said = line if part == line.say else line.model_copy(update={"say": part})
        return self._speak(line.who, part, attempt)

    def _say_again(self, line: ScriptLine, number: int, *, remember: bool) -> None:
        """Say a line once more, without what it waited for the first time: that has come."""
        self._say(line.model_copy(update={"hears": None, "wait_s": AGAIN_AFTER_S}), number, remember=remember)

    def _answer_meanwhile(self, line: ScriptLine) -> None:
        """Answer first what the tool has asked while somebody was about to say something else, or said it."""
        snapshot = self._runner.session.snapshot
        asked = next((item for item in self._script.whenever if item.after == snapshot.step_id), None)
        # Whoever is asked and about to speak anyway answers with that.
        if asked is not None and asked.who != line.who and snapshot.mode == "late_heat":
            self._scene.listen_until_quiet()
            self._speak(asked.who, asked.say, 0)
            self._scene.listen_until_quiet()

    def _speak(self, who: str, text: str, attempt: int) -> bool:
        """Say one thing once; whether it was taken, with or without doubt."""
        self._repeats += attempt > 0
        return self._scene.speak(who, text, "again" if attempt else "")

    def _listen_for(self, words: str, number: int) -> None:
        """Wait until the tool has said these words; the latest timer that runs may be what says them."""
        longest_s = LONGEST_WAIT_S + max(0.0, self._runner.session.timers_end_s - self._scene.now_s)
        if not self._scene.listen_for(words, longest_s):
            raise ScriptError(f'line {number}: the tool did not say "{words}" within {longest_s:.0f} s')
