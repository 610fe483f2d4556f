"""What an outside form may see, and what it gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import SIDES, Floats, Side

HAIR_MM = 0.005  # more than asked, so that no rounding on the way to a file makes a wall less
OVER_MM = 0.05  # what a cavity may be larger than its room on rounds, where the form follows it
_REACHED_MM = 0.02
_FAR_MM = 1e4


@dataclass(frozen=True, eq=False)
class Nose:
    """The wall around a shaft's way out: a round bar about its axis, mm.

    Attributes
    ----------
    base_mm : (3,) on the axis, where the shaft leaves its part.
    axis : (3,) unit, outward.
    """

    base_mm: Floats
    axis: Floats
    radius_mm: float


@dataclass(frozen=True, eq=False)
class Ground:
    """What stands inside the form, in the build frame.

    Attributes
    ----------
    tris, reach : (m, 3, 3) all surfaces that the form must enclose, and the room each needs, (m,) mm.
    seal_mm : gaps narrower than this are hollow too.
    wall_mm : least material beside the room.
    room_mm : (2, 3) corners of the box around the room.
    outer_mm : (2, 3) corners of the box that the form is to fill: floor, roof and walls, extra room, fixed
        sides.
    fixed : axis and end (0 least, 1 greatest) of sides that lie where ``outer_mm`` says, wall or no wall.
    tolerance_mm : how far a form that follows the parts may lie further out than needed.
    noses : what a form that follows the parts adds, so that ways out have their wall up to the mouth.
    leans_mm : (2, 3) how much of ``outer_mm`` is for the walls beside ways out that lean to a side.
    """

    tris: Floats
    reach: Floats
    seal_mm: float
    wall_mm: float
    room_mm: Floats
    outer_mm: Floats
    fixed: frozenset[tuple[int, int]] = frozenset()
    tolerance_mm: float = 0.05
    noses: tuple[Nose, ...] = ()
    leans_mm: Floats | None = None

    @cached_property
    def straight(self) -> Ground:
        """The same ground, for a form that puts a wall about ways out by itself."""
        return self if self.leans_mm is None else replace(self, outer_mm=self.outer_mm - self.leans_mm)

    @cached_property
    def shadow(self) -> Outline:
        """The room's shadow along the pull, gaps sealed and holes filled."""
        amounts = np.unique(np.round(self.reach, 6))
        grown = [Outline.shadow(self.tris[np.isclose(self.reach, r)]).grown(float(r)) for r in amounts]
        whole = Outline.union(g for g in grown if not g.is_empty)
        room = self.room_mm[:, :2]
        if whole.is_empty or np.abs(whole.bounds - room).max() > _REACHED_MM:
            # Sheets without thickness that stand upright cast no shadow: the whole box then, to be safe.
            whole = Outline.rectangle(*room)
        return whole.grown(self.seal_mm / 2).grown(-self.seal_mm / 2).filled()

    @cached_property
    def least(self) -> Outline:
        """The least outline that keeps the wall beside the room, with the extra room a side."""
        around = self.shadow.grown(self.wall_mm + OVER_MM)
        for by in self.stretches:
            around = around.stretched(by[:2])
        return around & self.allowed

    @property
    def stretches(self) -> list[Floats]:
        """How far the form must reach beyond room and wall: a (3,) vector for each side that does."""
        needed = self.room_mm + np.array([[-1.0], [1.0]]) * (self.wall_mm + HAIR_MM)
        more = self.outer_mm - needed
        return [
            more[end, axis] * np.eye(3)[axis]
            for axis in (0, 1)
            for end in (0, 1)
            if more[end, axis] * (2 * end - 1) > HAIR_MM
        ]

    @property
    def limits_mm(self) -> Floats:
        """(2, 3) corners of the space that the fixed sides leave."""
        limits = np.array([[-_FAR_MM] * 3, [_FAR_MM] * 3])
        for axis, end in self.fixed:
            limits[end, axis] = self.outer_mm[end, axis]
        return limits

    @property
    def allowed(self) -> Outline:
        """The limits in the xy plane."""
        return Outline.rectangle(*self.limits_mm[:, :2])


@dataclass(frozen=True, eq=False)
class Outside:
    """A form, as the lower and the upper half have it; both are the same unless the form follows the parts.

    Where they differ, ``lower`` holds below the parting plane and ``upper`` above it, wherever that lies.
    """

    lower: Solid
    upper: Solid
    wall_mm: float = 0.0

    @classmethod
    def same(cls, solid: Solid) -> Outside:
        """Return a form that does not depend on the parting plane."""
        return cls(solid, solid)

    @property
    def bounds(self) -> Floats:
        """(2, 3) corners of the box around it."""
        return np.array([self.lower.bounds[0], self.upper.bounds[1]])

    @cached_property
    def reach(self) -> Solid:
        """All that either half may fill."""
        return self.lower if self.lower is self.upper else self.lower | self.upper

    def collars(self, z_mm: float) -> Mapping[Side, Solid]:
        """Return what each half needs at the parting plane to cover the other half's hollow with a wall."""
        if self.lower is self.upper:
            return {}
        faces = {"lower": self.lower.section_at(z_mm), "upper": self.upper.section_at(z_mm)}
        out: dict[Side, Solid] = {}
        for side in SIDES:
            own, other = (faces["lower"], faces["upper"])[:: 1 if side == "lower" else -1]
            if (other - own).grown(-_SLIVER_MM).is_empty:
                continue
            low, high = (z_mm - self.wall_mm, z_mm) if side == "lower" else (z_mm, z_mm + self.wall_mm)
            out[side] = Solid.prism(other, low, high)
        return out

    def whole(self, z_mm: float) -> Solid:
        """Return the whole form when the halves part at a height."""
        if self.lower is self.upper:
            return self.lower
        return Solid.union([self.lower.below(z_mm), self.upper.above(z_mm), *self.collars(z_mm).values()])


_SLIVER_MM = 0.1  # outlines of both halves that differ by twice this or less are the same
