"""Beam search for the likeliest text that the automaton allows, with free decoding beside it on the same encoding."""

from dataclasses import dataclass, field

import numpy as np

from handsfree.recognition.automaton import Automaton, Path, Place
from handsfree.recognition.candidates import Candidate, SearchOutcome
from handsfree.recognition.lexicon import word_prior
from handsfree.recognition.neural_network import Floats, Memory, Network
from handsfree.recognition.tokens import BEGIN, END
from handsfree.recognition.word_watch import Trail, WatchedWords, WordWatch
from handsfree.understanding.speaking_rate import pace_cost

BEAMS = 6
ENOUGH_NATS = 5.0
"""A text this much less likely than the best whole one is not followed further: decisions look at 4 nats of margin."""
BEHIND_NATS = 7.0
"""A beginning this much less likely than the likeliest one is given up: clear speech is searched quickly."""
_BASE_TOKENS = 8
_TOKENS_A_SECOND = 8.0

Readings = dict[Place, tuple[float, Path]]


@dataclass(slots=True)
class _Beam:
    row: int
    logprob: float
    tokens: tuple[int, ...]
    readings: Readings


@dataclass(slots=True)
class _Free:
    row: int = 0
    tokens: list[int] = field(default_factory=list)
    logprob: float = 0.0
    ended: bool = False

    def take(self, scores: Floats) -> None:
        token = int(scores[self.row].argmax())
        self.logprob += float(scores[self.row, token])
        if token == END:
            self.ended = True
        else:
            self.tokens.append(token)


def search(
    network: Network,
    encoding: Floats,
    automaton: Automaton | None,
    seconds: float,
    speech_s: float | None = None,
    beams: int = BEAMS,
    watched: WatchedWords | None = None,
) -> SearchOutcome:
    """Find the likeliest texts.

    Args:
        network: The network.
        encoding: From `Network.encode`.
        automaton: What may be written, or None to decode freely only.
        seconds: Length of the sound, which limits the length of the text.
        speech_s: Seconds of it that are speech, which must suit the number of words; None where it is not known.
        beams: How many texts are followed at a time.
        watched: Words to look out for in the text that is decoded freely.
    """
    scores, memory = network.begin(encoding, BEGIN)
    free = _Free()
    watch = WordWatch(watched) if watched is not None else None
    active = [_Beam(0, 0.0, (), {automaton.start: (0.0, ())})] if automaton is not None else []
    candidates: list[Candidate] = []
    for _ in range(_BASE_TOKENS + int(seconds * _TOKENS_A_SECOND)):
        trails = watch.look(scores, None if free.ended else free.row) if watch is not None else []
        if not free.ended:
            free.take(scores)
        following: list[tuple[int, int, _Beam]] = []
        if automaton is not None:
            candidates += _whole(active, scores, speech_s)
            best = max((text.score for text in candidates), default=-np.inf)
            following = _extend(automaton, active, scores, best - ENOUGH_NATS, beams)
        if free.ended and not following and not trails:
            break
        scores, memory = _advance(network, memory, free, following, trails)
        active = [beam for _, _, beam in following]
        if watch is not None:
            watch.trails = [trail for _, _, trail in trails]
    candidates.sort(key=lambda text: text.score, reverse=True)
    return SearchOutcome(tuple(candidates), free.tokens, free.logprob, watch.spotted() if watch is not None else None)


def _whole(active: list[_Beam], scores: Floats, speech_s: float | None) -> list[Candidate]:
    """The texts that can end here."""
    found = []
    for beam in active:
        ends = [
            (cost, (*arcs, *place.ending)) for place, (cost, arcs) in beam.readings.items() if place.ending is not None
        ]
        if ends:
            _, arcs = min(ends, key=lambda end: end[0])
            logprob = beam.logprob + float(scores[beam.row, END])
            words = [arc.word for arc in arcs if arc.word is not None]
            score = logprob + sum(word_prior(word) for word in words)
            score -= 0.0 if speech_s is None else pace_cost(words, speech_s)
            found.append(Candidate(logprob, arcs, score, beam.tokens))
    return found


def _extend(
    automaton: Automaton, active: list[_Beam], scores: Floats, least: float, beams: int
) -> list[tuple[int, int, _Beam]]:
    """The best ways on: row to continue, piece, and the new beam."""
    extended: list[tuple[float, int, _Beam]] = []
    for beam in active:
        allowed = {token for place in beam.readings for token in automaton.steps(place)}
        if not allowed:
            continue
        tokens = np.fromiter(allowed, dtype=np.int64, count=len(allowed))
        totals = beam.logprob + scores[beam.row, tokens]
        # Several pieces may lead to the same reading, so more are looked at than can be kept.
        likeliest = np.argsort(-totals)[: 2 * beams]
        extended += [(float(totals[i]), int(tokens[i]), beam) for i in likeliest if totals[i] > least]
    extended.sort(key=lambda one: one[0], reverse=True)
    least = extended[0][0] - BEHIND_NATS if extended else 0.0
    kept: dict[tuple[Place, tuple[str | None, ...]], tuple[int, int, _Beam]] = {}
    for logprob, token, beam in extended:
        if logprob < least:
            break
        readings = _read(automaton, beam.readings, token)
        place, (_, arcs) = min(readings.items(), key=lambda item: item[1][0])
        key = (place, tuple(arc.word for arc in arcs))
        if key not in kept:
            kept[key] = (beam.row, token, _Beam(0, logprob, (*beam.tokens, token), readings))
            if len(kept) == beams:
                break
    return list(kept.values())


def _read(automaton: Automaton, readings: Readings, token: int) -> Readings:
    """Every reading of the text with one more piece; of two that lead to one place, the cheaper."""
    result: Readings = {}
    for place, (cost, arcs) in readings.items():
        for step in automaton.steps(place).get(token, ()):
            total = cost + step.cost
            known = result.get(step.place)
            if known is None or total < known[0]:
                result[step.place] = (total, arcs + step.arcs)
    return result


def _advance(
    network: Network,
    memory: Memory,
    free: _Free,
    following: list[tuple[int, int, _Beam]],
    trails: list[tuple[int, int, Trail]],
) -> tuple[Floats, Memory]:
    """One more piece of every text; each is told its new row."""
    ways: list[tuple[int, int, _Beam | Trail]] = [*following, *trails]
    rows = [row for row, _, _ in ways]
    tokens = [token for _, token, _ in ways]
    for index, (_, _, text) in enumerate(ways):
        text.row = index
    if not free.ended:
        rows.append(free.row)
        tokens.append(free.tokens[-1])
        free.row = len(rows) - 1
    return network.advance(memory, rows, tokens)
