"""The picture of the hand: where zones lie, how they fill, what is told to who does not see it.

Mirroring: the back of a right hand with its fingers up has its thumb at the left (anatomy; common practice, no source).
"""

import json
import math
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from handsfree.definition.loader import load_device
from handsfree.definition.outline_checks import area, outline_fault
from handsfree.definition.profile_form import DeviceProfile
from handsfree.drawing.hand_picture import ZoneShown, caption, hand_picture
from handsfree.drawing.stations_picture import stations_picture
from handsfree.errors import ProcedureFileError
from handsfree.exposure.beam import RoundLimb
from handsfree.exposure.units import Length
from handsfree.model.light import ZoneStanding
from handsfree.model.readings import Side

ULNAR = load_device("example-ulnar-sleeve")


def with_zones(**changes):
    """The ulnar profile with its first zone changed."""
    data = ULNAR.model_dump(mode="json", by_alias=True)
    data["zones"][0] |= changes
    return DeviceProfile.model_validate_json(json.dumps(data))


def places(picture):
    """Where each number is seen, by zone."""
    root = ET.fromstring(picture)  # noqa: S314 - made by this program
    return {
        group.get("data-zone"): (float(group[0].get("cx")), float(group[0].get("cy")))
        for group in root.iter("g")
        if group.get("class") == "number"
    }


@pytest.mark.parametrize("name", ["ulnar", "thumb", "wrist"])
def test_every_bundled_profile_draws_all_its_zones(name):
    device = load_device(f"example-{name}-sleeve")
    picture = hand_picture(device, Side.RIGHT)
    assert set(places(picture)) == {zone.id for zone in device.zones}
    assert "place not drawn" not in picture


def test_the_little_finger_side_is_right_on_a_right_hand_and_left_on_a_left_one_from_the_back():
    right, left = (places(hand_picture(ULNAR, side)) for side in (Side.RIGHT, Side.LEFT))
    assert all(x > 50 for x, _ in right.values())
    assert all(left[zone] == pytest.approx((100 - x, y)) for zone, (x, y) in right.items())
    palm = places(hand_picture(ULNAR.model_copy(update={"seen_from": "palm"}), Side.RIGHT))
    assert palm == left, "a right palm looks like the back of a left hand"


def test_a_side_that_nobody_said_is_told_so():
    assert "side not said yet" in caption(ULNAR, None)
    assert caption(ULNAR, Side.LEFT).startswith("left hand")


def test_a_zone_fills_by_its_share_and_is_dashed_over_its_target():
    shown = {
        "fracture_side": ZoneShown(0.5, ZoneStanding.SHORT, "3.0 of 6.0 s, short"),
        "outer_edge": ZoneShown(1.4, ZoneStanding.OVER, "7.0 of 5.0 s, over"),
    }
    picture = hand_picture(ULNAR, Side.RIGHT, shown)
    heights = dict(re.findall(r'data-zone="(\w+)" data-top.*?class="light".*?height="([\d.]+)"', picture, re.DOTALL))
    assert (float(heights["fracture_side"]), float(heights["outer_edge"])) == (10.5, 20.0)
    assert float(heights["wrist_part"]) == 0
    assert picture.count("stroke-dasharray") == 1
    assert "1 fracture side: 3.0 of 6.0 s, short; 2 outer edge: 7.0 of 5.0 s, over; 3 knuckle part: dark" in picture


def test_a_zone_without_an_outline_stands_in_a_row_that_says_so():
    picture = hand_picture(with_zones(outline=None), Side.LEFT)
    assert "place not drawn" in picture
    assert places(picture)["fracture_side"][1] > 150
    assert places(picture)["outer_edge"][1] < 150


def test_a_name_from_a_file_is_text_and_nothing_else():
    device = ULNAR.model_copy(update={"zones": (ULNAR.zones[0].model_copy(update={"name": "<script>&"}),)})
    picture = hand_picture(device, None)
    assert "<script>" not in picture
    assert "&lt;script&gt;&amp;" in picture


@pytest.mark.parametrize(
    ("outline", "fault"),
    [
        ([[0, 0], [10, 0], [10, 10]], None),
        ([[0, 0], [10, 10], [10, 0], [0, 10]], "cross; go once round the zone"),
        ([[0, 0], [10, 0], [20, 0]], "encloses less than"),
        ([[5, 5], [6, 5], [6, 6], [5, 6]], "encloses less than"),
    ],
)
def test_an_outline_that_cannot_be_drawn_is_named(outline, fault):
    found = outline_fault([tuple(map(float, point)) for point in outline])
    assert (found is None) == (fault is None)
    assert fault is None or fault in found


def test_the_area_is_that_of_the_shoelace_formula():
    assert area([(3, 4), (5, 11), (12, 8), (9, 5), (5, 6)]) == 30  # worked example of the formula (from memory)


@pytest.mark.parametrize(
    ("outline", "why"),
    [
        ("[[0, 0], [10, 10], [10, 0], [0, 10]]", "cross"),
        ("[[0, 0], [101, 0], [10, 10]]", "100"),
        ("[[0, 0], [10, 10]]", "needs 3 or more"),
        ("[[0, 0, 1], [10, 0], [10, 10]]", "outline"),
    ],
)
def test_a_fault_in_a_profile_is_one_line_with_its_place(tmp_path, outline, why):
    file = tmp_path / "sleeve.yaml"
    file.write_text(
        "id: sleeve\ntitle: A sleeve\nversion: 0.1.0\napproved_by: null\nnote: made up\nbody_part: hand\nzones:\n"
        f"  - {{id: front, name: front part, order: 1, target_s: 5, outline: {outline}}}\n"
    )
    with pytest.raises(ProcedureFileError) as refused:
        load_device(str(file))
    assert f"{file}:8: zones.0" in str(refused.value)
    assert why in str(refused.value)


def test_positions_around_a_limb_are_drawn_at_their_distance_to_scale():
    # Six positions around 20 cm at 5 cm (e-ILV 17-25-104), as `exposure plan` works them out.
    limb = RoundLimb(Length.of_cm(20), Length.of_cm(5))
    root = ET.fromstring(stations_picture(limb, limb.stations(), 20, ULNAR, "A <light>"))  # noqa: S314 - made here
    svg = "{http://www.w3.org/2000/svg}"
    stations = [group for group in root.iter(f"{svg}g") if group.get("class") == "station"]
    lights = [group.find(f"{svg}circle") for group in stations]
    radius = float(next(root.iter(f"{svg}circle")).get("r"))
    away = [math.hypot(float(light.get("cx")) - 50, float(light.get("cy")) - 50) for light in lights]
    assert len(stations) == 6
    assert away == pytest.approx([radius * (1 + 5 / limb.radius_cm)] * 6, abs=0.02)
    turns = sorted(
        math.degrees(math.atan2(float(one.get("cy")) - 50, float(one.get("cx")) - 50)) % 360 for one in lights
    )
    assert [b - a for a, b in pairwise(turns)] == pytest.approx([60] * 5, abs=0.1)
    assert "".join(root.itertext()).count("A <light>") == 2
