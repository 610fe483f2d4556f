"""Zones: found again by their words, put on triangles, proposed for shafts."""

from __future__ import annotations

import re

import numpy as np
import pytest
import trimesh

from housingdesk.build.pipeline import Builder
from housingdesk.build.results import BuildResult
from housingdesk.build.turning import propose_zones
from housingdesk.build.zoning import find_patch, reference
from housingdesk.features.screws import Screws
from housingdesk.geometry.frames import rotation_about
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, Spec
from housingdesk.spec.zones import ZoneSpec
from tests.features.slices import free_radius

BODY_LOW, BODY_HIGH = (-15.0, -10.0, -9.0), (15.0, 10.0, 9.0)
SHAFT_MM, LONG_MM = 6.0, 14.0


class Held(dict[str, Mesh]):
    """Meshes by key."""

    def get(self, key: str) -> Mesh:  # type: ignore[override]
        return self[key]


def gear_motor() -> Mesh:
    """A box with a shaft out of its front (-Y) and a motor can almost as wide as the box (+X)."""
    box = Solid.box(np.array(BODY_LOW), np.array(BODY_HIGH))
    shaft = Solid.rod((4.0, -9.0, 0.0), (4.0, -10.0 - LONG_MM, 0.0), SHAFT_MM / 2)
    can = Solid.rod((14.0, 0.0, 0.0), (40.0, 0.0, 0.0), 8.5)
    return Solid.union([box, shaft, can]).mesh()


def test_only_the_thin_round_that_sticks_out_is_a_shaft() -> None:
    mesh = gear_motor()
    zones = propose_zones("motor", find_patches(mesh), mesh.vertices[mesh.faces])
    assert [z.name for z in zones] == ["shaft"]
    assert zones[0].purpose == "turning"
    rounds = [p for p in zones[0].patches if p.kind == "cylinder"]
    assert rounds[0].size_mm == pytest.approx(SHAFT_MM, abs=0.01)
    assert any(p.kind == "flat" and p.axis[1] == pytest.approx(-1) for p in zones[0].patches)


def test_a_plain_round_cell_has_no_shaft() -> None:
    # 18 x 65 mm: the size code of the cell (IEC 61960-3).
    cell = Solid.rod((0, 0, 0), (0, 0, 65.0), 9.0).mesh()
    assert propose_zones("cell", find_patches(cell), cell.vertices[cell.faces]) == ()


def servo(neck_mm: float = 4.0, gap_mm: float = 1.5, tower_mm: float = 0.0) -> Mesh:
    """A box 20 wide with a disc of 16 x 3 on a round neck over its top, and a tower at its other end."""
    parts = [
        Solid.box(np.array([-30.0, -10.0, -10.0]), np.array([10.0, 10.0, 10.0])),
        Solid.rod((0, 0, 9.0), (0, 0, 10.5 + gap_mm), neck_mm),
        Solid.rod((0, 0, 10.0 + gap_mm), (0, 0, 13.0 + gap_mm), 8.0),
    ]
    if tower_mm:
        parts.append(Solid.box(np.array([-30.0, -10.0, 9.0]), np.array([-15.0, 10.0, 10.0 + tower_mm])))
    return Solid.union(parts).mesh()


def test_a_wide_disc_on_a_thin_neck_turns_and_comes_out() -> None:
    mesh = servo(tower_mm=2.0)
    (zone,) = propose_zones("servo", find_patches(mesh), mesh.vertices[mesh.faces])
    assert zone.purpose == "turning"
    rounds = sorted(p.size_mm for p in zone.patches if p.kind == "cylinder")
    assert rounds == pytest.approx([8.0, 16.0], abs=0.01)  # the neck turns, too
    builder, spec = built(FitSpec(clearance_mm=1.0), mesh)
    (way,) = builder._graph.value("zones", spec, "draft").shafts
    # Its face is at 14.5, that of the tower at 12: less than 0.3 diameters, yet it has to come out.
    assert way.diameter_mm == pytest.approx(16.0, abs=0.01)
    assert way.axis == pytest.approx((0, 0, 1), abs=1e-6)
    assert (way.tip_mm - way.base_mm) @ way.axis == pytest.approx(2.5, abs=0.01)


@pytest.mark.parametrize(
    "mesh",
    [
        servo(gap_mm=0.0),  # a boss that stands on the body
        servo(neck_mm=7.0),  # a step of one round
        servo(tower_mm=5.0),  # other things reach further out
    ],
)
def test_no_boss_and_no_disc_in_a_recess_is_taken_for_a_wheel(mesh: Mesh) -> None:
    assert propose_zones("servo", find_patches(mesh), mesh.vertices[mesh.faces]) == ()


def test_a_patch_is_found_again_on_another_mesh_of_the_part_and_not_when_it_has_gone() -> None:
    fine = gear_motor()
    words = [reference(p) for p in find_patches(fine)]
    turned = Mesh(fine.vertices[:, [0, 1, 2]], np.roll(fine.faces, 1, axis=1)[::-1])
    other = find_patches(turned)
    for word, patch in zip(words, find_patches(fine), strict=True):
        found = find_patch(word, other)
        assert found is not None
        assert found.area_mm2 == pytest.approx(patch.area_mm2, rel=1e-6)
    bare = Solid.box(np.array(BODY_LOW), np.array(BODY_HIGH)).mesh()
    shaft = next(w for w in words if w.kind == "cylinder" and abs(w.size_mm - SHAFT_MM) < 0.1)
    assert find_patch(shaft, find_patches(bare)) is None


def built(fit: FitSpec, mesh: Mesh, quality: str = "draft") -> tuple[Builder, Spec]:
    part = PartSpec(name="motor", mesh_key=mesh.key)
    builder = Builder(Held({mesh.key: mesh}))
    zones = builder.propose_zones((part,))
    fit = fit.model_copy(update={"zones": zones})
    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=9.0), fit=fit)
    return builder, spec


def test_the_shaft_leaves_through_the_front_and_nothing_else_is_open() -> None:
    builder, spec = built(FitSpec(clearance_mm=1.0), gear_motor())
    result = builder.build(spec, "final")
    (way,) = result.passages
    assert way.axis == pytest.approx((0.0, -1.0, 0.0), abs=1e-6)
    # Common practice, no source: 0.5 mm a side around a 6 mm shaft makes 7 mm.
    # It is measured on the halves, whose rounds are a hair larger than drawn (see test_passages).
    halves = [trimesh.Trimesh(h.vertices, h.faces, process=False) for h in result.halves.values()]
    sliced = 2 * free_radius(halves, way.centre_mm, way.axis, 0.65)
    assert way.diameter_mm == pytest.approx(sliced, abs=1e-3)
    assert 7.0 - 1e-6 <= way.diameter_mm <= 7.0 + 2 * 0.012
    # Wall and clearance beyond the box, and not beyond the shaft's end.
    assert way.centre_mm[1] == pytest.approx(result.outer_mm[0, 1], abs=1e-6)
    deep = result.outer_mm[1, 1] - result.outer_mm[0, 1]
    assert deep == pytest.approx(20.0 + 2 * (1.0 + spec.shell.wall_mm), abs=0.05)
    assert not [f for f in result.findings if f.severity == "fail"]
    assert {f.code for f in result.findings if f.code.startswith("opening")} == {"opening-front"}


def test_a_plane_through_the_shaft_is_offered_first() -> None:
    builder, spec = built(FitSpec(clearance_mm=1.0), gear_motor())
    best = builder.propose(spec.parts, spec.fit, spec.shell, None)[0]
    assert best.pull == "+z"
    assert best.height_mm == pytest.approx(9.0, abs=0.01)
    assert "shaft" in best.reason


def test_every_triangle_has_the_clearance_of_its_zone() -> None:
    builder, spec = built(FitSpec(clearance_mm=1.0), gear_motor())
    found = builder._graph.value("zones", spec, "draft")
    (own,) = builder.build(spec, "draft").zone_faces
    assert set(np.unique(found.reach[own == 0])) == {0.5}
    assert set(np.unique(found.reach[own == -1])) == {1.0}
    assert 0 < np.count_nonzero(own == 0) < len(own)


def test_zones_follow_a_part_that_is_turned() -> None:
    mesh = gear_motor()
    part = PartSpec(
        name="motor",
        mesh_key=mesh.key,
        placement=tuple(rotation_about(np.array([0.0, 0.0, 1.0]), 90.0).ravel().tolist()),
    )
    builder = Builder(Held({mesh.key: mesh}))
    fit = FitSpec(clearance_mm=1.0, zones=builder.propose_zones((part,)))
    result = builder.build(Spec(parts=(part,), parting=PartingSpec(height_mm=9.0), fit=fit), "draft")
    (way,) = result.passages
    assert way.axis == pytest.approx((1.0, 0.0, 0.0), abs=1e-6)


def test_room_at_the_ends_is_given_along_the_axis_only() -> None:
    mesh = Solid.box(np.array([-10.0, -6.0, 0.0]), np.array([10.0, 6.0, 8.0])).mesh()
    part = PartSpec(name="block", mesh_key=mesh.key)
    builder = Builder(Held({mesh.key: mesh}))
    ends = [reference(p) for p in find_patches(mesh) if abs(p.axis[0]) > 0.9]
    zone = ZoneSpec(
        name="ends", part="block", patches=tuple(ends), clearance_mm=0.5, end_mm=1.5, end_axis="x"
    )
    fit = FitSpec(clearance_mm=0.5, zones=(zone,))
    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=4.0), fit=fit)
    result = builder.build(spec, "final")
    cavity = builder._graph.value("cavity_lower", spec, "final").section_at(4.0)
    assert cavity.bounds[:, 0] == pytest.approx([-12.0, 12.0], abs=0.05)
    assert cavity.bounds[:, 1] == pytest.approx([-6.5, 6.5], abs=0.05)
    assert not [f for f in result.findings if f.severity == "fail"]


def test_slivers_of_a_shaft_that_are_in_no_zone_do_not_keep_it_in() -> None:
    mesh = gear_motor()
    part = PartSpec(name="motor", mesh_key=mesh.key)
    builder = Builder(Held({mesh.key: mesh}))
    (zone,) = builder.propose_zones((part,))
    only_round = zone.model_copy(update={"patches": tuple(p for p in zone.patches if p.kind == "cylinder")})
    fit = FitSpec(clearance_mm=1.0, zones=(only_round,))
    result = builder.build(Spec(parts=(part,), parting=PartingSpec(height_mm=9.0), fit=fit), "draft")
    (way,) = result.passages
    assert way.centre_mm[1] == pytest.approx(result.outer_mm[0, 1], abs=1e-6)
    deep = result.outer_mm[1, 1] - result.outer_mm[0, 1]
    assert deep == pytest.approx(20.0 + 2 * (1.0 + 2.4), abs=0.05)


def test_a_turning_zone_that_sticks_out_of_nothing_fails() -> None:
    mesh = gear_motor()
    part = PartSpec(name="motor", mesh_key=mesh.key)
    builder = Builder(Held({mesh.key: mesh}))
    can = next(p for p in find_patches(mesh) if p.kind == "flat" and p.axis[2] > 0.9)
    zone = ZoneSpec(name="lid", part="motor", purpose="turning", patches=(reference(can),), clearance_mm=0.5)
    spec = Spec(
        parts=(part,), parting=PartingSpec(height_mm=9.0), fit=FitSpec(clearance_mm=1.0, zones=(zone,))
    )
    fails = [f.code for f in builder.build(spec, "final").findings if f.severity == "fail"]
    assert "passage-none" in fails


def test_screws_beside_a_shafts_way_out_thin_no_wall() -> None:
    """On a part so narrow the screws' ears reach the mouth, and its rim is theirs as much as the form's."""
    box = Solid.box(np.array([-7.0, -10.0, -9.0]), np.array([7.0, 10.0, 9.0]))
    boss = Solid.rod((0.0, -9.0, 0.0), (0.0, -11.5, 0.0), 4.2)
    mesh = Solid.union([box, boss, Solid.rod((0.0, -9.0, 0.0), (0.0, -24.0, 0.0), 3.0)]).mesh()
    builder, spec = built(FitSpec(clearance_mm=0.5), mesh)
    closed = spec.model_copy(update={"features": (Screws(name="Screws"),)})
    result = builder.build(closed, "final")
    assert len(result.passages) == 1
    assert len(result.features["Screws"].fasteners) == 4
    assert not [f for f in result.findings if f.severity == "fail"]
    # The way out is as wide as it is without them: 6 + 2 x 0.5 mm, and a chamfer around it.
    bare = builder.build(spec, "final")
    sizes = [_opening_mm(r, "front") for r in (bare, result)]
    assert sizes[0] == pytest.approx((8.2, 8.2), abs=0.1)
    assert sizes[1][1] == pytest.approx(sizes[0][1], abs=0.1)
    assert sizes[0][0] - 0.1 <= sizes[1][0] <= sizes[0][0] + 2.0, "wider only by the chamfer on the ears"


def _opening_mm(result: BuildResult, side: str) -> tuple[float, float]:
    """Return the size that the proof tells of the only opening of a side."""
    (said,) = [f.message for f in result.findings if f.code == f"opening-{side}"]
    across, up = re.findall(r"(\d+\.\d) × (\d+\.\d) mm", said)[0]
    return float(across), float(up)
