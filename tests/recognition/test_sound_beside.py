"""What the detector of speech loses: sound as loud as the speech beside it. Rules of our own."""

from dataclasses import replace

import pytest
from recognition_helpers import HalfDeaf, blocks_of, missed, murmur, silence, tone

from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.recognition.endpoint_settings import EndpointSettings
from handsfree.recognition.endpointing import CHUNK_SAMPLES, Endpointer, Segment, chunk_levels
from handsfree.recognition.sound_beside import KNOWN_FROM, count_pieces, least_level, loud_runs, may_be_word

CHUNK_S = CHUNK_SAMPLES / SAMPLE_RATE_HZ
SETTINGS = EndpointSettings()


def cut(pcm: bytes, **settings: float) -> list[Segment]:
    endpointer = Endpointer(replace(SETTINGS, **settings), HalfDeaf)
    found = [segment for block in blocks_of(pcm) for segment in endpointer.accept(block)]
    return found + endpointer.flush()


def test_a_word_that_was_missed_before_the_speech_is_in_the_wider_segment() -> None:
    (segment,) = cut(murmur(2.0) + missed(0.4) + murmur(0.5) + tone(0.6) + murmur(1.0))
    assert segment.speech_from_s == pytest.approx(2.9, abs=CHUNK_S)
    wider = segment.wider
    assert wider is not None
    assert wider.speech_from_s == pytest.approx(2.0, abs=CHUNK_S)
    assert wider.start_s == pytest.approx(2.0 - SETTINGS.pre_roll_s, abs=2 * CHUNK_S)
    assert wider.speech_s == pytest.approx(1.0, abs=3 * CHUNK_S)
    assert wider.longest_pause_s == pytest.approx(0.5, abs=2 * CHUNK_S)
    assert len(wider.pcm) / 2 / SAMPLE_RATE_HZ == pytest.approx(
        SETTINGS.pre_roll_s + 0.4 + 0.5 + 0.6 + SETTINGS.tail_s, abs=4 * CHUNK_S
    )
    assert segment.has_word_beside


def test_a_word_of_which_hardly_anything_was_noticed_is_in_the_wider_segment() -> None:
    (segment,) = cut(murmur(2.0) + missed(0.2) + tone(0.03) + missed(0.2) + murmur(0.9) + tone(0.6) + murmur(1.0))
    assert segment.wider is not None
    assert segment.wider.speech_from_s == pytest.approx(2.0, abs=CHUNK_S)


def test_a_word_that_was_missed_after_the_speech_is_in_the_wider_segment() -> None:
    (segment,) = cut(murmur(2.0) + tone(0.6) + murmur(0.3) + missed(0.3) + murmur(1.5))
    assert segment.speech_to_s == pytest.approx(2.6, abs=CHUNK_S)
    wider = segment.wider
    assert wider is not None
    assert wider.start_s == segment.start_s
    assert wider.speech_to_s == pytest.approx(3.2, abs=2 * CHUNK_S)
    assert wider.speech_s == pytest.approx(0.9, abs=3 * CHUNK_S)
    assert wider.longest_pause_s == pytest.approx(0.3, abs=2 * CHUNK_S)


@pytest.mark.parametrize(
    ("beside", "why"),
    [
        (missed(0.4, amplitude=1000), "18 dB under the speech"),
        (missed(0.03), "a click"),
        (murmur(0.4), "the room"),
    ],
)
def test_what_is_softer_or_shorter_is_no_word(beside: bytes, why: str) -> None:
    (segment,) = cut(murmur(2.0) + beside + murmur(0.5) + tone(0.6) + murmur(1.0))
    assert segment.wider is None, why


def test_softer_sound_is_heard_as_well_but_need_not_be_a_word() -> None:
    (segment,) = cut(murmur(2.0) + missed(0.4, amplitude=2500) + murmur(0.5) + tone(0.6) + murmur(1.0))
    assert segment.wider is not None
    assert not segment.has_word_beside


def test_a_room_as_loud_as_that_is_no_word() -> None:
    (segment,) = cut(missed(3.0) + tone(0.6) + missed(1.0))
    assert segment.wider is None


def test_an_utterance_does_not_end_inside_a_word_that_is_missed() -> None:
    (segment,) = cut(murmur(2.0) + tone(0.6) + murmur(0.5) + missed(0.4) + murmur(1.5), end_silence_s=0.7)
    assert segment.wider is not None
    assert segment.wider.speech_to_s == pytest.approx(3.5, abs=2 * CHUNK_S)


def test_sound_that_goes_on_and_on_keeps_no_utterance_open() -> None:
    endpointer = Endpointer(SETTINGS, HalfDeaf)
    for block in blocks_of(murmur(2.0) + tone(0.6) + murmur(0.5) + missed(4.0)):
        if endpointer.accept(block):
            assert block.end_s - 2.6 == pytest.approx(SETTINGS.end_silence_s + SETTINGS.word_s, abs=2 * CHUNK_S)
            return
    pytest.fail("the utterance did not end")


def test_a_shut_microphone_says_nothing_of_the_room() -> None:
    endpointer = Endpointer(SETTINGS, HalfDeaf)
    shut = [replace(block, shut=True) for block in blocks_of(silence(1.4))]
    sound = blocks_of(missed(0.3) + tone(0.6) + missed(1.5), 1.4)
    found = [segment for block in [*shut, *sound] for segment in endpointer.accept(block)]
    assert [segment.wider for segment in found] == [None]


@pytest.mark.parametrize("reported", [True, False])
def test_what_was_reported_is_beside_no_other_utterance(reported: bool) -> None:
    endpointer = Endpointer(SETTINGS, HalfDeaf)
    first = murmur(2.0) + tone(0.6) + murmur(0.1) + missed(0.25) + murmur(0.3)
    for block in blocks_of(first):
        assert not endpointer.accept(block)
    endpointer.close()
    if reported:
        endpointer.forget(2.95)
    rest = blocks_of(tone(0.5) + murmur(1.5), 3.25)
    (segment,) = [found for block in rest for found in endpointer.accept(block)]
    assert segment.speech_from_s == pytest.approx(3.25, abs=CHUNK_S)
    assert (segment.wider is None) is reported


def test_levels_and_runs() -> None:
    # By definition of the decibel: 15 dB under 1000 is 177.8, 10 dB over 100 is 316.2.
    assert least_level([10.0] * KNOWN_FROM, 1000.0) == pytest.approx(177.8, abs=0.1)
    assert least_level([100.0] * KNOWN_FROM, 1000.0) == pytest.approx(316.2, abs=0.1)
    assert least_level([10.0] * (KNOWN_FROM - 1), 1000.0) is None
    assert loud_runs([0, 5, 5, 5, 0, 5, 5, 0, 5, 5, 5, 5], 5, 3) == [(1, 4), (8, 12)]
    assert may_be_word([600.0] * 6, 600.0)
    assert not may_be_word([600.0] * 5, 600.0)
    assert not may_be_word([500.0] * 6, 600.0)


@pytest.mark.parametrize(
    ("sound", "pieces"),
    [
        (b"", 0),
        (silence(1.0), 0),
        (murmur(0.3) + tone(0.4) + murmur(0.3), 1),
        (tone(0.3) + murmur(0.2) + tone(0.3) + murmur(0.2) + tone(0.3), 3),
        # A click, a breath, and a stop inside a word part nothing.
        (tone(0.3) + murmur(0.2) + tone(0.04) + murmur(0.2) + tone(0.3), 2),
        (tone(0.3) + murmur(0.2) + tone(0.3, 1500) + murmur(0.2) + tone(0.3), 2),
        (tone(0.3) + murmur(0.04) + tone(0.3), 1),
    ],
)
def test_loud_pieces_of_sound_are_counted(sound: bytes, pieces: int) -> None:
    assert count_pieces(chunk_levels(sound)) == pieces
