"""Every opening and mount, as the program first places it, can be made, saved and dragged."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.build.works import build_features
from housingdesk.features.registry import as_feature, kinds
from tests.features.board import board_site
from tests.features.sites import halves_with

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
