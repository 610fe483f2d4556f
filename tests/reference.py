"""The reference part of the speed figures: a right-angle gear motor of long thin triangles, and finer twins.

Built here so that a clone measures the same part everywhere; 57 x 40 x 20 mm, closed.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from housingdesk.geometry.types import Floats, Ints, Mesh
from sample_projects.solids import block, rod, to_mesh

SIZE_MM = (57.0, 40.0, 20.0)
REFINED = (25_000, 100_000, 1_000_000)


@cache
def gear_motor() -> Mesh:
    """Return the reference part: motor can along +x, output shaft along +y, z = 0 in the axes' plane."""
    body = block((0, 0, -10), (25, 21, 10))
    can = rod((25, 10.5, 0), "+x", 28, 18, 60)
    bearing = rod((53, 10.5, 0), "+x", 4, 7, 24)
    collar = rod((9, 21, 0), "+y", 3, 12, 32)
    shaft = rod((9, 24, 0), "+y", 16, 6, 40)
    flat = block((5, 28, 2), (13, 40, 5))
    tabs = block((25, 0, -10), (30, 21, -8))
    solid = body + can + bearing + collar + (shaft - flat) + tabs
    for x, y in ((4, 4), (4, 17), (21, 4), (21, 17)):
        solid -= rod((x, y, -10), "+z", 20, 2.6, 12)
    for y in (3, 18):
        solid -= rod((27.5, y, -11), "+z", 4, 2.2, 12)
    return to_mesh(solid)


def refined(mesh: Mesh, triangles: int) -> Mesh:
    """Return the same surface in more triangles: the longest edges are halved until there are enough.

    Parameters
    ----------
    mesh : closed; every halved edge then adds two triangles, and no point of the surface moves.
    triangles : how many are wanted; reached exactly, or with one more for an odd difference.
    """
    vertices, faces = mesh.vertices, mesh.faces
    while len(faces) < triangles:
        vertices, faces = _halve_longest_edges(vertices, faces, (triangles - len(faces) + 1) // 2)
    return Mesh(vertices, faces)


def _halve_longest_edges(vertices: Floats, faces: Ints, at_most: int) -> tuple[Floats, Ints]:
    sides = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    edges, of_side = np.unique(sides, axis=0, return_inverse=True)
    lengths = np.linalg.norm(vertices[edges[:, 0]] - vertices[edges[:, 1]], axis=1)
    count = min(at_most, int((lengths > lengths.max() / 2).sum()))
    halved = np.argsort(-lengths, kind="stable")[:count]
    middle = np.full(len(edges), -1)
    middle[halved] = len(vertices) + np.arange(count)
    grown = np.vstack([vertices, vertices[edges[halved]].mean(axis=1)])

    m = middle[of_side.reshape(-1)].reshape(-1, 3)  # the new vertex on sides ab, bc, ca, or -1
    # Turn each triangle so that its halved sides come first: ab, then bc.
    first = np.array([0, 0, 1, 0, 2, 2, 1, 0])[((m >= 0) * [1, 2, 4]).sum(axis=1)]
    order = (first[:, None] + np.arange(3)) % 3
    a, b, c = np.take_along_axis(faces, order, 1).T
    ab, bc, ca = np.take_along_axis(m, order, 1).T
    n = (m >= 0).sum(axis=1)
    pieces = [
        np.stack(corners, axis=1)[n == halves]
        for halves, corners in (
            (0, (a, b, c)),
            (1, (a, ab, c)),
            (1, (ab, b, c)),
            (2, (ab, b, bc)),
            (2, (a, ab, bc)),
            (2, (a, bc, c)),
            (3, (a, ab, ca)),
            (3, (ab, b, bc)),
            (3, (bc, c, ca)),
            (3, (ab, bc, ca)),
        )
    ]
    return grown, np.vstack(pieces).astype(np.int32)
