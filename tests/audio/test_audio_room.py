"""How loud the room is, who speaks over a prompt, when a block was captured. Levels by hand: 20 log10 of the ratio."""

import math
from itertools import pairwise

import pytest

np = pytest.importorskip("numpy")

from handsfree.audio.doubletalk import LEARN_BLOCKS, DoubleTalk  # noqa: E402
from handsfree.audio.levels import level_dbfs  # noqa: E402
from handsfree.audio.microphone import SampleTime  # noqa: E402
from handsfree.audio.room_level import LOUD_FLOOR_DBFS, RoomLevel  # noqa: E402
from handsfree.model.audio import AudioBlock  # noqa: E402

BLOCK_S = 0.02


def block(dbfs: float, number: int) -> AudioBlock:
    """A square wave, whose level is that of its amplitude."""
    amplitude = round(32768 * 10 ** (dbfs / 20))
    return AudioBlock((np.tile([amplitude, -amplitude], 160)).astype("<i2").tobytes(), number * BLOCK_S)


def hear(room: RoomLevel, dbfs: float, seconds: float, *, own: bool = False) -> None:
    start = getattr(room, "test_blocks", 0)
    count = round(seconds / BLOCK_S)
    for number in range(start, start + count):
        room.hear(block(dbfs, number), own=own)
    room.test_blocks = start + count


def test_levels_are_decibels_below_full_scale() -> None:
    # A sine of full scale has a root mean square of 1 / sqrt 2: 3.01 dB below.
    sine = 32767 * np.sin(2 * np.pi * np.arange(320) / 32)
    assert level_dbfs(sine) == pytest.approx(20 * math.log10(2**-0.5), abs=0.01)
    assert level_dbfs(np.zeros(320)) == level_dbfs(np.zeros(0)) == -90.0
    assert level_dbfs(np.full(10, -32768, dtype=np.int16)) == pytest.approx(0.0)


def test_the_floor_is_the_level_between_words_and_own_speech_is_no_noise() -> None:
    room = RoomLevel()
    hear(room, -60, 2)
    for _ in range(4):
        hear(room, -20, 0.7)
        hear(room, -60, 0.3)
    assert room.floor_dbfs == pytest.approx(-60, abs=1)
    hear(room, -15, 30, own=True)
    assert room.floor_dbfs == pytest.approx(-60, abs=1)
    assert not room.too_loud


def test_a_room_as_loud_as_speech_is_too_loud_and_says_so_no_longer_when_it_falls_quiet() -> None:
    room = RoomLevel()
    hear(room, LOUD_FLOOR_DBFS + 2, 3)
    assert room.too_loud
    hear(room, -50, 12)
    assert not room.too_loud


def test_speech_that_does_not_stand_out_of_the_noise_is_drowned() -> None:
    room = RoomLevel()
    hear(room, -40, 5)
    hear(room, -37, 1)
    hear(room, -20, 1)
    assert room.drowned(5.0, 6.0)
    assert not room.drowned(6.0, 7.0)
    assert not room.drowned(100.0, 101.0), "nothing is known of that time"


def test_soft_speech_in_a_quiet_room_is_not_drowned() -> None:
    room = RoomLevel()
    hear(room, -70, 5)
    hear(room, -66, 1)
    assert not room.drowned(5.0, 6.0)


def talk(double: DoubleTalk, microphone_dbfs: float, blocks: int, played_dbfs: float = -20.0) -> list[bool]:
    return [double.hear(microphone_dbfs, played_dbfs, -70.0) for _ in range(blocks)]


def test_nobody_is_heard_over_a_prompt_before_the_coupling_is_known() -> None:
    double = DoubleTalk()
    assert not any(talk(double, -5.0, LEARN_BLOCKS))


def test_an_echo_is_not_somebody_and_a_person_louder_than_it_is() -> None:
    double = DoubleTalk()
    assert not any(talk(double, -30.0, 300))
    assert double.coupling_db == pytest.approx(-10.0)
    assert not any(talk(double, -25.0, 50)), "5 dB over the echo may be the room"
    assert talk(double, -15.0, 3) == [False, False, True]


def test_one_clatter_is_not_somebody() -> None:
    double = DoubleTalk()
    talk(double, -30.0, 300)
    assert not any([*talk(double, -5.0, 2), *talk(double, -30.0, 20), *talk(double, -5.0, 2)])
    double.forget()
    assert not any(talk(double, -5.0, 2))


def test_with_headphones_breath_is_not_somebody() -> None:
    double = DoubleTalk()
    talk(double, -80.0, 300)
    assert not any(talk(double, -55.0, 50))
    assert any(talk(double, -30.0, 5))


def test_a_louder_loudspeaker_is_learned() -> None:
    double = DoubleTalk()
    talk(double, -30.0, 300)
    assert talk(double, -15.0, 100)[-1] is False


def starts(deliveries: list[float]) -> list[float]:
    time = SampleTime()
    return [time.start_of(BLOCK_S, delivered_s) for delivered_s in deliveries]


def test_late_deliveries_tear_nothing() -> None:
    # The tenth to the twentieth block come at once, 0.2 s late.
    due = [10 + (number + 1) * BLOCK_S for number in range(100)]
    late = [max(at_s, 10.42) if 10 <= number < 20 else at_s for number, at_s in enumerate(due)]
    assert starts(late) == pytest.approx([at_s - BLOCK_S for at_s in due])


@pytest.mark.parametrize("rate", [0.999, 1.001])
def test_a_sound_card_whose_second_is_another_stays_with_the_clock(rate: float) -> None:
    due = [10 + (number + 1) * BLOCK_S * rate for number in range(20_000)]
    found = starts(due)
    assert max(abs(start_s + BLOCK_S - at_s) for start_s, at_s in zip(found, due, strict=True)) < 0.03
    assert all(later > earlier for earlier, later in pairwise(found))


def test_lost_sound_moves_the_count_on_at_once_after_half_a_second() -> None:
    due = [10 + (number + 1) * BLOCK_S + (0.5 if number >= 50 else 0.0) for number in range(120)]
    found = starts(due)
    assert found[49] == pytest.approx(due[49] - BLOCK_S)
    assert found[-1] == pytest.approx(due[-1] - BLOCK_S, abs=0.001)
