"""Outside forms: volumes and outlines against closed forms, walls against libigl's distances."""

from __future__ import annotations

import json
import re
from typing import Any

import igl
import numpy as np
import pytest
import trimesh

from housingdesk.errors import SpecError
from housingdesk.features.forms.block import Block
from housingdesk.features.forms.form import Form, rimmed, thicker_for
from housingdesk.features.forms.ground import HAIR_MM, OVER_MM, Ground
from housingdesk.features.forms.outline import OutlineForm
from housingdesk.features.forms.registry import as_form, form_of, kinds
from housingdesk.features.forms.round import Round
from housingdesk.features.forms.rounded import Rounded
from housingdesk.features.forms.wrap import Wrap
from housingdesk.geometry.offset import sweep_cavity
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.spec.models import ShellSpec

C, W = 1.0, 2.4


def ground(part: trimesh.Trimesh, clearance: float = C, wall: float = W, **more: Any) -> Ground:
    """Return the ground of one part; ``more`` replaces fields, ``extra`` is added to the outer box."""
    tris = np.array(part.vertices[part.faces], float)
    low, high = part.bounds
    room = np.array([low - clearance, high + clearance])
    outer = room + np.array([[-1.0], [1.0]]) * (wall + HAIR_MM) + np.asarray(more.pop("extra", 0.0))
    fields: dict[str, Any] = {
        "tris": tris,
        "reach": np.full(len(tris), clearance),
        "seal_mm": 1.2,
        "wall_mm": wall,
        "room_mm": room,
        "outer_mm": outer,
    }
    return Ground(**(fields | more))


def box_part() -> trimesh.Trimesh:
    return trimesh.creation.box(bounds=[[-20, -12, 0], [20, 12, 16]])


def angle_part() -> trimesh.Trimesh:
    long = trimesh.creation.box(bounds=[[0, 0, 0], [60, 15, 10]])
    tall = trimesh.creation.box(bounds=[[0, 0, 0], [15, 50, 20]])
    return trimesh.boolean.union([long, tall], engine="manifold")


def lying_round() -> trimesh.Trimesh:
    lie = trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0))
    lie[2, 3] = 10.0
    return trimesh.creation.cylinder(10, 30, sections=96, transform=lie)


PARTS = {"box": box_part, "angle": angle_part, "round": lying_round}


def cavities(g: Ground) -> tuple[Solid, Solid]:
    lower, upper = (
        sweep_cavity(g.tris, g.reach, up=up, seal_mm=g.seal_mm, tolerance_mm=0.02) for up in (True, False)
    )
    return lower, upper


def least_wall(outside: Solid, cavity: Solid) -> float:
    """Return the least distance between two surfaces from the corners of both, with libigl."""
    a, b = outside.mesh(), cavity.mesh()
    away = []
    for points, mesh in ((a.vertices, b), (b.vertices, a)):
        squared = igl.point_mesh_squared_distance(
            np.ascontiguousarray(points), np.array(mesh.vertices), mesh.faces.astype(np.int64)
        )[0]
        away.append(float(np.sqrt(squared.min())))
    return min(away)


def within(solid: Solid, z_low: float, z_high: float) -> Solid:
    return solid.above(z_low).below(z_high)


# --- rims and outlines by formula ---------------------------------------------------------------------


def test_a_box_with_chamfered_rims_has_the_volume_of_two_frusta_and_a_block() -> None:
    a, b, h, s = 50.0, 30.0, 20.0, 2.0
    solid = rimmed(Outline.rectangle((0, 0), (a, b)), 0.0, h, "chamfered", s)
    top, bottom = a * b, (a - 2 * s) * (b - 2 * s)
    middle = (a - s) * (b - s)
    # Each rim is a prismatoid of height s: s / 6 (top + 4 middle + bottom).
    exact = top * (h - 2 * s) + 2 * s / 6 * (top + 4 * middle + bottom)
    assert solid.volume_mm3 == pytest.approx(exact, rel=1e-9)
    assert solid.bounds == pytest.approx(np.array([[0, 0, 0], [a, b, h]]))


def test_a_box_with_rounded_rims_has_the_volume_of_its_closed_form() -> None:
    a, b, h, r = 50.0, 30.0, 20.0, 3.0
    solid = rimmed(Outline.rectangle((0, 0), (a, b)), 0.0, h, "rounded", r)
    # A level cut at height t lies i = r - sqrt(r^2 - (r - t)^2) inward: integral of (a - 2 i)(b - 2 i).
    first, second = r**2 - np.pi / 4 * r**2, 2 * r**3 - np.pi / 2 * r**3 - r**3 / 3
    rim = a * b * r - 2 * (a + b) * first + 4 * second
    exact = a * b * (h - 2 * r) + 2 * rim
    assert solid.volume_mm3 == pytest.approx(exact, rel=2e-4)
    assert solid.volume_mm3 >= exact  # chords lie outside, so that the wall is never less


def test_a_cylinder_with_chamfered_rims_has_the_volume_of_frusta() -> None:
    r, h, s = 20.0, 15.0, 1.5
    solid = rimmed(Outline.circle((0, 0), r), 0.0, h, "chamfered", s)
    exact = np.pi * r**2 * (h - 2 * s) + 2 * np.pi * s / 3 * (r**2 + r * (r - s) + (r - s) ** 2)
    assert solid.volume_mm3 == pytest.approx(exact, rel=1e-3)


def test_a_chamfer_wider_than_the_rounds_of_the_outline_leaves_a_closed_body() -> None:
    loop = Outline.rectangle((0, 0), (40, 30), 2.0)
    solid = rimmed(loop, 0.0, 20.0, "chamfered", 5.0)
    assert len(solid.bodies()) == 1
    assert solid.section_at(1e-6).area_mm2 == pytest.approx(30 * 20, rel=1e-5)
    assert solid.section_at(5.0 + 1e-6).area_mm2 == pytest.approx(loop.area_mm2, rel=1e-5)


def test_rims_that_do_not_fit_are_refused_in_one_sentence() -> None:
    with pytest.raises(SpecError, match="leave no wall between them"):
        rimmed(Outline.rectangle((0, 0), (40, 30)), 0.0, 8.0, "chamfered", 4.0)
    dumbbell = Outline.union(
        [Outline.circle((0, 0), 20), Outline.circle((60, 0), 20), Outline.rectangle((0, -3), (60, 3))]
    )
    with pytest.raises(SpecError, match="wider than a narrow place"):
        rimmed(dumbbell, 0.0, 30.0, "chamfered", 5.0)


def test_a_rounded_block_has_the_volume_of_its_closed_form() -> None:
    made = Rounded(corner_mm=4.0, rim="sharp").build(ground(box_part()))
    (x, y, z), r = made.bounds[1] - made.bounds[0], 4.0
    assert made.lower.volume_mm3 == pytest.approx((x * y - (4 - np.pi) * r**2) * z, rel=1e-4)


def test_a_block_with_chamfered_upright_edges_loses_four_triangles() -> None:
    made = Block(upright="chamfered", upright_mm=1.0).build(ground(box_part()))
    x, y, z = made.bounds[1] - made.bounds[0]
    assert made.lower.volume_mm3 == pytest.approx((x * y - 4 * 0.5) * z, rel=1e-9)


def test_the_outline_of_a_block_has_the_area_of_a_rounded_rectangle() -> None:
    """Steiner: area + perimeter d + pi d^2, d = clearance and wall."""
    made = OutlineForm().build(ground(box_part()))
    d = C + W + OVER_MM
    exact = 40 * 24 + 2 * (40 + 24) * d + np.pi * d**2
    assert made.lower.section_at(5.0).area_mm2 == pytest.approx(exact, abs=3.0)
    assert made.lower.section_at(5.0).area_mm2 >= exact - 0.5


def test_the_outline_of_an_angle_bridges_its_bay_with_the_asked_radius() -> None:
    plain = OutlineForm(bay_mm=0.0).build(ground(angle_part())).lower.section_at(5.0)
    bridged = OutlineForm(bay_mm=20.0).build(ground(angle_part())).lower.section_at(5.0)
    d, r = C + W + OVER_MM, 10.0
    shadow = 60 * 15 + 15 * 35
    perimeter = 2 * (60 + 50)
    # Grown about one inner corner: that corner loses d^2 of the strips that overlap there.
    sharp = shadow + perimeter * d + 5 * np.pi / 4 * d**2 - d**2
    assert plain.area_mm2 == pytest.approx(sharp, rel=2e-3)
    # A fillet of radius r in a right angle adds r^2 (1 - pi / 4).
    assert bridged.area_mm2 - plain.area_mm2 == pytest.approx(r**2 * (1 - np.pi / 4), rel=0.1)


def test_the_outline_of_parts_far_apart_is_one_piece() -> None:
    far = trimesh.util.concatenate(
        [
            trimesh.creation.box(bounds=[[0, 0, 0], [10, 10, 10]]),
            trimesh.creation.box(bounds=[[70, 0, 0], [80, 10, 10]]),
        ]
    )
    assert len(OutlineForm(bay_mm=2.0).build(ground(far)).lower.bodies()) == 1


def test_a_hole_through_the_part_is_filled() -> None:
    ring = trimesh.creation.annulus(15, 25, 8)
    ring.apply_translation((0, 0, 4))
    area = OutlineForm().build(ground(ring)).lower.section_at(4.0).area_mm2
    assert area == pytest.approx(np.pi * (25 + C + W + OVER_MM) ** 2, rel=5e-3)


def test_the_round_form_is_the_least_circle_around_a_box() -> None:
    made = Round().build(ground(box_part()))
    # The corners' rounds touch it: half the part's diagonal, clearance and wall (closed form).
    radius = np.hypot(20, 12) + C + W + OVER_MM
    assert made.bounds[1, 0] == pytest.approx(radius, abs=0.02)
    assert made.lower.section_at(5.0).area_mm2 == pytest.approx(np.pi * radius**2, rel=1e-3)


# --- walls are kept -------------------------------------------------------------------------------------

FORMS: dict[str, Form] = {
    "block": Block(),
    "broken block": Block(upright="rounded", upright_mm=8.0, rim="chamfered", rim_mm=3.0),
    "rounded": Rounded(rim="rounded", rim_mm=4.0),
    "outline": OutlineForm(rim="chamfered", rim_mm=2.0),
    "outline, round rims": OutlineForm(rim="rounded", rim_mm=1.5, bay_mm=0.0),
    "round": Round(rim="chamfered", rim_mm=4.0),
    "wrap": Wrap(),
    "wrap, large flats": Wrap(flat_pct=80),
}


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("form", FORMS)
def test_every_form_keeps_the_wall_everywhere(form: str, part: str) -> None:
    g = ground(PARTS[part]())
    made = FORMS[form].build(g)
    z = float(g.room_mm[:, 2].mean()) - 1.0
    whole, collars = made.whole(z), made.collars(z)
    assert len(whole.bodies()) == 1
    hollow = [
        within(c, -99, z) if low else within(c, z, 99) for c, low in zip(cavities(g), (1, 0), strict=True)
    ]
    assert (Solid.union(hollow) - whole).volume_mm3 < 1e-6
    for cavity in hollow:
        assert least_wall(whole, cavity) >= W - 0.011  # flats of the cavity lie up to 0.012 mm further out
    assert set(collars) <= {"lower", "upper"}


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("form", FORMS)
def test_both_halves_stand_on_a_flat_when_printed(form: str, part: str) -> None:
    made = FORMS[form].build(ground(PARTS[part]()))
    low, high = made.bounds[:, 2].tolist()
    footprint = np.prod((made.bounds[1] - made.bounds[0])[:2])
    for z in (low + 1e-4, high - 1e-4):
        assert made.whole(8.0).section_at(z).area_mm2 >= 0.2 * footprint


def test_a_wrap_covers_the_other_half_where_the_part_is_undercut() -> None:
    """A mushroom upside down: the lower half's relief above the cap must not open beside the stem."""
    cap = trimesh.creation.box(bounds=[[-15, -15, 0], [15, 15, 5]])
    stem = trimesh.creation.box(bounds=[[-5, -5, 4], [5, 5, 30]])
    g = ground(trimesh.boolean.union([cap, stem], engine="manifold"))
    made = Wrap().build(g)
    z = 20.0
    lower, upper = cavities(g)
    whole = made.whole(z)
    assert "upper" in made.collars(z)
    for hollow in (lower.below(z), upper.above(z)):
        assert (hollow - whole).volume_mm3 < 1e-6
        assert least_wall(whole, hollow) >= W - 0.011


# --- sides ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", [Block(), Rounded(corner_mm=2.0), OutlineForm(), Wrap()])
def test_extra_room_draws_one_side_out_by_just_that(form: Form) -> None:
    plain = form.build(ground(box_part())).bounds
    wider = form.build(ground(box_part(), extra=[[0, 0, 0], [7.0, 0, 0]])).bounds
    assert (wider - plain)[1, 0] == pytest.approx(7.0, abs=0.1)
    moved = np.abs(wider - plain)
    moved[1, 0] = 0.0
    assert moved.max() < 0.1


@pytest.mark.parametrize("kind", ["block", "rounded", "outline", "round", "wrap"])
def test_a_fixed_side_lies_exactly_there(kind: str) -> None:
    g = ground(box_part())
    outer = g.outer_mm.copy()
    outer[1, 0] = 21.5  # closer than room and wall
    fixed = ground(box_part(), outer_mm=outer, fixed=frozenset({(0, 1)}))
    assert kinds()[kind]().build(fixed).bounds[1, 0] == pytest.approx(21.5, abs=1e-9)


def test_a_broken_rim_thickens_floor_and_roof_only_as_needed() -> None:
    g = ground(box_part())
    assert thicker_for("chamfered", 1.0, g) == (0.0, 0.0)  # 2.4 + 2.405 - 1 > sqrt(2) 2.4
    assert thicker_for("chamfered", 4.0, g)[0] == pytest.approx(np.sqrt(2) * W + 4 - W - W - HAIR_MM)
    assert thicker_for("rounded", 2.0, g) == (0.0, 0.0)
    assert thicker_for("rounded", 5.0, g)[1] == pytest.approx(5.0 - W - HAIR_MM)


# --- the forms as values ----------------------------------------------------------------------------------


def test_every_form_says_its_fields_and_comes_back_from_json() -> None:
    assert list(kinds()) == ["block", "rounded", "outline", "round", "wrap"]
    for kind, form in kinds().items():
        made = form()
        assert not re.search(r"} *(%|°|mm\b)", form.SENTENCE), "the field shows its unit"
        assert form.TITLE and form.SENTENCE and form.SIDES_NOTE
        for name, field in form.model_fields.items():
            if name != "kind":
                assert f"{{{name}}}" in form.SENTENCE
                assert field.title and field.description
        shell = ShellSpec(form=made)
        again = ShellSpec.model_validate(json.loads(shell.model_dump_json()))
        assert again == shell and type(again.form) is form and again.form.kind == kind


def test_old_projects_have_a_plain_block_and_unknown_forms_are_said() -> None:
    old = ShellSpec.model_validate({"wall_mm": 2.0, "front_mm": -3.0})
    assert old.form == Block() and old.wall_at_mm("floor") == old.least_wall_mm == 2.0
    assert ShellSpec(floor_wall_mm=4.0, roof_wall_mm=1.2).least_wall_mm == 1.2
    with pytest.raises(ValueError, match="knows no outside form of the kind 'ball'"):
        ShellSpec.model_validate({"form": {"kind": "ball"}})
    with pytest.raises(
        ValueError, match=r"size of the edges of floor and roof must be between 0\.2 and 20 mm"
    ):
        ShellSpec.model_validate({"form": {"kind": "round", "rim_mm": 99}})
    with pytest.raises(SpecError, match="no outside form 'ball'; choose one of block"):
        form_of("ball")
    with pytest.raises(ValueError):
        as_form(3)


def test_the_same_ground_gives_the_same_form() -> None:
    for form in FORMS.values():
        first, second = (form.build(ground(angle_part())).lower.mesh() for _ in range(2))
        assert first.key == second.key


@pytest.mark.parametrize("kind", ["block", "rounded", "outline", "round", "wrap"])
def test_floor_and_roof_have_their_own_thickness(kind: str) -> None:
    """A thick floor and a thin roof, also under what falls away from the flat (a round lying down)."""
    g = ground(lying_round())
    outer = g.outer_mm.copy()
    outer[0, 2], outer[1, 2] = g.room_mm[0, 2] - 4.0, g.room_mm[1, 2] + 1.2
    made = kinds()[kind]().build(ground(lying_round(), outer_mm=outer))
    z = 10.0
    lower, upper = cavities(g)
    form = made.whole(z).mesh()
    for hollow, way, asked in ((lower.below(z), -1.0, 4.0), (upper.above(z), 1.0, 1.2)):
        mesh = hollow.mesh()
        level = trimesh.Trimesh(mesh.vertices, mesh.faces).vertex_normals[:, 2] * way > 0.95
        away = igl.point_mesh_squared_distance(
            np.ascontiguousarray(mesh.vertices[level]), np.array(form.vertices), form.faces.astype(np.int64)
        )[0]
        assert np.sqrt(away.min()) >= min(asked, W) - 0.013
        # Straight down (up) there is all that was asked.
        rays = trimesh.Trimesh(form.vertices, form.faces).ray
        hits, which, _ = rays.intersects_location(
            mesh.vertices[level], np.tile([0, 0, way], (level.sum(), 1))
        )
        thick = np.abs(hits[:, 2] - mesh.vertices[level][which, 2])
        assert thick.min() >= asked - 0.013


@pytest.mark.parametrize("kind", ["block", "rounded", "outline", "round"])
def test_a_thin_sheet_that_stands_upright_is_enclosed(kind: str) -> None:
    sheet = trimesh.Trimesh([[-20, 0, 0], [20, 0, 0], [20, 0, 15], [-20, 0, 15]], [[0, 1, 2], [0, 2, 3]])
    form = kinds()[kind]().build(ground(sheet)).lower
    points = np.array([[x, y, 7.0] for x in (-21, 21) for y in (-1, 1)])  # corners of its room
    tools = Solid.union(Solid.ball(p, W - 0.02) for p in points)
    assert (tools - form).volume_mm3 < 0.5
