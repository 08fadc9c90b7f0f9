"""The check that speaks: what it says, what counts as misheard, what is kept, what an author is told."""

import json
import shutil

import numpy as np
import pytest
from authoring_files import PLAIN, write
from click.testing import CliRunner

from handsfree.authoring import acoustic_check
from handsfree.authoring.acoustic_check import count_planned, try_out
from handsfree.authoring.acoustic_findings import _alike, alternatives, findings_of
from handsfree.authoring.findings import FindingLevel
from handsfree.authoring.pronunciation import dictionary
from handsfree.authoring.spoken_trials import NOISE_DB, TrialVerdict, choose_voices, planned
from handsfree.authoring.step_contexts import hearings
from handsfree.commands import author
from handsfree.definition.loader import read_procedure
from handsfree.definition.plan import compile_procedure
from handsfree.model.commands import STOP_CONTROLS
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.models import is_installed
from handsfree.understanding.graphs import match

VOICES = (("espeak-ng", "en-us"), ("flite", "rms"))
SURE = Evidence(average_logprob=-0.2, free_gap=0.0, margin=9.0, speech_s=1.0, signal_to_noise_db=20.0)
UNSURE = Evidence(average_logprob=-9.0, free_gap=90.0, margin=0.0, speech_s=1.0, signal_to_noise_db=20.0)
NUMBER = """\
  - id: dose
    kind: measure
    phase: during
    prompt: Dose in seconds?
    expert: Dose?
    hard: true
    source: book
    timing: during
    fields:
      - {id: dose, label: dose, number: {unit: s, low: 1, high: 60, decimals: 0}}
"""


TORN = {"bandage torn": "bandage intact"}


class Deaf:
    """An engine that hears what it is told to; else what was said."""

    name = "deaf"

    def __init__(self):
        self.said = ""
        self.calls = 0
        self.hears = {}
        self.hears_in_noise = {}
        self.evidence = SURE

    def prepare(self, graph):
        pass

    def write_down(self, pcm):
        return ""

    def speak(self, phrase, voice):
        self.said = phrase
        return np.ones(16_000) * 0.1

    def recognise(self, segment, graph):
        self.calls += 1
        noisy = self.hears_in_noise if segment.signal_to_noise_db <= min(NOISE_DB) else {}
        words = tuple({**self.hears, **noisy}.get(self.said, self.said).split())
        found = match(graph, words)
        tags = found.tags if found is not None else ()
        return Hypothesis(words if found else (), tags, 0.0, 1.0, self.name, evidence=self.evidence)


@pytest.fixture
def engine(monkeypatch):
    deaf = Deaf()
    monkeypatch.setattr(acoustic_check, "_spoken", deaf.speak)
    monkeypatch.setattr(acoustic_check, "_engine", lambda _: deaf)
    return deaf


def _read(tmp_path, text=PLAIN):
    reading = read_procedure(str(write(tmp_path, text)))
    assert reading.procedure is not None
    return reading, list(hearings(compile_procedure(reading.procedure), None, None))


def _findings(tmp_path, text=PLAIN):
    reading, steps = _read(tmp_path, text)
    tallies = try_out(steps, VOICES, jobs=1)
    places = {step.id: number for number, step in enumerate(reading.procedure.steps)}
    return tuple(findings_of(tallies, reading.sources[0], places))


def test_every_answer_is_said_by_every_voice_in_a_quiet_room_and_in_noise(tmp_path):
    assert NOISE_DB == (25, 15, 10)
    _, steps = _read(tmp_path)
    plans = {hearing.stage.id: plan for hearing, plan in planned(steps, VOICES, NOISE_DB)}
    said = {phrase.words: trials for phrase, trials in plans["swab"]}
    for words in ("swab present", "swab missing", "bandage intact", "bandage torn"):
        every = {(voice, level) for voice in VOICES for level in NOISE_DB}
        assert {(trial.voice, trial.noise_db) for trial in said[words]} == every
    # What the phrase book adds can be changed in no file: it is said at the worst level.
    (book,) = {trials for phrase, trials in plans["swab"] if phrase.by_book and phrase.words == "torn"}
    assert {trial.noise_db for trial in book} == {min(NOISE_DB)}


def test_what_fails_in_a_quiet_room_is_known_first_and_time_ends_the_check_after_a_step(tmp_path, engine):
    _, steps = _read(tmp_path)
    asked = []
    tallies = try_out(steps, VOICES, jobs=1, out_of_time=lambda: len(asked) >= 2 or asked.append(1))
    tried = [trial for tally in tallies for trial in tally.trials]
    assert {trial.noise_db for trial in tried} == {max(NOISE_DB)}
    assert 0 < len(tried) < count_planned(steps, VOICES)
    assert len(tried) == engine.calls


def test_words_that_stop_are_tried_in_every_step_and_other_commands_once(tmp_path):
    _, steps = _read(tmp_path)
    plans = [plan for _, plan in planned(steps, VOICES, NOISE_DB)]
    for plan in plans:
        assert {phrase.control for phrase, _ in plan} >= STOP_CONTROLS
    others = [phrase.words for plan in plans for phrase, _ in plan if phrase.control not in {None, *STOP_CONTROLS}]
    assert len(others) - len(set(others)) <= 2  # again only where an answer is near in sound
    assert {"affirmative", "say again", "correction"} <= set(others)


def test_steps_with_the_same_grammar_are_tried_once(tmp_path):
    twice = PLAIN + PLAIN[PLAIN.index("  - id: bell") :].replace("id: bell", "id: lamp")
    _, steps = _read(tmp_path, twice)
    assert len(steps) == 5
    assert len(list(planned(steps, VOICES, NOISE_DB))) == 4


def test_unlike_voices_are_taken_first():
    available = (("espeak-ng", "en-gb"), ("espeak-ng", "en-us"), ("flite", "rms"), ("flite", "xx"))
    assert choose_voices(available, 3) == (("espeak-ng", "en-us"), ("flite", "rms"), ("espeak-ng", "en-gb"))
    assert choose_voices(available, 9)[-1] == ("flite", "xx")
    # The tool's own voice is no stand-in for people: two others speak beside it.
    own = ("neural", "")
    assert choose_voices((*available, own), 2) == (own, ("espeak-ng", "en-us"), ("flite", "rms"))


def test_nothing_is_said_about_a_procedure_whose_words_are_all_heard(tmp_path, engine):
    assert _findings(tmp_path) == ()


def test_a_confusable_pair_is_told_at_the_line_of_the_phrase(tmp_path, engine):
    engine.hears = {"bandage torn": "bandage intact"}
    (found,) = _findings(tmp_path)
    line = next(n for n, row in enumerate(PLAIN.splitlines(), 1) if row.startswith("      - {id: bandage"))
    assert (found.level, found.code, found.line) == (FindingLevel.ERROR, "confusable", line)
    assert '"bandage torn" failed in 6 of 6 trials: heard as "bandage intact" by espeak-ng en-us at 25 dB' in found.text
    assert "they begin alike: 'bandage torn', 'bandage intact'" in found.advice


def test_an_answer_that_no_voice_is_understood_with_is_not_said_to_be_like_itself(tmp_path, engine):
    # "torn" alone is the same answer as "bandage torn"; no outside source.
    engine.hears = {"bandage tattered": "nothing of the kind"}
    text = PLAIN.replace("torn: [torn]", "torn: [tattered]")
    assert text != PLAIN
    (found,) = _findings(tmp_path, text)
    assert (found.level, found.code) == (FindingLevel.ERROR, "weak-word")
    assert '"bandage tattered" failed in 6 of 6 trials: not taken by' in found.text
    assert found.advice == "use other words: no voice was understood; or say why under explained"


def test_one_that_fails_in_noise_alone_is_a_warning_and_names_voice_and_level(tmp_path, engine):
    engine.hears_in_noise = {"bandage torn": "bandage intact"}
    (found,) = _findings(tmp_path)
    assert found.level is FindingLevel.WARNING
    assert (
        'failed in 2 of 6 trials: heard as "bandage intact" by espeak-ng en-us at 10 dB, flite rms at 10 dB'
        in found.text
    )


def test_what_sounds_alike_is_said():
    # CMU pronouncing dictionary: seconds S EH K AH N D Z, say again S EY AH G EH N; fourteen and forty F AO R T.
    if not dictionary():
        pytest.skip("pocketsphinx, whose dictionary is used, is not installed")
    assert _alike("seconds", ["say again"]) == "they begin alike: 'seconds', 'say again'"
    assert _alike("fourteen", ["forty", "nine"]) == "they begin alike: 'fourteen', 'forty'"
    assert _alike("ward", ["seventy"], within=0.5) == ""


def test_a_word_that_is_not_taken_is_weak(tmp_path, engine):
    engine.hears = {"home": ""}
    (found,) = _findings(tmp_path)
    assert found.code == "weak-word"
    assert found.level is FindingLevel.ERROR
    assert '"home" failed in 6 of 6 trials: not taken by espeak-ng en-us at 25 dB' in found.text


def test_what_the_decision_ignores_was_not_heard(tmp_path, engine):
    engine.evidence = UNSURE
    _, steps = _read(tmp_path)
    tallies = try_out(steps[:1], VOICES, jobs=1)
    answers = [one for tally in tallies if tally.phrase.field for one in tally.heard]
    assert {one.verdict for one in answers} == {TrialVerdict.NOTHING}


def test_hot_for_it_hurts_is_no_fault_since_both_do_the_same(tmp_path, engine):
    # grammars/en-US/controls.jsgf: both end light and set a hold; the session treats them alike.
    engine.hears = {"hot": "it hurts"}
    assert _findings(tmp_path) == ()


def test_a_stop_word_that_is_missed_is_told_once_with_the_count(tmp_path, engine):
    engine.hears = {"hurts": "home"}
    found = _findings(tmp_path)
    missed = [one for one in found if one.code == "missed-stop"]
    assert len(missed) == 1
    assert '"hurts", which stops at any time, was understood in 0 of 8 trials' in missed[0].text
    # Where an answer was taken instead, that is a matter of the step.
    (taken,) = [one for one in found if one.code == "command"]
    assert taken.level is FindingLevel.WARNING
    assert '"hurts" failed in 2 of 2 trials: heard as "home"' in taken.text


def test_thirteen_for_thirty_is_asked_about_and_nothing_is_taken(tmp_path, engine):
    # Teens and tens are asked digit by digit; ISMP newsletter 24 January 2001: fifteen and fifty.
    engine.hears = {"thirteen": "thirty", "five": "nine"}
    found = _findings(tmp_path, PLAIN + NUMBER)
    assert [one.text for one in found if '"thirteen"' in one.text] == []
    # Five for nine is a clear number, which only the read-back catches.
    (collision,) = [one for one in found if one.code == "number-collision"]
    assert collision.level is FindingLevel.NOTE
    assert "read-back" in collision.advice


def test_a_number_that_is_not_read_back_must_not_collide(tmp_path, engine):
    engine.hears = {"five": "nine"}
    text = PLAIN + NUMBER.replace("    timing: during\n", "    timing: during\n    read_back: echo\n")
    (collision,) = [one for one in _findings(tmp_path, text) if one.code == "number-collision"]
    assert (collision.level, collision.advice) == (FindingLevel.ERROR, "add read_back: confirm")


@pytest.mark.parametrize(
    ("entry", "code"),
    [
        ('{said: bandage torn, why: "the step is read back"}', "explained"),
        ('{said: bandage torn, heard: bandage intact, why: "the step is read back"}', "explained"),
        ('{said: bandage torn, heard: swab present, why: "the step is read back"}', "confusable"),
        ('{said: swab missing, why: "the step is read back"}', "confusable"),
    ],
)
def test_an_explanation_in_the_file_makes_a_note_of_the_pair_that_it_names(tmp_path, engine, entry, code):
    engine.hears = {"bandage torn": "bandage intact"}
    old = '    expert: "Swab, bandage?"\n'
    (found,) = _findings(tmp_path, PLAIN.replace(old, f"{old}    explained: [{entry}]\n"))
    assert found.code == code
    if code == "explained":
        assert found.level is FindingLevel.NOTE
        assert "the step is read back" in found.advice


def test_results_are_kept_by_content(tmp_path, engine):
    _, steps = _read(tmp_path)
    cache = tmp_path / "kept" / "acoustic_check.json"
    first = try_out(steps, VOICES, jobs=1, cache=cache)
    said = engine.calls
    assert said == sum(len(tally.heard) for tally in first)
    again = try_out(steps, VOICES, jobs=1, cache=cache)
    assert engine.calls == said
    assert [tally.heard for tally in again] == [tally.heard for tally in first]
    _, changed = _read(tmp_path, PLAIN.replace("home: [home]", "home: [going home]"))
    try_out(changed, VOICES, jobs=1, cache=cache)
    place = next(plan for hearing, plan in planned(changed, VOICES, NOISE_DB) if hearing.stage.id == "place")
    assert engine.calls - said == sum(len(trials) for _, trials in place)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"x": 3}', '{"x": ["home", "sideways"]}'])
def test_a_damaged_cache_costs_time_only(tmp_path, engine, text):
    _, steps = _read(tmp_path)
    cache = tmp_path / "acoustic_check.json"
    cache.write_text(text, encoding="utf-8")
    assert try_out(steps[:1], VOICES, jobs=1, cache=cache)
    assert len(json.loads(cache.read_text(encoding="utf-8"))) == engine.calls


def test_progress_counts_up_to_all(tmp_path, engine):
    _, steps = _read(tmp_path)
    seen = []
    try_out(steps, VOICES, jobs=1, progress=lambda done, total: seen.append((done, total)))
    assert [total for _, total in seen] == [engine.calls] * len(seen)
    assert seen[-1][0] == engine.calls
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)


def test_better_words_are_further_from_the_others():
    # CMU pronouncing dictionary; "torn" T AO R N and "worn" W AO R N differ in one phone.
    if not dictionary():
        pytest.skip("pocketsphinx, whose dictionary is used, is not installed")
    assert "fractured" in alternatives("broken", ["spoken"])
    assert alternatives("qwxz", ["spoken"]) == ()
    for word in alternatives("warm", ["worn", "cold"]):
        assert not set(word.split()) & {"hot", "stop", "pain"}


@pytest.mark.parametrize(("hears", "in_noise", "level", "code"), [(TORN, {}, "error", 3), ({}, TORN, "warning", 0)])
def test_the_command_reports_progress_in_lines_and_fails_on_what_fails_in_a_quiet_room(
    tmp_path, engine, monkeypatch, hears, in_noise, level, code
):
    engine.hears, engine.hears_in_noise = hears, in_noise
    monkeypatch.setattr(author, "trial_cache", lambda: tmp_path / "cache" / "acoustic.json")
    monkeypatch.setattr("handsfree.simulation.voices.available_voices", lambda: VOICES)
    done = CliRunner().invoke(author.check, [str(write(tmp_path)), "--acoustic", "--jobs", "1"])
    assert done.exit_code == code, done.output
    assert f"{level}: steps.1.fields.1.options.torn: " in done.stdout
    lines = [line for line in done.stderr.splitlines() if line.endswith("utterances")]
    assert lines
    assert lines[-1] == f"{engine.calls} of {engine.calls} utterances"
    assert "answers: " in done.stderr
    assert "\r" not in done.stderr


@pytest.mark.sound
def test_a_step_is_spoken_and_heard_by_the_real_recogniser(tmp_path):
    if not is_installed():
        pytest.skip("the recogniser weights are not installed")
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    _, steps = _read(tmp_path)
    (tallies,) = ([t for t in try_out(steps[1:2], VOICES[:1], noise_db=(30.0,), jobs=1) if t.phrase.field],)
    assert [tally.phrase.words for tally in tallies][-1] == "torn"  # without its label too
    assert len(tallies) == 5
    assert sum(tally.right for tally in tallies) >= 4
