"""Where parts lie: boxes and extents of placed parts, and the rigid maps that move them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import ArrayLike

from housingdesk.errors import SpecError
from housingdesk.geometry.frames import PullDirection, pull_rotation
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.spec.models import Matrix, PartSpec

Meshes = Mapping[str, Mesh]


def part_to_assembly(part: PartSpec) -> Floats:
    """Return the (4, 4) map from file units to the assembly frame, mm."""
    return np.reshape(part.placement, (4, 4)) @ np.diag([part.scale_mm] * 3 + [1.0])


def as_matrix(array: ArrayLike) -> Matrix:
    """Return a (4, 4) array as the 16 row-major numbers that a spec holds.

    Raises
    ------
    SpecError
        The map is not rigid: it would bend, mirror or grow the part.
    """
    m = np.asarray(array, float).reshape(4, 4)
    turn = m[:3, :3]
    rigid = np.allclose(turn @ turn.T, np.eye(3), rtol=0, atol=1e-6) and np.linalg.det(turn) > 0
    if not (np.isfinite(m).all() and rigid and np.array_equal(m[3], [0, 0, 0, 1])):
        raise SpecError("A part can only be turned and moved; give a placement without stretch or mirror.")
    # Rounded far below any printer, so that four quarter turns give the first placement and its cached build.
    return tuple(float(v) + 0.0 for v in np.round(m, 12).ravel())


def moved_by(offset_mm: ArrayLike) -> Floats:
    """Return the (4, 4) map that shifts by a (3,) offset, mm."""
    out = np.eye(4)
    out[:3, 3] = offset_mm
    return out


def turned_about(turn: Floats, point_mm: Floats) -> Floats:
    """Return the (4, 4) map that applies a rotation about a (3,) point instead of the origin."""
    return moved_by(point_mm) @ turn @ moved_by(-np.asarray(point_mm))


def pull_axis(pull: PullDirection) -> Floats:
    """Return the (3,) unit vector of a pull direction in the assembly frame."""
    return pull_rotation(pull)[2, :3].copy()


def box_mm(parts: Iterable[PartSpec], meshes: Meshes, pull: PullDirection = "+z") -> Floats:
    """Return the (2, 3) corners of the box round placed parts, in the assembly frame turned to the pull.

    Raises
    ------
    SpecError
        A part's mesh is not at hand.
    """
    boxes = [_box_of(part, meshes, pull) for part in parts]
    return np.array([np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0)])


def height_mm(parts: Iterable[PartSpec], meshes: Meshes, pull: PullDirection) -> float:
    """Return how high the placed parts are along the pull, mm; the parting plane lies within."""
    low, high = box_mm(parts, meshes, pull)[:, 2]
    return float(high - low)


def _box_of(part: PartSpec, meshes: Meshes, pull: PullDirection) -> Floats:
    mesh = meshes.get(part.mesh_key)
    if mesh is None:
        raise SpecError(f"The form of {part.name} is missing from this project; add the part's file again.")
    # A mask and not np.unique: ten times quicker on a million triangles, and this runs during drags.
    used = np.zeros(len(mesh.vertices), bool)
    used[mesh.faces.ravel()] = True
    to_pull = pull_rotation(pull) @ part_to_assembly(part)
    points = mesh.vertices[used] @ to_pull[:3, :3].T + to_pull[:3, 3]
    return np.array([points.min(axis=0), points.max(axis=0)])
