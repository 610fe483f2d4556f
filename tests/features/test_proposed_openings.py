"""Openings and mounts, as the program first places them: they can be made, saved and dragged."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.registry import as_feature, kinds
from housingdesk.geometry.solid import Solid
from tests.features.board import board_site
from tests.features.sites import PART_HIGH, PART_LOW, halves_with, site_of

KINDS = [
    "wireway", "gland", "window", "vents", "access", "fixing_holes",
    "feet", "ears", "keyholes", "flange", "mount_plate", "rail_clip",
]  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_as_first_placed(kind: str) -> None:
    site = board_site(clearance_mm=6.0 if kind == "gland" else 1.0)  # a gland's nut needs room
    feature = kinds()[kind].proposed(site)
    assert feature is not None
    feature = feature.model_copy(update={"name": "it"})
    built = build_features((feature,), site)
    assert [f.message for f in built.findings if f.severity == "fail"] == []
    halves = halves_with(site, feature)
    assert all(len(half.bodies()) == 1 for half in halves.values())
    assert (halves["lower"] & halves["upper"]).volume_mm3 < 1e-6
    # Nothing of it stands in the room of the part.
    for side, half in halves.items():
        low, high = (None, site.parting_z_mm) if side == "lower" else (site.parting_z_mm, None)
        room = site.cavity[side]
        room = room.below(high) if high is not None else room
        room = room.above(low) if low is not None else room
        assert (half & room).volume_mm3 < 1e-6
    # It comes back from a project file as it was.
    assert as_feature(feature.model_dump(mode="json")) == feature
    for knob in built.made["it"].handles:
        moved = feature.moved(knob.key, np.array(knob.at_mm), site.parting_z_mm)
        assert type(moved) is type(feature)
        assert as_feature(moved.model_dump(mode="json")).kind == kind


@pytest.mark.parametrize(
    ("kind", "wall_mm", "room_mm"),
    [
        ("gland", 2.4, 11.0),  # its nut takes 5 mm behind the wall; elsewhere the part is there
        ("mating_marks", 0.6, 0.2),  # half a millimetre deep; elsewhere the wall is as thin
    ],
)
def test_sides_that_have_no_room_for_it_are_passed_over(kind: str, wall_mm: float, room_mm: float) -> None:
    right = np.array([1.0, 0.0, 0.0])
    low, high = PART_LOW - 0.2, PART_HIGH + 0.2 + room_mm * right
    room = Solid.box(low, high)
    outer = np.array([low - wall_mm, high + wall_mm + 2.0 * right])
    outer[:, 2] += [-4.0, 4.0]
    given = {"parting_z_mm": 8.0, "wall_mm": 2.4, "clearance_mm": 0.2}
    part = Solid.box(PART_LOW, PART_HIGH).mesh()
    feature = kinds()[kind].proposed(site_of("block", part, {"lower": room, "upper": room}, outer, given))
    assert feature is not None
    assert (getattr(feature, "side", None) or getattr(feature, "face", None)) == "right"
