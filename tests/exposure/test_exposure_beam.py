"""Dose, distance, tilt and stations against worked values.

Sources: e-ILV (IEC 60050-845 / CIE S 017) for H = ∫E dt and 17-25-104 for cos θ · d²/s². Limb figures were worked out
independently of this code from that formula for a point light 5 cm above the crown.
"""

import math

import pytest

from handsfree.exposure.beam import (
    RoundLimb,
    disc_ratio,
    dose_j_cm2,
    far_field_from,
    inverse_square_error,
    inverse_square_ratio,
    irradiance_at,
    late_stop_share,
    misread_factors,
    tilt_factor,
)
from handsfree.exposure.profiles import LightProfile
from handsfree.exposure.units import Irradiance, Length

LIGHT = LightProfile("demo", ((2.0, 100.0), (5.0, 25.0), (8.0, 10.0)), 460, 2, "2026-01-01", "physicist")


def test_irradiance_is_exact_at_points_and_geometric_between():
    assert irradiance_at(LIGHT, Length.of_cm(2)).mw_cm2 == pytest.approx(100)
    assert irradiance_at(LIGHT, Length.of_cm(5)).mw_cm2 == pytest.approx(25)
    assert irradiance_at(LIGHT, Length.of_cm(8)).mw_cm2 == pytest.approx(10)
    # Linear in log: half way between 100 and 25 is their geometric mean, 50 (arithmetic would be 62.5).
    assert irradiance_at(LIGHT, Length.of_cm(3.5)).mw_cm2 == pytest.approx(50)


@pytest.mark.parametrize("distance_cm", [1.99, 8.01])
def test_irradiance_outside_the_table_is_refused(distance_cm):
    with pytest.raises(ValueError, match="measured from 2 to 8 cm"):
        irradiance_at(LIGHT, Length.of_cm(distance_cm))


def test_dose_at_beam_centre():
    # Source: H = E·t; 50 mW/cm² x 20 s = 1.0 J/cm², three times 4 s = 0.6 J/cm².
    fifty = Irradiance.of_mw_cm2(50)
    assert dose_j_cm2(fifty, 20) == pytest.approx(1.0)
    assert sum(dose_j_cm2(fifty, 4) for _ in range(3)) == pytest.approx(0.6)
    assert dose_j_cm2(fifty, 20, tilt_deg=60) == pytest.approx(0.5)
    with pytest.raises(ValueError, match="0 or more"):
        dose_j_cm2(fifty, -1)


def test_tilt_cosine():
    # Source: cosine law, e-ILV 17-25-104.
    assert tilt_factor(30) == pytest.approx(0.8660254037844387)
    assert tilt_factor(60) == pytest.approx(0.5)
    with pytest.raises(ValueError, match="below 90"):
        tilt_factor(90)
    with pytest.raises(ValueError, match="tilt"):
        tilt_factor(-0.5)


@pytest.mark.parametrize(
    ("circumference_cm", "radius_cm", "horizon_deg", "half_deg", "arc_cm", "stations", "at_30_deg"),
    [
        (16, 2.5464790894703255, 70.27905725806856, 35.1644970782601, 3.1257330736231195, 6, 0.6024029720120223),
        (20, 3.183098861837907, 67.1086713819039, 31.87127180236899, 3.5412524224854436, 6, 0.5396437887784097),
        (26, 4.138028520389279, 63.07421345514003, 27.951509417484736, 4.037440249192239, 7, 0.453300235454189),
    ],
)
def test_round_limb(circumference_cm, radius_cm, horizon_deg, half_deg, arc_cm, stations, at_30_deg):
    limb = RoundLimb(Length.of_cm(circumference_cm), Length.of_cm(5))
    assert limb.radius_cm == pytest.approx(radius_cm)
    assert limb.horizon_deg == pytest.approx(horizon_deg)
    assert limb.half_dose_deg == pytest.approx(half_deg)
    assert limb.half_dose_arc_cm == pytest.approx(arc_cm)
    assert limb.stations() == stations
    assert limb.relative_irradiance(30) == pytest.approx(at_30_deg)


def test_no_point_gets_under_half_with_the_stations_and_some_does_with_one_less():
    limb = RoundLimb(Length.of_cm(20), Length.of_cm(5))
    n = limb.stations()
    assert limb.relative_irradiance(180 / n) >= 0.5
    assert limb.relative_irradiance(180 / (n - 1)) < 0.5
    assert limb.relative_irradiance(limb.horizon_deg + 1) == 0


def test_stations_over_a_part_of_the_limb():
    limb = RoundLimb(Length.of_cm(20), Length.of_cm(5))
    assert limb.stations(Length.of_cm(3.5)) == 1
    assert limb.stations(Length.of_cm(3.6)) == 2
    with pytest.raises(ValueError, match="longer than the circumference"):
        limb.stations(Length.of_cm(21))


def test_a_far_light_nears_the_collimated_third():
    # Source: a collimated beam falls as cos θ, half at 60 degrees, so the half-dose arc is C/3 (20 cm: 6.67 cm).
    limb = RoundLimb(Length.of_cm(20), Length.of_cm(100_000))
    assert limb.half_dose_arc_cm == pytest.approx(6.666666666666667, rel=1e-3)


def test_units_convert_and_refuse_by_name():
    # Source: SI factors; inch by definition 2.54 cm.
    assert Irradiance.of_mw_cm2(50).w_m2 == pytest.approx(500)
    assert Irradiance.of_w_m2(500) == Irradiance.parse("50 mW/cm²") == Irradiance.parse("500 W/m2")
    assert Length.parse("2 inch").cm == pytest.approx(5.08)
    assert Length.parse("1 inch").cm == pytest.approx(2.54)
    with pytest.raises(ValueError, match="has no unit"):
        Irradiance.parse("50")
    with pytest.raises(ValueError, match="'cm' is not a unit"):
        Irradiance.parse("50 cm")
    with pytest.raises(ValueError, match="'mW/cm2' is not a unit"):
        Length.parse("5 mW/cm2")
    with pytest.raises(ValueError, match="not a number"):
        Length.parse("five cm")
    with pytest.raises(ValueError, match="above 0"):
        Length.of_cm(math.nan)


def test_point_and_disc_laws():
    # Worked from e-ILV 17-25-104: (2/5)² of 100 mW/cm²; R²/(R²+z²) with R = 1 cm; the ratio shows why a point law
    # must not stand in for a window: 0.192 against 0.16.
    cm = Length.of_cm
    assert 100 * inverse_square_ratio(cm(2), cm(5)) == pytest.approx(16.0)
    assert disc_ratio(cm(1), cm(5)) == pytest.approx(0.038461538461538464)
    assert disc_ratio(cm(1), cm(5)) / disc_ratio(cm(1), cm(2)) == pytest.approx(0.19230769230769232)


def test_five_times_rule():
    # Source: IES, "accurate within 1 % when d >= 5 x max dimension".
    window = Length.of_cm(2)
    assert far_field_from(window).cm == 10
    assert inverse_square_error(window, far_field_from(window)) == pytest.approx(0.01)
    assert inverse_square_error(window, Length.of_cm(5)) > 0.01


def test_distance_misread():
    # Point law: 4 cm held where 5 cm was thought gives (5/4)² = 1.5625 of the dose.
    assert inverse_square_ratio(Length.of_cm(5), Length.of_cm(4)) == pytest.approx(1.5625)
    # By a table that happens to follow that law the same factor comes out, and nothing outside the table.
    table = tuple((float(d), 2500 / d**2) for d in (4, 5))
    light = LightProfile("point", table, 460, 0.1, "2026-01-01", "physicist")
    ((held, factor),) = misread_factors(light, Length.of_cm(5), Length.of_cm(1))
    assert held.cm == 4
    assert factor == pytest.approx(1.5625)


@pytest.mark.parametrize(("spot_s", "share"), [(3, 0.1667), (5, 0.10), (10, 0.05)])
def test_late_stop(spot_s, share):
    # Arithmetic: half a second over the spot's seconds.
    assert late_stop_share(spot_s) == pytest.approx(share, abs=5e-5)
