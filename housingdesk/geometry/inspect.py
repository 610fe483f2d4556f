"""What is odd about a part's mesh, and what that means for the housing.  Nothing is repaired."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from housingdesk.geometry.types import Floats, Mesh
from housingdesk.geometry.weld import welded

_PRECISION = 2.0**-23  # of single precision, in which STL and most others store their numbers (IEEE 754)


@dataclass(frozen=True, slots=True)
class MeshFacts:
    """What was found in a part's mesh, and what it means is said in ``notes``.

    Attributes
    ----------
    open_edges, crowded_edges : edges with one triangle, with three or more (after welding equal points).
    bodies : connected pieces; voids : closed pieces facing inward; flat_triangles : of no area.
    notes : plain sentences, each with its meaning for the housing; empty when nothing is odd.
    """

    triangles: int
    open_edges: int
    crowded_edges: int
    duplicate_triangles: int
    flat_triangles: int
    bodies: int
    voids: int
    notes: tuple[str, ...]


def doubled_areas(mesh: Mesh) -> Floats:
    """Return (m,) twice the area of each triangle."""
    corners = mesh.vertices[mesh.faces] - mesh.bounds.mean(axis=0)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(np.linalg.norm(across, axis=1))


def inspect(mesh: Mesh) -> MeshFacts:
    """Count what is odd in a mesh, after welding equal points.

    A body is a set of triangles joined over shared points.  A void is a closed, evenly turned body whose
    volume by the divergence theorem is negative and whose bounding box lies in that of another body; a
    part that is inside out as a whole is told as such and is no void.

    Parameters
    ----------
    mesh : a part as found, any unit, at least one triangle.
    """
    flat = doubled_areas(mesh) == 0
    mesh = _snapped(mesh)
    faces = mesh.faces
    edges, on_edge, forward = _edges(faces, len(mesh.vertices))
    crowd = np.bincount(on_edge, minlength=len(edges))
    # An edge is evenly turned when its triangles run along it in both directions equally often.
    balance = np.bincount(on_edge, np.where(forward, 1.0, -1.0), len(edges))
    bodies, body_of_point = connected_components(
        coo_matrix((np.ones(len(edges), np.int8), (edges[:, 0], edges[:, 1])), (len(mesh.vertices),) * 2),
        directed=False,
    )
    body = body_of_point[faces[:, 0]]
    closed = np.ones(bodies, bool)
    closed[body_of_point[edges[balance != 0, 0]]] = False
    volume = _body_volumes(mesh, body, bodies)
    inward = closed & (volume < 0)
    void = inward & _inside_another(mesh, body_of_point, bodies)
    facts = {
        "open_edges": int((crowd == 1).sum()),
        "crowded_edges": int((crowd > 2).sum()),
        "duplicate_triangles": int((np.diff(np.sort(_triangle_codes(faces, len(mesh.vertices)))) == 0).sum()),
        "flat_triangles": int(flat.sum()),
        "bodies": int(bodies),
        "voids": int(void.sum()),
    }
    turned = bool((inward & ~void).any()) or bool(((crowd == 2) & (balance != 0)).any())
    return MeshFacts(triangles=len(faces), **facts, notes=_notes(facts, turned))


def _snapped(mesh: Mesh) -> Mesh:
    """Weld points that differ by less than what the file's single precision can mean."""
    step = float(mesh.size_mm.max()) * _PRECISION or 1.0
    return welded(Mesh(np.round((mesh.vertices - mesh.bounds[0]) / step) * step, mesh.faces))


def _edges(
    faces: NDArray[np.int32], points: int
) -> tuple[NDArray[np.int64], NDArray[np.intp], NDArray[np.bool_]]:
    """Return (e, 2) undirected edges, which one each side of each triangle is, and whether it runs upward.

    Triangles with two corners in one point are left out: they add nothing to the surface.
    """
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    low, high = sides.min(axis=1), sides.max(axis=1)
    codes, on_edge = np.unique(low * points + high, return_inverse=True)
    return np.column_stack([codes // points, codes % points]), on_edge.ravel(), sides[:, 0] == low


def _triangle_codes(faces: NDArray[np.int32], points: int) -> NDArray[np.int64]:
    """Return one number per triangle, equal for equal corners in any order."""
    corners = np.sort(faces, axis=1).astype(np.int64)
    _, pair = np.unique(corners[:, 0] * points + corners[:, 1], return_inverse=True)
    return np.asarray(pair.ravel() * points + corners[:, 2])


def _body_volumes(mesh: Mesh, body: NDArray[np.int32], bodies: int) -> Floats:
    a, b, c = (mesh.vertices[mesh.faces[:, i]] - mesh.bounds.mean(axis=0) for i in range(3))
    sixth = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    return np.bincount(body, sixth, bodies).astype(np.float64)


def _inside_another(mesh: Mesh, body_of_point: NDArray[np.int32], bodies: int) -> NDArray[np.bool_]:
    """For each body, whether its bounding box lies in the box of another one."""
    low, high = np.full((bodies, 3), np.inf), np.full((bodies, 3), -np.inf)
    np.minimum.at(low, body_of_point, mesh.vertices)
    np.maximum.at(high, body_of_point, mesh.vertices)
    inside = np.zeros(bodies, bool)
    for i in range(bodies):
        holds = (low <= low[i]).all(axis=1) & (high >= high[i]).all(axis=1)
        holds[i] = False
        inside[i] = holds.any()
    return inside


def _notes(facts: dict[str, int], turned: bool) -> tuple[str, ...]:
    """Say what was found in the user's words, each with its meaning for the housing."""
    out = []
    if n := facts["open_edges"]:
        out.append(
            f"The surface has {_some(n, 'open edge')}. The housing is made all the same: the space is taken "
            "from the surface as it is. Where the clearance does not close an opening, the inside counts as "
            "free; look at the section there."
        )
    if n := facts["crowded_edges"]:
        out.append(
            f"At {_some(n, 'edge')} three or more faces meet. This does no harm: the housing keeps its "
            "distance from all of them."
        )
    if turned:
        out.append(
            "Some faces point inward instead of outward. This does no harm: the housing is made from where "
            "the faces are, not from which way they point."
        )
    if n := facts["duplicate_triangles"]:
        out.append(f"The surface has {_some(n, 'face')} that another one repeats. This does no harm.")
    if n := facts["flat_triangles"]:
        out.append(f"The surface has {_some(n, 'face')} without any area. This does no harm.")
    if n := facts["voids"]:
        out.append(
            f"The part has {_some(n, 'closed space')} inside. Nothing is printed in there: the part "
            "counts as solid."
        )
    if (n := facts["bodies"] - facts["voids"]) > 1:
        out.append(
            f"The part consists of {n} separate bodies. They are enclosed together, where they lie, as one "
            "part."
        )
    return tuple(out)


def _some(n: int, what: str) -> str:
    return f"{n:,} {what}{'' if n == 1 else 's'}"
