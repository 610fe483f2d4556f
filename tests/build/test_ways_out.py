"""Ways of zones through the wall, judged on the halves as built: what is kept open, shafts of all sorts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import trimesh

from housingdesk.build.pipeline import Builder
from housingdesk.build.results import BuildResult
from housingdesk.build.zoning import reference
from housingdesk.features.window import Window
from housingdesk.finding import Finding
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.patches import Patch, find_patches
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, PrinterSpec, ShellSpec, Spec
from housingdesk.spec.zones import ZoneSpec
from tests.features.slices import free_radius

BODY = Solid.box(np.array([-20.0, -15.0, 0.0]), np.array([20.0, 15.0, 20.0]))
# A connector out of the right side, its middle at a height of 12.
PLUG_LOW, PLUG_HIGH = np.array([19.0, -6.0, 9.0]), np.array([25.0, 6.0, 15.0])
PLUG = Solid.box(PLUG_LOW, PLUG_HIGH)
GAP = 0.3


class Held(dict[str, Mesh]):
    """Meshes by key."""

    def get(self, key: str) -> Mesh:  # type: ignore[override]
        return self[key]


def zone(patches: list[Patch], name: str = "plug", **more: Any) -> ZoneSpec:
    given = {"name": name, "part": "part", "purpose": "open", "clearance_mm": GAP} | more
    return ZoneSpec(patches=tuple(reference(p) for p in patches), **given)


def built(mesh: Mesh, *zones: ZoneSpec, parting_mm: float = 10.0, **more: Any) -> BuildResult:
    spec = Spec(
        parts=(PartSpec(name="part", mesh_key=mesh.key),),
        parting=PartingSpec(height_mm=parting_mm),
        fit=FitSpec(zones=zones),
        **more,
    )
    return Builder(Held({mesh.key: mesh})).build(spec, "final", upto="proof")


def solids(result: BuildResult) -> list[trimesh.Trimesh]:
    return [trimesh.Trimesh(h.vertices, h.faces, process=False) for h in result.halves.values()]


def met(result: BuildResult, starts: Floats, way: Any) -> np.ndarray:
    """Tell which of (n, 3) rays meet material of either half."""
    ways = np.tile(np.array(way, float), (len(starts), 1))
    return np.any([half.ray.intersects_any(starts, ways) for half in solids(result)], axis=0)


def before_plug(more_mm: float) -> Floats:
    """(n, 3) places around and before the plug's end, so far beside it, in the build frame."""
    share = np.linspace(-1.0, 1.0, 21)
    y, z = np.meshgrid(share * (6.0 + more_mm), 12.0 + share * (3.0 + more_mm))
    return np.stack([np.zeros(y.size), y.ravel(), z.ravel()], axis=1)


def said(result: BuildResult, code: str) -> list[Finding]:
    return [f for f in result.findings if f.code == code]


def flats(mesh: Mesh, way: Any, beyond: float) -> list[Patch]:
    """Return the flats that look some way and lie beyond a place along it."""
    n = np.array(way, float)
    found = [p for p in find_patches(mesh) if p.kind == "flat" and p.axis @ n > 0.99]
    return [p for p in found if p.centre_mm @ n > beyond]


# The plane crosses the connector, lies under it, or above it.
@pytest.mark.parametrize("parting_mm", [12.0, 5.0, 17.0])
def test_what_is_kept_open_has_a_way_through_the_wall_as_wide_as_asked(parting_mm: float) -> None:
    mesh = (BODY | PLUG).mesh()
    result = built(mesh, zone(flats(mesh, (1, 0, 0), 24.0)), parting_mm=parting_mm)
    end = float(result.parts[0].bounds[1, 0])
    places = before_plug(0.0)
    places[:, 0] = end + 0.001
    assert not met(result, places, (1, 0, 0)).any()
    # Beside the end, at the middle of the wall: free up to the gap, and material right behind it.
    wall = float(result.outer_mm[1, 0]) - 1.2
    for y, way in ((6.0, 1.0), (-6.0, -1.0)):
        (near,) = _distances(result, np.array([[wall, y, 11.0 if parting_mm != 11.0 else 11.1]]), (0, way, 0))
        assert near == pytest.approx(GAP, abs=0.03)
    (told,) = said(result, "kept-open")
    assert "goes out of the right" in told.message
    assert not [f for f in result.findings if f.severity == "fail"]
    assert [(o.kind, o.size_mm) for w in result.features.values() for o in w.openings] == [
        ("open", pytest.approx((12.6, 6.6), abs=0.05))
    ]
    widest = _distances(result, np.array([[float(result.outer_mm[1, 0]) - 0.05, 6.0, 11.0]]), (0, 1, 0))
    assert widest[0] == pytest.approx(GAP + 0.55, abs=0.05)  # a chamfer of 0.6, 0.05 inside its mouth


def _distances(result: BuildResult, starts: Floats, way: Any) -> list[float]:
    out = []
    for start in starts:
        found = [np.inf]
        for half in solids(result):
            spots, _, _ = half.ray.intersects_location(start[None], np.array([way], float))
            found += [float(np.linalg.norm(s - start)) for s in spots]
        out.append(min(found))
    return out


def test_faces_picked_all_round_a_connector_mean_the_side_that_it_sticks_out_of() -> None:
    mesh = (BODY | PLUG).mesh()
    around = [p for p in find_patches(mesh) if p.kind == "flat" and p.centre_mm[0] > 20.1]
    assert max(around, key=lambda p: p.area_mm2).axis[0] < 0.5 or len(around) == 5
    result = built(mesh, zone(around))
    assert [f.severity for f in said(result, "kept-open")] != ["fail"]
    assert "out of the right" in said(result, "kept-open")[0].message


def test_the_round_wall_of_a_button_is_let_out_along_its_axis() -> None:
    mesh = (BODY | Solid.rod((5.0, 0.0, 19.0), (5.0, 0.0, 23.0), 3.0)).mesh()
    (button,) = (p for p in find_patches(mesh) if p.kind == "cylinder")
    result = built(mesh, zone([button], "button"))
    top = float(result.parts[0].bounds[1, 2])
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    rim = np.stack([5.0 + 2.99 * np.cos(turn), 2.99 * np.sin(turn), np.full(24, top + 0.001)], axis=1)
    assert not met(result, rim, (0, 0, 1)).any()
    assert "out of the roof" in said(result, "kept-open")[0].message
    (hole,) = (o for w in result.features.values() for o in w.openings)
    assert hole.size_mm == pytest.approx((6.6, 6.6), abs=0.06)


def test_where_it_stands_out_already_nothing_is_cut() -> None:
    mesh = (BODY | PLUG).mesh()
    wish = zone(flats(mesh, (1, 0, 0), 24.0))
    result = built(mesh, wish, shell=ShellSpec(right_mm=-1.0))
    (told,) = said(result, "kept-open")
    assert told.severity == "pass"
    assert "open to the right already" in told.message


def test_a_window_before_it_is_enough() -> None:
    mesh = (BODY | PLUG).mesh()
    window = Window(name="Window", side="right", across_mm=0.0, height_mm=12.0, margin_mm=0.6)
    result = built(mesh, zone(flats(mesh, (1, 0, 0), 24.0)), features=(window,))
    assert "already" in said(result, "kept-open")[0].message
    assert not said(result, "features-collide")


def test_faces_that_look_at_the_part_itself_have_no_way_out() -> None:
    well = BODY - Solid.box(np.array([-5.0, -5.0, -1.0]), np.array([5.0, 5.0, 21.0]))
    mesh = well.mesh()
    inner = [p for p in flats(mesh, (1, 0, 0), -10.0) if p.centre_mm[0] < 0]
    result = built(mesh, zone(inner, "inside"))
    (told,) = said(result, "kept-open-none")
    assert told.severity == "fail"
    assert "the part itself" in told.message
    assert told.remedy


def test_faces_that_look_out_of_no_side_are_said() -> None:
    turn = rotation_to(np.array([1.0, 0.0, 0.0]), np.ones(3) / np.sqrt(3.0))
    mesh = BODY.moved(turn).mesh()
    (face,) = flats(mesh, np.ones(3) / np.sqrt(3.0), 0.0)
    (told,) = said(built(mesh, zone([face])), "kept-open-none")
    assert told.severity == "fail"
    assert "45 degrees" in told.message


# --- shafts ----------------------------------------------------------------------------------------------


def shafts(*y_mm: float, length_mm: float = 25.0) -> Mesh:
    bars = [Solid.rod((19.0, y, 10.0), (20.0 + length_mm, y, 10.0), 3.0) for y in y_mm]
    return Solid.union([BODY, *bars]).mesh()


def turning(mesh: Mesh, y: float | None, name: str, **more: Any) -> ZoneSpec:
    rounds = [p for p in find_patches(mesh) if p.kind == "cylinder"]
    mine = [p for p in rounds if y is None or abs(p.centre_mm[1] - y) < 0.1]
    return zone(mine, name, purpose="turning", clearance_mm=0.5, **more)


@pytest.mark.parametrize("apart_mm", [6.6, 7.2])
def test_shafts_near_each_other_both_leave_and_their_meeting_is_said(apart_mm: float) -> None:
    mesh = shafts(-apart_mm / 2, apart_mm / 2)
    zones = [turning(mesh, y, name) for name, y in (("one", -apart_mm / 2), ("other", apart_mm / 2))]
    result = built(mesh, *zones)
    assert sorted(round(p.centre_mm[1], 2) for p in result.passages) == [-apart_mm / 2, apart_mm / 2]
    for way in result.passages:
        assert free_radius(solids(result), way.centre_mm, way.axis, 1.0) >= 3.5 - 1e-3
        # The housing ends before them.
        assert way.centre_mm[0] == pytest.approx(result.parts[0].bounds[1, 0] - 25.0 + 2.9, abs=0.05)
    assert [f for f in result.findings if f.severity == "fail"] == []
    assert len(said(result, "passages-meet")) == 1
    assert {f.severity for f in said(result, "opening-right")} == {"pass"}


def test_a_shaft_leaves_beside_one_that_no_zone_names() -> None:
    mesh = shafts(-3.3, 3.3)
    result = built(mesh, turning(mesh, 3.3, "one"))
    assert [p.zone for p in result.passages] == ["one"]


def test_one_zone_over_two_shafts_is_said() -> None:
    mesh = shafts(-5.0, 5.0)
    (told,) = said(built(mesh, turning(mesh, None, "both")), "passage-none")
    assert "more than one shaft" in told.message
    assert "zone of each" in told.remedy


def test_steps_of_one_shaft_are_one() -> None:
    mesh = (BODY | Solid.rod((19, 0, 10), (32, 0, 10), 4.0) | Solid.rod((19, 0, 10), (45, 0, 10), 3.0)).mesh()
    assert said(built(mesh, turning(mesh, None, "shaft")), "passage-none") == []


def test_a_shaft_that_points_at_its_own_part_is_said_and_the_wall_stays() -> None:
    well = BODY - Solid.box(np.array([-10.0, -7.0, -1.0]), np.array([10.0, 7.0, 21.0]))
    mesh = (well | Solid.rod((-11.0, 0.0, 10.0), (-3.0, 0.0, 10.0), 2.0)).mesh()
    result = built(mesh, turning(mesh, None, "shaft"))
    (told,) = said(result, "passage-none")
    assert "points at part itself, 13.0 mm" in told.message
    assert result.passages == ()
    assert met(result, np.array([[20.01, 0.0, 10.0 + 1e-3]]), (1, 0, 0)).all()


def test_a_rounded_end_that_is_no_flat_and_no_round_is_still_the_shaft() -> None:
    mesh = (BODY | Solid.rod((19, 0, 10), (40, 0, 10), 3.0) | Solid.ball((40.0, 0, 10), 2.9)).mesh()
    result = built(mesh, turning(mesh, None, "shaft"))
    assert said(result, "passage-none") == []
    assert len(result.passages) == 1


@pytest.mark.parametrize(("axis", "index"), [("y", 1), ("z", 2)])
def test_room_at_a_shafts_sides_makes_a_slot_and_no_longer_housing(axis: Any, index: int) -> None:
    mesh = shafts(0.0)
    result = built(mesh, turning(mesh, None, "shaft", end_mm=2.0, end_axis=axis))
    part, outer = result.parts[0].bounds, result.outer_mm
    assert outer[1, 0] == pytest.approx(part[1, 0] - 25.0 + 2.9, abs=0.05)
    middle = np.array([float(outer[1, 0]) - 1.3, 0.003, 10.003])
    for way in (-1.0, 1.0):
        (free,) = _distances(result, middle[None], way * np.eye(3)[index])
        assert free == pytest.approx(5.5, abs=0.04)  # 3 of the shaft, its 0.5 and 2
    (out,) = said(result, "passage-out")
    assert "22.1 mm out" in out.message
    assert {f.severity for f in said(result, "opening-right")} == {"pass"}


def test_room_at_the_ends_of_flats_lies_across_the_largest() -> None:
    mesh = BODY.mesh()
    every = zone(list(find_patches(mesh)), "all", purpose="held", clearance_mm=0.5, end_mm=2.0)
    result = built(mesh, every)
    middle = np.array([[0.003, 0.003, 20.001]])
    assert _distances(result, middle, (0, 0, 1))[0] == pytest.approx(2.5, abs=0.03)
    assert _distances(result, np.array([[20.001, 0.003, 9.0]]), (1, 0, 0))[0] == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize("seat", ["plain", "bearing", "bush"])
def test_a_passage_is_told_as_wide_as_it_is(seat: Any) -> None:
    mesh = shafts(0.0)
    result = built(mesh, turning(mesh, None, "shaft", seat=seat))
    (way,) = result.passages
    assert way.diameter_mm == pytest.approx(
        2 * free_radius(solids(result), way.centre_mm, way.axis, 0.65), abs=0.01
    )
    assert way.diameter_mm > (7.0 - 1e-3 if seat == "plain" else 8.0)
    for opening in (o for w in result.features.values() for o in w.openings):
        assert opening.size_mm == (way.diameter_mm, way.diameter_mm)


def test_a_measured_correction_of_holes_widens_the_passage_and_is_told() -> None:
    mesh = shafts(0.0)
    wide = built(mesh, turning(mesh, None, "shaft"), printer=PrinterSpec(hole_correction_mm=0.35))
    (way,) = wide.passages
    assert 2 * free_radius(solids(wide), way.centre_mm, way.axis, 1.0) == pytest.approx(7.35, abs=0.01)
    (told,) = said(wide, "passage-corrected")
    assert "0.35 mm wider" in told.message
    usual = built(mesh, turning(mesh, None, "shaft"))
    assert said(usual, "passage-corrected") == []
    assert usual.passages[0].diameter_mm < 7.05


def test_ends_of_one_shaft_on_both_sides_are_one() -> None:
    bars = [
        Solid.rod((19.0, 0, 10), (45.0, 0, 10), 3.0),
        Solid.rod((-19.0, 0, 10), (-27.0, 0, 10), 5.0),
    ]
    mesh = Solid.union([BODY, *bars]).mesh()
    result = built(mesh, turning(mesh, None, "shaft"))
    assert said(result, "passage-none") == []
    assert len(result.passages) == 2
