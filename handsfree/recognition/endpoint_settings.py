"""When speech begins and ends: the settings of the endpointer."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class EndpointSettings:
    """When speech begins and ends.

    Threshold, pre-roll and tail come from a laboratory trial of the neural engine. The silences come from 80 readings
    of three digits, joined from isolated recordings of real people: 4 were cut in two with 0.45 s, none with 0.75 s.
    What belongs to a soft beginning comes from `scripts/bench_detector.py` on 70 readings by as many people.

    Attributes:
        threshold: Probability of speech, 0 … 1, from which it is taken for speech.
        release: Probability below which it is no longer; lower, so that a soft ending is kept.
        soft: Probability from which what lies before speech that was noticed belongs to it: a soft first word.
        look_back_s: How far back such a beginning may lie.
        soft_gap_s: Seconds of silence that may lie inside it.
        pre_roll_s: Seconds kept before speech; without them a third of short commands is lost.
        tail_s: Seconds kept after it.
        stop_silence_s: Seconds without speech beyond doubt after which a stop word is looked for.
        sure_silence_s: Seconds of silence after which an utterance ends if nothing could follow and what was said is
            beyond doubt; at least `tail_s`.
        lead_s: So much sooner it is heard, to be understood when that silence is over.
        early_silence_s: Seconds of silence after which it ends if nothing is likely to follow.
        end_silence_s: Seconds of silence that end any utterance, unless more is waited for.
        slow_silence_s: Seconds of silence that may lie inside a number that is said slowly, digit by digit.
        slow_pause_s: Who paused so long between two words speaks slowly.
        near_db: How far over the room a voice is near. What is said in the room where a near voice was heard is others'
            talk: it is no part of the utterance, and ends it as silence does.
        far_db: How far over the room its own talk may be.
        least_speech_s: Less speech than this is a click.
        word_s: So much longer may an utterance get for sound that is as loud as its speech and is not taken for it.
        longest_s: An utterance is cut after this many seconds.
    """

    threshold: float = 0.5
    release: float = 0.15
    soft: float = 0.12
    look_back_s: float = 1.5
    soft_gap_s: float = 0.35
    pre_roll_s: float = 0.3
    tail_s: float = 0.2
    stop_silence_s: float = 0.12
    sure_silence_s: float = 0.2
    lead_s: float = 0.08
    early_silence_s: float = 0.35
    end_silence_s: float = 0.7
    slow_silence_s: float = 1.3
    slow_pause_s: float = 0.3
    near_db: float = 6.0
    far_db: float = 2.5
    least_speech_s: float = 0.09
    word_s: float = 0.6
    longest_s: float = 15.0
