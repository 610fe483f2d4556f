"""Locating ribs on the block: what they touch, that they let the part in, and what play is left."""

from __future__ import annotations

import igl
import numpy as np
import pytest
import trimesh

from housingdesk.errors import SpecError
from housingdesk.features.records import Contact
from housingdesk.features.ribs import Ribs
from housingdesk.features.site import Region
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats, Mesh, Side
from housingdesk.proof.play import FLUSH_MM, measure_play
from tests.features.sites import PART_HIGH, PART_LOW, block_site, halves_with

SLACK = 0.01  # the judge's own slack on a clearance
PART = Solid.box(PART_LOW, PART_HIGH)


def away(points: Floats, mesh: Mesh) -> Floats:
    """Distances by libigl."""
    squared = igl.point_mesh_squared_distance(
        np.ascontiguousarray(points, float), np.array(mesh.vertices), mesh.faces.astype(np.int64)
    )[0]
    return np.sqrt(squared)


def within(points: Floats, mesh: Mesh) -> int:
    wound = igl.fast_winding_number(
        np.array(mesh.vertices), mesh.faces.astype(np.int64), np.ascontiguousarray(points, float)
    )
    return int((wound > 0.5).sum())


def strewn(mesh: Mesh, n: int, seed: int) -> Floats:
    body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    points, _ = trimesh.sample.sample_surface(body, n, seed=seed)
    return np.vstack([mesh.vertices, points])


def free(points: Floats, contacts: tuple[Contact, ...]) -> Floats:
    for c in contacts:
        points = points[np.linalg.norm(points - np.array(c.centre_mm), axis=1) > c.radius_mm]
    return points


def total(halves: dict[Side, Solid]) -> list[Mesh]:
    return [halves["lower"].mesh(), halves["upper"].mesh()]


@pytest.mark.parametrize("clearance", [0.3, 1.0])
@pytest.mark.parametrize("width", [1.0, 3.0])
def test_ribs_press_where_they_say_and_nowhere_else(clearance: float, width: float) -> None:
    site = block_site(clearance_mm=clearance)
    ribs = Ribs(name="Ribs", crush_mm=0.15, width_mm=width)
    contacts = ribs.build(site).contacts
    halves = halves_with(site, ribs)
    part = PART.mesh()
    everywhere = strewn(part, 20_000, 1)
    share = 1 - len(free(everywhere, contacts)) / len(everywhere)
    assert 0 < share <= 0.15
    for half, up in ((halves["lower"].mesh(), 1.0), (halves["upper"].mesh(), -1.0)):
        assert away(free(strewn(half, 20_000, 2), contacts), part).min() >= clearance - SLACK
        assert away(free(everywhere, contacts), half).min() >= clearance - SLACK
        for step in np.linspace(0.0, 18.0, 25):  # straight in, along the pull
            q = free(everywhere[::4] + np.array([0, 0, up * step]), contacts)
            assert away(q, half).min() >= clearance - 2 * SLACK
            assert within(q, half) == 0
    for half in halves.values():
        assert len(half.bodies()) == 1
        # The crushed volume, by the kernel: each rib reaches into the part by its press, and no more.
        bitten = half & PART
        assert bitten.volume_mm3 > 0
        inner = Solid.box(PART_LOW + 0.15 + 1e-6, PART_HIGH - 0.15 - 1e-6)
        assert (half & inner).volume_mm3 == pytest.approx(0, abs=1e-9)


def test_play_is_gone_where_ribs_press_and_was_the_clearance_before() -> None:
    site = block_site(clearance_mm=1.0)
    bare = measure_play(PART.mesh(), total(halves_with(site)), np.array([0, 0, 8.0]), np.array([1.0, 0, 0]))
    # closed form: a box in a box moves by its gaps
    for pair in (bare.x_mm, bare.y_mm, bare.z_mm):
        assert pair == pytest.approx((1.0, 1.0), abs=1e-6)
    ribs = Ribs(name="Ribs", crush_mm=0.15)
    made = ribs.build(site)
    held = measure_play(
        PART.mesh(),
        total(halves_with(site, ribs)),
        np.array([0, 0, 8.0]),
        np.array([1.0, 0, 0]),
        made.contacts,
    )
    for pair in (held.x_mm, held.y_mm, held.z_mm):
        assert pair == pytest.approx((0, 0), abs=2 * FLUSH_MM)
    for pair in (held.turn_deg, held.turn_x_deg, held.turn_y_deg, held.turn_z_deg):
        assert pair == pytest.approx((0, 0), abs=0.01)
    sideways = Ribs(name="Ribs", crush_mm=0.15, hold="sideways")
    half_held = measure_play(
        PART.mesh(),
        total(halves_with(site, sideways)),
        np.array([0, 0, 8.0]),
        np.array([1.0, 0, 0]),
        sideways.build(site).contacts,
    )
    assert half_held.x_mm == pytest.approx((0, 0), abs=2 * FLUSH_MM)
    assert half_held.y_mm == pytest.approx((0, 0), abs=2 * FLUSH_MM)
    assert half_held.z_mm == pytest.approx((1.0, 1.0), abs=1e-6)


def test_ribs_without_press_just_touch() -> None:
    site = block_site(clearance_mm=0.5)
    ribs = Ribs(name="Ribs", crush_mm=0.0)
    found = measure_play(
        PART.mesh(),
        total(halves_with(site, ribs)),
        np.array([0, 0, 8.0]),
        np.array([0, 0, 1.0]),
        ribs.build(site).contacts,
    )
    assert found.x_mm == pytest.approx((0, 0), abs=2 * FLUSH_MM)
    assert found.y_mm == pytest.approx((0, 0), abs=2 * FLUSH_MM)


def test_no_rib_where_the_part_has_to_pass() -> None:
    # The block has a foot on the right, 3 mm out: above it the lower half is cut wide, so a rib on the right
    # flat above the foot would stand in the foot's way; only the foot itself may be pressed from the right.
    foot = Solid.box((20, -12, 0), (23, 12, 3))
    part = PART | foot
    c = np.array([1.0, 1.0, 1.0])
    far = np.array([0, 0, 40.0])
    lower = Solid.box(PART_LOW - c, PART_HIGH + np.array([3, 0, 0]) + c + far)
    upper = Solid.box(PART_LOW - c - far, PART_HIGH + c) | Solid.box(
        np.array([20, -12, 0]) - c - far, np.array([23, 12, 3]) + c
    )
    site = block_site(
        parts={"block": part.mesh()},
        cavity={"lower": lower, "upper": upper},
        form=Solid.box(PART_LOW - 4, PART_HIGH + np.array([7.0, 4, 4])),
        parting_z_mm=10.0,
    )
    work = Ribs(name="Ribs", hold="sideways", length_mm=1.2).build(site)
    on_foot = [k for k in work.contacts if k.centre_mm[0] == pytest.approx(23)]
    above_foot = [k for k in work.contacts if k.centre_mm[0] == pytest.approx(20)]
    assert on_foot or above_foot
    assert all(k.centre_mm[2] > 10 for k in above_foot)


def test_ribs_leave_turning_zones_alone() -> None:
    site = block_site(regions=(Region("body", "held", 1.0), Region("shaft", "turning", 1.0)))
    faces = np.zeros(12, np.int32)
    mesh = PART.mesh()
    right = (mesh.vertices[mesh.faces][:, :, 0] == 20).all(axis=1)
    faces[right] = 1
    site = block_site(regions=site.regions, region_of={"block": faces})
    work = Ribs(name="Ribs").build(site)
    assert work.contacts
    assert all(c.centre_mm[0] < 19.9 for c in work.contacts)
    assert work.findings[0].severity == "caution"
    assert "right" in work.findings[0].message
    with pytest.raises(SpecError, match="shaft"):
        Ribs(name="Ribs", zone="shaft").build(site)


def test_a_rib_at_one_place_follows_its_knob() -> None:
    site = block_site()
    rib = Ribs.at(np.array([0.0, -16.0, 4.0]), np.array([0, -1.0, 0]), site)
    assert rib is not None
    work = rib.build(site)
    (knob,) = work.handles
    assert knob.at_mm[1] == pytest.approx(-12)
    moved = rib.moved("place", np.array([20.0, 5.0, 4.0]), 8.0).build(site)
    assert moved.handles[0].at_mm[0] == pytest.approx(20)
    assert abs(moved.handles[0].at_mm[1] - 5) < 2


def test_a_ball_has_no_flats_to_press_on() -> None:
    ball = Solid.ball((0, 0, 8), 5)
    site = block_site(parts={"block": ball.mesh()})
    with pytest.raises(SpecError, match="flat"):
        Ribs(name="Ribs").build(site)
