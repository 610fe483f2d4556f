"""The fit through the whole build: kept material, relief, play with ribs, the map; figures by closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from housingdesk.build import nodes
from housingdesk.build.pipeline import Builder
from housingdesk.build.results import CutPlane
from housingdesk.build.zoning import reference
from housingdesk.features.ribs import Ribs
from housingdesk.geometry.offset import sweep_cavity
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits import changed
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from housingdesk.spec.zones import ZoneSpec

# A foot of 20 x 20 x 4 with a stem of 8 x 8 on it, 12 high in all, parted at 8: for the foot to go into the
# lower half from above, the half is cut as wide as the foot from the foot's top up to the plane.
FOOT, STEM = trimesh.creation.box(bounds=[[-10, -10, 0], [10, 10, 4]]), [[-4, -4, 3], [4, 4, 12]]
BODY = trimesh.boolean.union([FOOT, trimesh.creation.box(bounds=STEM)], engine="manifold")
PART = Mesh(BODY.vertices, BODY.faces)
GAP = 1.0


def area(side: float, r: float) -> float:
    """A square grown by r: its sides and quarter rounds."""
    return side * side + 4 * side * r + np.pi * r * r


# Between the foot's top grown by the gap and the plane: foot less stem. Over the last gap below it the grown
# foot is already there, with its upper edge rounded: width sqrt(c^2 - t^2) at height t, integrated.
RELIEF = (area(20, GAP) - area(8, GAP)) * (8 - 4 - GAP) + 80 * GAP**2 * (1 - np.pi / 4) + np.pi * GAP**3 / 3


class Held(dict[str, Mesh]):
    def get(self, key: str) -> Mesh:  # type: ignore[override]  # a missing mesh is a bug here
        return self[key]


@pytest.fixture(scope="module")
def builder() -> Builder:
    return Builder(Held({PART.key: PART}))


def wish(**fit: object) -> Spec:
    return Spec(
        parts=(PartSpec(name="Stool", mesh_key=PART.key),),
        parting=PartingSpec(height_mm=8.0),
        fit=FitSpec(clearance_mm=GAP, **fit),  # type: ignore[arg-type]  # by name
        shell=ShellSpec(wall_mm=2.0),
    )


def test_material_that_is_kept_is_what_the_way_in_would_have_taken(builder: Builder) -> None:
    cut, kept = builder.build(wish(), "final"), builder.build(wish(keep_material=("lower",)), "final")
    assert cut.facts is not None
    assert kept.facts is not None
    more = kept.halves["lower"].volume_mm3 - cut.halves["lower"].volume_mm3
    assert more == pytest.approx(RELIEF, rel=0.01)
    assert kept.halves["upper"].volume_mm3 == pytest.approx(cut.halves["upper"].volume_mm3, rel=1e-6)
    assert cut.facts["lower"].clear
    assert cut.facts["lower"].relief_mm3 == pytest.approx(RELIEF, rel=0.05)  # counted on a coarse grid
    assert not kept.facts["lower"].clear
    assert kept.facts["lower"].relief_mm3 == 0
    assert kept.facts["upper"].clear
    assert {f.code: f.severity for f in kept.findings}["goes-in-lower"] == "caution"
    assert not [f for f in kept.findings if f.severity == "fail"]
    # the seat itself has the gap asked, by the proof's own distances
    assert kept.zones[0].min_gap_mm == pytest.approx(GAP, abs=0.02)


def test_relief_is_shown_where_it_is(builder: Builder) -> None:
    found = builder.relief(wish(), "final")
    low, high = found["lower"].bounds
    assert 4 <= low[2] <= 4 + GAP  # the grown foot's upper edge is rounded from its top on
    assert high[2] == pytest.approx(8)
    assert found["lower"].volume_mm3 == pytest.approx(RELIEF, rel=0.05)
    assert found["upper"].triangles == 0
    # nothing of it is left standing in the finished half
    half = builder.build(wish(), "final").halves["lower"]
    middle = np.array([[7.0, 0.0, 6.5], [0.0, -8.0, 7.0]])
    assert trimesh.Trimesh(found["lower"].vertices, found["lower"].faces).contains(middle).all()
    assert not trimesh.Trimesh(half.vertices, half.faces).contains(middle).any()


def test_play_before_and_after_ribs(builder: Builder) -> None:
    bare = builder.play(wish())
    assert bare.before is None
    for pair in (bare.now.x_mm, bare.now.y_mm, bare.now.z_mm):
        assert pair == pytest.approx((GAP, GAP), abs=0.03)
    ribbed = wish().model_copy(update={"features": (Ribs(name="Ribs", length_mm=2.0),)})
    held = builder.play(ribbed)
    assert held.before == bare.now
    assert max(*held.now.x_mm, *held.now.y_mm) < 0.01
    (said,) = held.findings
    assert said.severity == "pass"
    assert "Without ribs" in said.message
    result = builder.build(ribbed, "final")
    assert result.play == held
    assert not [f for f in result.findings if f.severity == "fail"]


def test_map_of_ghost_and_cavity(builder: Builder) -> None:
    ghost = builder.clearance_map(wish(), "part", "final")
    assert ghost.figures_mm[0] == pytest.approx(GAP, abs=0.02)
    # Over the foot's top (z = 4) the lower half is cut away up to the plane at 8; beyond the stem's gap the
    # upper half begins there, 4 above; the side wall at 11 is 11 - x away.
    top = ghost.vertices[:, 2] == 4.0
    x, y = np.abs(ghost.vertices[top, :2]).T
    beyond = (np.maximum(x, y) > 5.5) & (np.minimum(x, y) < 9)
    wanted = np.minimum(4.0, 11.0 - np.maximum(x, y)[beyond])
    assert ghost.distance_mm[top][beyond] == pytest.approx(wanted, abs=0.02)
    cavity = builder.clearance_map(wish(), "cavity", "final")
    assert cavity.figures_mm[0] == pytest.approx(GAP, abs=0.02)
    assert np.isfinite(cavity.distance_mm).all()
    # The face of the part that a piece of the cavity is nearest to is as near as the piece's nearest corner.
    nearest_mm = cavity.distance_mm[cavity.faces]
    corner = cavity.vertices[cavity.faces[np.arange(len(cavity.faces)), nearest_mm.argmin(axis=1)]]
    foot = trimesh.triangles.closest_point(PART.vertices[PART.faces[cavity.nearest]], corner)
    assert np.linalg.norm(foot - corner, axis=1) == pytest.approx(nearest_mm.min(axis=1), abs=1e-6)


def test_another_play_that_is_no_rattle_changes_the_odds_and_nothing_else(builder: Builder) -> None:
    # A gap of 1 a side, holes 0.2 small and +-0.2 as three standard deviations: 1.8 of room in all, +-0.067.
    (usual,) = builder.build(wish(), "final").odds
    assert (usual.zone, usual.clearance_mm, usual.play_mm) == ("body", GAP, 1.0)
    assert usual.goes_in > 0.999
    assert usual.held < 0.001
    chosen = changed(wish(), play_mm=1.8)
    result = builder.build(chosen, "final")
    (one,) = result.odds
    assert (one.play_mm, one.goes_in) == (1.8, usual.goes_in)
    assert one.held == pytest.approx(0.5, abs=1e-6)
    assert set(result.seconds) == {"odds"}  # all else was known
    assert any("at most 1.80 mm to move" in f.message for f in result.findings)


def test_a_zone_that_only_changes_its_name_sweeps_nothing_anew(builder: Builder, monkeypatch) -> None:
    flat = next(p for p in find_patches(PART) if p.kind == "flat")
    zone = ZoneSpec(name="foot", part="Stool", purpose="held", clearance_mm=GAP, patches=(reference(flat),))
    before = builder.build(wish(zones=(zone,)), "draft")
    swept = []
    monkeypatch.setattr(nodes, "sweep_cavity", lambda *a, **k: swept.append(a) or sweep_cavity(*a, **k))
    after = builder.build(wish(zones=(changed(zone, name="base"),)), "draft")
    assert not swept
    assert after.halves["lower"].triangles == before.halves["lower"].triangles
    builder.build(wish(zones=(changed(zone, clearance_mm=GAP + 0.1),)), "draft")
    assert len(swept) == 2  # one for each half


def test_outlines_of_a_section_know_their_zones(builder: Builder) -> None:
    top = max((p for p in find_patches(PART) if p.kind == "flat"), key=lambda p: float(p.centre_mm[2]))
    zone = ZoneSpec(name="top", part="Stool", purpose="held", clearance_mm=2.0, patches=(reference(top),))
    across = CutPlane((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    cut = builder.build(wish(zones=(zone,)), "draft", across).section
    assert cut is not None
    (body, of_body), (name, of_top) = cut.zones
    assert (body, name) == ("body", "top")
    ends = np.concatenate(of_top)  # the stem's top of 8 mm, 12 high
    assert ends.min(axis=0) == pytest.approx([-4, 12])
    assert ends.max(axis=0) == pytest.approx([4, 12])
    round_about = 20 + 2 * 4 + 2 * 6 + 2 * 8  # the rest of the stool's outline
    lengths = sum(np.linalg.norm(np.diff(line, axis=0), axis=1).sum() for line in of_body)
    assert lengths == pytest.approx(round_about)
    # past the stem there is nothing of the top
    beside = replace(across, origin_mm=(0.0, 6.0, 0.0))
    cut = builder.build(wish(zones=(zone,)), "draft", beside).section
    assert cut is not None
    assert [name for name, _ in cut.zones] == ["body"]


def test_faces_of_zones_are_counted_where_they_still_are(builder: Builder) -> None:
    flats = [p for p in find_patches(PART) if p.kind == "flat"]
    there = [reference(p) for p in flats[:3]]
    gone = there[0].model_copy(update={"centre_mm": (99.0, 0.0, 0.0)})
    zones = (
        ZoneSpec(name="all", part="Stool", patches=tuple(there), clearance_mm=1.0),
        ZoneSpec(name="some", part="Stool", patches=(there[1], gone), clearance_mm=1.0),
        ZoneSpec(name="none", part="Stool", patches=(gone,), clearance_mm=1.0),
    )
    assert builder.faces_found(wish().parts, zones) == {"all": 3, "some": 1, "none": 0}
