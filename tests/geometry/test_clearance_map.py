"""The clearance map against closed forms, and its division against trimesh."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.geometry.clearance_map import cavity_of, clearance_map
from housingdesk.geometry.types import Mesh
from tests.proof.halves import boxed, mesh


def ball(radius: float, at: tuple[float, float, float] = (0, 0, 0)) -> Mesh:
    body = trimesh.creation.icosphere(subdivisions=5, radius=radius)
    body.apply_translation(at)
    return Mesh(body.vertices, body.faces)


def test_a_ball_off_the_middle_of_a_ball() -> None:
    # closed form: a point p of the inner ball is R - |p - c| from the outer one
    outer_at = np.array([0.3, -0.2, 0.1])
    found = clearance_map(ball(5.0), [ball(6.0, tuple(outer_at))])
    wanted = 6.0 - np.linalg.norm(found.vertices - outer_at, axis=1)
    assert found.distance_mm == pytest.approx(wanted, abs=0.006)  # sagitta of both icospheres
    least, median, most = found.figures_mm
    off = float(np.linalg.norm(outer_at))
    assert (least, most) == pytest.approx((1 - off, 1 + off), abs=0.01)
    # The cosine between p and c is evenly spread on a ball, so the median is where they are square.
    assert median == pytest.approx(6 - np.hypot(5, off), abs=0.006)


def test_a_block_in_a_block() -> None:
    housing = boxed(1.0)
    found = clearance_map(housing.parts[0], list(housing.halves.values()))
    assert found.figures_mm == pytest.approx((1, 1, 1), abs=1e-6)
    cavity = cavity_of(
        list(housing.halves.values()), mesh(trimesh.creation.box(bounds=housing.outer_mm)), 7.0
    )
    # the cavity of 22 x 32 x 17 mm: five sides of each half
    area = trimesh.Trimesh(cavity.vertices, cavity.faces, process=False).area
    assert area == pytest.approx(2 * (22 * 32 + 22 * 17 + 32 * 17), rel=1e-6)
    seen = clearance_map(cavity, housing.parts)
    least, median, most = seen.figures_mm
    assert least == pytest.approx(1, abs=1e-6)
    assert median == pytest.approx(1, abs=1e-6)
    assert most == pytest.approx(np.sqrt(3), abs=1e-6)  # a corner of the cavity to the block's corner


@pytest.mark.parametrize("fine", [0.7, 3.0])
def test_division_keeps_the_surface_closed_and_its_area(fine: float) -> None:
    body = trimesh.creation.box((20, 10, 5)).subdivide_to_size(9.0)
    given = Mesh(body.vertices, body.faces)
    found = clearance_map(given, [ball(50.0)], fine_mm=fine)
    divided = trimesh.Trimesh(found.vertices, found.faces, process=True)
    assert divided.is_watertight
    assert divided.area == pytest.approx(body.area, rel=1e-9)
    assert divided.edges_unique_length.max() <= fine
    normals = trimesh.Trimesh(found.vertices, found.faces, process=False).face_normals
    assert np.einsum("ij,ij->i", normals, body.face_normals[found.source]).min() == pytest.approx(1)


def test_division_stops_at_the_most_points() -> None:
    found = clearance_map(ball(5.0), [ball(6.0)], fine_mm=0.01, most_points=50_000)
    assert 10_000 < len(found.vertices) <= 50_000
