"""A block with a shaft, through the whole build: its bearing is drawn, its seat measured, and no gap told."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.build.pipeline import Builder
from housingdesk.build.results import BuildResult, CutPlane
from housingdesk.build.zoning import reference
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from housingdesk.spec.zones import ZoneSpec
from tests.build.test_fit import Held

# 40 x 24 x 24 with a shaft of 5 mm that stands 30 mm out of its right face.
SHAFT = trimesh.creation.cylinder(2.5, 40.0, sections=96)
SHAFT.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0]))
SHAFT.apply_translation([30.0, 0, 12.0])
BLOCK = trimesh.creation.box(bounds=[[-20, -12, 0], [20, 12, 24]])
BODY = trimesh.boolean.union([BLOCK, SHAFT], engine="manifold")
PART = Mesh(BODY.vertices, BODY.faces)
ROUND = next(p for p in find_patches(PART) if p.kind == "cylinder")
CUT = CutPlane((0.0, 0.0, 12.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))


@pytest.fixture(scope="module")
def builder() -> Builder:
    return Builder(Held({PART.key: PART}))


def built(builder: Builder, **zone: object) -> BuildResult:
    shaft = ZoneSpec(
        name="shaft", part="Motor", purpose="turning", patches=(reference(ROUND),), clearance_mm=0.5, **zone
    )
    spec = Spec(
        parts=(PartSpec(name="Motor", mesh_key=PART.key),),
        parting=PartingSpec(height_mm=12.0),
        fit=FitSpec(clearance_mm=0.5, zones=(shaft,)),
        shell=ShellSpec(wall_mm=2.4),
    )
    return builder.build(spec, "final", CUT)


def said(result: BuildResult, code: str) -> list[str]:
    return [f.message for f in result.findings if f.code == code]


def test_a_bearing_is_drawn_and_its_seat_is_measured(builder: Builder) -> None:
    result = built(builder, seat="bearing")
    (body,) = result.bought
    assert body.size_mm == pytest.approx((5.0, 14.0, 14.0), abs=0.05)
    assert result.section is not None
    # Cut along the axis, a ring shows two squares of 5 x (14 - 5) / 2.
    assert len(result.section.bought) == 2
    for loop in result.section.bought:
        assert np.ptp(loop, axis=0) == pytest.approx((5.0, 4.5), abs=0.05)
    (seat,) = said(result, "seat")
    assert "ball bearing 605, 5 x 14 x 5" in seat
    assert "5.20 mm along the shaft for 5.00 mm" in seat
    assert built(builder).bought == ()
    assert said(built(builder), "seat") == []


def test_how_far_the_shaft_stands_out_is_told_from_the_bearings_boss(builder: Builder) -> None:
    # The wall begins 0.5 mm from the body; two shoulders of 1.6 mm and 5.2 mm for the bearing.
    (out,) = said(built(builder, seat="bearing"), "passage-out")
    assert f"{30 - 0.5 - 1.6 - 5.2 - 1.6:.1f} mm out of the housing" in out
    (plain,) = said(built(builder), "passage-out")
    assert f"{30 - 0.5 - 2.4:.1f} mm out of the housing" in plain


def test_the_middle_of_the_mouth_is_at_the_end_of_the_boss(builder: Builder) -> None:
    """The end is looked for in the finished halves: the last of them beside the shaft."""
    result = built(builder, seat="bearing")
    (way,) = result.passages
    points = np.vstack([h.vertices for h in result.halves.values()])
    assert way.centre_mm == pytest.approx((points[:, 0].max(), 0.0, 12.0), abs=0.01)
    # A boss stands out by two shoulders of 1.6 mm and 5.2 mm for the bearing, less the wall.
    (bare,) = built(builder).passages
    assert way.centre_mm[0] - bare.centre_mm[0] == pytest.approx(1.6 + 5.2 + 1.6 - 2.4, abs=0.05)


def gaps(result: BuildResult, zone: str) -> tuple[float, float, float]:
    found = next(z for z in result.zones if z.name == zone)
    return found.min_gap_mm, found.median_gap_mm, found.max_gap_mm


def test_what_lies_in_mouth_and_seat_is_no_typical_gap(builder: Builder) -> None:
    # A bare shaft has its 0.5 mm all along; in the room before the wall its rim is askew of it at most.
    assert gaps(built(builder), "shaft") == pytest.approx((0.5, 0.5, np.hypot(0.5, 0.5)), abs=0.03)
    # In the wall there is the bearing, and nothing is near the shaft.
    result = built(builder, seat="bearing")
    least, *others = gaps(result, "shaft")
    assert 0.5 - 0.01 <= least < (14.4 - 5.0) / 2
    assert others == [np.inf, np.inf]
    (words,) = said(result, "zone-shaft")
    assert words.endswith("at the tightest; 0.50 mm asked.")


def test_a_shaft_that_ends_in_its_bearing_is_told_so_once(builder: Builder) -> None:
    result = built(builder, seat="bearing", bearing="own", outside_mm=14.0, width_mm=28.0)
    assert len(said(result, "seat-short-shaft")) == 1
    assert [f.code for f in result.findings if f.code.startswith("passage")] == []
