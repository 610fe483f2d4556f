"""Parts from caliper readings and of known size."""

from __future__ import annotations

import math

import numpy as np
import pytest

from housingdesk.errors import SpecError
from housingdesk.files.project import load_project, save_project
from housingdesk.geometry.patches import find_patches
from housingdesk.spec.edits import add_zone
from housingdesk.spec.known_shapes import known, known_names
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from housingdesk.spec.part_edits import part_of_shapes, set_shapes, swap_part
from housingdesk.spec.shapes import Block, Plate, Round, body
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
        ("motor NEMA 17", (43.2, 43.2, 60.0)),  # NEMA ICS 16 as published; 40 body and 20 shaft
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
