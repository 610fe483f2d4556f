"""Measuring finished bodies: least gaps, gaps on the way in, points inside.

These measures share nothing with the engine: distances of points are libigl's exact point-to-triangle
distances, those of stretches a closed form (``ridges``), and inside is an exact winding number (``rays``).
A part may be open, flipped or overlapping: only distances to it are taken, and whether its points lie
inside a half, which is closed.

*Why the least gap is exact.*  Two triangle surfaces that do not cross are closest at a corner of one of
them or at two crossing edges; for the latter the edge of the half must be a ridge, since in a valley or
on a flat both neighbours can be moved nearer.  So all corners of both are measured, and every ridge of
the half against every triangle of the part that its least distance so far allows (``ridges``, closed
form).  Surfaces that cross do so at a corner inside the half, at a ridge of the half, or at an edge of
the part; the last are looked at in the same way.
"""

from __future__ import annotations

import weakref
from dataclasses import dataclass
from functools import cached_property

import igl
import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.edges import Edges, Flags, bend, edges_of
from housingdesk.geometry.rays import Rays
from housingdesk.geometry.ridges import Ridges
from housingdesk.geometry.types import Floats, Mesh

_UPRIGHT_MM = 1e-6  # a triangle leaning less than this counts as standing upright
FLAT_MM = 1e-4  # edges that stand out less than this are taken as flat; the least gap may be off by as much
TOUCH_MM = 0.005  # a point less deep in the material than this only touches it
_WAY_WITNESSES = 400  # enough: what no surface of the path meets could only be a loose crumb


class _Surface:
    """A mesh made ready for many measurements."""

    def __init__(self, mesh: Mesh) -> None:
        self._vertices = np.array(mesh.vertices)
        self._faces = mesh.faces.astype(np.int64)

    @cached_property
    def _tree(self) -> igl.AABB:
        tree = igl.AABB()
        tree.init(self._vertices, self._faces)
        return tree

    @cached_property
    def edges(self) -> Edges:
        """Edge table, welded."""
        return edges_of(self._vertices, self._faces)

    def nearest(self, points: Floats) -> tuple[Floats, Floats]:
        """Return (n,) distances and the (n, 3) nearest points of the surface."""
        away, at, _ = self.nearest_faces(points)
        return away, at

    def nearest_faces(self, points: Floats) -> tuple[Floats, Floats, NDArray[np.int64]]:
        """Return (n,) distances, the (n, 3) nearest points of the surface and the (n,) faces they are on."""
        if not len(points):
            return np.zeros(0), np.zeros((0, 3)), np.zeros(0, np.int64)
        squared, face, at = self._tree.squared_distance(
            self._vertices, self._faces, np.ascontiguousarray(points, np.float64)
        )
        away = np.sqrt(np.asarray(squared, np.float64).reshape(-1))
        return away, np.asarray(at).reshape(-1, 3), np.asarray(face, np.int64).reshape(-1)

    @cached_property
    def rays(self) -> Rays:
        """The surface made ready for winding numbers."""
        return Rays(self._vertices[self._faces])

    @cached_property
    def ridges(self) -> Ridges:
        """The surface made ready for distances of stretches."""
        return Ridges(self.edges.vertices[self.edges.faces])


_surfaces: weakref.WeakKeyDictionary[Mesh, _Surface] = weakref.WeakKeyDictionary()


def _surface(mesh: Mesh) -> _Surface:
    """Return the prepared surface of a mesh, kept as long as the mesh itself lives."""
    found = _surfaces.get(mesh)
    if found is None:
        found = _surfaces[mesh] = _Surface(mesh)
    return found


@dataclass(frozen=True, slots=True)
class Gap:
    """A least distance and where it was met.

    Attributes
    ----------
    distance_mm : least distance found; 0 where the surfaces cross or touch.
    at_part_mm, at_half_mm : the two points so far apart, on the part and on the half.
    short_by_mm : the true least distance is at most this much smaller.
    """

    distance_mm: float
    at_part_mm: tuple[float, float, float]
    at_half_mm: tuple[float, float, float]
    short_by_mm: float

    @property
    def certain_mm(self) -> float:
        """The least distance is surely not below this."""
        return max(self.distance_mm - self.short_by_mm, 0.0)


def distances(points: Floats, mesh: Mesh) -> Floats:
    """Return the exact unsigned distance of (n, 3) points to a mesh's surface, (n,) mm."""
    return _surface(mesh).nearest(points)[0]


def nearest(points: Floats, mesh: Mesh) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Return for (n, 3) points their exact distance, nearest point and nearest face of a mesh's surface."""
    return _surface(mesh).nearest_faces(points)


def first_met(tris: Floats, starts: Floats, direction: Floats) -> tuple[NDArray[np.int64], Floats]:
    """Return which of (m, 3, 3) triangles rays one way from (n, 3) places meet first, and how far away, mm.

    A ray that meets none has -1, and infinitely far.
    """
    corners, faces = tris.reshape(-1, 3), np.arange(3 * len(tris)).reshape(-1, 3)
    met, away = np.full(len(starts), -1, np.int64), np.full(len(starts), np.inf)
    for i, start in enumerate(starts):
        hits = igl.ray_mesh_intersect(start, direction, corners, faces)
        if hits:  # each begins with the face; what follows in which order is not as the library tells it
            a, b, c = tris[[hit[0] for hit in hits]].transpose(1, 0, 2)
            normal = np.cross(b - a, c - a)
            far = np.einsum("ij,ij->i", normal, a - start) / (normal @ direction)
            met[i], away[i] = hits[int(far.argmin())][0], far.min()
    return met, away


def inside(points: Floats, closed: Mesh) -> Flags:
    """Tell which of (n, 3) points lie inside a closed mesh; unreliable for an open or flipped one."""
    low, high = closed.bounds
    near = np.all((points > low) & (points < high), axis=1)
    out = np.zeros(len(points), bool)
    out[near] = _surface(closed).rays.winding(np.asarray(points, np.float64)[near]) > 0
    return out


def samples(mesh: Mesh, n: int, seed: int) -> Floats:
    """Return ``n`` points evenly strewn over a mesh's surface, (n, 3) mm; none for a mesh of no area."""
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    area = np.cumsum(np.linalg.norm(np.cross(b - a, c - a), axis=1))
    if not len(area) or area[-1] <= 0:
        return np.zeros((0, 3))
    random = np.random.default_rng(seed)
    pick = np.searchsorted(area, random.random(n) * area[-1], side="right")
    # Square-root warp: Osada et al., "Shape distributions", ACM TOG 21 (2002), eq. 1.
    r, s = np.sqrt(random.random((n, 1))), random.random((n, 1))
    points: Floats = (1 - r) * a[pick] + r * (1 - s) * b[pick] + r * s * c[pick]
    return points


def _triple(point: Floats) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return x, y, z


def least_gap(part: Mesh, half: Mesh, *, tolerance_mm: float = 0.002) -> Gap:
    """Return the least distance between the surface of a part and that of a half.

    Parameters
    ----------
    part : the untouched part; may be open, flipped, overlapping.
    half : the finished half, closed and facing outward.
    tolerance_mm : what is no further apart than this touches.

    Returns
    -------
    The gap; 0 where the surfaces cross.  A part wholly inside the material has a distance too: ask `inside`.
    """
    parts, halves = _surface(part), _surface(half)
    mine, theirs = halves.edges, parts.edges
    least, at_part, at_half = np.inf, np.full(3, np.nan), np.full(3, np.nan)
    away, nearest_ = parts.nearest(mine.vertices)
    if len(away):
        i = int(away.argmin())
        least, at_part, at_half = float(away[i]), nearest_[i], mine.vertices[i]
    corners = halves.ridges.nearest(theirs.vertices, theirs.vertices, least)
    if corners:
        least, at_part, at_half = corners
    ridge = mine.vertices[mine.ends[~mine.simple | (bend(mine) < -FLAT_MM)]]
    crossing = parts.ridges.nearest(ridge[:, 0], ridge[:, 1], least)
    if crossing:
        least, at_half, at_part = crossing
    # Edges of the part matter only where they pierce the half.
    sharp = theirs.vertices[theirs.ends[np.abs(bend(theirs)) > FLAT_MM]]
    piercing = halves.ridges.nearest(sharp[:, 0], sharp[:, 1], min(least, tolerance_mm))
    if piercing:
        least, at_part, at_half = piercing
    if least <= tolerance_mm:
        least = 0.0
    return Gap(least, _triple(at_part), _triple(at_half), min(FLAT_MM, least))


def path(part: Mesh, direction: int, reach_mm: float) -> Mesh:
    """Return the surface of the space a part passes through on its way in or out.

    That space is bordered by the part itself and by walls drawn by its outline seen along z: the edges whose
    two triangles lie on one side of the wall, and those where not exactly two triangles meet.  The far end
    is left open: the part's place there is not included.

    Parameters
    ----------
    direction : +1 where the part comes from above (lower half), -1 from below (upper half).
    reach_mm : length of the way, mm.
    """
    edges = _surface(part).edges
    a, b = edges.vertices[edges.ends[:, 0]], edges.vertices[edges.ends[:, 1]]
    along = b - a
    length = np.maximum(np.linalg.norm(along[:, :2], axis=1), 1e-12)

    def far_corner(column: int) -> tuple[Floats, Flags]:
        """Return how far it lies beside the wall, seen along z, and whether it is in the wall and ahead."""
        off = edges.vertices[edges.opposite[:, column]] - a
        beside: Floats = (along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]) / length
        beside = np.where(np.abs(beside) < _UPRIGHT_MM, 0.0, beside)
        share = np.einsum("ij,ij->i", off[:, :2], along[:, :2]) / length**2
        return beside, (beside == 0) & (direction * (off[:, 2] - share * along[:, 2]) > 0)

    (one, one_ahead), (other, other_ahead) = far_corner(0), far_corner(1)
    # An upright triangle ahead of an edge takes the wall's place as far as its own far edges.
    outline = (edges.count != 2) | ((one * other >= 0) & ~one_ahead & ~other_ahead)
    ends = edges.ends[outline & (length > 1e-9)]
    n = len(edges.vertices)
    lifted = edges.vertices + np.array([0.0, 0.0, direction * reach_mm])
    low, high = ends[:, 0], ends[:, 1]
    walls = np.concatenate(
        [np.column_stack([low, high, high + n]), np.column_stack([low, high + n, low + n])]
    )
    used = np.unique(np.concatenate([edges.faces.reshape(-1), walls.reshape(-1)]))
    renumber = np.zeros(2 * n, np.int64)
    renumber[used] = np.arange(len(used))
    vertices = np.concatenate([edges.vertices, lifted])[used]
    return Mesh(vertices, renumber[np.concatenate([edges.faces, walls])].astype(np.int32))


def way_gap(part: Mesh, half: Mesh, direction: int, reach_mm: float, steps: int = 25) -> tuple[Gap, int]:
    """Measure a part's straight way along z into a half.

    Parameters
    ----------
    direction : +1 where the part comes from above (lower half), -1 from below (upper half).
    reach_mm : where the way begins, mm from the seat; the part should be clear of the half there.
    steps : places on the way, the seat included, at which points of the part are tested.

    Returns
    -------
    gap : least distance met anywhere on the way, with the place on the way (not on the seated part).
    hits : part points found more than ``TOUCH_MM`` deep in the half, summed over the steps.
    """
    gap = least_gap(path(part, direction, reach_mm), half)
    points = witnesses(part, _WAY_WITNESSES)
    ways = np.linspace(0.0, direction * reach_mm, steps)
    places = (points[None] + ways[:, None, None] * np.array([0.0, 0.0, 1.0])).reshape(-1, 3)
    hits = places[inside(places, half)]
    return gap, int(np.count_nonzero(distances(hits, half) > TOUCH_MM))


def witnesses(mesh: Mesh, n: int, seed: int = 5) -> Floats:
    """Return about ``2 n`` points of a surface that stand for it all: corners in even steps, and samples."""
    corners = _surface(mesh).edges.vertices
    return np.concatenate([corners[:: max(1, -(-len(corners) // n))], samples(mesh, n, seed)])
