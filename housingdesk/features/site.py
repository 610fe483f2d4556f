"""What a feature may see of the housing it stands on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from housingdesk.features.work import Work
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats, Ints, Mesh, Side


@dataclass(frozen=True, eq=False)
class Shaft:
    """A turning zone's way out, in the build frame.

    Attributes
    ----------
    zone : name of the zone.
    base_mm : (3,) on the axis, where the shaft leaves the body.
    tip_mm : (3,) on the axis, at the shaft's end.
    axis : (3,) unit, from base to tip.
    diameter_mm, clearance_mm : of the shaft, and the gap around it a side.
    """

    zone: str
    base_mm: Floats
    tip_mm: Floats
    axis: Floats
    diameter_mm: float
    clearance_mm: float


class Shadow:
    """The shadow along the pull of all that is hollow, made when first asked for."""

    def __init__(self, hollows: tuple[Solid, ...]) -> None:
        self._hollows = hollows

    @cached_property
    def outline(self) -> Outline:
        """The area; what stands upright beside it meets nothing hollow."""
        return Outline.union(s.silhouette() for s in self._hollows)


@dataclass(frozen=True, slots=True)
class Region:
    """What is asked of the body or of one zone: its name, its purpose and its clearance."""

    name: str
    purpose: str
    clearance_mm: float


@dataclass(frozen=True, eq=False)
class Site:
    """The housing before features; everything in the build frame (pull = +Z), mm.

    Attributes
    ----------
    parts : the untouched parts by name.
    patches : flats and rounds of each part, by name.
    outer_mm : (2, 3) corners of the box around the outside form.
    form : the whole outside form, not yet hollow, not yet parted.
    cavity : space the part needs on its way into each half.
    shadow : of cavities and passages along the pull; see ``keep_clear``.
    parting_z_mm, wall_mm, clearance_mm : as asked.
    shafts : ways out of turning zones.
    regions : the body and then every zone.
    region_of : of each part by name, for each face which of ``regions`` it belongs to.
    material : what is printed, a name in the table of plastics.
    hole_extra_mm : what this printer's holes need in diameter, as they come out small.
    done : what features before this one on the list have made, by feature name.
    """

    parts: Mapping[str, Mesh]
    patches: Mapping[str, tuple[Patch, ...]]
    outer_mm: Floats
    form: Solid
    cavity: Mapping[Side, Solid]
    shadow: Shadow
    parting_z_mm: float
    wall_mm: float
    clearance_mm: float
    shafts: tuple[Shaft, ...] = ()
    regions: tuple[Region, ...] = ()
    region_of: Mapping[str, Ints] = field(default_factory=dict)
    material: str = "PLA"
    hole_extra_mm: float = 0.0
    done: Mapping[str, Work] = field(default_factory=dict)

    @property
    def keep_clear(self) -> Outline:
        """Area of the xy plane that an upright screw must not meet: cavities and passages."""
        return self.shadow.outline

    def base_z_mm(self, side: Side) -> float:
        """Return the height of a half's outer face: the floor's underside or the roof's top."""
        return float(self.outer_mm[0 if side == "lower" else 1, 2])

    @property
    def part_bounds(self) -> Floats:
        """(2, 3) corners of the box around all parts."""
        boxes = np.array([m.bounds for m in self.parts.values()])
        return np.array([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])
