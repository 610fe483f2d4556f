"""What proof.json says of openings and joints, measured on the exported halves with trimesh."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
import trimesh

from housingdesk.build.pipeline import Builder
from housingdesk.deliver.output import write_outputs
from housingdesk.features.access import AccessHole
from housingdesk.features.dowels import Dowels
from housingdesk.features.ears import Ears
from housingdesk.features.feet import Feet
from housingdesk.features.forms.block import Block
from housingdesk.features.gland import GlandHole
from housingdesk.features.hooks import Hooks
from housingdesk.features.lip import Lip
from housingdesk.features.notch import Notch
from housingdesk.features.window import Window
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES, Floats
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from tests.features.slices import UP, hole_about

SLACK_MM = 0.05
WALL_MM, RIM_MM = 2.4, 0.8
OUT = {"Slot": (0, -1, 0), "Round": (0, 1, 0), "Gland": (1, 0, 0), "Driver": (0, 0, 1)}  # of their sides
FEATURES = (
    Window(
        name="Slot", side="front", fit="hand", shape="slot", width_mm=9, tall_mm=4, across_mm=2, height_mm=12
    ),
    Window(name="Round", side="back", fit="hand", shape="circle", width_mm=6, across_mm=-3, height_mm=6),
    GlandHole(name="Gland", side="right", height_mm=24),
    AccessHole(name="Driver", side="roof", target="a place", across_mm=10, height_mm=4),
    Ears(name="Ears", sides="left and right", hole="slotted"),
    Feet(name="Pads", diameter_mm=6.0),
    Dowels(name="Pins", count=2),
    Hooks(name="Hooks", count=2, places_mm=((-16.0, -21.0), (-16.0, 21.0))),
    Lip(name="Lip"),
    Notch(name="Pry"),
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], dict[str, trimesh.Trimesh]]:
    """Return proof.json, and the halves of the block as exported."""
    mesh = Solid.box(np.array([-25.0, -18.0, 0.0]), np.array([25.0, 18.0, 36.0])).mesh()
    spec = Spec(
        parts=(PartSpec(name="block", mesh_key=mesh.key),),
        parting=PartingSpec(height_mm=16.0),
        fit=FitSpec(clearance_mm=0.6),
        shell=ShellSpec(wall_mm=WALL_MM, form=Block(rim="chamfered", rim_mm=RIM_MM)),
        features=FEATURES,
    )
    meshes = {mesh.key: mesh}
    result = Builder(meshes).build(spec, "final", upto="proof")
    assert not [f for f in result.findings if f.code.startswith("feature-")]
    folder = tmp_path_factory.mktemp("out")
    write_outputs(folder, result, "assembled", meshes)
    proof = json.loads((folder / "proof.json").read_text(encoding="utf-8"))
    return proof, {side: trimesh.load(folder / f"{side}.stl", force="mesh") for side in SIDES}


def test_every_opening_is_where_and_as_large_as_said(made: Any) -> None:
    proof, halves = made
    assert {o["kind"] for o in proof["openings"]} == {"window", "gland", "access", "ears", "feet"}
    for o in proof["openings"]:
        assert set(o) == {"name", "kind", "centre_mm", "size_mm"}
        out = np.array(OUT.get(o["name"], (0, 0, -1)), float)
        deep = 0.5 if o["kind"] == "feet" else 1.5  # behind every chamfer
        size = hole_about(halves.values(), np.array(o["centre_mm"]) - deep * out, out, SLACK_MM)
        across = np.delete(size, int(np.abs(out).argmax()))
        assert across == pytest.approx(o["size_mm"], abs=SLACK_MM), o
        beside = np.eye(3)[int(np.abs(out).argmin())] * (o["size_mm"][0] / 2 + 1.2)
        assert outside_at(halves, np.array(o["centre_mm"]) + beside, out) == pytest.approx(
            float(np.array(o["centre_mm"]) @ out), abs=SLACK_MM
        ), "it lies in the outer face"


def outside_at(halves: dict[str, trimesh.Trimesh], at: Floats, out: Floats) -> float:
    """Return how far out the halves reach on a line through a place."""
    hits = [half.ray.intersects_location([at + 40 * out], [-out])[0] for half in halves.values()]
    return float(max((h @ out).max() for h in hits if len(h)))


def test_dowels_and_sockets_have_the_figures_told(made: Any) -> None:
    proof, halves = made
    pins = [j for j in proof["joints"] if j["kind"] == "dowel"]
    assert len(pins) == 2
    z = proof["parting_z_mm"]
    for pin in pins:
        at = np.array([pin["x_mm"], pin["y_mm"], z + 1.0])
        for side, told in (("lower", pin["diameter_mm"]), ("upper", pin["socket_mm"])):
            size = hole_about([halves[side]], at, UP, SLACK_MM)
            assert size[:2] == pytest.approx([told, told], abs=SLACK_MM)
        deep = [z + pin["height_mm"], z + pin["socket_depth_mm"]]
        for half, height in zip((halves["lower"], halves["upper"]), deep, strict=True):
            hits, _, _ = half.ray.intersects_location([[*at[:2], z + 0.01]], [[0.0, 0.0, 1.0]])
            assert hits[:, 2].min() == pytest.approx(height, abs=SLACK_MM)


def test_lip_and_notch_have_the_figures_told(made: Any) -> None:
    proof, halves = made
    joints = {j["kind"]: j for j in proof["joints"]}
    assert set(joints) == {"dowel", "hook", "lip", "notch"}
    z, lip, notch = proof["parting_z_mm"], joints["lip"], joints["notch"]
    level = halves["lower"].vertices[:, 2]
    assert np.abs(level - (z + lip["height_mm"])).min() < 1e-3
    groove = halves["upper"].vertices[:, 2]
    assert np.abs(groove - (z + lip["groove_depth_mm"])).min() < 1e-3
    assert lip["groove_depth_mm"] - lip["height_mm"] == pytest.approx(lip["gap_mm"])
    deep = halves["lower"].vertices
    near = deep[np.hypot(deep[:, 0] - notch["x_mm"], deep[:, 1] - notch["y_mm"]) < 6.0]
    assert np.abs(near[:, 2] - (z - notch["height_mm"])).min() < SLACK_MM


def test_hooks_have_the_figures_told(made: Any) -> None:
    proof, halves = made
    hooks = [j for j in proof["joints"] if j["kind"] == "hook"]
    assert len(hooks) == 2
    for hook in hooks:
        assert {
            "length_mm",
            "thick_mm",
            "width_mm",
            "catch_mm",
            "strain_pct",
            "strain_limit_pct",
            "push_n",
        } <= set(hook)
        # Strain of a beam of constant thickness: 1.5 y h / l^2 (check-values 3a, RC).
        strain = 150 * hook["catch_mm"] * hook["thick_mm"] / hook["length_mm"] ** 2
        assert hook["strain_pct"] == pytest.approx(strain, rel=0.005)
    # Arms stand over the plane; a slice has them as pieces as wide and thick as told.
    z = proof["parting_z_mm"]
    pieces = halves["lower"].section(plane_origin=(0, 0, z + 1.75), plane_normal=(0, 0, 1)).discrete
    sizes = sorted(tuple(np.sort(np.ptp(p, axis=0)[:2])) for p in pieces)
    arms = [
        s for s in sizes if s == pytest.approx((hooks[0]["thick_mm"], hooks[0]["width_mm"]), abs=SLACK_MM)
    ]
    assert len(arms) == 2, sizes


def test_ears_have_the_forms_chamfer_at_the_bed(made: Any) -> None:
    _, halves = made
    lower, up = halves["lower"], (0, 0, 1)
    floor = lower.bounds[0, 2]
    reach = [
        lower.section(plane_origin=(0, 0, floor + h), plane_normal=up).bounds[1, 0]
        for h in (0.4, RIM_MM + 0.2)
    ]
    assert reach[1] - reach[0] == pytest.approx(RIM_MM - 0.4, abs=SLACK_MM)
