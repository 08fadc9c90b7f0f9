"""Edges of the arithmetic of light and heat, and of what profiles take. Sources stand beside the checks."""

import math

import pytest

from handsfree.exposure.beam import RoundLimb, disc_ratio, dose_j_cm2, irradiance_at, late_stop_share, misread_factors
from handsfree.exposure.hazard import blue_light_share, blue_light_weight, eyewear_density, skin_limit, uva_share
from handsfree.exposure.heat import BURN_POINTS, cem43_min
from handsfree.exposure.profiles import LightProfile, ToneProfile, ZoneProfile
from handsfree.exposure.units import Irradiance, Length

# --- hazard -----------------------------------------------------------------------------------------------------------


def test_uva_begins_at_315_and_ends_at_400_nm():
    # Source: UV-A is 315 to 400 nm (IEC 62471, ICNIRP 2004). Even spectra, a value each half nanometre, ends included:
    # of 41 values from 305 to 325 nm 21 are 315 or more, of 41 from 390 to 410 nm 21 are 400 or less.
    assert uva_share(((305, 1), (315, 1), (325, 1))) == pytest.approx(21 / 41)
    assert uva_share(((390, 1), (400, 1), (410, 1))) == pytest.approx(21 / 41)


@pytest.mark.parametrize(
    "spectrum",
    [
        ((440.0, 0.0), (450.0, 1.0), (480.0, 0.2), (500.0, 0.0)),
        ((410.0, 5.0), (411.0, 0.0), (470.0, 0.1), (471.0, 3.0)),
        ((459.0, 0.0), (460.0, 0.0), (460.5, 1.0)),
        ((380.0, 0.5), (405.0, 1.0), (409.5, 0.0)),
    ],
)
def test_a_spectrum_is_drawn_in_straight_lines(spectrum):
    # Source: linear interpolation by numpy.interp, weights as in IEC 62471 table 4.2.
    np = pytest.importorskip("numpy", reason="numpy is part of the speech extra")
    places = np.arange(spectrum[0][0], spectrum[-1][0] + 0.25, 0.5)
    power = np.interp(places, *zip(*spectrum, strict=True))
    weights = np.array([blue_light_weight(float(nm)) for nm in places])
    assert blue_light_share(spectrum) == pytest.approx(float((weights * power).sum() / power.sum()))
    assert uva_share(spectrum) == pytest.approx(float(power[places <= 400].sum() / power.sum()))


def test_the_weight_ends_where_the_table_ends():
    for outside_nm in (299.9, 700.1):
        with pytest.raises(ValueError, match="300 to 700"):
            blue_light_weight(outside_nm)
    # Source: IEC 62471 table 4.2: 0.01 up to 380 nm, 10^((450 - nm)/50) from 500 to 600 nm, 0.001 from there.
    assert blue_light_weight(380) == 0.01
    assert blue_light_weight(380.5) == pytest.approx(0.0103)
    assert blue_light_weight(600) == pytest.approx(0.001)
    assert blue_light_weight(575) == pytest.approx(10**-2.5)
    assert blue_light_weight(600.5) == 0.001


def test_density_at_the_end_of_the_working_day():
    # Source: IEC 62471 §4.3.3: 1e6 J/(m² sr) up to 10 000 s, 100 W/(m² sr) beyond; both give 100 there.
    assert eyewear_density(1000, 10_000) == pytest.approx(1.0)
    assert eyewear_density(1000, 5_000) == pytest.approx(math.log10(5))
    assert eyewear_density(1000, 10_001) == pytest.approx(1.0)


def test_the_skin_limit_begins_above_no_time():
    with pytest.raises(ValueError, match="skin limit"):
        skin_limit(0)
    # H = 20 000 t^0.25 J/m² (ICNIRP 2013): half a second 16 818 J/m².
    assert skin_limit(0.5).w_m2 * 0.5 == pytest.approx(16817.9283)


# --- heat -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source", "rows"),
    [
        ("ISO 13732-1", [(43, 28_800, 28_800), (48, 600, 600), (51, 60, 60)]),
        (
            "Moritz",
            [
                (44, 18_000, 21_600), (45, 10_800, 10_800), (47, 1500, 2700), (48, 900, 1080), (49, 480, 570),
                (51, 120, 360), (53, 60, 90), (55, 30, 30), (60, 5, 5), (65, 1, 1),
            ],
        ),
        ("IEC 60601-1", [(51, 0, 60), (48, 60, 600), (43, 600, 600)]),
    ],
)  # fmt: skip
def test_burn_points_are_those_of_their_source(source, rows):
    # Written down a second time from the sources named in the module, as quoted in reviews.
    found = [(point.temperature_c, point.low_s, point.high_s) for point in BURN_POINTS if source in point.source]
    assert found == rows


def test_thermal_dose_takes_what_skin_can_have():
    # Source: Sapareto & Dewey 1984: R is 1/2 from 43 °C, 1/4 below; from 39 °C on (formula from memory).
    assert cem43_min([(43, 0)]) == 0
    assert cem43_min([(0, 5)]) == 0
    assert cem43_min([(70, 0)]) == 0
    assert cem43_min([(42.5, 4)]) == pytest.approx(2.0)
    for temperature_c, minutes in ((-0.1, 1), (70.1, 1), (43, -0.1), (43, math.inf), (math.nan, 1)):
        with pytest.raises(ValueError, match="must be"):
            cem43_min([(temperature_c, minutes)])


# --- dose -------------------------------------------------------------------------------------------------------------


def test_a_measured_point_is_read_as_it_was_measured():
    light = LightProfile("demo", ((2.0, 100.0), (5.0, 25.0), (8.0, 10.0)), 460, 2, "2026-01-01", "physicist")
    for distance_cm, measured in light.irradiance_table:
        assert irradiance_at(light, Length.of_cm(distance_cm)).mw_cm2 == pytest.approx(measured)
    # Linear in the logarithm: two thirds from 25 to 10 is 25 x 0.4^(2/3).
    assert irradiance_at(light, Length.of_cm(7)).mw_cm2 == pytest.approx(25 * 0.4 ** (2 / 3))
    # A hand 3 cm off reaches both ends of the table, one 4 cm off neither.
    assert [held.cm for held, _ in misread_factors(light, Length.of_cm(5), Length.of_cm(3))] == [2, 8]
    assert misread_factors(light, Length.of_cm(5), Length.of_cm(4)) == ()


def test_no_time_gives_no_dose_and_no_measure_takes_one():
    assert dose_j_cm2(Irradiance.of_mw_cm2(50), 0) == 0
    for late_s in (0, -1, math.nan):
        with pytest.raises(ValueError, match="above 0"):
            late_stop_share(10, late_s)
    # Half of the middle's light where the disc's radius is as long as the distance: R²/(R²+z²).
    assert disc_ratio(Length.of_cm(3), Length.of_cm(3)) == pytest.approx(0.5)


def test_the_whole_limb_is_the_longest_arc():
    limb = RoundLimb(Length.of_cm(20), Length.of_cm(5))
    assert limb.stations(Length.of_cm(20)) == limb.stations()
    assert limb.relative_irradiance(0) == pytest.approx(1.0)
    assert limb.relative_irradiance(limb.half_dose_deg) == pytest.approx(0.5)


# --- profiles and units -----------------------------------------------------------------------------------------------


def light(**figures):
    given = {"irradiance_table": ((2.0, 100.0), (5.0, 25.0)), "wavelength_nm": 460, "window_cm": 2}
    return LightProfile(id="demo", output_checked_on="2026-01-01", approved_by="physicist", **(given | figures))


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        ({"irradiance_table": ((-0.1, 100.0), (5.0, 25.0))}, "0 or more"),
        ({"irradiance_table": ((math.nan, 100.0), (5.0, 25.0))}, "0 or more"),
        ({"irradiance_table": ((2.0, 100.0), (2.0, 25.0))}, "rise"),
        ({"irradiance_table": ((2.0, 100.0), (5.0, 0.0))}, "above 0"),
        ({"wavelength_nm": 299.9}, "300 to 700"),
        ({"wavelength_nm": 700.1}, "300 to 700"),
        ({"window_cm": 0}, "above 0"),
        ({"spectrum": ((440, 1), (450, 1))}, "three points"),
        ({"spectrum": ((440, 1), (440, 1), (450, 1))}, "rise"),
        ({"spectrum": ((440, 0), (450, 0), (460, 0))}, "no power"),
    ],
)
def test_a_light_that_cannot_be_is_refused(figures, message):
    with pytest.raises(ValueError, match=message):
        light(**figures)


def test_a_light_at_the_edges_of_what_can_be_is_taken():
    light(irradiance_table=((0.0, 100.0), (5.0, 25.0)), wavelength_nm=300)
    light(wavelength_nm=700, spectrum=((440, 0), (450, 0.5), (460, 0)))


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        ({"id": ""}, "identifier"),
        ({"target_s": 0}, "above 0"),
        ({"target_s": None, "target_j_cm2": -1}, "above 0"),
        ({"spots": 0}, "at least 1"),
    ],
)
def test_a_zone_that_cannot_be_is_refused(figures, message):
    with pytest.raises(ValueError, match=message):
        ZoneProfile(**{"id": "a", "label": "a", "target_s": 5, **figures})


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        ({"frequency_hz": 1999}, "overtones"),
        ({"duration_s": 0.199}, "too short"),
        ({"frequency_hz": 7975}, "below 8000"),
        ({"tolerance_s": 0.0701}, "at most 0.07"),
        ({"tolerance_s": 0.3}, "at most 0.07"),
        ({"interval_s": 0.2}, "longer than"),
        ({"tolerance_hz": 0}, "above 0"),
    ],
)
def test_a_beep_that_cannot_be_is_refused(figures, message):
    with pytest.raises(ValueError, match=message):
        ToneProfile(**{"frequency_hz": 2700, "duration_s": 0.2, "tolerance_hz": 25, "tolerance_s": 0.05, **figures})


def test_a_beep_at_the_edges_of_what_can_be_is_taken():
    ToneProfile(2000, 0.2, 25, 0.07, interval_s=0.201)
    ToneProfile(7974, 0.2, 25, 0.05)


@pytest.mark.parametrize(
    ("text", "message"),
    [("-5 cm", "below 0"), ("17,5 cm", "'17.5 cm' would be right"), ("0 cm", "above 0"), ("5 Cm", "not a unit")],
)
def test_a_length_is_refused_with_what_would_be_right(text, message):
    with pytest.raises(ValueError, match=message):
        Length.parse(text)


def test_each_unit_has_its_factor():
    # Source: SI prefixes.
    assert Length.parse("25 mm").cm == pytest.approx(2.5)
    assert Length.parse(" 17.5cm ").cm == pytest.approx(17.5)
    assert Irradiance.parse("0.05 W/cm2").mw_cm2 == pytest.approx(50)
