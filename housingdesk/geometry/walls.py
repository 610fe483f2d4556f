"""How much material stands between a cavity and the outside of its shell, measured on the finished half.

The surface of a half is sorted into *outside* (triangles in a plane of the shell), *parting face* and
*cavity* (all the rest).  The wall of one side is the least distance of the cavity to that side's plane, taken
where the cavity faces it: where the outward normal of the half points away from the side by 60 degrees or
less.  What stands out of the shell's box (ears, feet) and what lies in boxes set apart (screws, which are
measured for themselves) is none of these.  Distance to a plane is linear, so its least value over a triangle
is at a corner and the figure is exact.  Where the cavity's rim lies in the plane itself there is an
opening: no wall is measured there, the opening is reported instead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from housingdesk.geometry.edges import Flags, edges_of
from housingdesk.geometry.types import Floats, Mesh

IN_PLANE_MM = 0.005  # what lies this near a plane of the shell counts as in it
_FACING = -0.5  # cosine of 120 degrees

Plane = tuple[int, int]  # axis 0, 1, 2 and end 0 (least) or 1 (greatest) of the shell


@dataclass(frozen=True, slots=True)
class Opening:
    """A hole in one side of a half.

    Attributes
    ----------
    plane : the side it is in.
    low_mm, high_mm : (3,) corners of the rectangle around its rim.
    """

    plane: Plane
    low_mm: Floats
    high_mm: Floats

    @property
    def size_mm(self) -> tuple[float, float]:
        """Extent along the two axes of the side, in the order x, y, z."""
        first, second = np.delete(self.high_mm - self.low_mm, self.plane[0]).tolist()
        return first, second

    @property
    def centre_mm(self) -> Floats:
        """(3,) middle of the rectangle."""
        middle: Floats = (self.low_mm + self.high_mm) / 2
        return middle

    def covers(self, points: Floats, margin_mm: float) -> Flags:
        """Tell which (n, 3) points lie in front of the rectangle or at most ``margin_mm`` beside it."""
        near = (points >= self.low_mm - margin_mm) & (points <= self.high_mm + margin_mm)
        return np.asarray(np.all(np.delete(near, self.plane[0], axis=1), axis=1))


@dataclass(frozen=True, slots=True)
class Wall:
    """Least material on one side of a half; infinite where no cavity faces the side."""

    plane: Plane
    least_mm: float
    at_mm: Floats


@dataclass(frozen=True, slots=True)
class Shell:
    """The walls and openings of one half, and how much flat outside it has below or above, mm2."""

    walls: tuple[Wall, ...]
    openings: tuple[Opening, ...]
    flat_mm2: float


def shell_of(
    half: Mesh,
    outer_mm: Floats,
    parting_z_mm: float,
    *,
    upper: bool,
    margin_mm: float,
    apart: Sequence[Floats] = (),
) -> Shell:
    """Measure the walls of a finished half.

    Parameters
    ----------
    outer_mm : (2, 3) corners of the whole shell.
    upper : whether the half lies above the parting plane; it then has a roof in place of a floor.
    margin_mm : so near an opening no wall is measured, for there the cavity runs out to nothing.
    apart : boxes, each (2, 3), in which no surface counts as the cavity's.
    """
    edges = edges_of(half.vertices, half.faces)
    v, faces = edges.vertices, edges.faces
    planes: list[Plane] = [(axis, end) for axis in (0, 1) for end in (0, 1)] + [(2, int(upper))]
    corners_in = {p: np.abs(v[:, p[0]] - outer_mm[p[1], p[0]]) <= IN_PLANE_MM for p in planes}
    in_plane = {p: corners_in[p][faces].all(axis=1) for p in planes}
    parting = (np.abs(v[:, 2] - parting_z_mm) <= IN_PLANE_MM)[faces].all(axis=1)
    boxed = [_within(v, box[0] - IN_PLANE_MM, box[1] + IN_PLANE_MM)[faces].all(axis=1) for box in apart]
    outside = ~_within(v, outer_mm[0] - IN_PLANE_MM, outer_mm[1] + IN_PLANE_MM)[faces].all(axis=1)
    cavity = ~np.logical_or.reduce([parting, outside, *in_plane.values(), *boxed])
    a, b, c = (v[faces[:, i]] for i in range(3))
    cross = np.cross(b - a, c - a)
    doubled = np.linalg.norm(cross, axis=1)
    normal = cross / np.maximum(doubled, 1e-300)[:, None]
    walls, openings = [], []
    for plane in planes:
        axis, end = plane
        holes = _openings(plane, v, faces[cavity], corners_in[plane])
        facing = cavity & (normal[:, axis] * (2 * end - 1) <= _FACING)
        points = v[np.unique(faces[facing])]
        for hole in holes:
            points = points[~hole.covers(points, margin_mm)]
        away = np.abs(points[:, axis] - outer_mm[end, axis])
        least = int(away.argmin()) if len(away) else -1
        walls.append(
            Wall(plane, float(away[least]), points[least]) if len(away) else Wall(plane, np.inf, v[0])
        )
        openings.extend(holes)
    flat = float(doubled[in_plane[planes[-1]]].sum() / 2)
    return Shell(tuple(walls), tuple(openings), flat)


def _within(points: Floats, low_mm: Floats, high_mm: Floats) -> Flags:
    """Tell which (n, 3) points lie in a box."""
    return np.asarray(((points >= low_mm) & (points <= high_mm)).all(axis=1))


def _openings(plane: Plane, vertices: Floats, cavity: np.ndarray, in_plane: Flags) -> list[Opening]:
    """Return a rectangle around each connected rim that cavity triangles have in a plane."""
    starts, ends = cavity.reshape(-1), cavity[:, [1, 2, 0]].reshape(-1)
    rim = in_plane[starts] & in_plane[ends]
    starts, ends = starts[rim], ends[rim]
    if not len(starts):
        return []
    n = len(vertices)
    _, label = connected_components(coo_array((np.ones(len(starts)), (starts, ends)), shape=(n, n)))
    out = []
    for one in np.unique(label[starts]):
        points = vertices[np.unique(np.concatenate([starts, ends])[np.tile(label[starts] == one, 2)])]
        out.append(Opening(plane, points.min(axis=0), points.max(axis=0)))
    return out
