"""How much material stands between a cavity and the outside of its shell, measured on the finished half.

The surface of a half is sorted into *outside*, *cavity* and *the rest*: the parting face, and what screws,
marks and other features have made, which are judged for themselves.  The wall of one side is the least
distance between the outside that is turned to it and the cavity, taken from every corner of the outside to
the cavity, and from every corner of the cavity that faces the side (within 60 degrees) to the outside.
Between faces that are flat or bulge outward it is at a corner of the cavity, and where the outside has dents
at a corner of the outside, so the figure is exact but for edges that cross in mid-air.  Where cavity and
outside meet in an edge there is an opening: no wall is measured there, the opening is reported instead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from housingdesk.geometry.edges import Flags
from housingdesk.geometry.measure import nearest
from housingdesk.geometry.types import Floats, Ints, Mesh
from housingdesk.geometry.weld import same_points

IN_PLANE_MM = 0.005  # what lies this near a plane of the shell counts as in it
RIM_SLACK_MM = 0.01  # so far beyond a box a rim may reach and still lie in it
REST, OUTSIDE, CAVITY = 0, 1, 2
_LEVEL, _STEEP = 0.35, 0.9  # rise (sine) of a wall's direction: below it is a side wall, above floor or roof
_FACING = -0.5  # cosine of 120 degrees
_ASIDE = 0.05  # cosine beyond which a face is turned to a side at all

Plane = tuple[int, int]  # axis 0, 1, 2 and end 0 (least) or 1 (greatest) of the shell


@dataclass(frozen=True, slots=True)
class Opening:
    """A hole in one side of a half.

    Attributes
    ----------
    plane : the side it is in, or most of it.
    planes : all sides that it cuts into, as where a slanting shaft goes out through an edge.
    low_mm, high_mm : (3,) corners of the rectangle around its rim.
    """

    plane: Plane
    low_mm: Floats
    high_mm: Floats
    planes: frozenset[Plane] = frozenset()

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

    def cuts(self, plane: Plane) -> bool:
        """Tell whether it is in a side, be it a part of it."""
        return plane == self.plane or plane in self.planes

    def lies_in(self, box: Floats) -> bool:
        """Tell whether all of the rim lies in a (2, 3) box."""
        low, high = box[0] - RIM_SLACK_MM, box[1] + RIM_SLACK_MM
        return bool(((self.low_mm >= low) & (self.high_mm <= high)).all())

    def before(self, points: Floats, plane: Plane) -> Flags:
        """Tell which (n, 3) points lie further out than all of the rim, as seen from a side."""
        axis, end = plane
        rim, out = (self.high_mm, 1.0) if end else (self.low_mm, -1.0)
        return np.asarray(out * (points[:, axis] - rim[axis]) > IN_PLANE_MM)

    def covers(self, points: Floats, margin_mm: float, plane: Plane | None = None) -> Flags:
        """Tell which (n, 3) points lie in front of the rectangle or at most ``margin_mm`` beside it.

        ``plane`` is the side to look from, its own by default.
        """
        axis, _ = plane or self.plane
        near = (points >= self.low_mm - margin_mm) & (points <= self.high_mm + margin_mm)
        return np.asarray(np.all(np.delete(near, axis, axis=1), axis=1))


@dataclass(frozen=True, slots=True)
class Wall:
    """Least material on one side of a half; infinite where no cavity faces the side.

    ``slanted`` is told apart: walls that face neither a side nor the floor (roof), behind broken edges.
    """

    plane: Plane
    least_mm: float
    at_mm: Floats
    slanted: bool = False


@dataclass(frozen=True, slots=True)
class Shell:
    """The walls and openings of one half, and how much flat outside it has below or above, mm2.

    The last wall is the floor or the roof.
    """

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
    skin: Ints | None = None,
    meant: Sequence[Floats] = (),
) -> Shell:
    """Measure the walls of a finished half.

    Parameters
    ----------
    outer_mm : (2, 3) corners of the whole shell.
    upper : whether the half lies above the parting plane; it then has a roof in place of a floor.
    margin_mm : so near an opening no wall is measured, for there the cavity runs out to nothing.
    skin : for each triangle OUTSIDE, CAVITY or REST; None takes the shell for a box and sorts by its planes.
    apart : boxes, each (2, 3), in which no surface counts as the cavity's where the shell is a box.
    meant : boxes of holes cut on purpose, square to the wall: it is as thick as ever right beside them, so
        only what lies in the hole itself is left out.
    """
    first, number = same_points(half.vertices)
    v, faces = half.vertices[first], number[half.faces].reshape(-1, 3)
    if skin is None:
        skin = skin_of_box(v, faces, outer_mm, parting_z_mm, apart)
    openings = _openings(v, faces, skin)
    floor: Plane = (2, int(upper))
    normals = _normals(v, faces)
    sides: list[tuple[Plane, bool]] = [((axis, end), False) for axis in (0, 1) for end in (0, 1)]
    cavity = Mesh(v, faces[skin == CAVITY])
    walls = []
    for plane, slanted in [*sides, (floor, True), (floor, False)]:
        outer = faces[(skin == OUTSIDE) & _turned_to(plane, normals, slanted=slanted)]
        inner = faces[(skin == CAVITY) & _facing(plane, normals, slanted=slanted)]
        holes = [(h, h.plane if slanted else plane) for h in openings if slanted or h.cuts(plane)]
        least, at = _least(Mesh(v, outer), inner, cavity, holes, margin_mm, meant)
        walls.append(Wall(plane, least, at, slanted))
    return Shell(tuple(walls), tuple(openings), _flat_mm2(v, faces, upper=upper))


def skin_of_box(
    v: Floats, faces: NDArray[np.int64], outer_mm: Floats, parting_z_mm: float, apart: Sequence[Floats] = ()
) -> Ints:
    """Sort the triangles of a half of a box by the planes they lie in; see ``shell_of``.

    What stands out of the box and what lies in the boxes set apart counts as the rest.
    """
    in_plane = [
        (np.abs(v[:, axis] - outer_mm[end, axis]) <= IN_PLANE_MM)[faces].all(axis=1)
        for axis in range(3)
        for end in (0, 1)
    ]
    parting = (np.abs(v[:, 2] - parting_z_mm) <= IN_PLANE_MM)[faces].all(axis=1)
    boxed = [_within(v, box[0] - IN_PLANE_MM, box[1] + IN_PLANE_MM)[faces].all(axis=1) for box in apart]
    beyond = ~_within(v, outer_mm[0] - IN_PLANE_MM, outer_mm[1] + IN_PLANE_MM)[faces].all(axis=1)
    skin = np.full(len(faces), CAVITY, np.int32)
    skin[np.logical_or.reduce([parting, beyond, *boxed])] = REST
    skin[np.logical_or.reduce(in_plane)] = OUTSIDE
    return skin


def _within(points: Floats, low_mm: Floats, high_mm: Floats) -> Flags:
    """Tell which (n, 3) points lie in a box."""
    return np.asarray(((points >= low_mm) & (points <= high_mm)).all(axis=1))


def _turned_to(plane: Plane, normals: Floats, *, slanted: bool) -> Flags:
    """Tell which outside triangles belong to a side, by their (m, 3) normals."""
    axis, end = plane
    toward, rise = normals[:, axis] * (2 * end - 1), np.abs(normals[:, 2])
    if slanted:
        return np.asarray((rise > _LEVEL) & (rise < _STEEP))
    if axis == 2:
        return np.asarray(toward >= _STEEP)
    # A tie goes to x, so that every triangle has one side.
    wins = toward >= np.abs(normals[:, 1]) if axis == 0 else toward > np.abs(normals[:, 0])
    return np.asarray(wins & (rise <= _LEVEL))


def _facing(plane: Plane, normals: Floats, *, slanted: bool) -> Flags:
    """Tell which cavity triangles may be the inner face of a side's wall."""
    axis, end = plane
    return np.ones(len(normals), bool) if slanted else normals[:, axis] * (2 * end - 1) <= _FACING


def _least(
    outer: Mesh,
    facing: NDArray[np.int64],
    cavity: Mesh,
    openings: Sequence[tuple[Opening, Plane]],
    margin_mm: float,
    meant: Sequence[Floats],
) -> tuple[float, Floats]:
    """Return the least distance between one side's outside and the cavity, and where; infinite for none.

    Parameters
    ----------
    facing : triangles of the cavity whose corners are measured.
    openings : each with the side to see it from.  What lies in front of them or ``margin_mm`` beside is left
        out; of one cut on purpose only what lies in its own box or before it, cut from what features have
        added there; beside it the wall is as thick as ever.
    """
    v = cavity.vertices
    if not outer.triangles or not len(facing):
        return np.inf, v[0]
    inner, corners = v[np.unique(facing)], v[np.unique(outer.faces)]
    back, at_inner, _ = nearest(corners, cavity)
    away = np.concatenate([nearest(inner, outer)[0], back])
    at = np.concatenate([inner, at_inner])
    for hole, plane in openings:
        own = next((box for box in meant if hole.lies_in(box)), None)
        if own is None:
            clear = ~hole.covers(at, margin_mm, plane)
        else:
            clear = ~_within(at, own[0] - RIM_SLACK_MM, own[1] + RIM_SLACK_MM) & ~hole.before(at, plane)
        away, at = away[clear], at[clear]
    if not len(away):
        return np.inf, v[0]
    least = int(away.argmin())
    return float(away[least]), at[least]


def _normals(v: Floats, faces: NDArray[np.signedinteger]) -> Floats:
    """Return (m, 3) unit normals; zero for a triangle of no area."""
    cross = np.cross(v[faces[:, 1]] - v[faces[:, 0]], v[faces[:, 2]] - v[faces[:, 0]])
    unit: Floats = cross / np.maximum(np.linalg.norm(cross, axis=1), 1e-300)[:, None]
    return unit


def _flat_mm2(v: Floats, faces: NDArray[np.int64], *, upper: bool) -> float:
    """Return the area that lies in the half's lowest plane, or its highest."""
    z = v[np.unique(faces), 2]
    base = z.max() if upper else z.min()
    flat = faces[(np.abs(v[:, 2] - base) <= IN_PLANE_MM)[faces].all(axis=1)]
    cross = np.cross(v[flat[:, 1]] - v[flat[:, 0]], v[flat[:, 2]] - v[flat[:, 0]])
    return float(np.linalg.norm(cross, axis=1).sum() / 2)


def _openings(v: Floats, faces: NDArray[np.int64], skin: Ints) -> list[Opening]:
    """Return each rim of the cavity at the outside, by the side that the outside faces there.

    Where something that features have added stands at an opening, the rim goes on over it: what of the
    cavity's edge faces the same side, no further in than the outside and next to the rim, belongs to it.
    """
    n = len(v)
    outside, cavity, rest = (_edge_keys(faces[skin == kind], n) for kind in (OUTSIDE, CAVITY, REST))
    normals, border = _normals(v, faces), faces[skin == OUTSIDE]
    out = []
    for rim in _rims(np.intersect1d(outside, cavity), n):
        on_rim = np.zeros(n, bool)
        on_rim[rim] = True
        toward = normals[skin == OUTSIDE][on_rim[border].sum(axis=1) >= 2]
        rise = np.abs(toward[:, 2])
        sides = frozenset(_foremost(row) for row in toward[(rise <= _LEVEL) | (rise >= _STEEP)])
        out.append(Opening(_foremost(toward.sum(axis=0)), v[rim].min(axis=0), v[rim].max(axis=0), sides))
    added = np.intersect1d(rest, cavity)
    for plane in {o.plane for o in out}:
        facing = (skin == REST) & (normals[:, plane[0]] * (2 * plane[1] - 1) > _ASIDE)
        for rim in _rims(np.intersect1d(added, _edge_keys(faces[facing], n)), n):
            more = Opening(plane, v[rim].min(axis=0), v[rim].max(axis=0))
            out = [_joined(o, more) if o.plane == plane and _goes_on(o, more) else o for o in out]
    return out


def _foremost(direction: Floats) -> Plane:
    """Return the side that a direction points to most."""
    axis = int(np.abs(direction).argmax())
    return axis, int(direction[axis] > 0)


def _rims(edges: NDArray[np.int64], n: int) -> list[NDArray[np.intp]]:
    """Return the points of each connected line of edges, see ``_edge_keys``."""
    if not len(edges):
        return []
    ends = np.column_stack([edges // n, edges % n])
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(n, n))
    label = connected_components(graph, directed=False)[1]
    points = np.unique(ends)
    return [points[label[points] == one] for one in np.unique(label[points])]


def _goes_on(rim: Opening, more: Opening) -> bool:
    """Tell whether a line beside a rim belongs to it: next to it, and nowhere further in."""
    axis, end = rim.plane
    if end and more.low_mm[axis] < rim.low_mm[axis] - IN_PLANE_MM:
        return False
    if not end and more.high_mm[axis] > rim.high_mm[axis] + IN_PLANE_MM:
        return False
    touches = (more.low_mm <= rim.high_mm + IN_PLANE_MM) & (more.high_mm >= rim.low_mm - IN_PLANE_MM)
    return bool(np.delete(touches, axis).all())


def _joined(one: Opening, other: Opening) -> Opening:
    """Return the opening that both rims are of, in the outside that the first one lies in."""
    low, high = np.minimum(one.low_mm, other.low_mm), np.maximum(one.high_mm, other.high_mm)
    axis = one.plane[0]
    low[axis], high[axis] = one.low_mm[axis], one.high_mm[axis]
    return Opening(one.plane, low, high, one.planes | other.planes)


def _edge_keys(faces: NDArray[np.int64], n: int) -> NDArray[np.int64]:
    """Return one number for each edge of triangles among ``n`` points, the same for both directions."""
    starts, ends = faces.reshape(-1), faces[:, [1, 2, 0]].reshape(-1)
    return np.asarray(np.minimum(starts, ends) * n + np.maximum(starts, ends), np.int64)
