"""Parts from caliper readings and of known size."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh

from housingdesk.build.turning import propose_zones
from housingdesk.build.zoning import find_patch, reference
from housingdesk.errors import SpecError
from housingdesk.files.project import load_project, save_project
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.section import section
from housingdesk.geometry.types import Mesh
from housingdesk.spec.edits_features import add_zone
from housingdesk.spec.following import followed, zones_followed
from housingdesk.spec.known_shapes import figures, known, known_names, warning
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, Spec
from housingdesk.spec.part_edits import fresh_shape, part_of_shapes, set_shapes, swap_part
from housingdesk.spec.shapes import AnyShape, Block, Plate, Round, Way, body
from housingdesk.spec.zones import PatchRef, ZoneSpec

ROUND = 2e-3  # share of a round's area that its chords lose


def test_a_part_of_shapes_has_the_volume_of_its_formula() -> None:
    shapes = (
        Block(long_mm=30, wide_mm=20, high_mm=10),
        Round(diameter_mm=8, long_mm=12, x_mm=15, z_mm=5, way="+x"),
        Round(diameter_mm=4, long_mm=12, z_mm=-1, cut=True),
    )
    mesh = body(shapes)
    asked = 30 * 20 * 10 + math.pi * 16 * 12 - math.pi * 4 * 10
    assert mesh.volume_mm3 == pytest.approx(asked, rel=ROUND)
    assert mesh.bounds == pytest.approx(np.array([[-15, -10, 0], [27, 10, 10]]))


def test_a_plate_has_its_holes_where_they_were_measured() -> None:
    mesh = body((Plate(long_mm=50, wide_mm=30, thick_mm=2, hole_mm=3.2, apart_x_mm=42, apart_y_mm=22),))
    holes = [p for p in find_patches(mesh) if p.kind == "cylinder" and p.side == "inside"]
    assert sorted((round(p.centre_mm[0], 2), round(p.centre_mm[1], 2)) for p in holes) == [
        (-21.0, -11.0),
        (-21.0, 11.0),
        (21.0, -11.0),
        (21.0, 11.0),
    ]
    assert all(p.diameter_mm == pytest.approx(3.2, abs=0.01) for p in holes)


def test_a_d_shaft_measures_less_across_its_flat() -> None:
    mesh = body((Round(diameter_mm=6, long_mm=20, way="+x", flat_mm=0.5),))
    assert mesh.bounds[:, 2] == pytest.approx([-3.0, 2.5], abs=1e-6)


@pytest.mark.parametrize(
    ("name", "size_mm"),
    [
        ("cell 18650", (65.0, 18.0, 18.0)),  # the code: 18 mm x 65.0 mm (IEC 61960-3)
        ("cell CR2032", (3.2, 20.0, 20.0)),  # the code: 20 mm x 3.2 mm (IEC 60086-3)
        ("bearing 608", (22.0, 22.0, 7.0)),  # ISO 15
        ("motor NEMA 17", (60.0, 43.2, 43.2)),  # NEMA ICS 16 as published; 40 body and 20 shaft
    ],
)
def test_known_things_have_the_size_of_their_standard(name: str, size_mm: tuple[float, ...]) -> None:
    assert name in known_names()
    assert body(known(name)).size_mm == pytest.approx(size_mm, abs=0.01)


def test_every_known_thing_makes_a_part() -> None:
    for name in known_names():
        assert body(known(name)).volume_mm3 > 0


@pytest.mark.parametrize(
    "shapes",
    [
        (),
        (Block(cut=True),),
        (Block(), Block(long_mm=100, wide_mm=100, high_mm=100, cut=True)),
        (Round(diameter_mm=5, flat_mm=5),),
        (Plate(hole_mm=10, apart_x_mm=48),),
    ],
)
def test_what_leaves_no_part_is_a_sentence(shapes: tuple[Block, ...]) -> None:
    with pytest.raises(SpecError) as told:
        body(shapes)
    assert str(told.value).endswith(".")


def test_shapes_are_saved_and_a_reading_can_be_corrected(tmp_path) -> None:  # type: ignore[no-untyped-def]
    part, mesh = part_of_shapes("block", (Block(high_mm=10),))
    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=5.0))
    save_project(tmp_path / "p.hdesk", spec, {mesh.key: mesh})
    again, meshes = load_project(tmp_path / "p.hdesk")
    assert again == spec
    edit = set_shapes("block", (Block(high_mm=20),))
    taller = edit.apply(again, meshes)
    new = edit.brings[taller.parts[0].mesh_key]
    assert new.size_mm[2] == pytest.approx(20.0)
    assert taller.parting.height_mm == pytest.approx(10.0)  # the plane keeps its share of the height


def test_zones_stay_when_another_file_takes_the_parts_place() -> None:
    part, mesh = part_of_shapes("block", (Block(),))
    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=5.0))
    top = PatchRef(
        kind="flat", centre_mm=(0.0, 0.0, 10.0), axis=(0.0, 0.0, 1.0), size_mm=20.0, length_mm=20.0
    )
    zone = ZoneSpec(name="lid", part="block", patches=(top,), clearance_mm=1.0)
    meshes = {mesh.key: mesh}
    spec = add_zone(zone).apply(spec, meshes)
    other, new = part_of_shapes("other", (Block(), Round(diameter_mm=5, x_mm=10, z_mm=5, way="+x")))
    after = swap_part("block", PartSpec(**dict(other)), new).apply(spec, meshes)
    assert after.fit.zones == spec.fit.zones
    assert after.parts[0].name == "block"
    assert after.parts[0].mesh_key == new.key


def test_a_name_from_the_old_file_follows_the_new_one() -> None:
    part, mesh = part_of_shapes("gear motor", (Block(),))
    one = part.model_copy(update={"source_name": "gear_motor.stl", "shapes": ()})
    other = one.model_copy(update={"name": "gear motor c", "source_name": "gear_motor_c.stl"})
    meshes = {mesh.key: mesh}

    def swapped(**names: str) -> Spec:
        top = PatchRef(kind="flat", centre_mm=(0, 0, 10), axis=(0, 0, 1), size_mm=20, length_mm=20)
        kept = one.model_copy(update={"name": names["part"]})
        zone = ZoneSpec(name="lid", part=kept.name, patches=(top,), clearance_mm=1.0)
        fit, parting = FitSpec(zones=(zone,)), PartingSpec(height_mm=5.0)
        spec = Spec(name=names["housing"], parts=(kept,), parting=parting, fit=fit)
        return swap_part(kept.name, other, mesh).apply(spec, meshes)

    after = swapped(part="gear motor", housing="gear motor")
    assert (after.name, after.parts[0].name, after.fit.zones[0].part) == ("gear motor c",) * 3
    assert swapped(part="gear motor", housing="Vent").name == "Vent"
    assert swapped(part="pump", housing="pump").parts[0].name == "pump"


# --- zones follow the readings ----------------------------------------------------------------------


MOTOR = known("motor NEMA 17")


def shaft_zone(shapes: tuple[AnyShape, ...]) -> tuple[Spec, Mesh]:
    part, mesh = part_of_shapes("motor", shapes)
    (shaft,) = propose_zones("motor", find_patches(mesh), mesh.vertices[mesh.faces])
    fit = FitSpec(zones=(shaft,))
    return Spec(parts=(part,), parting=PartingSpec(height_mm=5.0), fit=fit), mesh


@pytest.mark.parametrize(
    "changes",
    [
        {"diameter_mm": 8.0},
        {"long_mm": 45.0},
        {"y_mm": 7.5, "z_mm": -3.0},
        {"diameter_mm": 6.35, "long_mm": 24.0, "y_mm": -6.0},
    ],
)
def test_a_zone_stays_on_a_shaft_whose_reading_is_corrected(changes: dict[str, float]) -> None:
    spec, mesh = shaft_zone(MOTOR)
    corrected = (*MOTOR[:2], MOTOR[2].model_copy(update=changes))
    edit = set_shapes("motor", corrected)
    (zone,) = edit.apply(spec, {mesh.key: mesh}).fit.zones
    found = find_patches(edit.brings[next(iter(edit.brings))])
    for before, after in zip(spec.fit.zones[0].patches, zone.patches, strict=True):
        assert after.kind == before.kind
        there = find_patch(after, found)
        assert there is not None
        if there.kind == "cylinder":
            assert there.diameter_mm == pytest.approx(changes.get("diameter_mm", 5.0), abs=0.01)


def test_many_small_steps_lead_where_one_does() -> None:
    spec, mesh = shaft_zone(MOTOR)
    meshes = {mesh.key: mesh}
    for step in range(1, 61):
        longer = (*MOTOR[:2], MOTOR[2].model_copy(update={"long_mm": 20.0 + step}))
        edit = set_shapes("motor", longer)
        spec, meshes = edit.apply(spec, meshes), edit.brings
    (last,) = edit.brings.values()
    assert all(find_patch(p, find_patches(last)) for p in spec.fit.zones[0].patches)


def test_a_zone_of_a_body_does_not_follow_the_shaft_and_one_of_a_round_turns_with_it() -> None:
    face = PatchRef(kind="flat", centre_mm=(-20, 0, 21.6), axis=(0, 0, 1), size_mm=43.2, length_mm=40)
    zone = ZoneSpec(name="side", part="motor", patches=(face,), clearance_mm=1.0)
    longer = (*MOTOR[:2], MOTOR[2].model_copy(update={"long_mm": 50.0}))
    assert zones_followed((zone,), "motor", MOTOR, longer) == (zone,)
    assert zones_followed((zone,), "other", MOTOR, (MOTOR[2], *MOTOR[1:])) == (zone,)
    bar, turned = Round(diameter_mm=6, long_mm=20, way="+z"), Round(diameter_mm=6, long_mm=20, way="-y")
    end = PatchRef(kind="flat", centre_mm=(0, 0, 20), axis=(0, 0, 1), size_mm=6, length_mm=6)
    moved = followed(end, bar, turned)
    assert moved is not None
    assert moved.centre_mm == pytest.approx((0, -20, 0))
    assert moved.axis == pytest.approx((0, -1, 0))


def test_a_flat_of_a_d_shaft_and_the_holes_of_a_plate_are_followed() -> None:
    for before, after in (
        (
            Round(diameter_mm=6, long_mm=20, way="+x", flat_mm=0.5),
            Round(diameter_mm=8, long_mm=30, way="+x", flat_mm=1.0, z_mm=2),
        ),
        (Plate(), Plate(long_mm=60, apart_x_mm=50, hole_mm=4.0, thick_mm=3.0, y_mm=5)),
        (Block(), Block(long_mm=30, wide_mm=12, x_mm=4)),
    ):
        old, new = find_patches(body((before,))), find_patches(body((after,)))
        assert len(old) == len(new)
        for patch in old:
            moved = followed(reference(patch), before, after)
            assert moved is not None, patch
            assert find_patch(moved, new) is not None, moved


@pytest.mark.parametrize("kind", [Block, Round, Plate])
def test_a_fresh_shape_stands_on_the_part_and_a_cut_one_takes_some_of_it(kind: type[AnyShape]) -> None:
    plain = body(MOTOR)
    more = body((*MOTOR, fresh_shape(kind, plain.bounds)))
    assert more.bounds[1, 2] > plain.bounds[1, 2]
    if kind is not Plate:
        block = (Block(),)
        less = body((*block, fresh_shape(kind, body(block).bounds, cut=True)))
        assert less.volume_mm3 < body(block).volume_mm3 - 50


def test_every_figure_of_a_known_thing_has_its_source_and_doubt_is_said() -> None:
    for name in known_names():
        told = figures(name)
        assert all(t.source.standard for t in told)
        if any(t.source.from_memory for t in told) or name.startswith("motor"):
            assert "measure" in warning(name)
    assert [t.words for t in figures("bearing 608")] == ["bore 8 mm", "outside 22 mm", "width 7 mm"]  # ISO 15
    assert {t.source.standard for t in figures("motor NEMA 17")} == {"NEMA ICS 16"}


@pytest.mark.parametrize("way", ["+x", "-x", "+y", "-y", "+z", "-z"])
def test_rounds_that_stand_flush_on_a_block_are_one_with_it(way: Way) -> None:
    axis, sign = "xyz".index(way[1]), 1.0 if way[0] == "+" else -1.0
    end = {f"{a}_mm": (sign * 21.3 if i == axis else 0.0) for i, a in enumerate("xyz")}
    shapes = (
        Block(long_mm=42.6, wide_mm=42.6, high_mm=42.6, z_mm=-21.3),
        Round(diameter_mm=22, long_mm=2, way=way, **end),
        Round(diameter_mm=5, long_mm=20.1, way=way, **end),
    )
    mesh = body(shapes)
    assert len(trimesh.Trimesh(mesh.vertices, mesh.faces).split(only_watertight=False)) == 1
    for across in (1, 2):  # both planes through the axis
        assert len(section(mesh, (0.0, 0.0, 0.0), np.eye(3)[axis], np.eye(3)[(axis + across) % 3])) == 1


def test_known_motors_are_of_one_piece() -> None:
    mesh = body(known("motor NEMA 17"))
    assert len(trimesh.Trimesh(mesh.vertices, mesh.faces).split(only_watertight=False)) == 1
    for up in ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0)):
        assert len(section(mesh, (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), up)) == 1
