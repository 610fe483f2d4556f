"""What lies opposite a zone, and the chances that follow, through the whole build."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.build.pipeline import Builder
from housingdesk.build.zoning import reference
from housingdesk.geometry.patches import Patch, find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.proof.facts import ZoneOdds
from housingdesk.proof.odds import odds
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, PrinterSpec, Spec
from housingdesk.spec.zones import ZoneSpec

GAP = 0.5
BLOCK = trimesh.creation.box(bounds=[[-20, -15, 0], [20, 15, 20]])
ROD = trimesh.creation.cylinder(3.0, 20.0, sections=64)
ROD.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0], [0, 0, 0]))
ROD.apply_translation([28.0, 0.0, 10.0])
BOX, MOTOR, DRUM = (
    Mesh(m.vertices, m.faces)
    for m in (
        BLOCK,
        trimesh.boolean.union([BLOCK, ROD], engine="manifold"),
        trimesh.creation.cylinder(10.0, 30.0, sections=96),
    )
)
USUAL = PrinterSpec()


class Held(dict[str, Mesh]):
    def get(self, key: str) -> Mesh:  # type: ignore[override]  # a missing mesh is a bug here
        return self[key]


@pytest.fixture(scope="module")
def builder() -> Builder:
    return Builder(Held({m.key: m for m in (BOX, MOTOR, DRUM)}))


def looking(mesh: Mesh, *ways: tuple[float, float, float]) -> list[Patch]:
    return [
        p for p in find_patches(mesh) if p.kind == "flat" and any(p.axis @ np.array(w) > 0.9 for w in ways)
    ]


def zone(name: str, clearance: float, patches: list[Patch], **more: object) -> ZoneSpec:
    refs = tuple(map(reference, patches))
    return ZoneSpec(name=name, part="part", clearance_mm=clearance, patches=refs, **more)  # type: ignore[arg-type]


def chances(
    builder: Builder, mesh: Mesh, *zones: ZoneSpec, turn: float = 0.0, printer: PrinterSpec = USUAL
) -> dict[str, ZoneOdds]:
    placed = trimesh.transformations.rotation_matrix(np.radians(turn), [0, 0, 1])
    spec = Spec(
        parts=(PartSpec(name="part", mesh_key=mesh.key, placement=tuple(placed.ravel().tolist())),),
        parting=PartingSpec(height_mm=10.0),
        fit=FitSpec(clearance_mm=GAP, zones=zones),
        printer=printer,
    )
    found: tuple[ZoneOdds, ...] = builder._graph.value("odds", spec, "draft")
    return {o.zone: o for o in found}


DOWN, UP, RIGHT, LEFT = (0, 0, -1), (0, 0, 1), (1, 0, 0), (-1, 0, 0)


def test_floor_and_roof_count_together(builder: Builder) -> None:
    found = chances(builder, BOX, zone("floor", 0.1, looking(BOX, DOWN)))
    assert found["floor"].mean_gap_mm == pytest.approx(0.1 + GAP - 0.2)
    assert found["floor"].opposite_mm == GAP
    assert found["floor"].goes_in == odds("", 0.3, USUAL).goes_in > 0.999
    # the roof is the body's: its tightest way is the same one; sideways it has its own gap on both sides
    assert found["body"].mean_gap_mm == pytest.approx(0.1 + GAP - 0.2)
    assert found["body"].held == odds("", GAP, USUAL).held
    # what has to be asked for 99 %: both sides together as much as twice the gap of a zone all round
    assert found["floor"].sure_mm == pytest.approx(2 * odds("", GAP, USUAL).sure_mm - GAP)


def test_two_zones_opposite_each_other(builder: Builder) -> None:
    floor, roof = zone("floor", 0.1, looking(BOX, DOWN)), zone("roof", 0.15, looking(BOX, UP), purpose="hot")
    found = chances(builder, BOX, floor, roof)
    assert found["floor"].goes_in == found["roof"].goes_in == odds("", 0.125, USUAL).goes_in < 0.9
    assert (found["floor"].opposite_mm, found["roof"].opposite_mm) == (0.15, 0.1)
    assert found["body"].opposite_mm is None


def test_a_zone_on_both_sides_has_its_own_gap_twice(builder: Builder) -> None:
    found = chances(builder, BOX, zone("sides", 0.1, looking(BOX, RIGHT, LEFT)))
    assert found["sides"].goes_in == odds("", 0.1, USUAL).goes_in
    assert found["sides"].opposite_mm is None


@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_room_at_the_ends_counts_along_its_axis(builder: Builder, turn: float) -> None:
    side = zone("side", 0.1, looking(BOX, RIGHT), end_mm=0.4, end_axis="x")
    found = chances(builder, BOX, side, turn=turn)
    assert found["side"].mean_gap_mm == pytest.approx(0.1 + 0.4 + GAP - 0.2)
    every = zone("all", 0.1, find_patches(BOX), end_mm=0.4, end_axis="x")
    found = chances(builder, BOX, every, turn=turn)
    assert set(found) == {"all"}  # nothing is left of the body
    assert found["all"].mean_gap_mm == pytest.approx(2 * 0.1 - 0.2)
    assert found["all"].held == odds("", 0.5, USUAL).held


def test_a_round_has_its_own_gap_all_round(builder: Builder) -> None:
    mantle = [p for p in find_patches(DRUM) if p.kind == "cylinder"]
    found = chances(builder, DRUM, zone("mantle", 0.1, mantle))
    assert found["mantle"].goes_in == odds("", 0.1, USUAL).goes_in
    assert found["mantle"].opposite_mm is None
    assert found["body"].mean_gap_mm == pytest.approx(2 * GAP - 0.2)


def test_a_turning_shaft_in_a_plain_hole_has_a_line_and_one_in_a_bearing_none(builder: Builder) -> None:
    rod = [p for p in find_patches(MOTOR) if p.kind == "cylinder"]
    shaft = zone("shaft", 0.2, rod, purpose="turning")
    found = chances(builder, MOTOR, shaft)
    assert (found["shaft"].purpose, found["shaft"].goes_in) == ("turning", odds("", 0.2, USUAL).goes_in)
    carried = shaft.model_copy(update={"seat": "bush"})
    assert set(chances(builder, MOTOR, carried)) == {"body"}


def test_a_shaft_is_judged_by_its_hole_as_drawn(builder: Builder) -> None:
    rod = [p for p in find_patches(MOTOR) if p.kind == "cylinder"]
    shaft = zone("shaft", 0.2, rod, purpose="turning")
    small = PrinterSpec(hole_correction_mm=0.8)
    found = chances(builder, MOTOR, shaft, printer=small)["shaft"]
    spec = Spec(
        parts=(PartSpec(name="part", mesh_key=MOTOR.key),),
        parting=PartingSpec(height_mm=10.0),
        fit=FitSpec(clearance_mm=GAP, zones=(shaft,)),
        printer=small,
    )
    result = builder.build(spec, "final")
    (way,) = result.passages
    assert found.mean_gap_mm == pytest.approx(way.diameter_mm - 6.0 - 0.8, abs=0.02)
    lines = [f for f in result.findings if f.code == "odds-shaft"]
    assert [f.severity for f in lines] == ["fail" if found.goes_in < 0.5 else "pass"]
    assert "let the shaft turn freely" in lines[0].message
