"""Outlines in a plane: areas with straight sides, holes allowed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Literal

import manifold3d as m3
import numpy as np
from numpy.typing import ArrayLike

from housingdesk.errors import SolidError
from housingdesk.geometry.types import Floats, Ints

Corners = Literal["round", "sharp"]
_JOINS = {"round": m3.JoinType.Round, "sharp": m3.JoinType.Miter}
_sagitta_mm = ContextVar("sagitta_mm", default=0.004)
_AT_ONCE = 256  # triangles united in one go


@contextmanager
def rounds_within(sagitta_mm: float) -> Iterator[None]:
    """Within this context (of one thread) rounds are drawn as coarse as ``sagitta_mm`` allows."""
    token = _sagitta_mm.set(sagitta_mm)
    try:
        yield
    finally:
        _sagitta_mm.reset(token)


def segments_for(radius_mm: float, sagitta_mm: float | None = None) -> int:
    """Return how many chords a whole circle needs to be met within ``sagitta_mm``; a multiple of four.

    A chord over an angle a departs from its arc by R (1 - cos(a / 2)).  Without a sagitta, what the context
    asks for; see ``rounds_within``.
    """
    sagitta_mm = _sagitta_mm.get() if sagitta_mm is None else sagitta_mm
    if radius_mm <= sagitta_mm:
        return 8
    count = np.pi / np.arccos(1.0 - sagitta_mm / radius_mm)
    return int(min(256, max(16, 4 * np.ceil(count / 4))))


class Outline:
    """An immutable area of the plane, mm; every operation gives a new one."""

    __slots__ = ("_c",)

    def __init__(self, kernel: m3.CrossSection) -> None:
        self._c = kernel

    @classmethod
    def polygon(cls, *loops: ArrayLike) -> Outline:
        """Return the area inside closed loops, each (k, 2); loops within loops are holes."""
        return cls(m3.CrossSection([np.array(p, float) for p in loops], m3.FillRule.EvenOdd))

    @classmethod
    def wound(cls, *loops: ArrayLike) -> Outline:
        """Return the area that closed loops, each (k, 2), go round more often one way than the other.

        Loops that overlap and run the same way count once; one that runs against that around it is a hole.
        """
        return cls(m3.CrossSection([np.array(p, float) for p in loops], m3.FillRule.NonZero))

    @classmethod
    def circle(cls, centre_mm: ArrayLike, radius_mm: float, *, outside: bool = False) -> Outline:
        """Return a disc; ``outside`` puts the chords outside the true circle, for holes with no less room."""
        n = segments_for(radius_mm)
        r = radius_mm / np.cos(np.pi / n) if outside else radius_mm
        x, y = np.asarray(centre_mm, float).tolist()
        return cls(m3.CrossSection.circle(r, n).translate((x, y)))

    @classmethod
    def rectangle(cls, low_mm: ArrayLike, high_mm: ArrayLike, radius_mm: float = 0.0) -> Outline:
        """Return the rectangle between two (2,) corners, its corners rounded."""
        low, high = np.asarray(low_mm, float), np.asarray(high_mm, float)
        if not (high > low).all():
            raise SolidError("A rectangle needs a positive length and width.")
        r = float(min(radius_mm, 0.499 * (high - low).min()))
        inner = m3.CrossSection.square((high - low - 2 * r).tolist()).translate((low + r).tolist())
        return cls(inner) if r <= 0 else cls(inner).grown(r)

    @classmethod
    def union(cls, outlines: Iterable[Outline]) -> Outline:
        """Return everything that is in any of the areas."""
        return cls(m3.CrossSection.batch_boolean([o._c for o in outlines], m3.OpType.Add))

    @classmethod
    def shadow(cls, tris: Floats) -> Outline:
        """Return what triangles, (m, 3, 3), cover when looked at along z.

        They may lie in any order and overlap; one that stands upright covers nothing.
        """
        flat = np.array(tris[:, :, :2], float)
        first, second = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
        doubled = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
        flat[doubled < 0] = flat[doubled < 0][:, ::-1]
        flat = flat[np.abs(doubled) > 1e-9]
        # Neighbours first: few at a time have few crossings, and their union has few corners.
        flat = flat[np.argsort(_along_curve(flat.mean(axis=1)))]
        areas = [
            m3.CrossSection(list(flat[i : i + _AT_ONCE]), m3.FillRule.NonZero)
            for i in range(0, len(flat), _AT_ONCE)
        ]
        while len(areas) > 1:
            groups = [areas[i : i + 8] for i in range(0, len(areas), 8)]
            areas = [m3.CrossSection.batch_boolean(group, m3.OpType.Add) for group in groups]
        return cls(areas[0] if areas else m3.CrossSection())

    @classmethod
    def rough_shadow(cls, tris: Floats, cells: int = 300) -> Outline:
        """Return what triangles, (m, 3, 3), cover when looked at along z, good enough for a small picture.

        All corners are first moved to the nodes of a grid with so many cells along the longer side; as equal
        corners move alike, nothing comes apart, and of a fine surface few triangles are left.  The border is
        off by one cell at most; what is thinner than half a cell may vanish.
        """
        flat = np.asarray(tris, float)[:, :, :2]
        low, size = flat.min(axis=(0, 1), initial=np.inf), np.ptp(flat, axis=(0, 1)) if len(flat) else 0.0
        cell = max(float(np.max(size)) / cells, 1e-9)
        place = np.rint((flat - low) / cell).astype(np.int64)
        code = np.unique(np.sort(place[..., 0] * (cells + 1) + place[..., 1], axis=1), axis=0)
        corners = np.stack([*np.divmod(code, cells + 1), np.zeros_like(code)], axis=-1) * cell
        return cls.shadow(corners).moved(low if len(flat) else (0.0, 0.0)).simplified(cell / 2)

    def __sub__(self, other: Outline) -> Outline:
        return Outline(self._c - other._c)

    def __and__(self, other: Outline) -> Outline:
        return Outline(self._c ^ other._c)

    def __or__(self, other: Outline) -> Outline:
        return Outline(self._c + other._c)

    def grown(self, by_mm: float, corners: Corners = "round") -> Outline:
        """Return the area with its border moved outward (inward where negative)."""
        n = segments_for(abs(by_mm))
        return Outline(self._c.offset(by_mm, _JOINS[corners], 4.0, n))

    def hull(self) -> Outline:
        """Return the smallest area without dents that holds this one."""
        return Outline(self._c.hull())

    def stretched(self, by_mm: ArrayLike) -> Outline:
        """Return what the area sweeps while it is moved by (2,): its ends and the strip behind each edge."""
        by = np.asarray(by_mm, float)
        if not by.any():
            return self
        strips = [
            np.array([a, b, b + by, a + by])
            for loop in self.loops
            for a, b in zip(loop, np.roll(loop, -1, axis=0), strict=True)
        ]
        turned = [s if _area(s) > 0 else s[::-1] for s in strips if abs(_area(s)) > 1e-12]
        return Outline.union([self, self.moved(by), *(Outline.polygon(s) for s in turned)])

    def filled(self) -> Outline:
        """Return the area with its holes filled."""
        loops = [p for p in self._c.to_polygons() if _area(p) > 0]
        return Outline(m3.CrossSection(loops, m3.FillRule.Positive))

    def simplified(self, tolerance_mm: float) -> Outline:
        """Return the area with fewer corners, its border moved by no more than the tolerance."""
        return Outline(self._c.simplify(tolerance_mm))

    def moved(self, by_mm: ArrayLike) -> Outline:
        """Return the area moved by (2,)."""
        x, y = np.asarray(by_mm, float).tolist()
        return Outline(self._c.translate((x, y)))

    def scaled(self, factor: float) -> Outline:
        """Return the area made larger about the origin."""
        return Outline(self._c.scale((factor, factor)))

    def turned(self, degrees: float) -> Outline:
        """Return the area turned counter-clockwise about the origin."""
        return Outline(self._c.rotate(degrees))

    def mirrored_y(self) -> Outline:
        """Return the area reflected so that y becomes -y."""
        return Outline(self._c.mirror((0.0, 1.0)))

    def pieces(self) -> list[Outline]:
        """Return the connected areas, largest first."""
        return sorted((Outline(c) for c in self._c.decompose()), key=lambda o: -o.area_mm2)

    @property
    def loops(self) -> list[Floats]:
        """Closed loops, each (k, 2) float64: outlines counter-clockwise, holes clockwise."""
        return [np.asarray(p, float) for p in self._c.to_polygons()]

    @property
    def area_mm2(self) -> float:
        """Area."""
        return float(self._c.area())

    @property
    def is_empty(self) -> bool:
        """Whether nothing is in it."""
        return bool(self._c.is_empty())

    @property
    def bounds(self) -> Floats:
        """(2, 2) least and greatest corner."""
        x0, y0, x1, y1 = self._c.bounds()
        return np.array([[x0, y0], [x1, y1]])

    def covers(self, other: Outline, spill_mm2: float = 1e-4) -> bool:
        """Tell whether another area lies wholly within this one."""
        return (other - self).area_mm2 <= spill_mm2

    def touches(self, other: Outline, least_mm2: float = 1e-4) -> bool:
        """Tell whether two areas have more than a hair in common."""
        return (self & other).area_mm2 > least_mm2


def _along_curve(points: Floats) -> Ints:
    """Return the place of (n, 2) points along a curve that keeps neighbours together (Morton order)."""
    low, size = points.min(axis=0, initial=np.inf), np.ptp(points, axis=0) if len(points) else 1.0
    cell = ((points - low) / np.maximum(size, 1e-9) * 1023).astype(np.int32)
    code = np.zeros(len(points), np.int32)
    for bit in range(10):
        code |= (cell[:, 0] >> bit & 1) << (2 * bit) | (cell[:, 1] >> bit & 1) << (2 * bit + 1)
    return code


def _area(loop: Floats) -> float:
    """Return the signed area of a closed loop (shoelace formula)."""
    x, y = loop[:, 0], loop[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
