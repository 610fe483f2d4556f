from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.errors import PartError
from housingdesk.files.meshes import part_suffixes, read_part
from housingdesk.files.units import check_size, guess_unit, suggest_unit
from housingdesk.spec.models import UNIT_MM, Unit


# Extents in file units and the true unit, from the sizes of real bought parts (the shared index) and of
# things on any bench: an 18 x 65 mm cell, a 42 mm stepper over its ears, a 5 inch block.
@pytest.mark.parametrize(
    ("size", "unit"),
    [
        ((0.018, 0.018, 0.065), "m"),
        ((0.0326, 0.013, 0.0303), "m"),
        ((0.4309, 0.194, 0.1311), "m"),
        ((4.2, 3.1, 3.01), "cm"),
        ((5.0, 2.5, 1.375), "inch"),
        ((1.874, 1.874, 1.106), "inch"),
        ((70.5, 37.5, 38.0), "mm"),
        ((2.0, 18.0, 13.0), "mm"),
        ((304.8, 304.4, 25.8), "mm"),
        ((12.0, 9.0, 3.0), "mm"),
    ],
)
def test_guess(size: tuple[float, float, float], unit: Unit) -> None:
    assert guess_unit(np.array(size)) == unit


@given(
    st.sampled_from(["mm", "m"]),
    st.floats(min_value=12.0, max_value=400.0),
    st.floats(min_value=0.1, max_value=1.0),
    st.permutations([0, 1, 2]),
)
def test_usual_files_of_usual_parts_are_always_told(
    unit: Unit, greatest_mm: float, share: float, order: list[int]
) -> None:
    size = np.array([greatest_mm, greatest_mm * share, greatest_mm * share / 2])[order] / UNIT_MM[unit]
    assert guess_unit(size) == unit


def test_inch_and_cm_cannot_always_be_told() -> None:
    # 100 mm is 3.937 inch and 10 cm is 100 mm: the same numbers, 2.54 times apart
    assert guess_unit(np.array([3.937, 2.0, 1.0])) == "cm"


def test_suggestion() -> None:
    assert suggest_unit(np.array([0.06, 0.03, 0.02]), "mm") == "m"
    assert suggest_unit(np.array([60.0, 30.0, 20.0]), "m") == "mm"
    assert suggest_unit(np.array([60.0, 30.0, 20.0]), "mm") is None
    assert suggest_unit(np.array([60000.0, 1.0, 1.0]), "inch") is None  # no unit makes sense of it


@pytest.mark.parametrize(
    ("size_mm", "unit", "words"),
    [
        ((5000.0, 20.0, 20.0), "mm", "5 m"),
        ((57000.0, 40000.0, 20000.0), "m", r"is 57 m; choose millimetres.*57 mm"),
        ((0.05, 0.02, 0.01), "mm", r"is 0\.05 mm; choose metres as its unit \(m\), which makes it 50 mm"),
        ((0.0659, 0.0041, 0.0312), "mm", r"choose metres"),
    ],
)
def test_absurd_sizes_are_refused(size_mm: tuple[float, float, float], unit: Unit, words: str) -> None:
    with pytest.raises(PartError, match=words):
        check_size(np.array(size_mm), unit)


def test_sensible_sizes_pass() -> None:
    for greatest in (1.0, 57.0, 430.0, 2000.0):
        check_size(np.array([greatest, 0.5, 0.5]), "mm")


# What the shared index says of each file: open / non-manifold / duplicate / zero-area, file unit.  Left
# out where its own note says the counts depend on how near two points count as one (drone: 83 or 90
# duplicates for 1e-8 m or one step of single precision).
INDEX = {
    "assembly_counter_2objects.3mf": (0, 0, 0, 0, "mm"),
    "battery_18650_cell_metres.stl": (0, 0, 0, 0, "m"),
    "battery_pack_rounded.stl": (0, 0, 0, 0, "mm"),
    "board_moteus_n1.step": (0, 0, 0, 0, "mm"),
    "board_raspberrypi_zero_metres.stl": (0, 0, 0, 0, "m"),
    "board_respeaker_7bodies_metres.stl": (0, 0, 0, 0, "m"),
    "dirty_bunny_scan_holes.ply": (123, 150, 87, 0, "m"),
    "dirty_nonmanifold_plate.obj": (0, 18, 3, 1, "mm"),
    "gearbox_cycloidal_100bodies_inches.ply": (0, 242, 0, 0, "inch"),
    "heatsink_module_xavier_metres.stl": (0, 15, 0, 0, "m"),
    "robotlink_go1_trunk_351k_metres.ply": (11, 1154, 505, 0, "m"),
    "robotlink_sawyer_l4_multiobject_metres.obj": (0, 21, 20, 222, "m"),
    "sensor_imu_adis16480_metres.stl": (0, 0, 0, 0, "m"),
    "servo_sg90_metres.stl": (0, 0, 0, 0, "m"),
    "servo_sts3215_metres.stl": (0, 0, 0, 0, "m"),
    "servo_xm430_10bodies_metres.stl": (0, 0, 0, 0, "m"),
    "stepper_28byj48_geared_cm.stl": (0, 0, 0, 0, "cm"),
    "units_featuretype_inch_holes.3mf": (18, 0, 0, 0, "inch"),
    "units_featuretype_inches.stl": (0, 0, 0, 0, "inch"),
}


@pytest.mark.shared
@pytest.mark.parametrize("name", INDEX)
def test_real_parts_are_found_as_the_index_says(name: str, shared_parts: Path) -> None:
    part = read_part(shared_parts / name)
    f = part.facts
    found = (f.open_edges, f.crowded_edges, f.duplicate_triangles, f.flat_triangles, part.unit)
    assert found == INDEX[name]


@pytest.mark.shared
@pytest.mark.parametrize(
    ("name", "bodies", "voids"),
    [
        ("assembly_counter_2objects.3mf", 6, 0),
        ("board_respeaker_7bodies_metres.stl", 7, 0),
        ("drone_crazyflie_thinprops_metres.stl", 33, 0),
        ("gearbox_cycloidal_100bodies_inches.ply", 100, 0),
        ("servo_xm430_10bodies_metres.stl", 10, 0),
        # 14 and 13 in the index, where two shells that touch in a point are told apart
        ("robotlink_sawyer_l4_multiobject_metres.obj", 13, 12),
    ],
)
def test_bodies_of_real_parts(name: str, bodies: int, voids: int, shared_parts: Path) -> None:
    facts = read_part(shared_parts / name).facts
    assert (facts.bodies, facts.voids) == (bodies, voids)
    assert any("bodies" in note or "closed space" in note for note in facts.notes)


@pytest.mark.shared
def test_every_shared_part_can_be_read(shared_parts: Path) -> None:
    for path in sorted(shared_parts.iterdir()):
        if path.suffix.lower() in part_suffixes():
            assert read_part(path).mesh.triangles > 0, path.name
