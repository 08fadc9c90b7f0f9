"""The contract of `Synthesizer`, passed by a fake and by every real voice that is installed, and the cache."""

import json
import shutil
import subprocess
import sys
import wave
from pathlib import Path

import pytest

from handsfree.errors import UsageError, VoiceError
from handsfree.model.audio import Speech
from handsfree.voice.port import Synthesizer
from handsfree.voice.prompt_cache import CachedSynthesizer
from handsfree.voice.prompt_rate import NUMBER_WPM, PROMPT_WPM, paced
from handsfree.voice.rendering_environment import without_sound_server

np = pytest.importorskip("numpy")

from handsfree.voice import choose  # noqa: E402

PROMPTS = (
    "Check the colour of the fingers on the left hand and say what you see, then wait for the next question.",
    "Place the lamp on the next zone and say light on when it shines.",
    "Capillary refill at the thumb, left hand, in seconds.",
    "Ask whether the splint feels warm. Warm is expected, painful is not.",
    "Say affirmative, or say it again.",
    "Open the strap and look at the skin along the edge.",
)


TEXTS = frozenset({"Hello", "one", "two", "three", "four", "five"})


class FakeVoice:
    """Counts what it renders: 100 samples a letter."""

    name = "fake 1"

    def __init__(self, rate_wpm: int = PROMPT_WPM) -> None:
        self.rendered: list[str] = []

    def render(self, text: str) -> Speech:
        self.rendered.append(text)
        return Speech(bytes([7, 1]) * (100 * len(text)), 16_000)


def make(name: str) -> Synthesizer:
    if name == "fake":
        return FakeVoice()
    try:
        return choose.VOICES[name]()
    except VoiceError as error:
        pytest.skip(str(error))


@pytest.mark.parametrize("name", ["fake", *choose.VOICES])
def test_contract(name: str) -> None:
    voice = make(name)
    speech = voice.render("Ready.")
    assert voice.name
    assert speech.sample_rate_hz >= 8_000
    assert 0.03 < speech.duration_s < 3
    assert np.abs(np.frombuffer(speech.pcm, "<i2")).max() > 250
    assert voice.render("Ready.") == speech
    assert voice.render("Ready. Check the wrist, left.").duration_s > speech.duration_s
    assert voice.render("").pcm == b""


@pytest.mark.parametrize("name", list(choose.VOICES))
def test_prompts_come_near_150_words_a_minute(name: str) -> None:
    voice = make(name)
    words = sum(len(prompt.split()) for prompt in PROMPTS)
    # With the pauses that the voice makes around sentences, as its rate is counted; prompts leave them out.
    spoken_s = sum(
        getattr(voice, "render_at", lambda text, _: voice.render(text))(one, 1.0).duration_s for one in PROMPTS
    )
    assert words / spoken_s * 60 == pytest.approx(PROMPT_WPM, rel=0.15)


@pytest.mark.parametrize("name", list(choose.VOICES))
def test_a_voice_writes_nothing_to_standard_output(name: str) -> None:
    make(name)
    code = f"from handsfree.voice.choose import VOICES; VOICES[{name!r}]().render('Ready.')"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, timeout=60)
    assert done.stdout == b""


def test_numbers_are_slower_and_decimals_stay_whole() -> None:
    assert paced("Read back: 17.5 centimeters. Say next step.") == (
        ("Read back: 17.5 centimeters.", NUMBER_WPM),
        ("Say next step.", PROMPT_WPM),
    )
    assert paced("Wrist, fifteen.") == (("Wrist, fifteen.", NUMBER_WPM),)
    assert paced("Someone pointed there.") == (("Someone pointed there.", PROMPT_WPM),)


def test_another_rate_slows_numbers_in_proportion_and_is_cached_apart(tmp_path: Path) -> None:
    assert paced("Wrist, fifteen. Say next step.", 120) == (("Wrist, fifteen.", 100), ("Say next step.", 120))
    slow, fast = FakeVoice(), FakeVoice()
    CachedSynthesizer(slow, tmp_path, TEXTS, variant="120").render("Hello")
    CachedSynthesizer(fast, tmp_path, TEXTS, variant="180").render("Hello")
    assert slow.rendered == fast.rendered == ["Hello"]


@pytest.mark.parametrize("name", list(choose.VOICES))
def test_a_voice_speaks_at_the_rate_asked_for(name: str) -> None:
    make(name)
    slow, fast = (choose.choose_synthesizer(name, rate_wpm=rate).render(PROMPTS[0]).duration_s for rate in (110, 200))
    assert 1.4 < slow / fast < 2.2


def test_cache_renders_a_text_once() -> None:
    fake = FakeVoice()
    cached = CachedSynthesizer(fake)
    assert cached.render("Hello") == cached.render("Hello")
    assert fake.rendered == ["Hello"]


def test_cache_is_bounded_and_drops_the_longest_unused() -> None:
    fake = FakeVoice()
    cached = CachedSynthesizer(fake, memory_bytes=2_500)
    for text in ("aaaa", "bbbb", "cccc", "aaaa", "dddd", "aaaa", "bbbb"):
        cached.render(text)
        assert cached.held_bytes <= 2_500
    assert fake.rendered == ["aaaa", "bbbb", "cccc", "dddd", "bbbb"]


def test_cache_on_disk_outlives_the_program_and_is_bounded(tmp_path: Path) -> None:
    CachedSynthesizer(FakeVoice(), tmp_path, TEXTS).render("Hello")
    again = FakeVoice()
    assert CachedSynthesizer(again, tmp_path, TEXTS).render("Hello") == FakeVoice().render("Hello")
    assert again.rendered == []
    small = CachedSynthesizer(FakeVoice(), tmp_path, TEXTS, disk_bytes=3_000)
    for text in ("one", "two", "three", "four", "five"):
        small.render(text)
        assert sum(path.stat().st_size for path in tmp_path.iterdir()) <= 3_000


def test_what_holds_a_reading_is_not_kept_on_disk(tmp_path: Path) -> None:
    cached = CachedSynthesizer(FakeVoice(), tmp_path, TEXTS)
    cached.render("Date of birth, one nine eight two. Correct?")
    assert list(tmp_path.iterdir()) == []
    cached.render("Hello")
    assert len(list(tmp_path.iterdir())) == 1


def test_a_damaged_or_unwritable_cache_costs_only_time(tmp_path: Path) -> None:
    CachedSynthesizer(FakeVoice(), tmp_path, TEXTS).render("Hello")
    (entry,) = tmp_path.glob("*.wav")
    entry.write_bytes(entry.read_bytes()[:60])
    fake = FakeVoice()
    assert CachedSynthesizer(fake, tmp_path, TEXTS).render("Hello") == FakeVoice().render("Hello")
    assert fake.rendered == ["Hello"]
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    assert CachedSynthesizer(FakeVoice(), blocked, TEXTS).render("Hello").pcm


def broken(reason: str):
    def fail(rate_wpm: int) -> Synthesizer:
        raise VoiceError(reason)

    return fail


def test_choice_falls_back_and_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(choose, "VOICES", {"neural": broken("install one"), "system": FakeVoice})
    assert choose.choose_synthesizer().name == "fake 1"
    with pytest.raises(VoiceError, match="install one"):
        choose.choose_synthesizer("neural")
    monkeypatch.setattr(choose, "VOICES", {"neural": broken("install one"), "system": broken("install two")})
    with pytest.raises(VoiceError, match="install one; install two"):
        choose.choose_synthesizer()
    with pytest.raises(UsageError, match="neural, system"):
        choose.choose_synthesizer("robot")


def test_the_neural_voice_comes_first() -> None:
    make("neural")
    assert choose.choose_synthesizer().name.startswith("hibari-tts")


def test_the_system_voice_says_why_it_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    make("system")
    monkeypatch.setattr(sys, "executable", shutil.which("false"))
    with pytest.raises(VoiceError, match="espeak-ng"):
        choose.VOICES["system"]()


@pytest.mark.parametrize(("lost", "works"), [(1, True), (5, True), (6, False)])
def test_the_system_voice_tries_again_when_the_engine_lost_the_rate(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, lost: int, works: bool
) -> None:
    """A stand-in worker ends with the exit status of a lost rate so many times, then writes silence."""
    count = tmp_path / "count"
    count.write_text("0")
    worker = tmp_path / "python"
    worker.write_text(
        f"#!{sys.executable}\n"
        "import json, sys, wave\n"
        f"count = int(open({str(count)!r}).read()) + 1\n"
        f"open({str(count)!r}, 'w').write(str(count))\n"
        f"if count <= {lost}: sys.exit(75)\n"
        "with wave.open(json.load(sys.stdin)['path'], 'wb') as file:\n"
        "    file.setnchannels(1); file.setsampwidth(2); file.setframerate(16000); file.writeframes(bytes(320))\n"
    )
    worker.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(worker))
    if works:
        assert choose.VOICES["system"]().render("").pcm == b""
    else:
        with pytest.raises(VoiceError, match="the system voice failed"):
            choose.VOICES["system"]()
    assert int(count.read_text()) == min(lost + 1, 6)


@pytest.mark.skipif(sys.platform != "linux", reason="how espeak-ng takes parameters behind pyttsx3")
def test_the_system_voice_speaks_at_its_rate_where_what_was_set_is_lost(tmp_path: Path) -> None:
    """Under strace, six at a time, 24 of 200 were spoken at the 200 words a minute that pyttsx3 begins with."""
    pytest.importorskip("pyttsx3")
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    losing = (
        "from pyttsx3.drivers import _espeak\n"
        "real, lost = _espeak.SetParameter, []\n"
        "def losing(parameter, value, relative):\n"
        "    if (parameter, value) == (_espeak.RATE, 150) and len(lost) < 2:\n"
        "        lost.append(value)\n"
        "    else:\n"
        "        real(parameter, value, relative)\n"
        "_espeak.SetParameter = losing\n"
        "from handsfree.voice.system_worker import main\n"
        "main()\n"
        "assert lost == [150, 150]\n"
    )
    path = tmp_path / "speech.wav"
    job = json.dumps({"text": PROMPTS[0], "rate_wpm": 150, "path": str(path)})
    done = subprocess.run(
        [sys.executable, "-c", losing], input=job, capture_output=True, text=True, env=without_sound_server()
    )
    assert (done.returncode, done.stderr) == (0, "")
    with wave.open(str(path), "rb") as file:
        assert file.getnframes() > 0
