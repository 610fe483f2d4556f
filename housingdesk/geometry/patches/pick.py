"""Growing and shrinking a picked set of faces along the surface."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from housingdesk.geometry.patches.facets import Facets, facets_of
from housingdesk.geometry.patches.patch import Patch
from housingdesk.geometry.types import Ints, Mesh


def grow_pick(mesh: Mesh, faces: ArrayLike, max_angle_deg: float = 30.0) -> Ints:
    """Add what touches a pick over smooth edges: one whole flat or one strip of a round at a time.

    Parameters
    ----------
    mesh : any triangles, mm.
    faces : (k,) indices of picked faces.
    max_angle_deg : edges that bend more than this stop the growing.

    Returns
    -------
    (n,) int32 ascending; equal to ``faces`` with their whole facets where nothing smooth is left to add.
    """
    f = facets_of(mesh)
    if f is None:
        return np.unique(np.asarray(faces, np.int32))
    picked = _facets(f, faces)
    one, smooth = _smooth(f, max_angle_deg)
    grown = picked.copy()
    grown[f.near[smooth & picked[one]]] = True
    return _faces(f, grown)


def shrink_pick(mesh: Mesh, faces: ArrayLike, max_angle_deg: float = 30.0) -> Ints:
    """Take away what lies at the smooth border of a pick: the reverse of `grow_pick`.

    A border along a sharp edge stays, so a pick that fills all between sharp edges stays whole.
    """
    f = facets_of(mesh)
    if f is None:
        return np.unique(np.asarray(faces, np.int32))
    picked = _facets(f, faces)
    one, smooth = _smooth(f, max_angle_deg)
    shrunk = picked.copy()
    shrunk[one[smooth & picked[one] & ~picked[f.near]]] = False
    return _faces(f, shrunk)


def smooth_neighbours(
    mesh: Mesh, patches: tuple[Patch, ...], max_angle_deg: float = 30.0
) -> tuple[tuple[int, ...], ...]:
    """Return for each patch the indices of those it runs into without a sharp edge, ascending.

    Parameters
    ----------
    mesh : the mesh that the patches were found on, in any unit.
    """
    f = facets_of(mesh)
    if f is None or not patches:
        return tuple(() for _ in patches)
    owner = np.full(f.count, -1, np.int64)
    for number, patch in enumerate(patches):
        owner[_facets(f, patch.faces)] = number
    one, smooth = _smooth(f, max_angle_deg)
    a, b = owner[one[smooth]], owner[f.near[smooth]]
    apart = (a != b) & (a >= 0) & (b >= 0)
    pairs = np.unique(np.stack([a[apart], b[apart]], axis=1), axis=0)
    return tuple(tuple(pairs[pairs[:, 0] == number, 1].tolist()) for number in range(len(patches)))


def _smooth(f: Facets, max_angle_deg: float) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    return np.repeat(np.arange(f.count), np.diff(f.near_start)), f.near_deg <= max_angle_deg


def _facets(f: Facets, faces: ArrayLike) -> NDArray[np.bool_]:
    rows = f.kept_as[np.asarray(faces, np.int64)]
    picked = np.zeros(f.count, bool)
    picked[f.label[rows[rows >= 0]]] = True
    return picked


def _faces(f: Facets, picked: NDArray[np.bool_]) -> Ints:
    return np.flatnonzero((f.kept_as >= 0) & picked[f.label[f.kept_as]]).astype(np.int32)
