"""What a feature may see of the housing it stands on."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Any, Concatenate, Literal, ParamSpec, TypeVar

import numpy as np

from housingdesk.errors import SpecError
from housingdesk.features.forms.form import Rim
from housingdesk.features.work import Work
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import SIDES, Floats, Ints, Mesh, Side

CELL_MM = 4.0  # of the boxes that ``Site.near`` cuts out
APART_MM = 0.02  # what fits into another is drawn at least so far from it (own choice)
LEAST_LEFT = 0.5  # of a size: a correction that takes more would leave something else (own choice)

Args = ParamSpec("Args")
T = TypeVar("T")


LEVEL = 0.5  # a shaft whose axis rises more steeply than this (sine) counts as upright


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
    leaves : whether it comes out of the housing; otherwise floor or roof reach past its end.
    hole_extra_mm : what its hole is drawn wider, for a printer that was measured to make holes smaller.
    """

    zone: str
    base_mm: Floats
    tip_mm: Floats
    axis: Floats
    diameter_mm: float
    clearance_mm: float
    leaves: bool = True
    hole_extra_mm: float = 0.0

    @property
    def hole_mm(self) -> float:
        """Diameter of its hole, as it is drawn."""
        return self.diameter_mm + 2 * self.clearance_mm + self.hole_extra_mm

    @property
    def is_upright(self) -> bool:
        """Whether it points at floor or roof."""
        return bool(abs(self.axis[2]) > LEVEL)


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
    """What is asked of the body or of one zone: name, purpose, clearance, and how much more at its ends."""

    name: str
    purpose: str
    clearance_mm: float
    end_mm: float = 0.0


class Memo:
    """The latest things worked out, oldest dropped first."""

    def __init__(self, keep: int = 256) -> None:
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._keep = keep

    def get(self, key: Hashable, make: Callable[[], Any]) -> Any:
        """Return what is kept under a key, made now if it is not."""
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        made = self._kept[key] = make()
        while len(self._kept) > self._keep:
            self._kept.popitem(last=False)
        return made


@dataclass(frozen=True, eq=False)
class Unparted:
    """The housing before features and before it is parted; everything in the build frame (pull = +Z), mm.

    Attributes
    ----------
    parts : the untouched parts by name.
    patches : flats and rounds of each part, by name.
    outer_mm : (2, 3) corners of the box around the outside form.
    cavity : space the part needs on its way into each half.
    shadow : of cavities and passages along the pull; see ``keep_clear``.
    wall_mm, clearance_mm : as asked.
    shafts : ways out of turning zones.
    regions : the body and then every zone.
    region_of : of each part by name, for each face which of ``regions`` it belongs to.
    material : what is printed, a name in the table of plastics.
    hole_extra_mm : what this printer's holes need in diameter, as they come out small.
    outside_extra_mm : what this printer's outside sizes need, less than 0 where they come out large; only
        what has to fit into something is drawn so, see ``drawn_mm``.
    rim : how the form's edges at floor and roof are broken, and how far, mm.
    straight : whether the form is an outline drawn straight up, the same at all heights between its rims.
    memo : of ``Site.once``; shared by all sites that differ in no more than the plane.
    """

    parts: Mapping[str, Mesh]
    patches: Mapping[str, tuple[Patch, ...]]
    outer_mm: Floats
    cavity: Mapping[Side, Solid]
    shadow: Shadow
    wall_mm: float
    clearance_mm: float
    shafts: tuple[Shaft, ...] = ()
    regions: tuple[Region, ...] = ()
    region_of: Mapping[str, Ints] = field(default_factory=dict)
    material: str = "PLA"
    hole_extra_mm: float = 0.0
    outside_extra_mm: float = 0.0
    rim: tuple[Rim, float] = ("sharp", 0.0)
    straight: bool = False
    memo: Memo = field(default_factory=Memo)

    @property
    def keep_clear(self) -> Outline:
        """Area of the xy plane that an upright screw must not meet: cavities and passages."""
        return self.shadow.outline

    def drawn_mm(self, outside_mm: float, faces: Literal[1, 2] = 2, room_mm: float = math.inf) -> float:
        """Return how large an outside that has to fit is drawn, so that it is printed as large as wanted.

        Parameters
        ----------
        faces : how many of the two it lies between are outsides.
        room_mm : gap on each side to what it fits into, as that is drawn; the two never run into each
            other, even where the printer's corrections together are more than the gap.

        Raises
        ------
        SpecError : the printer's correction leaves less than half of it.
        """
        most = max(room_mm - APART_MM, min(room_mm, 0.0))  # no gap wanted is none given
        drawn = outside_mm + faces * min(self.outside_extra_mm / 2, most)
        if drawn < LEAST_LEFT * outside_mm:
            raise SpecError(
                f"An outside of {outside_mm:.2f} mm cannot be drawn {outside_mm - drawn:.2f} mm smaller; "
                "make it larger, or correct at station Print how far outside sizes come out."
            )
        return drawn

    @property
    def broken_mm(self) -> float:
        """How far the form's edges at floor and roof are broken; 0 where they are sharp."""
        return 0.0 if self.rim[0] == "sharp" else self.rim[1]

    def base_z_mm(self, side: Side) -> float:
        """Return the height of a half's outer face: the floor's underside or the roof's top."""
        return float(self.outer_mm[0 if side == "lower" else 1, 2])

    @property
    def part_bounds(self) -> Floats:
        """(2, 3) corners of the box around all parts."""
        boxes = np.array([m.bounds for m in self.parts.values()])
        return np.array([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])


@dataclass(frozen=True, eq=False, kw_only=True)
class Site(Unparted):
    """The housing a feature is put on.

    Attributes
    ----------
    form : the whole outside form, not yet hollow; most forms are the same wherever the plane lies.
    parting_z_mm : as asked.
    done : what features before this one on the list have made, by feature name.
    """

    form: Solid
    parting_z_mm: float
    done: Mapping[str, Work] = field(default_factory=dict)

    @cached_property
    def unparted(self) -> Unparted:
        """The same without the plane and what depends on it."""
        return Unparted(**{f.name: getattr(self, f.name) for f in fields(Unparted)})

    def once(
        self, make: Callable[Concatenate[Unparted, Args], T], *args: Args.args, **named: Args.kwargs
    ) -> T:
        """Return ``make(self.unparted, ...)``, worked out once however often the plane moves.

        Arguments must be hashable; bodies are the same only if they are the same object.
        """
        # The cavities are part of the key: a draft may turn to final ones when these become known.
        key = (make, *(self.cavity[side] for side in SIDES), args, tuple(sorted(named.items())))
        made: T = self.memo.get(key, lambda: make(self.unparted, *args, **named))
        return made

    @property
    def level_mm(self) -> float:
        """Height at which to look at the form's section for what stands upright beside it.

        Of a straight form any will do, so it is one that stays while the plane moves.
        """
        return float(self.outer_mm[:, 2].mean()) if self.straight else self.parting_z_mm

    def near(self, low_mm: Floats, high_mm: Floats) -> Site:
        """Return the site with no more of form and cavities than a box between two (3,) corners needs.

        Cutting the few triangles that lie there is much quicker.  The box is widened to whole cells, so that
        it stays while the plane or an opening moves a little.
        """
        low = tuple(int(i) for i in np.floor(np.asarray(low_mm) / CELL_MM - 0.25))
        high = tuple(int(i) for i in np.ceil(np.asarray(high_mm) / CELL_MM + 0.25))
        form, cavity = self.once(_within, self.form, low, high)
        # Beside the form there is nothing to be quicker with, and an empty body has no bounds.
        return self if form.is_empty else replace(self, form=form, cavity=cavity)


def _within(
    housing: Unparted, form: Solid, low: tuple[int, ...], high: tuple[int, ...]
) -> tuple[Solid, Mapping[Side, Solid]]:
    """Return what of form and cavities lies within a box of cells."""
    box = Solid.box(CELL_MM * np.array(low), CELL_MM * np.array(high))
    return form & box, {side: solid & box for side, solid in housing.cavity.items()}
