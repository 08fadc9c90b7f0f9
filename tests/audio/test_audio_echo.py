"""The reference, the canceller and the likeness of an echo, in simulated rooms. Levels: 20 log10 of the ratio.

Expected figures are of the rooms themselves (delay and gain are put in by hand); that an echo canceller must take out
so much is a rule of our own, no source.
"""

import sys
from dataclasses import replace
from datetime import UTC, datetime

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")
pytest.importorskip("pywebrtc_audio", reason="pywebrtc-audio is not installed: pip install 'handsfree[speech]'")

from handsfree.application.echo_check import test_sound as sound_of_check  # noqa: E402
from handsfree.audio.echo_canceller import ALIKE, EchoCanceller, delay_s, likeness  # noqa: E402
from handsfree.audio.levels import level_dbfs  # noqa: E402
from handsfree.audio.played_sound import LOST_BLOCKS, MARGIN_S, PlayedSound  # noqa: E402
from handsfree.clock import ManualClock  # noqa: E402
from handsfree.errors import AudioDeviceError  # noqa: E402
from handsfree.model.effects import Priority  # noqa: E402
from handsfree.simulation.echo_room import EchoPath, EchoRoom  # noqa: E402

RATE_HZ = 16_000
BLOCK = 320
BLOCK_S = 0.02


def ramp(number: int) -> np.ndarray:
    """Samples that say where they stand."""
    return ((number * BLOCK + np.arange(BLOCK)) % 30_000).astype("<i2")


def test_the_reference_is_what_was_handed_over_a_moment_before() -> None:
    played = PlayedSound(RATE_HZ)
    margin = round(MARGIN_S * RATE_HZ)
    for number in range(50):
        played.put(ramp(number).tobytes(), number * BLOCK_S)
        found = played.take(number * BLOCK_S, BLOCK)
        if number > 3:
            assert found.tolist() == ((number * BLOCK - margin + np.arange(BLOCK)) % 30_000).tolist()


def test_nothing_is_known_of_what_no_device_has_asked_for() -> None:
    played = PlayedSound(RATE_HZ)
    assert not played.take(1.0, BLOCK).any()
    played.put(np.full(BLOCK, 1000, "<i2").tobytes(), 1.0)
    assert np.count_nonzero(played.take(1.02, BLOCK)) == BLOCK - round((MARGIN_S - 0.02) * RATE_HZ)
    played.take(1.04, BLOCK)
    assert not played.take(1.06, BLOCK).any(), "the device has stopped asking"


def test_callbacks_that_come_late_tear_nothing() -> None:
    played, random = PlayedSound(RATE_HZ), np.random.default_rng(1)
    found = []
    for number in range(400):
        played.put(ramp(number).tobytes(), number * BLOCK_S + float(random.uniform(0, 0.008)))
        found.append(played.take(number * BLOCK_S + 0.01, BLOCK))
    # After two seconds the count stands, and whatever comes late is read without a hole.
    whole = np.concatenate(found[105:]).astype(int)
    assert set((np.diff(whole) % 30_000).tolist()) == {1}


def test_a_device_that_asks_for_much_at_once_when_it_begins_is_counted_right() -> None:
    # Five fills at once, then one every 20 ms: what is asked for in a moment is played 80 ms later than that moment.
    played = PlayedSound(RATE_HZ)
    for number in range(5):
        played.put(ramp(number).tobytes(), 0.0)
    for number in range(5, 300):
        played.put(ramp(number).tobytes(), (number - 4) * BLOCK_S)
        found = played.take((number - 4) * BLOCK_S, BLOCK)
    assert int(found[0]) == pytest.approx((number * BLOCK - MARGIN_S * RATE_HZ) % 30_000, abs=1)


def test_what_the_clocks_differ_by_is_set_right_while_nothing_is_played() -> None:
    played, rate = PlayedSound(RATE_HZ), 1 + 100e-6
    for number in range(3_000):
        loud = number < 1_000 or number >= 1_100
        wave = ramp(number) if loud else np.zeros(BLOCK, "<i2")
        played.put(wave.tobytes(), number * BLOCK_S / rate)
        found = played.take(number * BLOCK_S, BLOCK)
        if number == 1_150:
            expected = number * BLOCK * rate - MARGIN_S * RATE_HZ
            assert (int(found[0]) - expected + 15_000) % 30_000 - 15_000 == pytest.approx(0, abs=24)


@pytest.mark.parametrize("ppm", [50, -50])
def test_two_clocks_50_ppm_apart_are_held_together(ppm: int) -> None:
    # In 10 min 50 ppm are 30 ms: without following, the reference would be off by 480 samples.
    played = PlayedSound(RATE_HZ)
    rate = 1 + ppm * 1e-6
    for number in range(30_000):
        played.put(ramp(number).tobytes(), number * BLOCK_S / rate)
        found = played.take(number * BLOCK_S, BLOCK)
    expected = (30_000 - 1) * BLOCK * rate - MARGIN_S * RATE_HZ
    assert (int(found[0]) - expected + 15_000) % 30_000 - 15_000 == pytest.approx(0, abs=220)


def test_lost_sound_is_set_right_at_once() -> None:
    played = PlayedSound(RATE_HZ)
    for number in range(100):
        played.put(ramp(number).tobytes(), number * BLOCK_S)
        played.take(number * BLOCK_S, BLOCK)
    # The device falls silent for a second, and goes on with the sound after it.
    for number in range(150, 150 + 50 + LOST_BLOCKS + 5):
        played.put(ramp(number - 50).tobytes(), number * BLOCK_S)
        found = played.take(number * BLOCK_S, BLOCK)
    expected = ((number - 50) * BLOCK - MARGIN_S * RATE_HZ) % 30_000
    assert int(found[0]) == pytest.approx(expected, abs=2)


def test_a_missing_canceller_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pywebrtc_audio", None)
    with pytest.raises(AudioDeviceError, match=r"^the echo canceller is missing: pip install 'handsfree\[speech\]'$"):
        EchoCanceller(PlayedSound(RATE_HZ).take)


class Listening:
    """A room in which a test sound plays, and what the canceller leaves of it."""

    def __init__(self, path: EchoPath, *, gives_reference: bool = True, of: str = "words") -> None:
        self.of = of
        self.room = EchoRoom(ManualClock(datetime(2026, 11, 25, tzinfo=UTC)), path)
        nothing = PlayedSound(RATE_HZ).take
        self.canceller = EchoCanceller(self.room.played if gives_reference else nothing)
        self.echo = False

    def levels(self, seconds: float) -> tuple[float, float]:
        """Play for so long; levels at the microphone and of what is left, dB below full scale."""
        heard, left = [], []
        self.echo = False
        for _ in range(round(seconds / BLOCK_S)):
            if not self.room.speaking:
                self.room.play(sound_of_check(), Priority.PROMPT)
            block = self.room.next_block()
            heard.append(np.frombuffer(block.pcm, "<i2"))
            cleaned = self.canceller.clean(block)
            left.append(np.frombuffer(getattr(cleaned, self.of).pcm, "<i2"))
            somebody = level_dbfs(np.frombuffer(cleaned.somebody.pcm, "<i2"))
            self.echo = self.echo or (somebody > -50 and self.canceller.is_echo)
        return level_dbfs(np.concatenate(heard)), level_dbfs(np.concatenate(left))


@pytest.mark.parametrize("of", ["words", "somebody"])
def test_an_echo_is_taken_out_and_somebody_beside_it_is_not(of: str) -> None:
    there = Listening(EchoPath(gain_db=-6.0), of=of)
    there.levels(4.0)
    heard, left = there.levels(2.0)
    assert heard - left > 25
    random = np.random.default_rng(2)
    voice = random.standard_normal(RATE_HZ) * np.repeat(random.uniform(0, 1, 50) ** 2, BLOCK) * 0.2
    there.room.speak(voice)
    heard, left = there.levels(1.0)
    assert left > heard - 6


def test_without_a_reference_the_echo_stays_as_it_is() -> None:
    there = Listening(EchoPath(gain_db=-6.0), gives_reference=False)
    heard, left = there.levels(3.0)
    assert heard - left < 6


@pytest.mark.parametrize("ppm", [50.0, -50.0])
def test_an_echo_of_a_clock_50_ppm_off_is_taken_out(ppm: float) -> None:
    there = Listening(EchoPath(gain_db=-6.0, drift_ppm=ppm))
    there.levels(12.0)
    heard, left = there.levels(4.0)
    assert heard - left > 20


def test_an_echo_whose_delay_jumps_is_known_for_an_echo_until_it_is_taken_out_again() -> None:
    path = EchoPath(gain_db=-6.0)
    there = Listening(path)
    there.levels(2.0)
    there.levels(4.0)
    assert not there.echo
    there.room.path = replace(path, delay_s=0.22)
    there.levels(1.0)
    assert there.echo
    there.levels(4.0)
    heard, left = there.levels(2.0)
    assert heard - left > 25


def test_in_quiet_nothing_is_touched() -> None:
    room = EchoRoom(ManualClock(datetime(2026, 11, 25, tzinfo=UTC)), EchoPath())
    canceller = EchoCanceller(room.played)
    for _ in range(20):
        block = room.next_block()
        assert canceller.clean(block).words == block


def test_an_echo_is_like_what_was_played_and_a_stranger_is_not() -> None:
    random = np.random.default_rng(3)
    played = (random.standard_normal(13_120) * 3000).astype(np.int16)
    late = round(0.21 * RATE_HZ)
    echo = np.convolve(played, [0.5, 0.2, -0.1, 0.05])[: len(played)]
    heard = echo[len(played) - 5_120 - late : len(played) - late].astype(np.int16)
    assert likeness(heard, played) > ALIKE
    assert delay_s(heard, played) == pytest.approx(0.21, abs=1 / RATE_HZ)
    stranger = (random.standard_normal(5_120) * 3000).astype(np.int16)
    assert likeness(stranger, played) < ALIKE
    assert delay_s(stranger, played) is None
    assert likeness(np.zeros(5_120, np.int16), played) == 0.0
