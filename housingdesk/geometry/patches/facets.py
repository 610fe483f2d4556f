"""A mesh as found, made fit for measuring: welded, freed of doubles, turned one way, cut into facets.

A *facet* is a set of adjacent triangles in one plane: a whole flat of a block, or one strip of a coarse
cylinder however many triangles it was cut into.  Its *corners* are the vertices where three facets meet.
On a tessellated cylinder the corners lie on the true surface; every other vertex lies on a chord.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.patches.net import Net
from housingdesk.geometry.patches.sorting import components, numbered, order_of
from housingdesk.geometry.patches.triangles import Index, bends, boxes, off_plane, shapes
from housingdesk.geometry.types import Floats, Mesh

WELD = 5e-7  # of the diagonal: several times what single precision in a file can tell apart
FLATNESS = 5e-6  # of the diagonal: six-digit text files
FLAT_DEG = 0.3  # finer than the steps of any usual cylinder (360 facets: 1 degree)


@dataclass(frozen=True, eq=False)
class Facets:
    """Topology of a mesh in facets.

    Attributes
    ----------
    points : (p, 3) welded vertices, mm, moved so that the mesh lies about the origin.
    origin : (3,) what was taken off the vertices, mm.
    faces : (f, 3) kept triangles, turned outward; ``normals`` (f, 3) unit and ``areas`` (f,) mm2.
    kept_as : (m,) for each triangle of the mesh its row in ``faces``, -1 for one without area.
    label : (f,) facet of each kept triangle; ``count`` facets in all.
    facet_normals (c, 3), facet_areas (c,), facet_centres (c, 3).
    corner_start (c + 1,), corners : vertices that are corners, facet by facet.
    near_start (c + 1,), near, near_deg, near_mm : neighbours of each facet, bend between, shared length.
    rim_mm : (c,) length of each facet's outline; ``tolerance_mm`` what counts as exact here;
        ``diagonal_mm`` of the box about the mesh as found.
    """

    points: Floats
    origin: Floats
    faces: Index
    normals: Floats
    areas: Floats
    kept_as: Index
    label: Index
    count: int
    facet_normals: Floats
    facet_areas: Floats
    facet_centres: Floats
    corner_start: Index
    corners: Index
    near_start: Index
    near: Index
    near_deg: Floats
    near_mm: Floats
    rim_mm: Floats
    tolerance_mm: float
    diagonal_mm: float

    @property
    def net(self) -> Net:
        """What the compiled loops go by."""
        return Net(
            self.points, self.facet_normals, self.facet_areas, self.facet_centres, self.corner_start,
            self.corners, self.near_start, self.near, self.near_deg,
        )  # fmt: skip


def weld(vertices: Floats, tolerance: float) -> tuple[Index, Floats]:
    """Give vertices in one place one number.

    Two grids, shifted by half a cell, so that no pair is parted by a cell border of both.

    Returns
    -------
    number : (n,) new index of each vertex; points : (p, 3).
    """
    joins = []
    low = vertices.min(axis=0) - 0.3183 * tolerance
    for shift in (0.0, 0.5):
        cell = np.floor((vertices - low) / tolerance + shift).astype(np.int64)
        key = (cell[:, 0] << 42) | (cell[:, 1] << 21) | cell[:, 2]
        first, place = numbered(key)
        joins.append(first[place])
    n = len(vertices)
    heads, tails = np.concatenate(joins), np.tile(np.arange(n), 2)
    _, number = components(n, heads, tails)
    points = np.empty((number.max() + 1, 3))
    points[number[::-1]] = vertices[::-1]
    return number, points


def _cleaned(n: int, faces: Index, areas: Floats, longest: Floats, tolerance: float) -> tuple[Index, Index]:
    """Drop triangles without area and all but one of equal ones; ``n`` points.

    Returns
    -------
    rows : triangles kept; kept_as : (m,) position among the kept, -1 for none.
    """
    solid = np.flatnonzero(2 * areas > tolerance * longest)
    order = np.sort(faces[solid], axis=1)
    if n < 2_000_000:  # three indices fit into one 64-bit key
        first, inverse = numbered((order[:, 0] * n + order[:, 1]) * n + order[:, 2])
    else:
        _, first, inverse = np.unique(order, axis=0, return_index=True, return_inverse=True)
    kept_as = np.full(len(faces), -1, np.int64)
    kept_as[solid] = inverse.reshape(-1)
    return solid[first], kept_as


def _pairs(faces: Index, n_points: int) -> tuple[Index, Index, NDArray[np.bool_], Index]:
    """Find the edges with exactly two triangles.

    Returns
    -------
    half (e, 2) half-edge numbers (triangle * 3 + side), ends (e, 2) vertices, alike (e,) True where both
    triangles run along the edge the same way (one is flipped), loose (k, 2) ends of all other edges.
    """
    tail = faces.reshape(-1)
    head = np.roll(faces, -1, axis=1).reshape(-1)
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    key = low * n_points + high
    order = order_of(key)
    new = np.flatnonzero(np.concatenate([[True], np.diff(key[order]) != 0]))
    size = np.diff(np.append(new, len(order)))
    two = new[size == 2]
    half = np.stack([order[two], order[two + 1]], axis=1)
    loose = order[new[size != 2]]
    alike = tail[half[:, 0]] == tail[half[:, 1]]
    return half, np.stack([low, high], 1)[half[:, 0]], alike, np.stack([low, high], 1)[loose]


def _outward(
    points: Floats, faces: Index, normals: Floats, areas: Floats, half: Index, alike: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Tell which triangles must be turned over.

    Every triangle is taken twice, as found and turned; a pair over an edge joins the two that agree.  Of
    the two connected copies of a body the one with more area as found is kept, then turned inside out if
    it encloses a negative volume and does not lie within another (where it may be a void).
    """
    m = len(faces)
    a, b = half[:, 0] // 3, half[:, 1] // 3
    swap = np.where(alike, m, 0)
    _, copy = components(2 * m, np.concatenate([a, a + m]), np.concatenate([b + swap, (b + m - swap)]))
    as_found = np.bincount(copy[:m], areas, copy.max() + 1)
    turn = as_found[copy[:m]] < as_found[copy[m:]] - 1e-9 * areas.sum()
    _, body = components(m, a, b)
    bodies = body.max() + 1
    threefold = np.einsum("ij,ij->i", points[faces[:, 0]], normals) * areas * np.where(turn, -1, 1)
    volume = np.bincount(body, threefold, bodies)
    if not (volume < 0).any():
        return np.asarray(turn)
    low, high = boxes(points, faces, body, bodies)
    over = volume < 0
    for i in np.flatnonzero(over):
        inside = (low <= low[i]).all(1) & (high >= high[i]).all(1)
        over[i] = inside.sum() == 1  # itself alone
    return np.asarray(turn ^ over[body])


def _facet_labels(
    points: Floats,
    faces: Index,
    normals: Floats,
    areas: Floats,
    longest: Floats,
    middles: Floats,
    half: Index,
    tolerance: float,
) -> tuple[int, Index]:
    """Join adjacent triangles of one plane, (f,) labels.

    Both the bend and the distance off the plane must be small.  A sliver has no normal to speak of, so it
    goes with its largest neighbour alone and never joins two others.
    """
    f = len(faces)
    a, b = half[:, 0] // 3, half[:, 1] // 3
    apex = faces[half // 3, (half + 2) % 3]
    sliver = 2 * areas < 20 * tolerance * longest
    dot = np.einsum("ij,ij->i", normals[a], normals[b])
    a_rules = areas[a] >= areas[b]
    ruler = np.where(a_rules, a, b)
    other = np.where(a_rules, apex[:, 1], apex[:, 0])
    off = np.abs(np.einsum("ij,ij->i", points[other] - points[faces[ruler, 0]], normals[ruler]))
    plain = (off < tolerance) & (dot > np.cos(np.radians(FLAT_DEG))) & ~sliver[a] & ~sliver[b]
    heads, tails = [a[plain]], [b[plain]]
    thin = np.flatnonzero((sliver[a] | sliver[b]) & (off < tolerance))
    if len(thin):
        own = np.concatenate([a[thin][sliver[a[thin]]], b[thin][sliver[b[thin]]]])
        host = np.concatenate([b[thin][sliver[a[thin]]], a[thin][sliver[b[thin]]]])
        order = np.lexsort((-areas[host], own))
        own, host = own[order], host[order]
        best = np.concatenate([[True], np.diff(own) != 0])
        up = areas[host[best]] >= areas[own[best]]
        heads.append(own[best][up])
        tails.append(host[best][up])
    count, label = components(f, np.concatenate(heads), np.concatenate(tails))
    # A chain of small bends may have crept round a fine curve: such a facet falls apart again.
    normal = _unit(np.stack([np.bincount(label, normals[:, i] * areas, count) for i in range(3)], 1))
    centre = _mean_by(label, count, middles, areas)
    off = off_plane(points, faces, label, centre, normal)
    bent = np.einsum("ij,ij->i", normals, normal[label]) < np.cos(np.radians(2 * FLAT_DEG))
    crept = np.bincount(label, (off > 4 * tolerance) | (bent & ~sliver), count) > 0
    label = np.where(crept[label], count + np.arange(f), label)
    first, label = numbered(label)
    return len(first), label


def _unit(v: Floats) -> Floats:
    length = np.linalg.norm(v, axis=-1, keepdims=True)
    return np.asarray(v / np.where(length > 0, length, 1.0))


def _mean_by(label: Index, count: int, values: Floats, weights: Floats) -> Floats:
    total = np.bincount(label, weights, count)
    sums = np.stack([np.bincount(label, values[:, i] * weights, count) for i in range(3)], 1)
    return np.asarray(sums / np.where(total > 0, total, 1.0)[:, None])


def summed(label: Index, weights: Floats, count: int) -> Floats:
    """Sum of the weights of each label, (count,)."""
    return np.asarray(np.bincount(label, weights, count), np.float64)


def _starts(label: Index, count: int) -> Index:
    return np.concatenate([[0], np.cumsum(np.bincount(label, minlength=count))]).astype(np.int64)


@lru_cache(maxsize=4)
def facets_of(mesh: Mesh) -> Facets | None:
    """Cut a mesh into facets; None where no triangle has area.

    Parameters
    ----------
    mesh : any triangles in mm; open, doubled, flipped or unshared, as found.
    """
    low, high = mesh.bounds
    diagonal = float(np.linalg.norm(high - low))
    if not len(mesh.faces) or diagonal == 0 or not np.isfinite(diagonal):
        return None
    origin = (low + high) / 2
    used = np.zeros(len(mesh.vertices), bool)
    used[mesh.faces] = True
    number, points = weld(mesh.vertices[used] - origin, WELD * diagonal)
    faces = number[(np.cumsum(used) - 1)[mesh.faces]]
    normals, areas, longest, middles = shapes(points, faces)
    rows, kept_as = _cleaned(len(points), faces, areas, longest, WELD * diagonal)
    if not len(rows):
        return None
    faces = faces[rows]
    normals, areas, longest, middles = (a[rows] for a in (normals, areas, longest, middles))
    half, ends, alike, loose = _pairs(faces, len(points))
    # Turned by exchanging corners 1 and 2, edge i becomes edge 2 - i.
    turn = _outward(points, faces, normals, areas, half, alike)
    faces = np.where(turn[:, None], faces[:, [0, 2, 1]], faces)
    half = np.where(turn[half // 3], half // 3 * 3 + 2 - half % 3, half)
    normals = np.where(turn[:, None], -normals, normals)
    tolerance = FLATNESS * diagonal
    count, label = _facet_labels(points, faces, normals, areas, longest, middles, half, tolerance)
    facet_areas = summed(label, areas, count)
    facet_normals = _unit(np.stack([np.bincount(label, normals[:, i] * areas, count) for i in range(3)], 1))

    a, b = label[half[:, 0] // 3], label[half[:, 1] // 3]
    mm = np.linalg.norm(points[ends[:, 0]] - points[ends[:, 1]], axis=1)
    crease = a != b
    a, b, mm = a[crease], b[crease], mm[crease]
    one, two, mm = np.concatenate([a, b]), np.concatenate([b, a]), np.tile(mm, 2)
    key = one * count + two
    first, number = numbered(key)
    key, near_mm = key[first], summed(number, mm, len(first))
    one, two = key // count, key % count

    touching = faces.reshape(-1) * count + np.repeat(label, 3)
    touching = touching[numbered(touching)[0]]
    vertex, facet = touching // count, touching % count
    meeting = np.bincount(vertex, minlength=len(points))
    at_rim = np.zeros(len(points), np.int64)
    at_rim[loose] = 1
    meeting += at_rim
    corner = meeting[vertex] >= 3
    vertex, facet = vertex[corner], facet[corner]
    order = order_of(facet)
    return Facets(
        points=points,
        origin=origin,
        faces=faces,
        normals=normals,
        areas=areas,
        kept_as=kept_as,
        label=label,
        count=count,
        facet_normals=facet_normals,
        facet_areas=facet_areas,
        facet_centres=_mean_by(label, count, middles, areas),
        corner_start=_starts(facet, count),
        corners=vertex[order],
        near_start=_starts(one, count),
        near=two,
        near_deg=bends(facet_normals, one, two),
        near_mm=near_mm,
        rim_mm=summed(one, near_mm, count),
        tolerance_mm=tolerance,
        diagonal_mm=diagonal,
    )
