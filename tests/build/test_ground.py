"""What a housing must enclose of a shaft that leaves it."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.build.ground import _rise_mm
from housingdesk.build.pipeline import Builder
from housingdesk.build.zoning import reference
from housingdesk.errors import SpecError
from housingdesk.features.site import Shaft
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits import changed
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from housingdesk.spec.zones import ZoneSpec


@pytest.mark.parametrize("rise_deg", [-20.0, 0.0, 10.0])
def test_a_slanting_shaft_has_climbed_by_the_time_it_leaves_the_wall(rise_deg: float) -> None:
    mesh = Solid.box(np.full(3, -10.0), np.full(3, 10.0)).mesh()
    tris = mesh.vertices[mesh.faces]
    slope = np.radians(rise_deg)
    base, axis = np.array([4.0, 0.0, 1.0]), np.array([np.cos(slope), 0.0, np.sin(slope)])
    shaft = Shaft("shaft", base, base + 30 * axis, axis, 5.0, 0.5)
    rise = _rise_mm(shaft, tris, np.full(len(tris), 3.0))
    assert rise == pytest.approx((10.0 + 3.0 - 4.0) * np.tan(slope))  # it leaves at x = 13


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_shaft_along_the_pull_may_come_out_and_the_housing_is_measured_from_the_body(way: float) -> None:
    """A block of 30 x 20 x 10 mm with a shaft 5 mm thick that stands 12 mm out of its top or bottom."""
    body = trimesh.creation.box((30.0, 20.0, 10.0))
    pin = trimesh.creation.cylinder(radius=2.5, height=14.0, sections=48)
    pin.apply_translation((6.0, 0.0, way * 10.0))
    made = trimesh.boolean.union([body, pin], engine="manifold")
    mesh = Mesh(np.asarray(made.vertices, float), np.asarray(made.faces, np.int32))

    class One:
        def get(self, key: str) -> Mesh:
            return mesh

    builder = Builder(One())
    zones = builder.propose_zones((PartSpec(name="part", mesh_key=mesh.key),))
    spec = Spec(
        parts=(PartSpec(name="part", mesh_key=mesh.key),),
        parting=PartingSpec(height_mm=5.0 if way > 0 else 17.0),
        fit=FitSpec(clearance_mm=0.5, zones=(changed(zones[0], along_pull="out"),)),
    )
    result = builder.build(spec, "final")
    low, high = result.outer_mm[:, 2]
    first = 0.0 if way > 0 else 12.0  # of the body; the lowest point is z = 0
    assert (low, high) == pytest.approx((first - 0.5 - 2.4, first + 10.0 + 0.5 + 2.4), abs=0.02)
    (way_out,) = result.passages
    assert way_out.axis == pytest.approx((0.0, 0.0, way))
    side = "roof" if way > 0 else "floor"
    said = {f.code: f for f in result.findings}
    assert said[f"opening-{side}"].message.startswith(f"The {side} is open as asked")
    assert not [f for f in result.findings if f.severity == "fail"]
    assert not {"passage-ends-inside", "flat-upper"} & {
        f.code for f in result.findings if f.severity != "pass"
    }
    with pytest.raises(SpecError, match="outside the housing"):
        builder.build(changed(spec, parting=PartingSpec(height_mm=20.0 if way > 0 else 2.0)), "draft")
    kept = changed(spec, fit=changed(spec.fit, zones=zones))
    closed = builder.build(kept, "final")
    assert np.ptp(closed.outer_mm[:, 2]) == pytest.approx(22.0 + 2 * 2.9, abs=0.02)
    (ends,) = (f for f in closed.findings if f.code == "passage-ends-inside")
    assert "station Fit" in ends.remedy


def test_the_round_way_out_of_a_coarse_shaft_along_the_pull_keeps_its_wall() -> None:
    """A round of twelve flats, wider than its body: its way out is a true round, wider than the flats."""
    body = trimesh.creation.box((40.0, 10.0, 10.0))
    pin = trimesh.creation.cylinder(radius=7.0, height=24.0, sections=12)
    pin.apply_transform(trimesh.transformations.rotation_matrix(np.radians(15.0), (0, 0, 1)))
    pin.apply_translation((0.0, 0.0, 12.0))
    made = trimesh.boolean.union([body, pin], engine="manifold")
    mesh = Mesh(np.asarray(made.vertices, float), np.asarray(made.faces, np.int32))

    class One:
        def get(self, key: str) -> Mesh:
            return mesh

    (round_,) = (p for p in find_patches(mesh) if p.kind == "cylinder")
    zone = ZoneSpec(
        name="shaft", part="part", purpose="turning", clearance_mm=0.5, patches=(reference(round_),)
    )
    spec = Spec(
        parts=(PartSpec(name="part", mesh_key=mesh.key),),
        parting=PartingSpec(height_mm=5.0),
        fit=FitSpec(clearance_mm=0.5, zones=(zone,)),
    )
    result = Builder(One()).build(spec, "final")
    assert result.passages
    assert not [f.message for f in result.findings if f.severity == "fail"]


@pytest.mark.parametrize("lean_deg", [25.0, -25.0, 40.0])
def test_a_level_shaft_that_leans_has_a_wall_beside_its_way_out(lean_deg: float) -> None:
    lean = np.radians(lean_deg)
    way = np.array([np.cos(lean), np.sin(lean), 0.0])
    body = Solid.box(np.array([-20.0, -10.0, -15.0]), np.array([20.0, 10.0, 15.0]))
    mesh = (body | Solid.rod((0, 0, 0), tuple(45 * way), 3.0)).mesh()

    class One:
        def get(self, key: str) -> Mesh:
            return mesh

    builder = Builder(One())
    part = PartSpec(name="part", mesh_key=mesh.key)
    fit = FitSpec(clearance_mm=0.5, zones=builder.propose_zones((part,)))
    best = builder.propose((part,), fit, ShellSpec(), None)[0]
    assert best.pull == "+z"  # in which the shaft lies level
    parting = PartingSpec(pull=best.pull, height_mm=best.height_mm)
    result = builder.build(Spec(parts=(part,), parting=parting, fit=fit), "final")
    assert len(result.passages) == 1
    assert not [f for f in result.findings if f.severity == "fail"]
    (opening,) = (f for f in result.findings if f.code.startswith("opening"))
    assert opening.severity == "pass"
