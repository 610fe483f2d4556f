"""Closed bodies.

The kernel is lazy and a bad input poisons everything made from it without a word, so every operation here
forces the status at once and turns a refusal into ``SolidError``.  64-bit arrays throughout.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable

import manifold3d as m3
import numpy as np
from numpy.typing import ArrayLike

from housingdesk.errors import SolidError
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.solid.outline import Outline, segments_for
from housingdesk.geometry.types import Floats, Ints, Mesh

_REASONS = {
    "NonFiniteVertex": "a coordinate is not a number",
    "NotManifold": "the surface is not closed",
    "VertexOutOfBounds": "a triangle names a corner that does not exist",
}


_KEPT_SECTIONS = 8  # the latest of a body, by height


class Solid:
    """An immutable closed body in mm; every operation gives a new one."""

    __slots__ = ("_m", "_mesh", "_sections", "_shadow")

    def __init__(self, kernel: m3.Manifold) -> None:
        status = kernel.status()
        if status != m3.Error.NoError:
            reason = _REASONS.get(status.name, status.name)
            raise SolidError(f"A body could not be made because {reason}.")
        self._m = kernel
        # Made once: a body does not change, and several look at the same mesh and sections.
        self._mesh: Mesh | None = None
        self._sections: OrderedDict[float, Outline] = OrderedDict()
        self._shadow: Outline | None = None

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
    def empty(cls) -> Solid:
        """Return the body with nothing in it."""
        return cls(m3.Manifold())

    @classmethod
    def rod(
        cls,
        start_mm: ArrayLike,
        end_mm: ArrayLike,
        radius_mm: float,
        end_radius_mm: float | None = None,
        *,
        outside: bool = False,
    ) -> Solid:
        """Return a round bar or cone frustum between two (3,) points on its axis.

        Parameters
        ----------
        end_radius_mm : radius at the end where it differs; 0 makes a point.
        outside : put the flats outside the true round, for holes that must have no less room.
        """
        start, end = np.asarray(start_mm, float), np.asarray(end_mm, float)
        length = float(np.linalg.norm(end - start))
        end_radius = radius_mm if end_radius_mm is None else end_radius_mm
        if length <= 0 or radius_mm < 0 or end_radius < 0 or max(radius_mm, end_radius) <= 0:
            raise SolidError("A round needs a positive length and radius.")
        n = segments_for(max(radius_mm, end_radius))
        k = 1.0 / np.cos(np.pi / n) if outside else 1.0
        bar = m3.Manifold.cylinder(length, k * radius_mm, k * end_radius, n)
        turn = rotation_to(np.array([0.0, 0.0, 1.0]), (end - start) / length)
        turn[:3, 3] = start
        return cls(bar.transform(turn[:3].tolist()))

    @classmethod
    def prism(cls, outline: Outline, low_mm: float, high_mm: float) -> Solid:
        """Return an outline of the xy plane drawn straight up from one height to another."""
        if high_mm <= low_mm:
            raise SolidError("A prism needs a positive height.")
        return cls(m3.Manifold.extrude(outline._c, high_mm - low_mm).translate((0.0, 0.0, low_mm)))

    @classmethod
    def loft(cls, rings: Floats, heights_mm: ArrayLike) -> Solid:
        """Return the body between plane rings at rising heights, each joined to the next by straight lines.

        Parameters
        ----------
        rings : (h, n, 2) mm, counter-clockwise; corner i of one ring belongs to corner i of the next.
            Corners of a ring may coincide.
        heights_mm : (h,) of each ring, rising.
        """
        heights = np.asarray(heights_mm, float)
        count = rings.shape[1]
        points = np.concatenate(
            [rings, np.broadcast_to(heights[:, None, None], (*rings.shape[:2], 1))], axis=2
        )
        flat = points.reshape(-1, 3)
        low = np.arange(len(flat) - count).reshape(-1, count)
        here, there = low.ravel(), np.roll(low, -1, axis=1).ravel()
        sides = np.concatenate(
            [
                np.stack([here, there, there + count], axis=1),
                np.stack([here, there + count, here + count], axis=1),
            ]
        )
        _, one = np.unique(np.round(flat, 9), axis=0, return_inverse=True)
        one = one.ravel()
        caps = []
        for ring, flip in ((0, True), (len(rings) - 1, False)):
            own = np.arange(count) + ring * count
            kept = own[one[own] != np.roll(one[own], -1)]
            ends = kept[np.asarray(m3.triangulate([flat[kept, :2]]))]
            caps.append(ends[:, ::-1] if flip else ends)
        faces = one[np.concatenate([sides, *caps])]
        faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
        corner = np.zeros((int(one.max()) + 1, 3))
        corner[one] = flat
        return cls.from_mesh(Mesh(corner, faces.astype(np.int32)))

    @classmethod
    def turned(cls, x_mm: float, y_mm: float, profile_mm: ArrayLike, *, outside: bool = False) -> Solid:
        """Return the round body that a profile sweeps about an upright axis, in one piece.

        Parameters
        ----------
        profile_mm : (k, 2) corners (radius, height), the axis included at both ends.
        outside : put the flats outside the true round, for holes that must have no less room.
        """
        profile = np.array(profile_mm, float)
        n = segments_for(float(profile[:, 0].max()))
        profile[:, 0] *= 1.0 / np.cos(np.pi / n) if outside else 1.0
        area = m3.CrossSection([profile], m3.FillRule.EvenOdd)
        return cls(m3.Manifold.revolve(area, n).translate((x_mm, y_mm, 0.0)))

    @classmethod
    def ball(cls, centre_mm: ArrayLike, radius_mm: float) -> Solid:
        """Return a ball."""
        n = segments_for(radius_mm)
        x, y, z = np.asarray(centre_mm, float).tolist()
        return cls(m3.Manifold.sphere(radius_mm, n).translate((x, y, z)))

    @classmethod
    def hull(cls, solids: Iterable[Solid]) -> Solid:
        """Return the smallest body without dents that holds all the given ones."""
        return cls(m3.Manifold.batch_hull([s._m for s in solids]))

    @classmethod
    def hull_of_points(cls, points_mm: Floats) -> Solid:
        """Return the smallest body without dents that holds (n, 3) points."""
        return cls(m3.Manifold.hull_points(np.array(points_mm, float)))

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

    def without(self, others: Iterable[Solid]) -> Solid:
        """Return what is left when all the given bodies are cut away."""
        cuts = [s._m for s in others]
        return self if not cuts else Solid(m3.Manifold.batch_boolean([self._m, *cuts], m3.OpType.Subtract))

    def moved(self, matrix: ArrayLike) -> Solid:
        """Return the body under a (4, 4) affine map; mirrored maps keep outside outside."""
        return Solid(self._m.transform(np.asarray(matrix, float)[:3].tolist()))

    def shifted(self, by_mm: ArrayLike) -> Solid:
        """Return the body moved by (3,)."""
        return Solid(self._m.translate(np.asarray(by_mm, float).tolist()))

    def section_at(self, z_mm: float) -> Outline:
        """Return the outline in which a horizontal plane cuts the body."""
        found = self._sections.get(z_mm)
        if found is None:
            found = self._sections[z_mm] = Outline(self._m.slice(z_mm))
            while len(self._sections) > _KEPT_SECTIONS:
                self._sections.popitem(last=False)
        return found

    def silhouette(self) -> Outline:
        """Return the body's shadow along z."""
        if self._shadow is None:
            self._shadow = Outline(self._m.project())
        return self._shadow

    def above(self, z_mm: float) -> Solid:
        """Return what lies above a horizontal plane, closed by it."""
        if self.is_empty:  # the kernel makes a broken body of a trimmed nothing
            return self
        return Solid(self._m.trim_by_plane((0.0, 0.0, 1.0), z_mm))

    def below(self, z_mm: float) -> Solid:
        """Return what lies below a horizontal plane, closed by it."""
        if self.is_empty:
            return self
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
    def bounds(self) -> Floats:
        """(2, 3) least and greatest corner."""
        return np.asarray(self._m.bounding_box(), float).reshape(2, 3)

    @property
    def triangles(self) -> int:
        """How many triangles the surface has."""
        return int(self._m.num_tri())

    @property
    def is_empty(self) -> bool:
        """Whether nothing is in it."""
        return bool(self._m.is_empty())

    @property
    def sources(self) -> frozenset[int]:
        """Numbers of the bodies that its surface was taken from; see ``sourced_mesh``."""
        return frozenset(int(n) for n in self._m.to_mesh64().run_original_id)

    def anew(self) -> Solid:
        """Return the body with a number of its own, whatever it was made from; see ``sourced_mesh``."""
        return Solid(self._m.as_original())

    def sourced_mesh(self) -> tuple[Mesh, Ints]:
        """Return the surface, and for each triangle the number of the body it was taken from.

        Whatever is cut, joined and simplified keeps the numbers of what it was made from.
        """
        raw = self._m.to_mesh64()
        starts = np.asarray(raw.run_index, np.int64) // 3
        source = np.repeat(np.asarray(raw.run_original_id, np.int32), np.diff(starts))
        mesh = Mesh(np.asarray(raw.vert_properties)[:, :3], np.asarray(raw.tri_verts).astype(np.int32))
        return mesh, source

    def mesh(self) -> Mesh:
        """Return the surface, counter-clockwise seen from outside."""
        if self._mesh is None:
            raw = self._m.to_mesh64()
            # A copy: a view would keep the kernel's own object alive as long as the mesh.
            self._mesh = Mesh(
                np.array(raw.vert_properties)[:, :3], np.asarray(raw.tri_verts).astype(np.int32)
            )
        return self._mesh
