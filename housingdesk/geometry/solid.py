"""Closed solids: the only place that knows manifold3d.

The kernel is lazy and a bad input poisons everything made from it without a word, so every operation here
forces the status at once and turns a refusal into ``SolidError``.  64-bit arrays throughout.
"""

from __future__ import annotations

from collections.abc import Iterable

import manifold3d as m3
import numpy as np

from housingdesk.errors import SolidError
from housingdesk.geometry.types import Floats, Mesh

_REASONS = {
    "NonFiniteVertex": "a coordinate is not a number",
    "NotManifold": "the surface is not closed",
    "VertexOutOfBounds": "a triangle names a corner that does not exist",
}


class Solid:
    """An immutable closed body in mm; every operation gives a new one."""

    __slots__ = ("_m",)

    def __init__(self, kernel: m3.Manifold) -> None:
        status = kernel.status()
        if status != m3.Error.NoError:
            reason = _REASONS.get(status.name, status.name)
            raise SolidError(f"A body could not be made because {reason}.")
        self._m = kernel

    @classmethod
    def from_mesh(cls, mesh: Mesh) -> Solid:
        """Return the body that a closed, consistently oriented mesh bounds; SolidError where it is not."""
        # Copies: the kernel's binding takes no read-only arrays.
        return cls(m3.Manifold(m3.Mesh64(mesh.vertices.copy(), mesh.faces.astype(np.uint64))))

    @classmethod
    def box(cls, low_mm: Floats, high_mm: Floats) -> Solid:
        """Return the box between two (3,) corners."""
        size = np.asarray(high_mm, float) - np.asarray(low_mm, float)
        if not (size > 0).all():
            raise SolidError("A box needs a positive length, width and height.")
        return cls(m3.Manifold.cube(size.tolist()).translate(np.asarray(low_mm, float).tolist()))

    @classmethod
    def union(cls, solids: Iterable[Solid]) -> Solid:
        """Return everything that is in any of the bodies."""
        return cls(m3.Manifold.batch_boolean([s._m for s in solids], m3.OpType.Add))

    def __sub__(self, other: Solid) -> Solid:
        return Solid(self._m - other._m)

    def __and__(self, other: Solid) -> Solid:
        return Solid(self._m ^ other._m)

    def __or__(self, other: Solid) -> Solid:
        return Solid(self._m + other._m)

    def above(self, z_mm: float) -> Solid:
        """Return what lies above a horizontal plane, closed by it."""
        return Solid(self._m.trim_by_plane((0.0, 0.0, 1.0), z_mm))

    def below(self, z_mm: float) -> Solid:
        """Return what lies below a horizontal plane, closed by it."""
        return Solid(self._m.trim_by_plane((0.0, 0.0, -1.0), -z_mm))

    def simplified(self, tolerance_mm: float) -> Solid:
        """Return the body with fewer triangles, no surface moved by more than the tolerance."""
        return Solid(self._m.simplify(tolerance_mm))

    def bodies(self) -> list[Solid]:
        """Return the connected pieces, largest first; inner voids stay with none (volume below zero)."""
        pieces = [Solid(p) for p in self._m.decompose()]
        return sorted(pieces, key=lambda s: -s.volume_mm3)

    def min_gap(self, other: Solid, search_mm: float) -> float:
        """Return the least distance to another body, at most ``search_mm``."""
        return float(self._m.min_gap(other._m, search_mm))

    @property
    def volume_mm3(self) -> float:
        """Enclosed volume."""
        return float(self._m.volume())

    @property
    def triangles(self) -> int:
        """How many triangles the surface has."""
        return int(self._m.num_tri())

    @property
    def is_empty(self) -> bool:
        """Whether nothing is in it."""
        return bool(self._m.is_empty())

    def mesh(self) -> Mesh:
        """Return the surface, counter-clockwise seen from outside."""
        raw = self._m.to_mesh64()
        return Mesh(np.asarray(raw.vert_properties)[:, :3], np.asarray(raw.tri_verts).astype(np.int32))
