"""The bundled procedures keep to the wording rules and hold every hard stop of the job."""

import itertools
import re
from functools import cache
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from handsfree.definition.loader import read_expanded

FOLDER = Path(__file__).resolve().parents[2] / "handsfree" / "procedures"
PROCEDURES = sorted(FOLDER.glob("*.yaml"))
BLOCKS = sorted((FOLDER / "blocks").glob("*.yaml"))
PROFILES = sorted((FOLDER / "profiles").glob("*.yaml"))


@cache
def _written_out(path):
    return read_expanded(path).data


@cache
def _read(path):
    yaml = YAML(typ="safe", pure=True)
    yaml.version = (1, 2)
    return yaml.load(path.read_text(encoding="utf-8"))


def _steps(name):
    return {step["id"]: step for step in _written_out(FOLDER / f"{name}.yaml")["steps"]}


# Prompt length: at most 12 words (common practice, no source); expert wording up to 3 words and the side.
@pytest.mark.parametrize("path", PROCEDURES, ids=lambda path: path.stem)
def test_prompts_are_short(path):
    for step in _written_out(path)["steps"]:
        assert 1 <= len(step["prompt"].split()) <= 12, step["id"]
        assert len(step["expert"].replace("{side} ", "").split()) <= 3, step["id"]
        for item in step.get("items", ()):
            assert len(item["say"].split()) <= 12, item["id"]


@pytest.mark.parametrize("path", PROCEDURES, ids=lambda path: path.stem)
def test_every_step_names_a_listed_source_and_every_source_is_used(path):
    text = _written_out(path)
    fields = [field for step in text["steps"] for field in step.get("fields", ())]
    used = {part["source"] for part in (*text["steps"], *fields) if "source" in part}
    limits = [field[key] for field in fields for key in ("number", "date") if key in field]
    used |= {each[key] for each in limits for key in ("range_source", "error_source") if key in each}
    used |= {field["code"]["source"] for field in fields if "code" in field}
    assert used == set(text["sources"])


# Measured with two recognisers: every false accept was a bare yes or no; the others were missed in 3 of 9 or so.
AVOIDED = {"yes", "no", "halt", "hold", "undo", "next", "confirm", "palm"}


@pytest.mark.parametrize("path", PROCEDURES, ids=lambda path: path.stem)
def test_no_option_is_a_word_that_is_misheard(path):
    for step in _written_out(path)["steps"]:
        for field in step.get("fields", ()):
            for phrases in field.get("options", {}).values():
                assert not {phrase for phrase in phrases if phrase in AVOIDED}, step["id"]


# The tool must not announce a verdict of its own.
@pytest.mark.parametrize("path", PROCEDURES + BLOCKS + PROFILES, ids=lambda path: path.stem)
def test_nothing_is_called_safe_cured_normal_or_cleared(path):
    assert not re.findall(
        r"\b(safe|cured|normal|cleared)\b", path.read_text(encoding="utf-8").replace("light-cured", "")
    )


@pytest.mark.parametrize("path", PROCEDURES + PROFILES, ids=lambda path: path.stem)
def test_examples_are_not_approved(path):
    assert _read(path)["approved_by"] is None


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_profiles_say_that_they_are_invented(path):
    note = _read(path)["note"]
    assert "Invented" in note
    assert "Not for clinical use" in note


HARD = [
    # (what must not be passed without an explicit result, step, source)
    ("session kind", "session_kind", "common practice, no source"),
    ("order of the treating practitioner", "order", "common practice, no source"),
    ("mechanism and time of injury", "injury_date", "BOAST compartment syndrome 2014, standard 2"),
    ("image seen, alignment and rotation", "order", "AO Surgery Reference, metacarpal, nonoperative"),
    ("contraindications, wound", "contraindications_wound", "common practice, no source"),
    ("contraindications, limb", "contraindications_limb", "common practice, no source"),
    ("patient able to report heat", "cautions_feeling", "BOAST 2014: a block can mask symptoms"),
    ("two identifiers", "identity", "Joint Commission NPSG.01.01.01"),
    ("side, five ways", "side_verification", "Universal Protocol UP.01.01.01 to 01.03.01, from memory"),
    ("consent", "consent", "WHO Surgical Safety Checklist 2009, sign in"),
    ("allergies", "allergies", "WHO Surgical Safety Checklist 2009, sign in"),
    ("ring that cannot be removed", "jewelry", "common practice, no source"),
    ("closed rigid device allowed", "swelling", "fracture-splint texts"),
    ("two circumferences", "circumference", "common practice, no source"),
    ("lot", "device_lot", "21 CFR 801.40(b)"),
    ("expiry", "device_expiry", "21 CFR 801.18"),
    ("device condition", "device_condition", "common practice, no source"),
    ("light output check", "light_check", "common practice, no source"),
    ("skin before", "skin_before", "common practice, no source"),
    ("circulation baseline", "circulation_before", "BOAST 2014"),
    ("sensation baseline", "sensation_before", "BOAST 2014"),
    ("power baseline", "power_before", "BOAST 2014"),
    ("pain baseline", "pain_before", "BOAST 2014"),
    ("gloves, no pillow, no reflections", "setup", "monomer: Adv Dermatol Allergol 2021; heat: JBJS Am 2007;89:2369"),
    ("eye protection of everyone", "eye_protection", "ICNIRP 2013, IEC 62471"),
    ("time out", "time_out", "WHO Surgical Safety Checklist 2009"),
    ("position", "position", "AO Surgery Reference"),
    ("finger rotation", "rotation", "AO Surgery Reference"),
    ("exposure", "expose_open", "common practice, no source"),
    ("position between exposures", "position_mid", "common practice, no source"),
    ("strap shadow", "expose_strap", "common practice, no source"),
    ("firmness", "firmness", "common practice, no source"),
    ("resin on skin", "resin", "common practice, no source"),
    ("circulation after", "circulation_after", "BOAST 2014"),
    ("sensation after", "sensation_after", "BOAST 2014"),
    ("power after", "power_after", "BOAST 2014"),
    ("pain after", "pain_after", "BOAST 2014"),
    ("position after", "position_after", "common practice, no source"),
    ("image after", "image_after", "common practice, no source"),
    ("red flags taught back", "teach_red_flags", "patient leaflets"),
    ("follow-up", "follow_up_check", "common practice, no source"),
    ("handover", "handover", "common practice, no source"),
    ("sign out", "sign_out", "WHO Surgical Safety Checklist 2009, sign out"),
    ("incident", "incident", "21 CFR 803.30, from memory"),
]


@pytest.mark.parametrize(("what", "step", "source"), HARD, ids=[row[0] for row in HARD])
def test_hard_stops_are_hard(what, step, source):
    assert _steps("ulnar-splint-fitting")[step]["hard"] is True


def test_light_waits_for_examination_eyewear_and_time_out():
    # Common practice: no light before baseline, eyewear (ICNIRP 2013), time out (WHO 2009), position and rotation.
    needed = {"circulation_before", "sensation_before", "power_before", "pain_before", "eye_protection", "time_out"}
    assert needed | {"position", "rotation"} <= set(_steps("ulnar-splint-fitting")["expose_open"]["requires"])


def test_both_sides_are_examined_before_and_after():
    # BOAST 2014: findings are documented and compared.
    steps = _steps("ulnar-splint-fitting")
    for name in ("circulation", "sensation", "power", "pain"):
        for timing, word in (("baseline", "before"), ("after", "after")):
            step = steps[f"{name}_{word}"]
            assert (step["for_each"], step["timing"]) == ("side", timing)


def test_pain_limits():
    # NRS 0 to 10: LOINC 72514-3. A rise of 2: Pain 2001;94:149. Seven or more, any worse stretch: common practice.
    fields = {field["id"]: field for field in _steps("ulnar-splint-fitting")["pain_after"]["fields"]}
    for field in (fields["rest"], fields["stretch"]):
        assert (field["number"]["low"], field["number"]["high"], field["number"]["flag_above"]) == (0, 10, 6)
        assert field["number"]["flag_class"] == "red"
    assert fields["rest"]["compare"] == {"with": "pain_before", "rise": 2, "class": "red"}
    assert fields["stretch"]["compare"] == {"with": "pain_before", "rise": 1, "class": "red"}


def test_refill_limit():
    # Two seconds: Arch Dis Child 2015;100:239.
    for step in ("circulation_before", "circulation_after"):
        fields = {field["id"]: field for field in _steps("ulnar-splint-fitting")[step]["fields"]}
        assert fields["refill"]["number"]["flag_above"] == 2.0


def test_size_chart_has_no_overlap():
    # Arithmetic: a circumference belongs to one size, or to none and is asked for.
    rows = _read(FOLDER / "profiles" / "example-ulnar-sleeve.yaml")["size_chart"]["rows"]
    for one, other in itertools.pairwise(rows):
        assert one["from"] < one["to"] < other["from"] < other["to"]


def test_ninety_degrees_of_knuckle_flexion_is_as_planned():
    # AO Surgery Reference, metacarpals, nonoperative: knuckle joints at 90 degrees. Ulnar gutter texts: 70 to 90.
    bands = _read(FOLDER / "profiles" / "example-ulnar-sleeve.yaml")["bands"]
    for name in ("ring_knuckle_flexion", "little_knuckle_flexion"):
        assert bands[name]["confirm_from"] <= 90 <= bands[name]["confirm_to"]
        assert bands[name]["low"] == 70
        assert bands[name]["direction"] == "flexion"


RED_ACTION = [
    # BOAST compartment syndrome 2014: release circumferential dressings to the skin, limb at heart level.
    ("ulnar-splint-fitting", f"{name}_after")
    for name in ("circulation", "sensation", "power", "pain")
] + [("neurovascular-check", name) for name in ("circulation", "sensation", "power", "pain", "change")]


@pytest.mark.parametrize(("procedure", "step"), RED_ACTION)
def test_red_action_is_to_the_skin_at_heart_level_never_higher(procedure, step):
    action = _steps(procedure)[step]["red_action"].lower()
    assert "to skin" in action
    assert "heart level" in action
    assert "raise" not in action
    assert "above" not in action
