"""Heights at which a dragged plane catches, on bodies whose landmarks are known by construction."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.geometry.types import Mesh
from housingdesk.jobs import landmarks
from housingdesk.jobs.landmarks import landmark_heights
from housingdesk.spec.models import PartSpec
from housingdesk.spec.placing import as_matrix

HEIGHTS_MM = {"step": 9.0, "shaft": 5.5}


def motor() -> Mesh:
    """A stepped block, 40 x 30 x 16 mm, with a level shaft of 6 mm and an upright pin of 4 mm."""
    block = trimesh.creation.box(bounds=[[0, 0, 0], [40, 30, HEIGHTS_MM["step"]]])
    tower = trimesh.creation.box(bounds=[[0, 0, 0], [20, 30, 16]])
    shaft = trimesh.creation.cylinder(3.0, 25.0, sections=48)
    shaft.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0]))
    shaft.apply_translation([50, 15, HEIGHTS_MM["shaft"]])
    pin = trimesh.creation.cylinder(2.0, 4.0, sections=48)
    pin.apply_translation([30, 8, 10.5])  # its top at 12.5 mm is too small to matter
    body = trimesh.boolean.union([block, tower, shaft, pin])
    return Mesh(np.asarray(body.vertices), np.asarray(body.faces, np.int32))


MOTOR = motor()


def heights(*parts: PartSpec, pull: str = "+z") -> list[float]:
    return list(landmark_heights(lambda key: MOTOR, parts, pull))  # type: ignore[arg-type]  # a pull's name


def part(**changes: object) -> PartSpec:
    return PartSpec(name="motor", mesh_key="m", **changes)  # type: ignore[arg-type]  # fields of the model


def test_the_level_shaft_and_the_large_step_catch_and_nothing_else() -> None:
    assert heights(part()) == pytest.approx([5.5, 9.0], abs=1e-3)


def test_upside_down_they_are_counted_from_the_other_end() -> None:
    assert heights(part(), pull="-z") == pytest.approx([16 - 9.0, 16 - 5.5], abs=1e-3)


def test_along_the_shaft_its_axis_is_upright_and_only_flats_and_the_pin_are_left() -> None:
    # +x up: the tower's side at 20 mm, the pin's axis at 30 mm, the block's end at 40 mm of 62.5 mm.
    assert heights(part(), pull="+x") == pytest.approx([20.0, 30.0, 40.0], abs=1e-3)


def test_unit_and_placement_count() -> None:
    """In inches (25.4 mm, 1959 agreement), turned so that the file's Y is up."""
    quarter = trimesh.transformations.rotation_matrix(-np.pi / 2, [1, 0, 0])
    inches = heights(part(unit="inch", unit_origin="given", placement=as_matrix(quarter)), pull="-y")
    # Turned by -90 degrees about X the file's +Z lies along +Y; pulled along -y it is upside down.
    assert inches == pytest.approx([(16 - 9.0) * 25.4, (16 - 5.5) * 25.4], abs=1e-2)


def test_the_lowest_part_is_the_ground_of_all() -> None:
    up = np.eye(4)
    up[:3, 3] = [100, 0, 20]
    both = heights(part(), PartSpec(name="second", mesh_key="m", placement=as_matrix(up)))
    # The first motor's, then its top at 16, then the second's bottom at 20 and its own 5.5 and 9 above that.
    assert both == pytest.approx([5.5, 9.0, 16.0, 20.0, 25.5, 29.0], abs=1e-3)


def test_a_part_too_fine_to_search_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(landmarks, "MAX_TRIANGLES", 10)
    assert heights(part()) == []


def test_the_largest_are_kept_when_there_are_many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(landmarks, "MOST", 1)
    assert heights(part()) == pytest.approx([9.0], abs=1e-3)  # 600 mm2 of step against 377 mm2 of shaft
