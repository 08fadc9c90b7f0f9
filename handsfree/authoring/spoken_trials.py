"""What to speak in each step of a procedure, in which voice and how much noise, and what became of it."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from handsfree.authoring.pronunciation import relative_distance
from handsfree.authoring.sample_phrases import Phrase, phrases_of
from handsfree.authoring.step_contexts import Hearing
from handsfree.model.commands import STOP_CONTROLS, Command, Control, ControlCommand, GiveValues
from handsfree.model.readings import Ambiguous, NeedsAsking, Refused

NOISE_DB = (25.0, 15.0, 10.0)
"""Speech over noise, dB: a quiet room, one in which the recognisers begin to fail, and one in which people raise their
voices. An answer that fails in the quiet room is a fault of the file."""
OWN_VOICE = ("neural", "")
"""The tool's own voice: what it says itself it may hear better than what people say."""
PREFERRED_VOICES = (("espeak-ng", "en-us"), ("flite", "rms"), ("espeak-ng", "en-gb"), ("flite", "slt"))
"""Voices in the order in which they are taken: first such as sound unlike one another."""
NEAR = 0.5
"""Commands nearer than this in sound to an answer, as a share of their length, are tried in each step anew."""
_HEAT = frozenset({Control.HOT, Control.PAIN})


class TrialVerdict(StrEnum):
    """What became of a trial.

    "right": heard right, with or without a question. "asked": unclear, so the tool asks for it again. "wrong":
    something else would have been taken, or proposed. "nothing": not taken for speech that is meant.
    """

    RIGHT = "right"
    ASKED = "asked"
    WRONG = "wrong"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Trial:
    """One phrase, spoken once in one step.

    Attributes:
        phrase: What was said.
        voice: Engine and name of the voice.
        noise_db: Level of the speech over the noise, dB.
    """

    phrase: str
    voice: tuple[str, str]
    noise_db: float

    @property
    def said_by(self) -> str:
        """Voice and level in words."""
        return f"{' '.join(self.voice).strip()} at {self.noise_db:g} dB"


@dataclass(frozen=True, slots=True)
class TrialHeard:
    """What became of a trial.

    Attributes:
        text: The words heard, or "".
        verdict: What the session would have made of them.
    """

    text: str
    verdict: TrialVerdict


@dataclass
class Tally:
    """All trials of one phrase in one step.

    Attributes:
        hearing: The step.
        phrase: The phrase.
        trials: What was tried.
        heard: What became of each trial, in the same order.
    """

    hearing: Hearing
    phrase: Phrase
    trials: list[Trial] = field(default_factory=list)
    heard: list[TrialHeard] = field(default_factory=list)

    @property
    def right(self) -> int:
        """How many were heard right, with or without a question."""
        return sum(one.verdict is TrialVerdict.RIGHT for one in self.heard)

    @property
    def confused(self) -> dict[str, int]:
        """What was heard instead and would have been taken or asked about, with how often."""
        found: dict[str, int] = defaultdict(int)
        for one in self.heard:
            if one.verdict is TrialVerdict.WRONG:
                found[one.text] += 1
        return dict(found)

    def failed(self, *verdicts: TrialVerdict, quiet: bool = False) -> tuple[tuple[Trial, TrialHeard], ...]:
        """The trials that came to one of these verdicts.

        Args:
            verdicts: The verdicts.
            quiet: Of the quiet room alone.
        """
        pairs = zip(self.trials, self.heard, strict=True)
        levels = {max(NOISE_DB)} if quiet else {trial.noise_db for trial in self.trials}
        return tuple(pair for pair in pairs if pair[1].verdict in verdicts and pair[0].noise_db in levels)


def choose_voices(available: Sequence[tuple[str, str]], beyond: int) -> tuple[tuple[str, str], ...]:
    """The tool's own voice, where it is there, and as many others as are wanted, unlike ones first."""
    order = [voice for voice in PREFERRED_VOICES if voice in available]
    order += [voice for voice in available if voice not in (*order, OWN_VOICE)]
    own = (OWN_VOICE,) if OWN_VOICE in available else ()
    return (*own, *order[:beyond])


def planned(
    hearings: Iterable[Hearing], voices: Sequence[tuple[str, str]], noise_db: Sequence[float]
) -> Iterator[tuple[Hearing, list[tuple[Phrase, tuple[Trial, ...]]]]]:
    """The trials of each step; such as have the same grammar are tried once.

    Answers of the file are said in every step by every voice at every level. What the phrase book adds to them, and
    words that stop, are said so at the worst level. Other commands are said once in the procedure, and again in each
    step in which an answer is near in sound.
    """
    seen: set[str] = set()
    said: set[str] = set()
    for hearing in hearings:
        if hearing.graph.key in seen:
            continue
        seen.add(hearing.graph.key)
        phrases = phrases_of(hearing)
        answers = [phrase.words for phrase in phrases if phrase.field is not None]
        plan: list[tuple[Phrase, tuple[Trial, ...]]] = []
        for number, phrase in enumerate(phrases):
            worst = min(noise_db)
            if phrase.field is not None and not phrase.by_book:
                trials = tuple(Trial(phrase.words, voice, level) for level in noise_db for voice in voices)
            elif phrase.field is not None or phrase.control in STOP_CONTROLS:
                trials = tuple(Trial(phrase.words, voice, worst) for voice in voices)
            elif phrase.words not in said or _near(phrase.words, answers):
                said.add(phrase.words)
                trials = (Trial(phrase.words, voices[number % len(voices)], worst),)
            else:
                continue
            plan.append((phrase, trials))
        yield hearing, plan


def _near(words: str, answers: list[str]) -> bool:
    return any((apart := relative_distance(words, answer)) is None or apart < NEAR for answer in answers)


def same_effect(said: Command | None, heard: Command | None) -> bool:
    """Whether a session does the same for both: "hot" and "it hurts" stop alike; an unclear number is asked about."""
    if said == heard:
        return True
    if isinstance(said, ControlCommand) and isinstance(heard, ControlCommand):
        return {said.control, heard.control} <= _HEAT
    return is_question(said) and is_question(heard)


def is_question(command: Command | None) -> bool:
    """Whether nothing of a command would be taken: each of its values is asked for again."""
    return isinstance(command, GiveValues) and all(
        isinstance(given.value, Ambiguous | NeedsAsking | Refused) for given in command.values
    )
