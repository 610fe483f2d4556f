"""The wireway: measured on finished halves; a wire passes, and is held."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from housingdesk.errors import SpecError
from housingdesk.features.wirepath import swept, weave
from housingdesk.features.wireway import Wireway
from housingdesk.geometry.solid import Solid
from tests.features.sites import block_site, halves_with
from tests.features.slices import UP, exported, free, loops

MIDDLE_WALL_Y = 14.2  # of the back wall: the block ends at 12, 1 mm clearance, 2.4 mm wall


def wire_along(feature: Wireway, site: Any, diameter_mm: float) -> Solid:
    line = feature.line(feature.course(site))
    return swept(line, site.parting_z_mm, diameter_mm, "round", outside=False)


@pytest.mark.parametrize("shape", ["round", "square"])
@pytest.mark.parametrize("relief", ["none", "labyrinth"])
@pytest.mark.parametrize("wire_mm", [1.2, 4.0])
def test_the_wire_lies_in_its_channel_all_along(shape: Any, relief: Any, wire_mm: float) -> None:
    site = block_site(room_mm=1.0)
    feature = Wireway(name="wireway", shape=shape, relief=relief, wire_mm=wire_mm)
    halves = halves_with(site, feature)
    wire = wire_along(feature, site, wire_mm)
    end = feature.build(site).openings[0].centre_mm
    assert wire.bounds[1, 1] > end[1], "the wire reaches the open"
    room = (wire & site.cavity["lower"]).volume_mm3
    assert room > 0, "the wire begins in the room of the part"
    for half in halves.values():
        assert (half & wire).volume_mm3 == pytest.approx(0.0, abs=1e-6)
        # The room asked is there: asked 0.3 mm a side.
        assert half.min_gap(wire, 2.0) == pytest.approx(0.3, abs=0.02)


@pytest.mark.parametrize("across_mm", [-11.0, 0.0, 6.5])
def test_the_channel_is_half_in_each_half_at_its_place(across_mm: float) -> None:
    site = block_site()
    halves = halves_with(site, Wireway(name="w", relief="none", across_mm=across_mm, mouth_mm=0.5))
    for side, half in halves.items():
        outline = np.vstack(loops(half, (0, MIDDLE_WALL_Y, 0), (0, 1, 0)))
        near = outline[(np.abs(outline[:, 0] - across_mm) < 3.0) & (np.abs(outline[:, 2] - 8.0) < 3.0)]
        # Ø4 wire + 2 x 0.3 room = Ø4.6 about the parting plane at 8.
        down = -1.0 if side == "lower" else 1.0
        assert (down * (near[:, 2] - 8.0)).max() == pytest.approx(2.3, abs=0.03)
        rim = near[np.abs(near[:, 2] - 8.0) < 1e-6]
        assert np.ptp(rim[:, 0]) == pytest.approx(4.6, abs=0.03)
        assert rim[:, 0].mean() == pytest.approx(across_mm, abs=0.02)


DRAWN = ((-5.0, 12.0), (-5.0, 20.0), (9.0, 23.0), (9.0, 30.0))


@pytest.mark.parametrize("shape", ["round", "square"])
@pytest.mark.parametrize("relief", ["none", "labyrinth"])
@pytest.mark.parametrize("points_mm", [(), DRAWN], ids=["straight", "drawn"])
def test_the_channel_is_as_wide_and_high_as_asked_all_along(shape: Any, relief: Any, points_mm: Any) -> None:
    """Cut across every few millimetres of its course: Ø4 wire and 0.3 room a side are 4.6."""
    site = block_site(room_mm=22.0 if points_mm else 1.0)
    feature = Wireway(name="w", shape=shape, relief=relief, points_mm=points_mm, mouth_mm=0.5)
    halves = {side: exported(half) for side, half in halves_with(site, feature).items()}
    course = feature.course(site)
    line, cuts = feature.line(course), 0
    end = feature.missing_mm(course) - 0.5  # the mouth widens from there on
    ways = np.diff(line, axis=0)
    lengths = np.linalg.norm(ways, axis=1)
    ways /= lengths[:, None]
    turns = np.arccos(np.clip(np.einsum("ij,ij->i", ways[:-1], ways[1:]), -1, 1))
    # Pieces meet in a mitre, which reaches so far back from a bend; there a cut across is slanted.
    mitre = 0.1 + 2.3 * np.tan(np.concatenate([[0.0], turns, [0.0]]) / 2)
    for a, way, first, last in zip(line[:-1], ways, mitre[:-1], lengths - mitre[1:], strict=True):
        for along in np.arange(first, last, 1.5):
            x, y = a + along * way
            if course.frame.seen(np.array([x, y, 8.0]))[2] > end - 0.05 or y - 2.4 * abs(way[0]) < 13.05:
                continue
            cuts += 1
            across, normal = np.array([-way[1], way[0], 0.0]), np.array([*way, 0.0])
            for half, down in ((halves["lower"], -1.0), (halves["upper"], 1.0)):
                rim = free([half], (x, y, 8.0 + 0.001 * down), across, normal)
                assert rim == pytest.approx((2.3, 2.3), abs=0.05)
                deep = free([half], (x, y, 8.0), down * np.array(UP), normal)[1]
                assert deep == pytest.approx(2.3, abs=0.05)
                # Half way down: all of a square, a chord of a round.
                chord = 2.3 if shape == "square" else math.sqrt(2.3**2 - 1.15**2)
                inside = free([half], (x, y, 8.0 + 1.15 * down), across, normal)
                assert inside == pytest.approx((chord, chord), abs=0.05)
    assert cuts >= (8 if points_mm else 2)


def test_left_open_it_takes_where_the_room_is_nearest() -> None:
    site = block_site()
    bump = Solid.box(np.array([9.0, 11.0, -40.0]), np.array([19.0, 14.0, 60.0]))
    nearer = replace(
        site,
        cavity={side: site.cavity[side] | bump for side in site.cavity},
        form=site.form | Solid.box(np.array([5.0, 10.0, -3.4]), np.array([22.0, 17.0, 19.4])),
    )
    course = Wireway(name="w").course(nearer)
    # The bump's back is 10 wide about x = 14; its nearest place to the middle that has room for the mouth.
    assert course.frame.origin_mm[0] == pytest.approx(9.0 + 2.3 + 1.0, abs=1e-6)
    assert course.frame.origin_mm[1] == pytest.approx(17.0, abs=1e-6)


def test_the_mouth_is_a_quarter_round() -> None:
    site = block_site(wall_mm=5.0)
    lower = halves_with(site, Wireway(name="w", relief="none", mouth_mm=2.0))["lower"]
    face = 18.0  # 12 + 1 + 5
    for depth in (0.05, 0.5, 1.0, 1.9):
        rim = np.vstack(loops(lower, (0, face - depth, 0), (0, 1, 0)))
        rim = rim[np.abs(rim[:, 2] - 8.0) < 1e-6, 0]
        # Radius 2 about a place 2 inside the face and 2 beside the channel.
        wider = 2.0 - math.sqrt(2.0**2 - (2.0 - depth) ** 2)
        assert (rim[rim > 0].min() - rim[rim < 0].max()) / 2 - 2.3 == pytest.approx(wider, abs=0.05)


@pytest.mark.parametrize("shape", ["round", "square"])
def test_the_clamp_leaves_less_than_the_wire(shape: Any) -> None:
    site = block_site()
    feature = Wireway(name="w", relief="clamp", wire_mm=4.0, squeeze_mm=0.6, shape=shape)
    halves = halves_with(site, feature)
    hump_y = feature.build(site).openings[0].centre_mm[1] - 1.0 - 4.0 / 3
    gap = 0.0
    for side, half in halves.items():
        rim = np.vstack(loops(half, (0, 0, 0), (1, 0, 0)))
        at = rim[(np.abs(rim[:, 1] - hump_y) < 0.2) & (np.abs(rim[:, 2] - 8.0) < 2.2), 2]
        gap += float(8.0 - at.max()) if side == "lower" else float(at.min() - 8.0)
    assert gap == pytest.approx(4.0 - 0.6, abs=0.01)
    wire = wire_along(feature, site, 4.0)
    squeezed = sum((half & wire).volume_mm3 for half in halves.values())
    assert 0.5 < squeezed < 20.0
    # A wire that is thinner by the squeeze lies free.
    assert all((half & wire_along(feature, site, 3.39)).volume_mm3 < 1e-6 for half in halves.values())


def test_nothing_sees_straight_through_a_labyrinth() -> None:
    site = block_site()
    feature = Wireway(name="w", relief="labyrinth", wire_mm=3.0)
    halves = halves_with(site, feature)
    x, y, z = feature.build(site).openings[0].centre_mm
    for dx in np.linspace(-1.7, 1.7, 9):
        for dz in np.linspace(-1.7, 1.7, 5):
            ray = Solid.rod((x + dx, 12.5, z + dz), (x + dx, y + 1.0, z + dz), 0.02)
            assert sum((half & ray).volume_mm3 for half in halves.values()) > 0


def test_a_weave_comes_back_to_its_axis_by_bends_of_one_radius() -> None:
    points = weave(5.0)
    assert points[0] == pytest.approx([0, 0])
    assert points[-1] == pytest.approx([4 * 5 * math.sin(math.radians(65)), 0])
    assert points[:, 1].max() == pytest.approx(2 * 5 * (1 - math.cos(math.radians(65))))
    # Three neighbouring places lie on a circle of the radius (R = abc / 4 area), but where bends meet.
    radii = []
    for a, b, c in zip(points[:-2], points[1:-1], points[2:], strict=True):
        area = abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]) / 2
        if area > 1e-9:
            radii.append(math.dist(a, b) * math.dist(b, c) * math.dist(a, c) / (4 * area))
    assert radii == pytest.approx([5.0] * len(radii))


def test_the_hold_is_told_by_the_rope_formula() -> None:
    # Euler-Eytelwein exp(mu phi): mu 0.3, four bends of 65 degrees -> exp(0.3 x 4.538) = 3.90.
    said = Wireway(name="w", relief="labyrinth").build(block_site()).findings
    assert any("3.9 times weaker" in f.message and "from memory" in f.message for f in said)


@pytest.mark.parametrize("relief", ["none", "clamp", "labyrinth"])
def test_a_drawn_way_is_clear_round_its_corners(relief: Any) -> None:
    site = block_site(room_mm=22.0)
    feature = Wireway(
        name="w",
        relief=relief,
        squeeze_mm=0.0,
        points_mm=((-5.0, 12.0), (-5.0, 20.0), (9.0, 23.0), (9.0, 30.0)),
    )
    halves = halves_with(site, feature)
    wire = wire_along(feature, site, 3.99)
    assert all((half & wire).volume_mm3 < 1e-6 for half in halves.values())
    x, y, z = feature.build(site).openings[0].centre_mm
    assert (x, z) == pytest.approx((9.0, 8.0), abs=0.01)
    # Straight out it ends at the face: 12 + 1 + 2.4 + 22.  A labyrinth reaches further than the last piece.
    assert y == pytest.approx(37.4, abs=0.01) if relief != "labyrinth" else y > 38


def test_it_follows_wall_and_plane() -> None:
    feature = Wireway(name="w", relief="none", across_mm=3.0)
    for wall_mm, parting_z_mm in ((1.6, 5.0), (4.0, 11.0)):
        site = block_site(wall_mm=wall_mm, parting_z_mm=parting_z_mm)
        assert feature.build(site).openings[0].centre_mm == pytest.approx((3.0, 13.0 + wall_mm, parting_z_mm))
        wire = wire_along(feature, site, 4.0)
        assert all((h & wire).volume_mm3 < 1e-6 for h in halves_with(site, feature).values())


def test_material_outside_the_wall_prints_without_support() -> None:
    site = block_site(parting_z_mm=14.0)
    lower = halves_with(site, Wireway(name="w", relief="labyrinth", wire_mm=2.0))["lower"]
    mesh = exported(lower)
    outside = mesh.triangles_center[:, 1] > 15.5
    down = mesh.face_normals[:, 2]
    over = outside & (down < -math.sin(math.radians(45.5))) & (mesh.triangles_center[:, 2] > -3.39)
    assert not over.any()
    assert len(lower.bodies()) == 1


@pytest.mark.parametrize(
    "feature",
    [
        Wireway(name="w", points_mm=((-5.0, 60.0), (-5.0, 70.0))),
        Wireway(name="w", across_mm=100.0),
    ],
)
def test_a_way_without_room_or_wall_is_refused_in_words(feature: Wireway) -> None:
    with pytest.raises(SpecError, match=r"^[A-Z][^\n]*\.$"):
        feature.build(block_site())


def test_a_way_beside_the_outside_is_said() -> None:
    along_the_wall = Wireway(
        name="w", relief="none", points_mm=((0.0, 13.0), (0.0, 17.0), (25.0, 17.0), (25.0, 30.0))
    )
    codes = {f.code for f in along_the_wall.build(block_site(room_mm=5.0)).findings}
    assert "wireway-wall" in codes
    assert "wireway-wall" not in {f.code for f in along_the_wall.build(block_site(room_mm=12.0)).findings}


def test_dragging_and_clicking() -> None:
    site = block_site()
    drawn = Wireway(name="w", points_mm=((0.0, 12.0), (0.0, 30.0)))
    knobs = {h.label: h.key for h in drawn.build(site).handles}
    assert list(knobs) == ["corner 1 of the way", "corner 2 of the way", "drag to bend the way here"]
    end = knobs["corner 2 of the way"]
    to = np.array([4.0, 31.0, 2.0])
    assert drawn.moved(end, to, 8.0).points_mm == ((0.0, 12.0), (4.0, 31.0))
    bend = knobs["drag to bend the way here"]
    bent = drawn.moved(bend, np.array([3.0, 20.0, 8.0]), 8.0)
    assert bent.points_mm == ((0.0, 12.0), (3.0, 20.0), (0.0, 30.0))
    # However often the drag is told, it is one new corner.
    again = bent.moved(bend, np.array([5.0, 21.0, 8.0]), 8.0)
    assert again.points_mm == ((0.0, 12.0), (5.0, 21.0), (0.0, 30.0))
    straight = Wireway(name="w")
    mouth, middle = straight.build(site).handles
    assert straight.moved(mouth.key, np.array([-6.0, 15.0, 8.0]), 8.0).across_mm == -6.0
    assert len(straight.moved(middle.key, np.array([2.0, 14.0, 8.0]), 8.0).points_mm) == 3
    clicked = Wireway.at(np.array([23.4, 5.0, 9.0]), np.array([1.0, 0.0, 0.0]), site)
    assert clicked is not None and (clicked.side, clicked.across_mm) == ("right", 5.0)
    on_roof = Wireway.at(np.array([2.0, -14.0, 19.4]), np.array([0.0, 0.0, 1.0]), site)
    assert on_roof is not None and (on_roof.side, on_roof.across_mm) == ("front", 2.0)
