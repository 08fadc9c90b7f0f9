"""Thermal dose and the working curve.

Sources: Sapareto & Dewey 1984 (formula from memory, figures worked out apart from this code); Jacobs 1992; burn points
as quoted in J Orthop Surg Res 2008;3:10 and reviews, the originals not read.
"""

import itertools

import pytest

from handsfree.exposure.heat import (
    BURN_POINTS,
    JACOBS_WARNING,
    cem43_min,
    working_curve_depth_mm,
)


@pytest.mark.parametrize(
    ("temperature_c", "minutes", "expected_min"),
    [
        (43, 60, 60.0), (45, 10, 40.0), (41, 60, 3.75), (42, 60, 15.0), (44, 30, 60.0), (46, 5, 40.0), (49, 1, 64.0),
        (49, 8, 512.0), (50, 1, 128.0), (39, 60, 0.234375), (38.9, 60, 0.0), (49, 2.5, 160.0),
    ],
)  # fmt: skip
def test_cem43(temperature_c, minutes, expected_min):
    assert cem43_min([(temperature_c, minutes)]) == pytest.approx(expected_min)


def test_cem43_of_a_ramp():
    assert cem43_min([(41, 10), (43, 5), (45, 2)]) == pytest.approx(13.625)


def test_fahrenheit_is_refused():
    with pytest.raises(ValueError, match="Celsius"):
        cem43_min([(109.4, 1)])
    with pytest.raises(ValueError, match="0 or more"):
        cem43_min([(43, -1)])


def test_working_curve_always_carries_its_warning():
    depth_mm, warning = working_curve_depth_mm(30, 8, 0.175)
    assert depth_mm == pytest.approx(0.2313072719969059)
    assert warning == JACOBS_WARNING
    assert "7 times" in warning
    assert working_curve_depth_mm(8, 8, 1)[0] == 0
    gain = working_curve_depth_mm(40, 10, 1)[0] - working_curve_depth_mm(20, 10, 1)[0]
    assert gain == pytest.approx(0.6931471805599453)


def test_burn_points_shorten_with_temperature_and_name_their_source():
    for source in {point.source for point in BURN_POINTS}:
        rows = sorted((p for p in BURN_POINTS if p.source == source), key=lambda p: p.temperature_c)
        assert len(rows) > 1
        steps = [(a, b) for a, b in itertools.pairwise(rows) if a.temperature_c < b.temperature_c]
        assert all(a.low_s > b.low_s for a, b in steps)


def test_burn_points_read_in_a_review():
    # J Orthop Surg Res 2008;3:10: 49 °C more than 2-3 min first degree, more than 8 min second, more than 12 min third.
    rows = [p for p in BURN_POINTS if p.source.startswith("J Orthop")]
    assert [(p.temperature_c, p.low_s, p.high_s) for p in rows] == [(49, 120, 180), (49, 480, 480), (49, 720, 720)]


def test_cem43_where_heat_begins_to_hurt():
    # Worked: 2^(45-43) and 2^(49-43) min for each minute at 45 and 49 °C (Sapareto & Dewey 1984).
    assert cem43_min([(45, 1)]) == pytest.approx(4)
    assert cem43_min([(49, 1)]) == pytest.approx(64)
