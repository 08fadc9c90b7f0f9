"""Plays a scenario: scripted people speak as sound through detection, recogniser, session and journal.

Time is the sample clock, so a rehearsal runs faster than real time and the same way each time.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from handsfree.clock import ManualClock
from handsfree.display import ConversationView
from handsfree.errors import ScriptError
from handsfree.model.audio import BLOCK_SAMPLES, AudioBlock
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis
from handsfree.practice.mixing import Room, samples_of, signal_of
from handsfree.practice.script import Line, Scenario
from handsfree.practice.voices import render
from handsfree.procedure.session import Snapshot
from handsfree.runner import Conductor, Ears
from handsfree.voice.port import Synthesizer

GATE_TAIL_S = 0.35
"""The microphone counts as deaf for this long after the tool's last sample."""
ANSWER_WAIT_S = 2.5
"""How long a person waits for a reaction after speaking."""
TRIES = 5
"""How often a person says the same thing before the rehearsal counts as failed."""
LONGEST_DETOUR = 40
"""Questions in a row, beside the script, after which the rehearsal counts as failed."""
LONGEST_WAIT_S = 120.0
"""How long a person waits for words of the tool."""


@dataclass
class RehearsalOutputs:
    """The tool's loudspeaker and screen in a rehearsal.

    Attributes:
        view: Where the conversation is shown.
        clock: The sample clock.
        synthesizer: The tool's voice.
        busy_until_s: Session time at which the tool's own sound ends.
        reactions: What became of the utterances since the last look.
        said_since_turn: What the tool has said since a person last spoke.
    """

    view: ConversationView
    clock: ManualClock
    synthesizer: Synthesizer
    busy_until_s: float = 0.0
    spoken_s: float = 0.0
    prompts: int = 0
    said_since_turn: str = ""
    reactions: list[str] = field(default_factory=list)

    def say(self, text: str, priority: Priority) -> None:
        """See `runner.Outputs.say`."""
        now = self.clock.monotonic_s()
        duration_s = self.synthesizer.render(text).duration_s
        start_s = now if priority is Priority.STOP else max(now, self.busy_until_s)
        self.busy_until_s = start_s + duration_s
        self.spoken_s += duration_s
        self.prompts += 1
        self.said_since_turn += f" {text}"
        self.view.tool(now, text, priority)

    def earcon(self, earcon: Earcon) -> None:
        """See `runner.Outputs.earcon`."""
        self.view.sound(self.clock.monotonic_s(), earcon)

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `runner.Outputs.heard`."""
        self.reactions.append(outcome)
        self.view.heard(self.clock.monotonic_s(), hypothesis.text if hypothesis else "", outcome, probability)

    def show(self, snapshot: Snapshot) -> None:
        """See `runner.Outputs.show`; the conversation already says it."""


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
    """One run of one scenario.

    Args:
        scenario: The script.
        conductor: The session, already started.
        ears: Recognition bound to the conductor.
        outputs: The same object that the conductor speaks through.
        clock: The sample clock that all of them share.
        room: Background noise.
    """

    def __init__(
        self,
        scenario: Scenario,
        conductor: Conductor,
        ears: Ears,
        outputs: RehearsalOutputs,
        clock: ManualClock,
        room: Room,
    ) -> None:
        self._scenario = scenario
        self._conductor = conductor
        self._ears = ears
        self._outputs = outputs
        self._clock = clock
        self._room = room
        self._utterances = 0
        self._repeats = 0
        self._last: Line | None = None
        self._last_said: Line | None = None

    def run(self) -> RehearsalResult:
        """Speak every line in order.

        Raises:
            ScriptError: The session did not come to the step that a line waits for, a line was not understood after
                `TRIES` tries, or the lines ended before the session closed.
        """
        for number, line in enumerate(self._scenario.lines, start=1):
            self._settle(line, number)
            if self._conductor.closed:
                break
            self._say(line, number)
        self._settle(None, len(self._scenario.lines))
        if self._conductor.outcome is None:
            raise ScriptError(
                f"the script ended at step {self._conductor.session.snapshot.step_id} before the session closed"
            )
        return RehearsalResult(
            outcome=self._conductor.outcome,
            utterances=self._utterances,
            repeats=self._repeats,
            duration_s=self._clock.monotonic_s(),
            tool_spoke_s=self._outputs.spoken_s,
        )

    def _settle(self, line: Line | None, number: int) -> None:
        """Listen until the tool is quiet and at the step of `line`, answering what it asks on the way."""
        asked = 0
        while not self._conductor.closed:
            self._listen_until_quiet()
            snapshot = self._conductor.session.snapshot
            standing = next((item for item in self._scenario.whenever if item.after == snapshot.step_id), None)
            if snapshot.doubted is not None:
                self._answer_doubt(snapshot.doubted, number)
            elif snapshot.read_back:
                self._answer_read_back(snapshot.read_back, number)
            elif standing is not None:
                self._say(standing, number, remember=False)
            elif line is None:
                if not self._wait_for_deadline():
                    return
            elif snapshot.step_id == line.after:
                return
            elif self._last is not None and snapshot.step_id == self._last.after:
                self._say_what_is_missing(self._last, number)
            else:
                raise ScriptError(
                    f"line {number} waits for step {line.after}, but the session is at {snapshot.step_id}: "
                    f"{snapshot.prompt}"
                )
            asked += 1
            if asked > LONGEST_DETOUR:
                raise ScriptError(f"line {number}: the session kept asking: {snapshot.prompt}")

    def _say_what_is_missing(self, line: Line, number: int) -> None:
        """Say again what was refused: of several values, those that the tool still asks for."""
        labels = [label for slot in self._conductor.wanted.slots for label in slot.labels]
        parts = [part.strip() for part in line.say.split(",")]
        missing = [part for part in parts if any(part.startswith(f"{label} ") for label in labels)]
        self._repeats += 1
        self._say(line.model_copy(update={"say": ", ".join(missing or parts)}), number, remember=False)

    def _wait_for_deadline(self) -> bool:
        """Let time pass until the session's next deadline; whether there was one."""
        deadline_s = self._conductor.session.next_deadline_s
        if deadline_s is None:
            return False
        self._listen_s(max(0.0, deadline_s - self._clock.monotonic_s()) + 0.1)
        return True

    def _answer_doubt(self, doubted: str, number: int) -> None:
        line = self._last_said
        right = line is not None and line.say.lower().replace(",", "").split() == doubted.lower().split()
        who = line.who if line is not None else next(iter(self._scenario.voices))
        self._say(Line(after="", who=who, say="affirmative" if right else "negative"), number, remember=False)
        if not right and line is not None:
            self._repeats += 1
            self._listen_until_quiet()
            self._say(line, number, remember=line is self._last)

    def _answer_read_back(self, read_back: Mapping[str, str], number: int) -> None:
        line = self._last
        wrong = line is not None and any(read_back.get(key) != value for key, value in line.means.items())
        who = line.who if line is not None else next(iter(self._scenario.voices))
        if wrong and line is not None:
            self._repeats += 1
            self._say(Line(after=line.after, who=who, say="negative"), number, remember=False)
            self._listen_until_quiet()
            if self._conductor.session.snapshot.doubted is None:
                self._say(line, number)
        else:
            self._say(Line(after="", who=who, say="affirmative"), number, remember=False)

    def _say(self, line: Line, number: int, *, remember: bool = True) -> None:
        """Speak until the tool has taken it, with or without doubt."""
        self._last_said = line
        if remember:
            self._last = line
        if line.hears is not None:
            self._listen_for(line.hears, number)
        self._listen_s(line.wait_s)
        for attempt in range(TRIES):
            # Like a person who is not understood twice, say one thing at a time.
            parts = line.say.split(",") if attempt >= 2 else [line.say]
            if all(self._speak(line.who, part.strip(), attempt) for part in parts):
                return
        raise ScriptError(f'line {number}: "{line.say}" was not understood after {TRIES} tries')

    def _speak(self, who: str, text: str, attempt: int) -> bool:
        """Say one thing once; whether it was taken, with or without doubt."""
        if self._utterances:
            self._listen_until_quiet()
        samples = samples_of(signal_of(render(self._scenario.voices[who], text)))
        self._outputs.reactions.clear()
        self._outputs.said_since_turn = ""
        self._utterances += 1
        self._repeats += attempt > 0
        self._outputs.view.person(self._clock.monotonic_s(), who, text, "again" if attempt else "")
        self._feed(samples)
        self._listen_for_reaction()
        return "accepted" in self._outputs.reactions or "doubted" in self._outputs.reactions

    def _listen_for(self, words: str, number: int) -> None:
        """Wait until the tool has said these words."""
        deadline_s = self._clock.monotonic_s() + LONGEST_WAIT_S
        while words.lower() not in self._outputs.said_since_turn.lower():
            if self._clock.monotonic_s() > deadline_s:
                raise ScriptError(f'line {number}: the tool never said "{words}"')
            self._feed(np.zeros(BLOCK_SAMPLES, dtype=np.int16))
        self._listen_until_quiet()

    def _listen_for_reaction(self) -> None:
        deadline_s = self._clock.monotonic_s() + ANSWER_WAIT_S
        while not self._outputs.reactions and self._clock.monotonic_s() < deadline_s:
            self._feed(np.zeros(BLOCK_SAMPLES, dtype=np.int16))

    def _listen_until_quiet(self) -> None:
        while self._clock.monotonic_s() < self._outputs.busy_until_s + GATE_TAIL_S and not self._conductor.closed:
            self._feed(None)

    def _listen_s(self, seconds: float) -> None:
        end_s = self._clock.monotonic_s() + seconds
        while self._clock.monotonic_s() < end_s and not self._conductor.closed:
            self._feed(np.zeros(BLOCK_SAMPLES, dtype=np.int16))

    def _feed(self, speech: npt.NDArray[np.int16] | None) -> None:
        """Pass sound on block by block: speech in the room's noise, or silence (None) while the gate is shut."""
        if speech is None:
            self._feed_block(np.zeros(BLOCK_SAMPLES, dtype=np.int16))
            return
        mixed = self._room.add_to(speech)
        for start in range(0, len(mixed), BLOCK_SAMPLES):
            block = mixed[start : start + BLOCK_SAMPLES]
            if self._conductor.closed:
                return
            self._feed_block(np.pad(block, (0, BLOCK_SAMPLES - len(block))))

    def _feed_block(self, samples: npt.NDArray[np.int16]) -> None:
        block = AudioBlock(samples.astype("<i2").tobytes(), self._clock.monotonic_s())
        self._clock.sleep_until(block.end_s)
        self._ears.feed(block)
