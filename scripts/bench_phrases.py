"""Bench of natural phrases: what people say in their own words, in the context in which they say it.

Each file of `scripts/phrases` lists contexts (a step of a bundled procedure and what the session is doing there) and
phrases with what each means: the name of a control, `field=value` pairs, `ask` (it must be asked about), or `none` (it
is not for the tool and must not be taken); several meanings that would do are joined by `|`. Phrases of `open.yaml` may
be worked with; nobody who works on grammars looks into `held-out.yaml`. All were written by one developer from how
people talk, so they say how wide the words are, not how people really speak.

Without `--spoken` each phrase is typed. `--spoken` plays each with synthetic voices through the whole recogniser:
detection of speech, engine, meaning, decision. Counted by kind: taken with the right meaning, asked about, not taken,
and taken for something else. What must not be taken counts as right where it was not.

Use: python scripts/bench_phrases.py [FILE ...] [--spoken] [--voices N] [--snr DB] [--limit N] [--list]
"""

import argparse
import random
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_sounds import Item, in_room, play
from bench_tasks import Task, recognizer_for
from intervals import wilson
from ruamel.yaml import YAML

from handsfree.definition.loader import Bundle, irradiance_of, load_bundle, zones_of
from handsfree.exposure.ledger import Ledger
from handsfree.model.commands import Command, Control, ControlCommand, GiveValues, SlotValue, Wanted
from handsfree.model.facts import Utterance
from handsfree.model.readings import Ambiguous, NeedsAsking, Refused, Side, value_text
from handsfree.model.reasons import FlaggedAnswer, Grounds
from handsfree.session.listening_context import wanted as listened_for
from handsfree.session.modes import Mode, ModeStack
from handsfree.session.prompts.fixed import HoldAction
from handsfree.session.prompts.wording import Wording
from handsfree.session.state import Corrected, Done, Hold, Override, Said, SessionState, StrayLight, TakenValue
from handsfree.session.state import Cried as CriedNow
from handsfree.session.visit import Visit
from handsfree.simulation.mixing import active_level, signal_of
from handsfree.simulation.script import VoiceSpec
from handsfree.simulation.voices import available_voices, render
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.listening_graph import graph_for

FOLDER = Path(__file__).resolve().parent / "phrases"
PROCEDURE = "ulnar-splint-fitting"
TODAY = "2026-11-29"
"""A Sunday."""
LEVEL = 0.1
VERDICTS = ("right", "asked", "not taken", "wrong")
VOICES = (("neural", ""), ("espeak-ng", "en-us+f3"), ("espeak-ng", "en-us"), ("flite", "slt"), ("flite", "rms"))
"""Those that are tried, in this order, as far as installed."""
_UTTERANCE = Utterance(text="", probability=1.0, runner_up=None, engine="typed", spoken_from_s=0.0, spoken_to_s=0.0)


@dataclass(frozen=True)
class Case:
    """A phrase in its context.

    Attributes:
        where: The context, for lists.
        kind: What it is counted under.
        phrase: What is said.
        meanings: Those that are right.
        wanted: What is listened for.
    """

    where: str
    kind: str
    phrase: str
    meanings: tuple[str, ...]
    wanted: Wanted

    @property
    def words(self) -> tuple[str, ...]:
        """The phrase as a grammar has it."""
        return tuple(self.phrase.lower().replace(",", " ").split())


@lru_cache
def _bundle(procedure: str) -> Bundle:
    return load_bundle(procedure)


def context_of(given: Mapping[str, str]) -> Wanted:
    """What is listened for in a context: the session's own rule, on a state made for it."""
    bundle = _bundle(given.get("procedure", PROCEDURE))
    visit = Visit(bundle.plan, bundle.device, bundle.light)
    stage = next(stage for stage in bundle.plan.stages if stage.step.id == given["at"])
    ledger = None
    if bundle.device is not None and bundle.light is not None:
        ledger = Ledger(zones_of(bundle.device), irradiance_of(bundle.light))
    before = {one.id: Done.ANSWERED for one in bundle.plan.stages[: bundle.plan.index(stage.id)]}
    state = SessionState(stage.id, ModeStack(), ledger, side=Side.RIGHT, today=TODAY, done=before, last_answered="x")
    if stage.step.kind == "expose" and ledger is not None:
        state.zone_id = ledger.zones[0].id
    mode = given.get("mode", "asking")
    if "half" in given or mode == "read_back":
        _take(visit, state, given.get("half") or given["said"])
    _interrupt(state, mode, visit, given)
    return listened_for(visit, state, Wording())


def _take(visit: Visit, state: SessionState, text: str) -> None:
    wanted = listened_for(visit, state, Wording())
    command = _meant(text, wanted)
    if not isinstance(command, GiveValues):
        raise TypeError(f"{text!r} is no answer here")
    state.pending.update({given.slot: TakenValue(given.value, _UTTERANCE) for given in command.values})


def _meant(text: str, wanted: Wanted) -> Command | None:
    hypothesis = typed(text, wanted, 0.0)
    return interpret(hypothesis, wanted) if hypothesis is not None else None


def _interrupt(state: SessionState, mode: str, visit: Visit, given: Mapping[str, str]) -> None:
    ledger = state.ledger
    hold = Hold("stop", state.place, Grounds(FlaggedAnswer("wound", "present", "present", "")), HoldAction.DO_NOT_GO_ON)
    match mode:
        case "asking":
            pass
        case "read_back":
            state.modes.push(Mode.READING_BACK)
        case "lit" if ledger is not None:
            ledger.light_on(ledger.zones[0].id, 1.0)
            state.modes.push(Mode.LIT)
        case "warmth":
            state.modes.push(Mode.WARMTH)
        case "cried" if ledger is not None:
            state.cried = CriedNow(0.0, ledger.zones[0].id, None)
            state.modes.push(Mode.CRIED)
        case "stray":
            state.stray = StrayLight(0.0, 0.0, None)
            state.modes.push(Mode.STRAY)
        case "doubt":
            command = _meant(given["said"], listened_for(visit, state, Wording()))
            if command is None:
                raise ValueError(f"{given['said']!r} means nothing here")
            state.doubt = Said(command, _UTTERANCE, 0.0, 0.0)
            state.modes.push(Mode.DOUBTING)
        case "paused" | "noting" | "skip_reason":
            state.modes.push(Mode(mode))
        case "held":
            state.holds.append(hold)
            state.modes.rest(Mode.HELD)
        case "override_role" | "override_reason" | "override_confirm":
            state.holds.append(hold)
            state.modes.rest(Mode.HELD)
            state.override = Override("hold", hold, "surgeon", "senior")
            state.modes.push(Mode(mode))
        case "correcting":
            state.corrected[state.place] = Corrected(Done.ANSWERED, 0, frozenset())
        case _:
            raise ValueError(f"no such context: {given}")


def cases_of(path: Path) -> Iterator[Case]:
    """Every phrase of a file."""
    yaml = YAML(typ="safe", pure=True)
    for entry in yaml.load(path.read_text(encoding="utf-8")):
        context = entry["in"]
        wanted = context_of(context)
        for phrase, meaning in entry["say"].items():
            where = f"{context['at']}{' ' + context['mode'] if 'mode' in context else ''}"
            meanings = tuple(_sorted(one) for one in str(meaning).split("|"))
            yield Case(where, kind_of(meanings[0], context), str(phrase), meanings, wanted)


def _sorted(meaning: str) -> str:
    return " ".join(sorted(meaning.split()))


def kind_of(meaning: str, context: Mapping[str, str]) -> str:
    """What a phrase is counted under."""
    if meaning == "none":
        return "not for the tool"
    if meaning == "ask":
        return "to be asked about"
    if "=" not in meaning:
        return "yes and no" if meaning in {"affirm", "negate"} else "other commands"
    if context.get("half") or context.get("mode") in {"read_back", "correcting"}:
        return "said again"
    values = [part.partition("=")[2] for part in meaning.split()]
    if any(value[:4].isdigit() and value.count("-") == 2 for value in values):
        return "dates"
    if any(value.lstrip("-<>").replace(".", "").isdigit() for value in values):
        return "numbers"
    return "answers"


def meaning_of(command: Command | None, wanted: Wanted) -> str:
    """A command as the files write it; an ordinary answer that is answered with why it does not count now is none."""
    match command:
        case None:
            return "none"
        case ControlCommand(control=control):
            return control.value
        case GiveValues(values=(SlotValue(slot="go-to", value=place),)):
            return f"go:{value_text(place)}"
        case GiveValues(lead="") if not wanted.slots and not wanted.yes_or_no:
            return "none"
        case GiveValues(values=values):
            if any(isinstance(given.value, NeedsAsking | Ambiguous | Refused) for given in values):
                return "ask"
            return " ".join(sorted(f"{given.slot}={value_text(given.value)}" for given in values))
        case _:
            return str(command)


def verdict(found: str, case: Case, *, asked: bool = False) -> str:
    """What came of a phrase."""
    if found in case.meanings:
        return "asked" if asked and found not in {"none", "ask"} else "right"
    if found == "ask" or (asked and found != "none"):
        return "asked"
    return "not taken" if found == "none" else "wrong"


def in_words(case: Case) -> str:
    """What a typed phrase means."""
    return meaning_of(_meant(case.phrase, case.wanted), case.wanted)


def spoken(case: Case, voice: tuple[str, str], snr_db: float | None, seed: int) -> Iterator[tuple[str, bool]]:
    """What the recogniser makes of a phrase, each with whether it is asked about."""
    recognizer = _recognizer()
    task = Task(graph_for(case.wanted), case.wanted)
    task.attend(recognizer)
    signal = signal_of(render(VoiceSpec(engine=voice[0], voice=voice[1]), case.phrase))
    item = Item(signal * (LEVEL / max(active_level(signal), 1e-9)), case.phrase, voice[0])
    sound, _ = in_room(item, snr_db, "pink", seed)
    for hypothesis, _, _ in play(recognizer, sound).hypotheses:
        command = interpret(hypothesis, case.wanted) if hypothesis.words else None
        if command is None:
            continue
        outcome = decide(hypothesis, command, case.wanted).outcome
        if outcome is not DecisionOutcome.IGNORE:
            yield meaning_of(command, case.wanted), outcome is DecisionOutcome.ASK


@lru_cache(maxsize=1)
def _recognizer():  # noqa: ANN202 - the protocol of recognisers
    wanted = Wanted(frozenset(Control))
    return recognizer_for("neural", Task(graph_for(wanted), wanted))


def worst(found: Sequence[tuple[str, bool]], case: Case) -> tuple[str, str]:
    """The verdict on all that was taken of one utterance, and what that was."""
    if not found:
        return verdict("none", case), "nothing"
    verdicts = [verdict(meaning, case, asked=asked) for meaning, asked in found]
    if any(one == "wrong" for one in verdicts) or len(found) == 1:
        said = max(verdicts, key=VERDICTS.index)
    else:
        said = min(verdicts, key=VERDICTS.index)
    return said, " / ".join(meaning + (" (asked)" if asked else "") for meaning, asked in found)


def voices_of(count: int) -> list[tuple[str, str]]:
    """The first voices of `VOICES` that are installed."""
    there = available_voices()
    return [voice for voice in VOICES if voice in there][:count]


def report(title: str, results: Sequence[tuple[Case, str]]) -> None:
    """Print a table by kind."""
    by_kind: dict[str, Counter[str]] = defaultdict(Counter)
    for case, said in results:
        by_kind[case.kind][said] += 1
    print(f"{title}: {len(results)}")
    print(f"  {'kind':<20}{'n':>5}" + "".join(f"{name:>11}" for name in VERDICTS))
    meant: Counter[str] = Counter()
    for kind, counts in sorted(by_kind.items()):
        print(f"  {kind:<20}{counts.total():>5}" + "".join(f"{counts[name]:>11}" for name in VERDICTS))
        if kind != "not for the tool":
            meant += counts
    all_wrong, total = sum(counts["wrong"] for counts in by_kind.values()), len(results)
    for name, count, of in (("taken right, of what is meant for the tool", meant["right"], meant.total()),
                            ("wrong, of all", all_wrong, total)):  # fmt: skip
        if of:
            low, high = wilson(count, of)
            print(f"  {name}: {count} of {of}, {count / of:.3f} [{low:.3f} {high:.3f}]")


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", type=Path, help="default: both of scripts/phrases")
    parser.add_argument("--spoken", action="store_true", help="by synthetic voices through the recogniser")
    parser.add_argument("--voices", type=int, default=3)
    parser.add_argument("--snr", type=float, help="pink noise, dB; default: quiet")
    parser.add_argument("--limit", type=int, help="only so many phrases of each file, drawn at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--list", action="store_true", help="list what is not right; never of held-out phrases")
    options = parser.parse_args()
    for path in options.files or sorted(FOLDER.glob("*.yaml")):
        cases = list(cases_of(path))
        if options.limit is not None and options.limit < len(cases):
            rng = random.Random(options.seed)  # noqa: S311 - a draw that can be repeated
            chosen = set(rng.sample(range(len(cases)), options.limit))
            cases = [case for number, case in enumerate(cases) if number in chosen]
        results: list[tuple[Case, str]] = []
        for number, case in enumerate(cases):
            if options.spoken:
                tries = [
                    (voice[0], *worst(list(spoken(case, voice, options.snr, options.seed + number)), case))
                    for voice in voices_of(options.voices)
                ]
            else:
                found = in_words(case)
                tries = [("", verdict(found, case), found)]
            for voice_name, said, found in tries:
                results.append((case, said))
                if options.list and said != "right" and "held-out" not in path.name:
                    print(f"  {said:<10}{case.where}: {case.phrase!r} {voice_name} -> {found}", flush=True)
        report(f"{path.stem}, {'spoken' if options.spoken else 'typed'}", results)
    return 0


if __name__ == "__main__":
    sys.exit(main())
