"""What an outside form is.

A form is one file in this folder with one ``Form`` subclass.  Like a feature it has a TITLE, a SENTENCE with
its fields in braces, and fields whose type, limits, title and description make its entry on the job card.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.forms.ground import HAIR_MM, Ground, Outside
from housingdesk.geometry.rings import inset, without_straight_corners
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.solid.outline import segments_for
from housingdesk.geometry.types import Floats
from housingdesk.model import Model, OnlyIf

Rim = Literal["sharp", "chamfered", "rounded"]
RimKind = Annotated[
    Rim,
    Field(
        title="edges of floor and roof",
        description="The edges around floor and roof, the faces that lie on the printer's bed.\n"
        "A chamfer of 45 degrees prints without support and takes up the first layer's spread;\n"
        "a round overhangs nearly level where it begins, and comes out rough there.",
    ),
]
RimSize = Annotated[
    float,
    Field(
        ge=0.2,
        le=20.0,
        title="size of the edges of floor and roof",
        description="How far the chamfer or the round reaches, level and upright alike.\n"
        "Where it would thin the wall, floor and roof are made thicker.",
    ),
]

_RIM_SAGITTA_MM = 0.02  # a printer shows no finer steps on a round


class Form(Model, ABC):
    """Base of all outside forms.

    Attributes
    ----------
    kind : names the subclass in the project file; each subclass fixes it with a ``Literal``.
    SIDES_NOTE : what extra room and fixed sides mean for this form.
    """

    TITLE: ClassVar[str] = ""
    SENTENCE: ClassVar[str] = ""
    SIDES_NOTE: ClassVar[str] = "A fixed side lies exactly there, whatever wall that leaves."
    ORDER: ClassVar[int] = 50  # the order in which forms are offered

    kind: str

    @abstractmethod
    def build(self, ground: Ground) -> Outside:
        """Make the form.

        Raises
        ------
        SpecError : the form cannot be made; one sentence.
        """


class StraightForm(Form):
    """Base of forms with upright walls: an outline drawn from floor to roof, its rims broken."""

    ONLY_IF: ClassVar[OnlyIf] = {"rim_mm": {"rim": ("chamfered", "rounded")}}

    rim: RimKind = "sharp"
    rim_mm: RimSize = 1.0

    @abstractmethod
    def outline(self, ground: Ground) -> Outline:
        """Return the outline of the walls, which keeps the wall beside the room."""

    def build(self, ground: Ground) -> Outside:
        """Draw the outline up from floor to roof and break its rims."""
        outline = self.outline(ground)
        low, high = ground.outer_mm[:, 2].tolist()
        if self.rim == "sharp":
            return Outside.same(Solid.prism(outline, low, high))
        more = thicker_for(self.rim, self.rim_mm, ground)
        low -= more[0] if (2, 0) not in ground.fixed else 0.0
        high += more[1] if (2, 1) not in ground.fixed else 0.0
        return Outside.same(rimmed(outline, low, high, self.rim, self.rim_mm))


def rimmed(outline: Outline, low_mm: float, high_mm: float, rim: Rim, size_mm: float) -> Solid:
    """Return an outline without holes drawn up, both rims chamfered or rounded.

    Raises
    ------
    SpecError : the rims leave nothing between them, or are wider than a narrow place of the outline.
    """
    if 2 * size_mm >= high_mm - low_mm:
        raise SpecError(
            f"Edges of {size_mm:g} mm at floor and roof leave no wall between them; make them smaller."
        )
    loop = without_straight_corners(max(outline.loops, key=len))
    ways, rises = profile_of(rim, size_mm)
    rings = [inset(loop, way) for way in ways]
    for ring in rings:
        if len(Outline.polygon(ring).pieces()) != 1 or not _is_simple(ring):
            raise SpecError(
                f"Edges of {size_mm:g} mm at floor and roof are wider than a narrow place of the form; "
                "make them smaller."
            )
    heights = [*(low_mm + r for r in rises), *(high_mm - r for r in rises[::-1])]
    return Solid.loft(np.array([*rings, *rings[::-1]]), heights)


def profile_of(rim: Rim, size_mm: float) -> tuple[list[float], list[float]]:
    """Return how far a rim lies inward, and how far up from the bed, from the bed to the wall."""
    if rim == "chamfered":
        return [size_mm, 0.0], [0.0, size_mm]
    steps = max(4, segments_for(size_mm, _RIM_SAGITTA_MM) // 4)
    angles = np.linspace(0.0, np.pi / 2, steps + 1)
    # Chords outside the true quarter circle, so that the wall behind it is never less.
    outside = 1.0 / np.cos(np.pi / 4 / steps)
    inward = size_mm * (1.0 - np.minimum(outside * np.sin(angles), 1.0))
    up = size_mm * (1.0 - np.minimum(outside * np.cos(angles), 1.0))
    return inward.tolist(), up.tolist()


def thicker_for(rim: Rim, size_mm: float, ground: Ground) -> tuple[float, float]:
    """Return how much thicker floor and roof must be so that the wall behind a broken rim is kept.

    The room is taken with sharp rims, beside the wall and above the floor: its corner lies (wall, floor)
    inside the form's corner.  To keep the lesser of both, m, to a chamfer s takes
    wall + floor - s >= sqrt(2) m; to keep the wall to a round r takes r - hypot(r - wall, r - floor) >= wall.
    """
    wall = ground.wall_mm
    thick = np.abs(ground.room_mm[:, 2] - ground.outer_mm[:, 2])
    needed: Floats = np.full(2, size_mm if size_mm > wall else 0.0)
    if rim == "chamfered":
        needed = np.sqrt(2) * np.minimum(wall, thick) + size_mm - wall
    below, above = np.maximum(0.0, needed - thick).tolist()
    return below, above


def _is_simple(ring: Floats) -> bool:
    """Tell whether a ring crosses itself nowhere: its signed area is that of the area it encloses."""
    x, y = ring.T
    signed = 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    return abs(signed - Outline.polygon(ring).area_mm2) < 1e-3


def widened(make: Callable[[Floats], Outline], ground: Ground) -> Outline:
    """Return the outline with its free sides moved out just so far that its corners keep the wall.

    Parameters
    ----------
    make : from (2, 2) corners of a rectangle to the outline in it.
    """
    corners = ground.outer_mm[:, :2]
    free = np.array([[(axis, end) not in ground.fixed for axis in (0, 1)] for end in (0, 1)])
    way = np.array([[-1.0], [1.0]]) * free

    def at(more: float) -> Outline:
        return make(corners + more * way)

    def keeps_wall(more: float) -> bool:
        rectangle = Outline.rectangle(*(corners + more * way))
        return at(more).covers(ground.least & rectangle)

    if keeps_wall(0.0) or not free.any():
        return at(0.0)
    enough, short = float(np.ptp(corners, axis=0).max()), 0.0
    while enough - short > HAIR_MM:
        middle = (enough + short) / 2
        enough, short = (middle, short) if keeps_wall(middle) else (enough, middle)
    return at(enough)
