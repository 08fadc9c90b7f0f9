"""Bench of recognition in narrated visits: breaths of one to four items in the graph of their whole phase.

For each phase of every bundled procedure breaths are drawn from what may be said there (labels with answers, numbers
digit by digit, sides and topics where they are needed), spoken by test voices, and heard with the graph of the phase.
Counted by the decision of the product: accepted right, accepted wrong, asked about, not taken. Graphs are timed.

Use: python scripts/bench_narrated.py [--count 60] [--voices 2] [--snr DB] [--procedure ID] [--json]
"""

import argparse
import json
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_cries import said_by, voices
from bench_sounds import Item, in_room, play

from handsfree.definition.loader import Bundle, bundled_procedures, load_bundle
from handsfree.definition.verbalization import digits, spelled
from handsfree.model.commands import DateSlot, GiveValues, IdentifierSlot, NumberSlot, OptionSlot, Slot, Wanted
from handsfree.model.readings import Side
from handsfree.model.working import Working
from handsfree.recognition.choose import make_recognizer
from handsfree.session.listening_context import wanted as wanted_of
from handsfree.session.section import section_of
from handsfree.session.session import Session
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.listening_graph import graph_for

MOST_ITEMS = 4


def phases_of(bundle: Bundle) -> Iterator[tuple[str, Wanted]]:
    """What is listened for in each phase that can be narrated, with the side declared."""
    seen: set[str] = set()
    for stage in bundle.plan.stages:
        section = section_of(bundle.plan, stage.id)
        if len(section) < 2 or section[0].id in seen:
            continue
        seen.add(section[0].id)
        session = Session(bundle, working=Working.NARRATED, going_on=True)
        session._state.side = Side.RIGHT
        session._state.place = stage.id
        yield bundle.plan.phases[stage.id], wanted_of(session._visit, session._state, session._wording)


def breath(wanted: Wanted, rng: random.Random) -> str | None:
    """Something that may be said and means values; None where what was drawn would be asked about."""
    slots = rng.sample(wanted.slots, min(len(wanted.slots), rng.randint(1, MOST_ITEMS)))
    text = ", ".join(_said(slot, wanted, rng) for slot in slots)
    heard = typed(text, wanted, 0.0)
    command = interpret(heard, wanted) if heard is not None else None
    if not isinstance(command, GiveValues) or any(not hasattr(one.value, "type") for one in command.values):
        return None
    clear = all(one.value.type not in {"needs_asking", "refused", "ambiguous"} for one in command.values)
    return text if clear else None


def _said(slot: Slot, wanted: Wanted, rng: random.Random) -> str:
    if isinstance(slot, OptionSlot) and not slot.labels:
        return rng.choice(slot.options[0].phrases)
    label = rng.choice(slot.labels)
    topics = dict(wanted.narration.topics) if wanted.narration is not None else {}
    topic = topics.get(slot.slot.partition(".")[0], ("",))[0]
    match slot:
        case OptionSlot():
            value = rng.choice(rng.choice(slot.options).phrases)
        case NumberSlot():
            steps = 10**slot.decimals
            value = digits(str(rng.randint(int(slot.low * steps), int(slot.high * steps)) / steps).removesuffix(".0"))
        case IdentifierSlot():
            value = spelled("".join(rng.choice("ABKMRTX2468") for _ in range(3))).replace(",", "")
        case DateSlot():
            value = f"{rng.choice(['march', 'june', 'october'])} {rng.choice(['', 'four '])}twenty twenty eight"
            value = value if slot.month_only else value.replace("twenty twenty", "four twenty twenty", 1)
    side = rng.choice(slot.sides).value if isinstance(slot, NumberSlot | OptionSlot) and slot.sides else ""
    return " ".join(part for part in (side, topic if side else "", label, value) if part)


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=60, help="breaths in all")
    parser.add_argument("--voices", type=int, default=2)
    parser.add_argument("--snr", type=float, help="level of the speech over pink noise, dB")
    parser.add_argument("--procedure", help="only this one")
    parser.add_argument("--say", action="append", help="these words instead of drawn ones, in every phase of it")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    rng = random.Random(options.seed)  # noqa: S311 - the same each time, which is the point
    places: list[tuple[str, Wanted]] = []
    built: list[dict[str, object]] = []
    for name in [options.procedure] if options.procedure else bundled_procedures():
        for phase, wanted in phases_of(load_bundle(name)):
            started_s = time.perf_counter()
            graph = graph_for(wanted)
            built.append(
                {
                    "where": f"{name}, {phase}",
                    "items": len(wanted.slots),
                    "arcs": len(graph.arcs),
                    "built_s": round(time.perf_counter() - started_s, 2),
                }
            )
            places.append((phase, wanted))
    recognizer = make_recognizer(None)
    speakers = voices()[: options.voices]
    counted: Counter[str] = Counter()
    misses: list[str] = []
    searched_s: list[float] = []
    lines = [(text, wanted) for text in options.say or () for _, wanted in places]
    while not options.say and len(lines) < options.count:
        _, wanted = rng.choice(places)
        text = breath(wanted, rng)
        lines += [(text, wanted)] if text is not None else []
    for number, (text, wanted) in enumerate(lines):
        if typed(text, wanted, 0.0) is None:
            continue
        meant = interpret(typed(text, wanted, 0.0), wanted)  # type: ignore[arg-type]  # it was just typed
        for speaker in speakers:
            recognizer.reset()
            recognizer.listen_for(graph_for(wanted))
            sound, _ = in_room(Item(said_by(speaker, text), text, ""), options.snr, "pink", number)
            heard = play(recognizer, np.asarray(sound))
            searched_s.append(heard.longest_s)
            outcome = "not taken"
            best = next((one for one, _, _ in heard.hypotheses if one.words), None)
            command = interpret(best, wanted) if best is not None else None
            if best is not None and command is not None:
                decision = decide(best, command, wanted)
                right = isinstance(command, GiveValues) and command == replace(meant, lead="")  # type: ignore[type-var]
                if decision.outcome is DecisionOutcome.ACCEPT:
                    outcome = "right" if right else "wrong"
                elif decision.outcome is DecisionOutcome.ASK:
                    outcome = "asked, right" if right else "asked, wrong"
            counted[outcome] += 1
            if outcome != "right":
                misses.append(f"{speaker.engine} {speaker.voice}: {text} -> {outcome}: {best.text if best else ''}")
    searched_s.sort()
    median_s = searched_s[len(searched_s) // 2] if searched_s else None
    found = {
        "search_s": median_s,
        "graphs": built,
        "n": sum(counted.values()),
        "outcomes": dict(counted),
        "misses": misses,
    }
    if options.json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
        return 0
    for graph in built:
        sys.stdout.write(f"{graph}\n")
    sys.stdout.write(
        f"search {median_s} s; {found['n']} breaths: {dict(counted)}\n" + "".join(f"  {one}\n" for one in misses)
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
