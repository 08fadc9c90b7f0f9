"""Hazard arithmetic against published limits and luxpy.

Sources: ICNIRP, Health Phys 2013;105(1):74-96; IEC 62471:2006 (limits quoted from memory of the standard, B(λ) also
compared with luxpy); ICNIRP, Health Phys 2004;87:171. Worked values were computed apart from this code.
"""

import importlib.util
import sys
import types
from pathlib import Path

import pytest

from handsfree.exposure.hazard import (
    SMALL_SOURCE_RAD,
    OperatorRun,
    blue_light_share,
    blue_light_weight,
    blue_permissible_s,
    blue_small_source_permissible_s,
    daily_seconds,
    eyewear_density,
    irradiance_at_eye_w_m2,
    lambertian_radiance,
    reflected_radiance,
    risk_group,
    skin_limit,
    subtense_rad,
    uva_permissible_s,
    uva_share,
    weighted,
)
from handsfree.exposure.units import Irradiance


def test_blue_light_weight_at_points_and_between():
    # Source: IEC 62471:2006 table 4.2.
    assert blue_light_weight(500) == pytest.approx(0.1)
    assert blue_light_weight(462.5) == pytest.approx(0.75)
    assert blue_light_weight(470) == pytest.approx(0.62)
    assert blue_light_weight(350) == 0.01
    assert blue_light_weight(650) == 0.001
    with pytest.raises(ValueError, match="300 to 700"):
        blue_light_weight(299)


def test_blue_light_weight_equals_luxpy(monkeypatch):
    # Source: luxpy, toolboxes/photbiochem. Its file is run by itself with numpy stand-ins for the few helpers it takes
    # from the rest of the package, which would import plotting.
    np = pytest.importorskip("numpy", reason="numpy is part of the speech extra")
    spec = importlib.util.find_spec("luxpy")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("luxpy is not installed")
    helpers = types.ModuleType("luxpy")
    helpers.getwlr = lambda wl: np.arange(wl[0], wl[1] + wl[2], wl[2]).astype(float)
    helpers.cie_interp = lambda table, wl_new, kind: np.vstack((wl_new, np.interp(wl_new, table[0], table[1])))
    helpers.getwld = helpers.vlbar = helpers._CMF = helpers._CIEOBS = None
    monkeypatch.setitem(sys.modules, "luxpy", helpers)
    folder = Path(spec.submodule_search_locations[0]) / "toolboxes" / "photbiochem"
    source = importlib.util.spec_from_file_location("luxpy_blue", folder / "blue_light_hazard_IEC62471_IECTR62778.py")
    module = importlib.util.module_from_spec(source)
    source.loader.exec_module(module)
    compared = 0
    for wavelength_nm, weight in module._BLH.T:
        if 380 <= wavelength_nm <= 700:
            assert blue_light_weight(float(wavelength_nm)) == pytest.approx(float(weight), rel=1e-9)
            compared += 1
    assert compared == 321


@pytest.mark.parametrize(("radiance", "seconds", "group"), [(1e4, 100.0, "RG1"), (4e6, 0.25, "RG2")])
def test_blue_light_times_and_groups(radiance, seconds, group):
    assert blue_permissible_s(radiance) == pytest.approx(seconds)
    assert risk_group(radiance) == group


@pytest.mark.parametrize(
    ("wavelength_nm", "weight"),
    [
        (380, 0.01), (385, 0.013), (390, 0.025), (395, 0.05), (400, 0.10), (405, 0.20), (410, 0.40), (415, 0.80),
        (420, 0.90), (425, 0.95), (430, 0.98), (435, 1.00), (440, 1.00), (445, 0.97), (450, 0.94), (455, 0.90),
        (460, 0.80), (465, 0.70), (470, 0.62), (475, 0.55), (480, 0.45), (485, 0.40), (490, 0.22), (495, 0.16),
        (500, 0.10), (550, 0.01), (600, 0.001), (700, 0.001), (300, 0.01),
    ],
)  # fmt: skip
def test_blue_light_table(wavelength_nm, weight):
    # Source: IEC 62471:2006 table 4.2; 500-600 nm 10^((450 - nm) / 50).
    assert blue_light_weight(wavelength_nm) == pytest.approx(weight)


def test_weight_of_a_spectrum():
    # A band so narrow that B hardly changes weighs what its middle weighs; a wide even one the mean of the table.
    assert blue_light_share(((459.5, 0), (460, 1), (460.5, 0))) == pytest.approx(0.80)
    assert blue_light_share(((440, 1), (450, 1), (460, 1))) == pytest.approx(0.925, abs=0.01)
    assert uva_share(((315, 1), (357, 1), (400, 1))) == pytest.approx(1.0)
    assert uva_share(((390, 1), (400, 1), (410, 1))) == pytest.approx(0.5, abs=0.02)
    assert uva_share(((440, 1), (450, 1), (460, 1))) == 0


def test_a_source_that_looks_small():
    # 1 cm² is 1.128 cm wide: 56 mrad from the reading distance of 20 cm (IEC 62471), 11 mrad from 1.03 m (e-ILV note).
    assert subtense_rad(1.0, 20.0) == pytest.approx(0.0564, abs=1e-4)
    assert subtense_rad(1.0, 103.0) < SMALL_SOURCE_RAD < subtense_rad(1.0, 102.0)
    # L A / d²: 3183 W/(m² sr) x 1e-4 m² / 1 m² (distance law, e-ILV 17-25-104).
    assert irradiance_at_eye_w_m2(3183.098861837907, 1.0, 100.0) == pytest.approx(0.3183098861837907)


def test_blue_light_edges():
    assert blue_permissible_s(100) is None
    assert risk_group(100) == "exempt"
    assert risk_group(4.1e6) == "RG3"
    assert blue_small_source_permissible_s(400) == pytest.approx(0.25)
    assert blue_small_source_permissible_s(1) is None
    # Risk groups by L_B, IEC 62471 (from memory): exempt to 100, RG1 to 10 000, RG2 to 4e6, RG3 above.
    assert [risk_group(level) for level in (99, 101, 9_999, 10_001, 4e6)] == ["exempt", "RG1", "RG1", "RG2", "RG2"]


def test_lit_white_sleeve():
    radiance = reflected_radiance(Irradiance.of_mw_cm2(100), 0.8)
    assert radiance == pytest.approx(254.64790894703253)
    weighted_radiance = radiance * blue_light_weight(460)
    assert weighted_radiance == pytest.approx(203.71832715762605)
    assert blue_permissible_s(weighted_radiance) == pytest.approx(4908.738521234051)
    with pytest.raises(ValueError, match="reflectance"):
        reflected_radiance(Irradiance.of_mw_cm2(100), 80)


@pytest.mark.parametrize(
    ("area_cm2", "radiance", "weighted_radiance", "seconds"),
    [
        (1.0, 3183.098861837907, 2546.4790894703256, 392.6990816987241),
        (0.01, 318309.8861837907, 254647.90894703256, 3.9269908169872414),
    ],
)
def test_looking_into_a_one_watt_source(area_cm2, radiance, weighted_radiance, seconds):
    assert lambertian_radiance(1, area_cm2) == pytest.approx(radiance)
    assert weighted([(460, lambertian_radiance(1, area_cm2))], 1.0) == pytest.approx(weighted_radiance)
    assert blue_permissible_s(weighted_radiance) == pytest.approx(seconds)


def test_eyewear_density():
    assert eyewear_density(254647.90894703256, 3600) == pytest.approx(2.962242770353214)
    assert eyewear_density(50, 3600) == 0
    assert eyewear_density(1000, 20_000) == pytest.approx(1.0)


def test_uva():
    assert uva_permissible_s(Irradiance.of_w_m2(10)) == pytest.approx(1000)
    assert uva_permissible_s(Irradiance.of_w_m2(9.9)) is None


@pytest.mark.parametrize(
    ("seconds", "limit_mw_cm2", "dose_j_m2"),
    [
        (1, 2000.0, 20000.0),
        (3, 877.3826753016616, 26321.480259049848),
        (5, 598.1395124884882, 29906.97562442441),
        (10, 355.6558820077845, 35565.58820077845),
    ],
)
def test_skin_limit(seconds, limit_mw_cm2, dose_j_m2):
    # Source: ICNIRP 2013 / IEC 62471 §4.3.8, H = 20 000 t^0.25 J/m².
    assert skin_limit(seconds).mw_cm2 == pytest.approx(limit_mw_cm2)
    assert skin_limit(seconds).w_m2 * seconds == pytest.approx(dose_j_m2)


def test_skin_limit_says_why_it_ends():
    with pytest.raises(ValueError, match="numb hand has none"):
        skin_limit(11)


def test_daily_sum_adds_by_day_and_operator():
    runs = [OperatorRun("2026-01-01", "a", 10), OperatorRun("2026-01-01", "a", 5), OperatorRun("2026-01-02", "a", 1)]
    assert daily_seconds(runs) == {("2026-01-01", "a"): 15, ("2026-01-02", "a"): 1}
