"""`handsfree exposure`. Figures: ICNIRP 2013, Sapareto & Dewey 1984 and the e-ILV distance law, worked out by hand."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import handsfree
from handsfree.commands.exposure import exposure
from handsfree.errors import ProcedureFileError, UsageError

PROFILES = Path(handsfree.__file__).parent / "procedures" / "profiles"
LIGHT = str(PROFILES / "example-blue-light.yaml")
DEVICE = str(PROFILES / "example-ulnar-sleeve.yaml")


def run(*arguments):
    result = CliRunner().invoke(exposure, arguments)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.output


def test_plan_as_json():
    plan = json.loads(run("plan", "--device", DEVICE, "--light", LIGHT, "--circumference", "20 cm", "--json"))
    # Stations for 20 cm at 5 cm: 6 (e-ILV 17-25-104). The invented light gives 50 mW/cm² there, so 6 s are 0.3 J/cm².
    assert plan["stations"] == 6
    assert plan["irradiance_mw_cm2"] == 50
    assert plan["zones"][0]["spot_j_cm2"] == pytest.approx(plan["zones"][0]["spot_s"] * 0.05)
    assert plan["total_s"] == pytest.approx(sum(zone["total_s"] for zone in plan["zones"]))
    assert plan["label"] == "summed light-on exposure at beam centre"
    assert [zone["id"] for zone in plan["zones"] if zone["after_strap_off"]] == ["strap_strip"]
    assert any("not approved" in text for text in plan["cautions"])


def test_plan_is_drawn_into_a_file_that_is_asked_for(tmp_path):
    asked = ("plan", "--device", DEVICE, "--light", LIGHT, "--circumference", "20 cm")
    drawn = tmp_path / "plan.svg"
    assert run(*asked, "--output", str(drawn)) == run(*asked)
    text = drawn.read_text()
    assert text.count('class="station"') == 6
    assert "1 fracture side: 1 position" in text
    with pytest.raises(UsageError, match="cannot write"):
        run(*asked, "--output", str(tmp_path / "nowhere" / "plan.svg"))


def test_plan_in_words_gives_no_verdict():
    text = run("plan", "--device", DEVICE, "--light", LIGHT, "--circumference", "8 inch", "--tilt", "60")
    assert "only after strap off" in text
    assert "20.32 cm around" in text
    assert not any(word in text.lower() for word in ("cured", "cleared", " safe", "normal"))


def test_plan_warns_of_near_field_distance_and_late_stop():
    # Five-times rule (IES): a 2 cm window is near field below 10 cm; disc formula (e-ILV 17-25-104): 4 % at 5 cm.
    # The invented table has 70 mW/cm² at 3 cm and 50 at 5 cm, so 4 cm gives sqrt(70/50) = 1.18. Shortest spot: 4 s.
    plan = ("plan", "--device", "example-ulnar-sleeve", "--light", "example-blue-light", "--circumference", "20 cm")
    text = run(*plan)
    assert "far field from 10 cm); the inverse square would be 4% off" in text
    assert "at 4 cm x1.18" in text
    # Table: 28/70. Point: (3/8)². Disc of 1 cm radius: (1 + 9) / (1 + 64).
    assert "fall to 40%; a point would fall to 14%, an evenly bright disc of its window's size to 15%" in text
    assert "adds 12.5% to a spot of 4 s" in text


def test_a_profile_that_is_nowhere_is_named():
    with pytest.raises(ProcedureFileError, match="no bundled profile of that name"):
        run("plan", "--device", "nowhere", "--light", LIGHT, "--circumference", "20 cm")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--circumference", "20"), "has no unit"),
        (("--circumference", "-3 cm"), "below 0"),
        (("--circumference", "17,5 cm"), "17.5 cm' would be right"),
        (("--circumference", "20 cm", "--distance", "12 cm"), "is outside"),
        (("--circumference", "20 cm", "--arc", "30 cm"), "longer than the circumference"),
    ],
)
def test_plan_refuses_by_name(arguments, message):
    with pytest.raises(UsageError, match=message):
        run("plan", "--device", DEVICE, "--light", LIGHT, *arguments)


def test_faults_of_a_profile_are_all_listed(tmp_path):
    file = tmp_path / "light.yaml"
    file.write_text("id: x\napproved_by: null\nwavelength_nm: blue\nirradiance: []\n")
    with pytest.raises(ProcedureFileError) as caught:
        run("plan", "--device", DEVICE, "--light", str(file), "--circumference", "20 cm")
    for field in ("wavelength_nm", "window_diameter_cm", "stated_distance_cm", "output_checked_on"):
        assert field in str(caught.value)


def test_hazard_of_a_lit_sleeve_and_a_die():
    data = json.loads(
        run("hazard", "--wavelength", "460", "--irradiance", "1000 W/m2", "--power", "1", "--area", "0.01", "--json")
    )
    sleeve, die = data["looking"]
    assert sleeve["permitted_s_a_day"] == pytest.approx(4908.738521234051)
    assert die["permitted_s_a_day"] == pytest.approx(3.9269908169872414)
    assert die["eyewear_optical_density"] == pytest.approx(2.962242770353214)


def test_hazard_of_a_profile_with_a_die_that_looks_small():
    # The invented light: 460 nm, 50 mW/cm² at 5 cm; lit sleeve L = 0.8 x 500 / pi, L_B = 0.8 L (IEC 62471 table 4.2).
    # Die of 1 mm²: 1.13 mm wide, 5.6 mrad from 20 cm, under 11 mrad: E = L A / d² = 318310 x 1e-6 / 0.04 = 7.96 W/m²,
    # E_B = 6.37, 100 / 6.37 = 15.7 s (ICNIRP 2013 small source).
    more = ("--power", "1", "--area", "0.01")
    data = json.loads(run("hazard", "--light", "example-blue-light", *more, "--json"))
    sleeve, die = data["looking"]
    assert sleeve["weighted_radiance_w_m2_sr"] == pytest.approx(0.8 * 0.8 * 500 / 3.141592653589793)
    assert die["weighted_irradiance_at_eye_w_m2"] == pytest.approx(6.366197723675814)
    assert die["small_source_permitted_s_a_day"] == pytest.approx(15.707963267948966)
    far = json.loads(run("hazard", "--light", "example-blue-light", *more, "--eye-distance", "5 cm", "--json"))
    assert "eye_distance_cm" not in far["looking"][1]
    assert "limit 15.7 s a day by the small-source rule" in run("hazard", "--light", "example-blue-light", *more)


def test_hazard_by_the_spectrum_of_a_profile(tmp_path):
    # Half of the power at 395 to 405 nm, half at 455 to 465: B is the mean of both bands (IEC 62471 table 4.2:
    # 0.05 0.10 0.20 and 0.90 0.80 0.70); of an even band around 400 nm half is UV-A.
    spectrum = [(394.5, 0), (395, 1), (405, 1), (405.5, 0), (454.5, 0), (455, 1), (465, 1), (465.5, 0)]
    rows = ", ".join(f"{{nm: {float(nm)}, relative: {float(power)}}}" for nm, power in spectrum)
    file = tmp_path / "light.yaml"
    file.write_text(Path(LIGHT).read_text(encoding="utf-8") + f"spectrum: [{rows}]\n", encoding="utf-8")
    data = json.loads(run("hazard", "--light", str(file), "--json"))
    low, high = (0.075 * 5 + 0.15 * 5) / 10, (0.85 * 5 + 0.75 * 5) / 10
    assert data["blue_light_weight"] == pytest.approx((low + high) / 2, rel=0.03)
    assert data["uva_w_m2"] == pytest.approx(500 * 0.25, rel=0.05)
    assert "of the spectrum" in run("hazard", "--light", str(file))


def test_hazard_says_what_it_needs():
    with pytest.raises(UsageError, match="--wavelength and --irradiance, or --light PROFILE"):
        run("hazard", "--wavelength", "460")


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("{nm: 450, relative: 1}", "three points"),
        ("{nm: 460, relative: 1}, {nm: 450, relative: 1}, {nm: 470, relative: 1}", "must rise"),
        ("{nm: 450, relative: 0}, {nm: 460, relative: 0}, {nm: 470, relative: 0}", "no power"),
        ("{nm: 4600, relative: 1}, {nm: 460, relative: 0}, {nm: 470, relative: 0}", "spectrum"),
    ],
)
def test_a_spectrum_that_cannot_be_is_named(tmp_path, rows, message):
    file = tmp_path / "light.yaml"
    file.write_text(Path(LIGHT).read_text(encoding="utf-8") + f"spectrum: [{rows}]\n", encoding="utf-8")
    with pytest.raises(ProcedureFileError, match=message):
        run("hazard", "--light", str(file))


def test_hazard_in_words():
    text = run("hazard", "--wavelength", "400", "--irradiance", "900 mW/cm2", "--spot", "3")
    assert "877 mW/cm²; this light is over it" in text
    assert "spectrum is needed" in text
    with pytest.raises(UsageError, match="belong together"):
        run("hazard", "--wavelength", "460", "--irradiance", "50 mW/cm2", "--power", "1")


def test_heat():
    data = json.loads(run("heat", "--step", "41:10", "--step", "43:5", "--step", "45:2", "--json"))
    assert data["cem43_min"] == pytest.approx(13.625)
    text = run("heat", "--burn-points", "--training-curve", "30", "8", "0.175")
    assert "0.231 mm" in text
    assert "24 laboratories" in text
    assert "51 °C, 60 s: burn threshold (ISO 13732-1:2006" in text
    assert "43 °C, 8 h: burn threshold (ISO 13732-1:2006" in text
    assert "49 °C, 2 to 3 min: first-degree burn beyond (J Orthop Surg Res 2008;3:10)" in text
    # J Appl Physiol 1959;14:373.
    assert "heat begins to hurt at 43.2 °C at the receptors, 45.7 ± 1.7 °C at the skin" in text


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--time-left",), "not given"),
        (("--step", "43"), "a colon"),
        ((), "nothing asked"),
        (("--step", "109:1"), "Celsius"),
    ],
)
def test_heat_refuses(arguments, message):
    with pytest.raises(UsageError, match=message):
        run("heat", *arguments)
