"""The values that geometry functions take and return."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Side = Literal["lower", "upper"]
SIDES: tuple[Side, Side] = ("lower", "upper")


def _frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return a read-only, contiguous array that shares no memory a caller may write to."""
    if array.flags.writeable or not array.flags.c_contiguous:
        array = np.array(array, order="C")
        array.flags.writeable = False
    return array


@dataclass(frozen=True, eq=False)
class Mesh:
    """A triangle mesh; never changed after it is made.

    Attributes
    ----------
    vertices : (n, 3) float64, mm
    faces : (m, 3) int32, indices into ``vertices``; counter-clockwise seen from outside where the mesh
        is a solid, in any order where it is a part as found.
    """

    vertices: Floats
    faces: Ints

    def __post_init__(self) -> None:
        vertices = np.asarray(self.vertices, np.float64).reshape(-1, 3)
        faces = np.asarray(self.faces, np.int32).reshape(-1, 3)
        object.__setattr__(self, "vertices", _frozen(vertices))
        object.__setattr__(self, "faces", _frozen(faces))

    @cached_property
    def key(self) -> str:
        """Content key: equal arrays have equal keys, in every process."""
        digest = hashlib.sha256()
        for array in (self.vertices, self.faces):
            digest.update(str(array.shape).encode())
            digest.update(array.tobytes())
        return digest.hexdigest()[:32]

    @property
    def triangles(self) -> int:
        """How many triangles the mesh has."""
        return len(self.faces)

    @cached_property
    def bounds(self) -> Floats:
        """(2, 3) least and greatest corner of the vertices that faces use, mm."""
        used = self.vertices
        if len(self.faces):
            mask = np.zeros(len(self.vertices), bool)
            mask[self.faces] = True
            used = self.vertices[mask]
        if not len(used):
            return np.zeros((2, 3))
        return np.array([used.min(axis=0), used.max(axis=0)])

    @property
    def size_mm(self) -> Floats:
        """(3,) extent along x, y and z, mm."""
        return np.asarray(self.bounds[1] - self.bounds[0])

    @cached_property
    def volume_mm3(self) -> float:
        """Enclosed volume by the divergence theorem; meaningful for closed meshes only."""
        v = self.vertices - self.bounds[0]
        a, b, c = (v[self.faces[:, i]] for i in range(3))
        return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)

    def moved(self, matrix: ArrayLike) -> Mesh:
        """Return the mesh under an affine map.

        Parameters
        ----------
        matrix : (4, 4) float, acting on column vectors; mirrored maps keep outside outside.
        """
        m = np.asarray(matrix, float).reshape(4, 4)
        faces = self.faces[:, ::-1] if np.linalg.det(m[:3, :3]) < 0 else self.faces
        return Mesh(self.vertices @ m[:3, :3].T + m[:3, 3], faces)


def joined(meshes: list[Mesh] | tuple[Mesh, ...]) -> Mesh:
    """Return all triangles of several meshes as one mesh, nothing welded."""
    if not meshes:
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes[:-1]])
    return Mesh(
        np.vstack([m.vertices for m in meshes]),
        np.vstack([m.faces + int(s) for m, s in zip(meshes, starts, strict=True)]),
    )
