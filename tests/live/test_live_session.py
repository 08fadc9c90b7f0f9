"""A live session with stand-ins for devices and recogniser, and the real session, journal, gate and voice cache."""

from collections.abc import Iterator
from pathlib import Path

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")

from live_files import write_short  # noqa: E402
from live_stand_ins import FakeSound, FakeView, FakeVoice, Visit, to_the_light  # noqa: E402

from handsfree.application.replaying import replay  # noqa: E402
from handsfree.audio.earcons import render_earcon  # noqa: E402
from handsfree.clock import SystemClock  # noqa: E402
from handsfree.errors import VoiceError  # noqa: E402
from handsfree.model.commands import Control  # noqa: E402
from handsfree.model.effects import Earcon, Priority  # noqa: E402
from handsfree.record.verify import verify  # noqa: E402
from handsfree.report.log import utterances  # noqa: E402
from handsfree.runner.live_outputs import LiveOutputs  # noqa: E402
from handsfree.runner.live_session import CommandPressed, KeyPressed, LabelRead  # noqa: E402
from handsfree.runner.session_clock import SessionClock  # noqa: E402


def test_answers_are_heard_read_back_and_recorded(tmp_path: Path) -> None:
    visit = Visit(tmp_path)
    visit.run(to_the_light)
    assert [one["value"]["value"] for one in visit.facts("reading_confirmed")] == ["practice", "5"]
    assert ("distance five, centimeters. Correct?", Priority.PROMPT) in visit.sound.played
    assert visit.view.snapshot is not None
    assert visit.view.snapshot.is_lit


def test_more_of_a_reading_breaks_off_its_read_back_and_is_read_back_whole(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from visit.say("practice session")
        begun_s = visit.sound.now_s
        yield from visit.say("five")
        visit.recognizer.goes_on = True
        visit.recognizer.more_since_s = begun_s
        cuts = visit.sound.cuts
        yield from visit.say("five point five")
        assert visit.sound.cuts == cuts + 1
        assert visit.sound.held[-1]
        visit.recognizer.goes_on = False
        visit.recognizer.more_since_s = None
        yield from visit.say("affirmative")

    visit.run(steps)
    assert [one["value"]["value"] for one in visit.facts("reading_confirmed")] == ["practice", "5.5"]
    assert [one["values"] for one in visit.facts("values_dropped")] == [
        {"distance": {"type": "exact", "value": "5", "decimals": 0, "unit": None}}
    ]
    assert any(text.startswith("distance five point five") for text, _ in visit.sound.played)
    # The words of then and now are held against what was asked when the first were said.
    record = verify(visit.folder).record
    assert record is not None
    assert replay(record, write_short(tmp_path)).faults == ()


def test_what_cannot_be_spoken_is_shown_and_the_session_goes_on(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from to_the_light(visit)
        visit.voice.fails = True
        visit.sound.mixed.clear()
        yield from visit.say("light off")
        assert render_earcon(Earcon.ATTENTION) in visit.sound.mixed

    visit.run(steps)
    assert "not spoken, read the screen: the voice gave nothing within 5 s" in visit.view.all("notice")
    assert [fact["zone"] for fact in visit.facts("light_turned_off")]


def test_nobody_begins_with_a_tool_that_is_mute(tmp_path: Path) -> None:
    voice = FakeVoice()
    voice.fails = True
    outputs = LiveOutputs(FakeSound(), voice, FakeView(), SessionClock(SystemClock()))
    with pytest.raises(VoiceError, match="gave nothing"):
        outputs.say("Who is here?", Priority.PROMPT)


def test_an_answer_is_acknowledged_by_a_sound_before_its_read_back(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from visit.say("practice session")
        visit.sound.mixed.clear()
        yield from visit.say("five")

    visit.run(steps)
    assert len(visit.sound.mixed) == 1


def test_a_label_that_nothing_asks_for_is_not_taken_and_changes_nothing(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        visit.inbox.put(LabelRead("]C10109506000134352172810311010A4B2", 0.5))
        while not visit.inbox.empty():
            yield
        yield from visit.say("practice session")

    visit.run(steps)
    assert [one["value"]["value"] for one in visit.facts("reading_confirmed")] == ["practice"]
    assert not visit.facts("label_scanned")


def test_a_key_cuts_a_prompt_short_and_is_recorded_only_then(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        visit.inbox.put(KeyPressed())
        yield
        visit.sound.speaking = True
        visit.inbox.put(KeyPressed())
        while visit.sound.speaking:
            yield

    visit.run(steps)
    assert visit.sound.stops == 1
    assert [one["by"] for one in visit.facts("prompt_cut_short")] == ["key"]


def test_a_pedal_affirms_what_was_asked_never_what_is_still_being_said_and_is_no_speech(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def press(visit: Visit, control: Control) -> Iterator[object]:
        visit.inbox.put(CommandPressed(control, visit.runner.now_s))
        while not visit.inbox.empty() or not visit.runner.settled:
            yield

    def steps(visit: Visit) -> Iterator[object]:
        for text in ("practice session", "five"):
            yield from visit.say(text)
        visit.sound.speaking = True
        yield from press(visit, Control.AFFIRM)
        assert visit.view.snapshot is not None
        assert visit.view.snapshot.mode == "reading_back"
        yield from press(visit, Control.AFFIRM)
        assert visit.view.snapshot.mode == "asking"
        visit.sound.speaking = True
        yield from press(visit, Control.STOP)
        assert visit.view.snapshot.mode == "paused"

    visit.run(steps)
    assert "press once more" in visit.view.all("notice")[0]
    assert [one["by"] for one in visit.facts("prompt_cut_short")] == ["key"]
    assert visit.facts("stop_word_heard")[0]["heard"]["engine"] == "pressed"
    logged = [(one.words, one.taken, one.score) for _, one in utterances(verify(visit.folder).record)]
    assert logged[-2:] == [("affirmative", "key pressed", ""), ("stop", "key pressed", "")]
    assert replay(verify(visit.folder).record, write_short(tmp_path)).faults == ()


def test_a_lost_microphone_is_said_once_shown_recorded_and_stops_the_light_count(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    visit = Visit(tmp_path)
    caplog.set_level("INFO", "handsfree")

    def steps(visit: Visit) -> Iterator[object]:
        yield from to_the_light(visit)
        said = len(visit.sound.played)
        visit.sound.blocks.put(lambda: visit.sound.notice("microphone", False))
        while not visit.view.all("notice"):
            yield
        words = " ".join(text for text, _ in visit.sound.played[said:])
        assert words.count("microphone") == 1
        visit.sound.blocks.put(lambda: visit.sound.notice("microphone", True))
        while len(visit.view.all("notice")) < 2 or not visit.runner.settled:
            yield
        assert visit.sound.played[-2][0] == "The microphone is back."
        assert visit.sound.played[-1][0], "the question is asked again"

    visit.run(steps)
    assert visit.view.all("notice") == ["microphone lost: plug it in again", "microphone is back"]
    assert [one["what"] for one in visit.facts("device_lost")] == ["microphone"]
    assert [one["what"] for one in visit.facts("device_returned")] == ["microphone"]
    logged = [text for text in caplog.messages if text.startswith("device_changed")]
    assert [text.partition(" device=")[2] for text in logged] == ["microphone there=False", "microphone there=True"]
    assert [one["end"] for one in visit.facts("light_turned_off")] == ["interrupted"]
    assert [one["value"]["value"] for one in visit.facts("reading_confirmed")] == ["practice", "5"]
    assert visit.recognizer.resets == 2
    assert visit.view.snapshot is not None
    assert not visit.view.snapshot.is_lit


def test_lost_sound_is_shown_counted_and_spoils_what_was_being_said(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        visit.sound.blocks.put(lambda: setattr(visit.sound, "overflows", 3))
        yield from visit.say("practice session")
        yield from visit.say("practice session")

    visit.run(steps)
    assert [one["count"] for one in visit.facts("sound_overflowed")] == [3]
    assert [text.endswith(" count=3") for text in caplog.messages if "sound_overflowed at_s" in text] == [True]
    assert "some sound was lost: this machine is too busy" in visit.view.all("notice")
    assert visit.view.all("not taken") == ["practice session"]
    assert visit.view.all("accepted") == ["practice session"]


@pytest.mark.parametrize(("text", "outcome", "ended"), [("stop", "accepted", 1), ("light on", "not taken", 0)])
def test_somebody_louder_than_the_echo_cuts_a_prompt_short_and_only_a_stop_word_counts(
    tmp_path: Path, text: str, outcome: str, ended: int
) -> None:
    visit = Visit(tmp_path)
    soft = (np.tile([300, -300], 160)).astype("<i2").tobytes()

    def steps(visit: Visit) -> Iterator[object]:
        yield from to_the_light(visit)
        visit.sound.spans.append((visit.sound.now_s, visit.sound.now_s + 100))
        for _ in range(200):
            visit.sound.send(soft)
        for _ in range(3):
            last_s = visit.sound.send()
        # The stand-in is asked to cut, and its speech ends there.
        visit.sound.blocks.put(lambda: visit.sound.spans.__setitem__(0, (0.0, last_s + 0.1)))
        yield from visit.say(text)

    visit.run(steps)
    assert visit.sound.cuts == 1
    assert [one["by"] for one in visit.facts("prompt_cut_short")] == ["voice"]
    assert visit.view.all(outcome)[-1] == text
    assert len(visit.facts("light_turned_off")) == ended


def test_a_question_is_not_answered_by_words_that_began_before_it(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from visit.say("practice session")
        yield from visit.say("five")
        # "affirmative" confirms the five; a second one, begun before eyewear is asked about, confirms nothing.
        start_s = visit.sound.now_s
        visit.recognizer.words[start_s] = visit.recognizer.words[start_s + 0.02] = "affirmative"
        visit.sound.send()
        visit.sound.send()
        while len(visit.view.all("accepted")) + len(visit.view.all("not taken")) < 4:
            yield

    visit.run(steps)
    assert visit.view.all("not taken") == ["affirmative"]
    assert visit.view.snapshot is not None
    assert visit.view.snapshot.step_id == "eyewear"


def test_with_an_attention_phrase_only_what_begins_with_it_is_taken_and_stop_words_always(tmp_path: Path) -> None:
    visit = Visit(tmp_path, phrase=("blue", "lantern"))

    def steps(visit: Visit) -> Iterator[object]:
        yield from visit.say("practice session")
        yield from visit.say("blue lantern practice session")
        yield from visit.say("stop")

    before = len(visit.sound.mixed)
    visit.run(steps)
    assert visit.view.all("not for me") == [""]
    assert visit.view.all("accepted") == ["blue lantern practice session", "stop"]
    assert visit.facts("utterance_not_taken") == [], "talk of the room is neither answered nor kept"
    assert len(visit.sound.mixed) > before


def test_a_room_too_loud_is_said_and_recorded_and_not_said_again_at_once(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        # -12 dB below full scale, steady, for 12 s: far above the level that speech should have.
        for _ in range(600):
            visit.sound.send()
        while "too noisy to hear you" not in visit.view.all("notice"):
            yield
        yield from visit.say("practice session")

    visit.run(steps)
    assert visit.view.all("notice") == ["too noisy to hear you"]
    assert sum(text.startswith("room_too_loud level_dbfs=") for text in caplog.messages) == 1
    assert [one["reason"] for one in visit.facts("utterance_not_taken")] == ["too_noisy", "too_noisy"]
    assert visit.facts("reading_confirmed") == []


def test_the_recogniser_that_fails_ends_the_session_with_its_own_error(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    class BrokenError(Exception):
        pass

    def fail() -> None:
        raise BrokenError

    visit.sound.blocks.put(fail)
    with visit.journal, pytest.raises(BrokenError):
        visit.live.run()
