"""No half has a skin of no thickness: nothing of its surface lies on itself, facing opposite ways."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.build.pipeline import Builder
from housingdesk.build.zoning import reference
from housingdesk.files.project import load_project
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits import changed
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from housingdesk.spec.zones import ZoneSpec
from tests.build.test_fit import Held
from tests.conftest import ROOT
from tests.features.folds import folded_mm2

SAMPLES = ROOT / "sample_projects"
FOLD_MM2 = 1e-3  # a few hundredths of a millimetre each way
SEATS = [
    {"seat": "plain"},
    {"seat": "bearing"},
    {"seat": "bush"},
    {"seat": "bearing", "bearing": "own", "outside_mm": 12.0, "width_mm": 4.0},
    {"seat": "bearing", "bearing": "own", "outside_mm": 12.0, "width_mm": 4.0, "mouth_mm": 3.0},
]


@pytest.mark.parametrize(("gap_mm", "folded"), [(0.0, 20.0), (0.05, 0.0)])
def test_the_check_finds_a_slit_of_no_width(gap_mm: float, folded: float) -> None:
    """Two boxes that stand side by side, with 4 x 5 mm between them."""
    one = trimesh.creation.box(bounds=[[0, 0, 0], [3, 4, 5]])
    other = trimesh.creation.box(bounds=[[3 + gap_mm, 0, 0], [9, 4, 5]])
    both = trimesh.util.concatenate(one, other)
    assert folded_mm2(both) == pytest.approx(folded, abs=1e-9)


def block_with_shaft(way: tuple[float, float, float]) -> Mesh:
    """A block of 40 x 24 x 24 with a shaft of 5 mm that stands 20 mm out of it."""
    block = trimesh.creation.box(bounds=[[-20, -12, 0], [20, 12, 24]])
    start = np.array([0.0, 0.0, 12.0])
    reach = 20.0 + float(np.abs(np.array(way) @ np.diag([20.0, 12.0, 12.0])).max())
    shaft = trimesh.creation.cylinder(2.5, segment=[start, start + reach * np.array(way)], sections=96)
    body = trimesh.boolean.union([block, shaft], engine="manifold")
    return Mesh(body.vertices, body.faces)


@pytest.mark.parametrize(
    ("way", "height_mm"),
    [((1.0, 0.0, 0.0), 12.0), ((1.0, 0.0, 0.0), 17.0), ((0.0, 0.0, 1.0), 12.0)],
    ids=["in the plane", "below the plane", "upright"],
)
def test_no_seat_leaves_a_skin(way: tuple[float, float, float], height_mm: float) -> None:
    mesh = block_with_shaft(way)
    builder = Builder(Held({mesh.key: mesh}))
    patch = reference(next(p for p in find_patches(mesh) if p.kind == "cylinder"))
    for seat in SEATS:
        zone = ZoneSpec(
            name="shaft", part="Motor", purpose="turning", patches=(patch,), clearance_mm=0.5,
            along_pull="out", **seat,
        )  # fmt: skip
        spec = Spec(
            parts=(PartSpec(name="Motor", mesh_key=mesh.key),),
            parting=PartingSpec(height_mm=height_mm),
            fit=FitSpec(clearance_mm=0.5, zones=(zone,)),
            shell=ShellSpec(wall_mm=2.4),
        )
        result = builder.build(spec, "final", upto="halves")
        assert len(result.passages) == 1
        for side, half in result.halves.items():
            assert folded_mm2(half) < FOLD_MM2, (seat, side)


@pytest.mark.parametrize("name", ["vent_drive", "rain_logger"])
def test_no_sample_has_one(name: str) -> None:
    spec, meshes = load_project(SAMPLES / name)
    builder = Builder(Held(meshes))
    wishes = [spec]
    turning = [z for z in spec.fit.zones if z.purpose == "turning"]
    carried = ({"seat": "bearing", "bearing": "626"}, {"seat": "bush", "bearing": "own", "outside_mm": 9.0})
    for seat in carried if turning else ():
        zones = tuple(changed(z, **seat) if z in turning else z for z in spec.fit.zones)
        wishes.append(changed(spec, fit=changed(spec.fit, zones=zones)))
    for wish in wishes:
        result = builder.build(wish, "final", upto="halves")
        assert not [f for f in result.said.values() if any(x.severity == "fail" for x in f)]
        for half in result.halves.values():
            assert folded_mm2(half) < FOLD_MM2
