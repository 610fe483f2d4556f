"""How far each place of one surface lies from others: the figures of a tinted ghost or cavity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from housingdesk.geometry.measure import distances, nearest
from housingdesk.geometry.types import Floats, Ints, Mesh, joined

MapOn = Literal["part", "cavity"]
OUTSIDE_MM = 0.02  # what lies so near the outside form or the parting plane is no cavity
FINE_MM = 1.0  # sides longer than this are halved, so that a tint shows what lies between corners
MOST_POINTS = 100_000


@dataclass(frozen=True, slots=True)
class ClearanceMap:
    """A surface with a distance at every vertex.

    Attributes
    ----------
    vertices, faces : (n, 3) float64 mm and (m, 3) int32, the surface divided finely.
    source : (m,) which face of the given surface each face is a piece of.
    nearest : (m,) which face of the other surfaces, joined in order, lies nearest to each face.
    distance_mm : (n,) exact distance of each vertex to the other surfaces.
    """

    vertices: Floats
    faces: Ints
    source: Ints
    nearest: Ints
    distance_mm: Floats

    @property
    def figures_mm(self) -> tuple[float, float, float]:
        """Least, median and most; the median over the area."""
        if not len(self.faces):
            return (np.inf, np.inf, np.inf)
        a, b, c = (self.vertices[self.faces[:, i]] for i in range(3))
        area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
        middle = self.distance_mm[self.faces].mean(axis=1)
        order = np.argsort(middle)
        running = np.cumsum(area[order])
        median = middle[order[np.searchsorted(running, running[-1] / 2)]]
        used = self.distance_mm[np.unique(self.faces)]
        return float(used.min()), float(median), float(used.max())


def clearance_map(
    mesh: Mesh, others: Sequence[Mesh], fine_mm: float = FINE_MM, most_points: int = MOST_POINTS
) -> ClearanceMap:
    """Measure a surface against others.

    Parameters
    ----------
    mesh : the ghost, or a half of which the cavity is looked at.
    others : what it is measured against: the halves, or the parts.
    fine_mm : sides are halved until none is longer, or until there are ``most_points`` points.
    """
    vertices, faces, source = _divided(mesh, fine_mm, most_points)
    distance, _, met = nearest(vertices, joined(list(others)))
    closest = np.take_along_axis(faces, distance[faces].argmin(axis=1)[:, None], axis=1)[:, 0]
    return ClearanceMap(vertices, faces, source, met[closest].astype(np.int32), distance)


def _divided(mesh: Mesh, fine_mm: float, most_points: int) -> tuple[Floats, Ints, Ints]:
    """Cut triangles in two across their longest side until it is short; neighbours stay joined.

    Cutting every side longer than a length at its middle, the same for both neighbours, leaves no gap: a
    triangle with one, two or three long sides becomes two, three or four.
    """
    vertices, faces = mesh.vertices, mesh.faces.astype(np.int64)
    source = np.arange(len(faces))
    while True:
        ahead = np.roll(faces, -1, axis=1)
        edge = vertices[faces] - vertices[ahead]
        long = np.einsum("ijk,ijk->ij", edge, edge) > fine_mm**2
        low, high = np.minimum(faces, ahead)[long], np.maximum(faces, ahead)[long]
        # One number a side: a sort of pairs takes several times as long.
        cut, index = np.unique(low * len(vertices) + high, return_inverse=True)
        if not len(cut) or len(vertices) + len(cut) > most_points:
            return vertices, faces.astype(np.int32), source.astype(np.int32)
        middle = np.full(long.shape, -1, np.int64)
        middle[long] = len(vertices) + index.reshape(-1)
        ends = np.stack(np.divmod(cut, len(vertices)))
        vertices = np.concatenate([vertices, vertices[ends].mean(axis=0)])
        faces, source = _split(faces, middle, source)


def _split(faces: np.ndarray, middle: np.ndarray, source: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return triangles cut at the middles (m, 3) of their sides, -1 where a side stays whole."""
    count = (middle >= 0).sum(axis=1)
    out, of = [faces[count == 0]], [source[count == 0]]
    for cuts in (1, 2, 3):
        some = np.flatnonzero(count == cuts)
        if not len(some):
            continue
        # Turn each triangle so that the cut side comes first, or of two the one after the whole.
        has = middle[some] >= 0
        first = has.argmax(axis=1) if cuts == 1 else (has.argmin(axis=1) + 1) % 3
        turn = (first[:, None] + np.arange(3)) % 3
        a, b, c = np.take_along_axis(faces[some], turn, axis=1).T
        ab, bc, ca = np.take_along_axis(middle[some], turn, axis=1).T
        pieces = {
            1: [(a, ab, c), (ab, b, c)],
            2: [(ab, b, bc), (a, ab, bc), (a, bc, c)],
            3: [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)],
        }[cuts]
        out += [np.column_stack(p) for p in pieces]
        of += [source[some]] * len(pieces)
    return np.concatenate(out), np.concatenate(of)


def cavity_of(halves: Sequence[Mesh], form: Mesh, parting_z_mm: float) -> Mesh:
    """Return the faces of halves that are neither outside nor parting face: cavity, holes and passages.

    Parameters
    ----------
    form : the outside form, closed.
    """
    both = joined(list(halves))
    middles = both.vertices[both.faces].mean(axis=1)
    level = (np.abs(both.vertices[both.faces][:, :, 2] - parting_z_mm) < OUTSIDE_MM).all(axis=1)
    inner = (distances(middles, form) > OUTSIDE_MM) & ~level
    return Mesh(both.vertices, both.faces[inner])
