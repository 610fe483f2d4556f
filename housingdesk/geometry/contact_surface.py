"""Surfaces made ready for the search of first contacts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.edges import Edges, bend, edges_of
from housingdesk.geometry.types import Floats, Mesh

FLAT_MM = 1e-6  # an edge that stands out of the flat by less is none


@dataclass(frozen=True, eq=False)
class Surface:
    """A surface made ready for contact: equal points welded, useless elements dropped.

    Attributes
    ----------
    vertices : (n, 3) mm.
    faces, normals : (m, 3) corners, and unit normals by the right-hand rule; faces without area left out.
    corners : (k,) vertices that can meet a face first.
    edges : (e, 2) vertices of the edges that can meet an edge first.
    sides : (e, 2, 3) unit normals of the two faces of each edge, one of them twice where there is only one.
    """

    vertices: Floats
    faces: NDArray[np.int64]
    normals: Floats
    corners: NDArray[np.int64]
    edges: NDArray[np.int64]
    sides: Floats

    def moved(self, matrix: Floats) -> Surface:
        """Return the surface under a rigid (4, 4) map."""
        turn = matrix[:3, :3].T
        vertices = self.vertices @ turn + matrix[:3, 3]
        return Surface(vertices, self.faces, self.normals @ turn, self.corners, self.edges, self.sides @ turn)


def loose_surface(mesh: Mesh) -> Surface:
    """Prepare a part as found: open, flipped or overlapping faces do no harm.

    Edges inside a flat are dropped: what meets them meets the flat's rim or with a point first.
    """
    edges = edges_of(mesh.vertices, mesh.faces)
    return _surface(edges, np.unique(edges.faces), np.abs(bend(edges)) > FLAT_MM)


def solid_surface(mesh: Mesh) -> Surface:
    """Prepare a closed, outward-facing solid: flat and hollow edges cannot be met first and are dropped."""
    edges = edges_of(mesh.vertices, mesh.faces)
    keep = ~edges.simple | (bend(edges) < -FLAT_MM)
    return _surface(edges, np.unique(edges.ends[keep]), keep)


def together(surfaces: list[Surface]) -> Surface:
    """Return several solids as one, nothing welded between them."""
    starts = np.cumsum([0] + [len(s.vertices) for s in surfaces[:-1]])
    numbered = list(zip(surfaces, starts, strict=True))
    return Surface(
        np.concatenate([s.vertices for s in surfaces]),
        np.concatenate([s.faces + start for s, start in numbered]),
        np.concatenate([s.normals for s in surfaces]),
        np.concatenate([s.corners + start for s, start in numbered]),
        np.concatenate([s.edges + start for s, start in numbered]),
        np.concatenate([s.sides for s in surfaces]),
    )


def _surface(edges: Edges, corners: NDArray[np.int64], keep: NDArray[np.bool_]) -> Surface:
    normals, whole = _normals(edges.vertices[edges.faces])
    ends, opposite = edges.ends[keep], edges.opposite[keep]
    one, one_whole = _normals(edges.vertices[np.column_stack([ends, opposite[:, 0]])])
    # The second triangle runs the other way; where there is none, -1 picks some vertex and is not used.
    other, other_whole = _normals(edges.vertices[np.column_stack([ends[:, ::-1], opposite[:, 1]])])
    other_whole &= edges.simple[keep]
    sides = np.stack(
        [np.where(one_whole[:, None], one, other), np.where(other_whole[:, None], other, one)], axis=1
    )
    return Surface(edges.vertices, edges.faces[whole], normals[whole], corners, ends, sides)


def _normals(triangles: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return unit normals of (m, 3, 3) triangles and which of them have an area."""
    along, across = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    normals = np.cross(along, across)
    length = np.linalg.norm(normals, axis=1)
    whole = length > 1e-12 * ((along**2).sum(axis=1) + (across**2).sum(axis=1))
    return normals / np.where(whole, length, 1.0)[:, None], whole
