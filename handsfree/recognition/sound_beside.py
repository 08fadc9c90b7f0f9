"""Sound beside an utterance that is about as loud as its speech, though the detector took it for none.

The detector misses a word now and then, however clearly it is said. What is heard of a number must not depend on that.
"""

from collections.abc import Sequence

WITHIN_DB = 15.0
"""How far under the speech of the utterance it may be; further under it lie breath, echo and the end of a word."""
OVER_ROOM_DB = 10.0
ROOM_SHARE = 0.3
"""How far over the room it is at least. The room is the level that this share of all that was heard around it does not
reach. On 875 readings of three digits by real people (Speech Commands, FSDD) such sound was found beside all that had
lost a word to the detector but one, and beside one in twenty of the others, whose clips are noisy."""
WORD_CHUNKS = 6
"""Sound of 0.2 s that is no softer than the speech may be a word, whatever is made of it. Of 674 readings (Speech
Commands, people of the training part that nothing was trained on) four that had lost a word had such sound beside them,
and none of the others; 6 dB softer, so had seven of the others."""
PIECE_WITHIN_DB, PIECE_ENDS_DB = 10.0, 20.0
PIECE_CHUNKS, GAP_CHUNKS = 3, 2
"""A digit is one piece of sound: about 0.1 s of it or more is near the level of the whole, and where it is far under
that for 0.06 s, the next piece begins. The plosives inside "six" and "eight" part none: of 155 readings of all ten
digits (FSDD) none had more pieces than digits; of 431 in clips with noise of their own (Speech Commands) 23 had."""
KNOWN_FROM = 16
"""Chunks of sound, half a second, from which the level of the room is known."""


def least_level(around: Sequence[float], speech: float) -> float | None:
    """Level from which sound beside an utterance counts, or None where too little was heard to say.

    Args:
        around: Root mean square of each chunk of it and of the sound before and after it, in any scale.
        speech: The same of its speech.
    """
    if len(around) < KNOWN_FROM:
        return None
    room = sorted(around)[int(ROOM_SHARE * len(around))]
    # Nothing is softer than one step of the scale.
    return float(max(speech * 10 ** (-WITHIN_DB / 20), max(room, 1.0) * 10 ** (OVER_ROOM_DB / 20)))


def loud_runs(levels: Sequence[float], least: float, shortest: int) -> list[tuple[int, int]]:
    """Where so many chunks one after the other are loud: first place of each run, and the place after its last."""
    found: list[tuple[int, int]] = []
    begin: int | None = None
    for place, is_loud in enumerate([*(level >= least for level in levels), False]):
        if is_loud and begin is None:
            begin = place
        elif not is_loud and begin is not None:
            if place - begin >= shortest:
                found.append((begin, place))
            begin = None
    return found


def may_be_word(levels: Sequence[float], speech: float) -> bool:
    """Whether a run is long enough for a word and as loud as the speech beside it."""
    return len(levels) >= WORD_CHUNKS and sum(level**2 for level in levels) >= len(levels) * speech**2


def count_pieces(levels: Sequence[float]) -> int:
    """How many pieces of loud sound there are, with silence between them; 0 where there is no sound.

    Args:
        levels: Root mean square of each chunk, in any scale.
    """
    loudest = max(levels, default=0.0)
    sounding = [level for level in levels if level >= loudest * 10 ** (-PIECE_ENDS_DB / 20)]
    if not loudest:
        return 0
    whole = (sum(level**2 for level in sounding) / len(sounding)) ** 0.5
    loud, silent = whole * 10 ** (-PIECE_WITHIN_DB / 20), whole * 10 ** (-PIECE_ENDS_DB / 20)
    count = length = gap = 0
    for level in levels:
        gap = gap + 1 if level < silent else 0
        length = 0 if gap >= GAP_CHUNKS else length + (level >= loud)
        count += level >= loud and length == PIECE_CHUNKS
    return count
