"""Scenarios of one's own: kinds, settings, drawn scenarios, the trainer's sheet, what is said right after."""

from datetime import UTC, datetime

import pytest
from rich.console import Console
from ruamel.yaml import YAML
from test_practice_scenarios import GOOD, written
from test_practice_timeline import points, scored

from handsfree.cli import main
from handsfree.definition.loader import load_bundle
from handsfree.errors import ScriptError
from handsfree.practice.deciding import Decides
from handsfree.practice.event_kinds import Action, bundled_kinds
from handsfree.practice.practised_visit import SoundOptions, practise_scripted
from handsfree.practice.scenario import Difficulty, PatientManner
from handsfree.practice.scenario_bank import OWN_BANK, load_bank
from handsfree.practice.scenario_generator import generated
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scenario_settings import ACCENTS, PracticeSettings, noise_of
from handsfree.practice.scoring import score
from handsfree.practice.spoken_debrief import NOTHING, spoken_debrief
from handsfree.practice.trainer_sheet import sheet_lines
from handsfree.record.verify import verify

START = datetime(2026, 11, 25, 9, tzinfo=UTC)
OWN_KIND = """\
kinds:
  itch:
    who: patient
    say: It itches terribly.
    sign: The patient rubs the arm.
    answer: [pause, go_on]
    within_s: 20
    worth: 7
    why: A reason to ask, not to stop.
    source: invented for practice
events:
  - id: itching
    kind: itch
    at: {steps: [distance]}
"""


def own(tmp_path, text=OWN_KIND):
    # The second reading must lie near the first, or it is asked for again and again.
    case = GOOD[: GOOD.index("events:")].replace('output.first: "48"', 'output.first: "48"\n  output.second: "50"')
    return written(tmp_path, case + text)


def test_a_file_defines_kinds_of_its_own(tmp_path):
    (event,) = load_scenario(own(tmp_path)).scenario.events
    assert (event.who, event.say) == ("patient", "It itches terribly.")
    assert event.answer == (Action.PAUSE, Action.GO_ON)
    assert (event.within_s, event.worth) == (20, 7)


def test_an_event_may_say_otherwise_than_its_kind(tmp_path):
    text = OWN_KIND + "    within_s: 5\n    answer: pause\n"
    (event,) = load_scenario(own(tmp_path, text)).scenario.events
    assert (event.within_s, event.answer, event.worth) == (5, (Action.PAUSE,), 7)


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ("worth: 7", "worth: -1", "kinds.itch.worth"),
        (
            "answer: [pause, go_on]",
            "answer: [sing]",
            "'sing' is no answer (there are: light_off, pause, record, go_on)",
        ),
        ("    say: It itches terribly.\n", "", "who and say go together"),
        ("kind: itch", "kind: inch", "events.0.answer: is missing"),
    ],
)
def test_faults_of_a_kind_are_named(tmp_path, old, new, part):
    assert old in OWN_KIND
    with pytest.raises(ScriptError) as refused:
        load_scenario(own(tmp_path, OWN_KIND.replace(old, new)))
    assert part in str(refused.value)


def test_an_event_is_worth_what_its_kind_says(tmp_path):
    case = load_scenario(own(tmp_path))
    practise_scripted(case, tmp_path / "r", None, "good", START, Console(quiet=True), SoundOptions(), typed=True)
    found = score(verify(tmp_path / "r").record, points())
    item = next(item for item in found.items if item.row == "reaction")
    assert (item.got, item.possible) == (7, 7)


def test_every_kind_is_listed_in_the_guide_with_its_limit():
    from importlib.resources import files

    guide = files("handsfree").joinpath("practice", "GUIDE.md").read_text(encoding="utf-8")
    for name, kind in bundled_kinds().items():
        assert f"| `{name}` |" in guide
        row = next(line for line in guide.splitlines() if line.startswith(f"| `{name}` |"))
        assert f"| {kind.within_s:g} s | {kind.worth} |" in row


# Settings


def test_a_silent_patient_shows_what_another_would_say():
    case = load_scenario("hot-zone", settings=PracticeSettings(patient=PatientManner.SILENT))
    hot = next(event for event in case.scenario.events if event.id == "too_hot")
    assert (hot.who, hot.repeat) == ("assistant", 0)
    assert hot.say == bundled_kinds()["hot"].sign
    assert hot.answer == (Action.LIGHT_OFF,)


def test_a_silent_patient_needs_a_sign_to_see():
    with pytest.raises(ScriptError, match="less_feeling: the patient is silent, and there is no sign"):
        load_scenario("numb-finger", settings=PracticeSettings(patient=PatientManner.SILENT))


def test_an_impatient_patient_asks_twice_at_steps_that_are_asked():
    case = load_scenario("hot-zone", settings=PracticeSettings(patient=PatientManner.IMPATIENT))
    added = [event for event in case.scenario.events if event.kind == "impatience"]
    assert len(added) == 2
    steps = {step.id: step for step in case.bundle.procedure.steps}
    assert all(steps[event.at.steps[0]].kind != "expose" for event in added)
    # A scenario that has an impatient patient of its own is left as it is.
    mark = load_scenario("pressure-mark").scenario
    assert [event.id for event in mark.events if event.kind == "impatience"] == ["hurry"]


def test_an_accent_is_that_of_the_players_and_noise_that_of_the_room():
    settings = PracticeSettings(accent="scottish", noise=noise_of("babble:15"))
    case = load_scenario("hot-zone", settings=settings)
    voices = case.scenario.voices
    assert (voices["learner"].engine, voices["patient"].voice) == ("neural", f"{ACCENTS['scottish']}+f3")
    assert (case.scenario.noise.kind, case.scenario.noise.snr_db) == ("babble", 15)
    assert settings.words == "scottish accent, babble noise, 15 dB"


@pytest.mark.parametrize("text", ["babble", "rain:15", "pink:loud", "pink:200"])
def test_noise_that_is_none_is_refused(text):
    with pytest.raises(ScriptError, match="such as babble:15"):
        noise_of(text)


# Drawn scenarios


PROCEDURES = ("ulnar-splint-fitting", "splint-removal", "light-output-check")
bank = load_bank()


def drawn(procedure, difficulty, seed):
    return generated(procedure, load_bundle(procedure), difficulty, seed, bank)


@pytest.mark.parametrize("procedure", PROCEDURES)
def test_drawn_scenarios_have_no_faults_and_more_happens_in_harder_ones(procedure, tmp_path):
    counts = []
    for difficulty in Difficulty:
        path = tmp_path / f"{difficulty}.yaml"
        with path.open("w", encoding="utf-8") as out:
            YAML(typ="safe").dump(drawn(procedure, difficulty, 3), out)
        found = load_scenario(str(path)).scenario
        assert found.difficulty is difficulty
        assert found.family == f"{procedure}-{difficulty}"
        # An impatient patient comes on top of what is drawn.
        counts.append(sum(event.kind != "impatience" for event in found.events))
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]


def test_the_same_seed_draws_the_same_and_others_draw_others():
    many = [drawn("ulnar-splint-fitting", Difficulty.HARD, seed) for seed in range(30)]
    assert many[4] == drawn("ulnar-splint-fitting", Difficulty.HARD, 4)
    assert len({str((one["case"], one["events"])) for one in many}) == 30
    # Nobody learns by heart what is found: no finding is in most of them.
    shown = [{place for event in one["events"] for place in event.get("shows", {})} for one in many]
    most = max(sum(place in one for one in shown) for place in set().union(*shown))
    assert most < 20
    assert {one["case"]["side_verification.order"] for one in many} == {"left", "right"}


def test_a_drawn_scenario_is_passed_by_the_good_learner_and_failed_by_the_one_who_guesses(tmp_path):
    path = tmp_path / "drawn.yaml"
    main(["scenario", "new", "splint-removal", "--difficulty", "middle", "--seed", "5", "--output", str(path)])
    found = {}
    for learner in ("good", "guessing"):
        folder = tmp_path / learner
        case = load_scenario(str(path))
        practise_scripted(case, folder, None, learner, START, Console(quiet=True), SoundOptions(), typed=True)
        found[learner] = score(verify(folder).record, points())
    assert found["good"].passed
    assert found["good"].percent == 100.0
    assert not found["guessing"].passed


def test_a_bank_of_one_s_own_is_checked(tmp_path):
    path = tmp_path / "bank.yaml"
    path.write_text(OWN_BANK.read_text().replace("kind: talk", "kind: song", 1))
    with pytest.raises(ScriptError, match=r"happenings\.0\.kind: there is no kind song"):
        load_bank(path)


def test_the_sheet_tells_the_trainer_what_is_true_and_when_what_happens():
    case = load_scenario("hot-zone")
    scenario, told = case.scenario, "\n".join(sheet_lines(case))
    assert all(f"{place}: {value}" in told for place, value in scenario.case.items())
    assert "too_hot (hot, key h): at expose_open, outer_edge lit, after" in told
    assert "missing it fails the attempt" in told


def test_commands_list_what_there_is(capsys):
    main(["scenario", "list"])
    main(["scenario", "kinds"])
    main(["scenario", "check", "hot-zone"])
    main(["scenario", "sheet", "low-battery"])
    told = capsys.readouterr().out
    assert "low-battery: light-output-check, easy." in told
    assert "interruption: pause within 15 s, 5 points." in told
    assert "hot-zone: no faults; 4 events" in told
    assert "FOR THE TRAINER" in told


# Said right after


def test_two_things_are_said_the_gravest_first():
    from test_practice_marks import HOT_ENDS_IT
    from test_practice_timeline import Turn, confirmed, lit

    wrong = confirmed("device_lot", "lot", "A4B3", 2.0)
    turns = (Turn(1.0, (lit(from_s=1.0),)), Turn(3.0, (wrong,)), HOT_ENDS_IT)
    found = scored("hot-zone", *turns, case={"device_lot.lot": "A4B2"}, decides={"device_lot.lot": Decides.IDENTITY})
    told = spoken_debrief(found, points())
    assert told[0] == "Practice is over. Two things to work on."
    assert told[1] == "First: Light off, lift it away, look at the skin, and only then go on."
    assert told[2].startswith("Second: Compare each code")
    # Short and calm: nobody hears a verdict, a figure or a name.
    assert all(len(sentence.split()) <= 20 for sentence in told)
    assert not any(word in " ".join(told).lower() for word in ("fail", "wrong", "bad", "points", "safe", "%"))


def test_nothing_to_work_on_is_no_praise_and_no_verdict(tmp_path):
    case = load_scenario("low-battery")
    practise_scripted(case, tmp_path / "r", None, "good", START, Console(quiet=True), SoundOptions(), typed=True)
    assert spoken_debrief(score(verify(tmp_path / "r").record, points()), points()) == (NOTHING,)
