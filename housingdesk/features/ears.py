"""Ears: lugs beside the floor, each with a round hole or a slot."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.features.opening import face_of, triple
from housingdesk.features.plate import (
    EDGE_ROOM_MM,
    HEAD_ROOM_MM,
    RIM_MM,
    FloorMount,
    Hole,
    MountSize,
    along_side,
    edge_mm,
    foot,
    frame_of,
    head_mm,
    hole_mm,
    lug,
    mounted,
    overhead,
    screw_lines,
    side_knob,
    spot,
    upright_sides,
)
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf

Sides = Literal["left and right", "front and back", "left", "right", "front", "back", "all four sides"]


class Ears(FloorMount):
    """Lugs by which the housing is screwed down."""

    TITLE = "ears"
    SENTENCE = (
        "Screw it down at {sides} by {count} ear|ears on each side [(distance: {span_mm}),] with screws "
        "{size} in {hole} holes; thickness: {thickness_mm}."
    )

    ONLY_IF: ClassVar[OnlyIf] = {"slot_mm": {"hole": ("slotted",)}, "span_mm": {"count": tuple(range(2, 7))}}

    kind: Literal["ears"] = "ears"
    sides: Sides = Field(default="left and right", title="sides", description="Where the ears stand.")
    count: int = Field(
        default=1, ge=1, le=6, title="ears on each side", description="Two on each side hold best."
    )
    span_mm: float | None = Field(
        default=None,
        ge=0,
        le=500,
        title="distance",
        description="Between the outer two of a side. As needed: as far apart as the side allows.",
    )
    along_mm: float = Field(
        default=0.0, ge=-500, le=500, title="along", description="Middle of the ears, from the part's middle."
    )
    size: MountSize = Field(default="M4", title="screws", description="Clear holes by ISO 273 medium.")
    hole: Literal["round", "slotted"] = Field(
        default="round",
        title="holes",
        description="Slots run along the side and forgive a hole that was drilled a little off.",
    )
    slot_mm: float = Field(
        default=4.0, ge=0.5, le=60, title="travel of a slot", description="How far the screw can shift in it."
    )

    def build(self, site: Site) -> Work:
        """Add the ears.

        Raises
        ------
        SpecError : the side is too short, or the plate reaches over the parting plane.
        """
        thick = self.thick_mm(site)
        outline = foot(site, thick)
        diameter, head = hole_mm(site, self.size), head_mm(self.size)
        radius = max(diameter / 2 + RIM_MM, head / 2 + self.broken_mm(site) + EDGE_ROOM_MM)
        away = head / 2 + HEAD_ROOM_MM
        above = overhead(site, thick)
        ears, holes, handles = [], [], []
        for side in upright_sides(self.sides):
            frame = frame_of(side)
            stretch = self.slot_mm / 2 if self.hole == "slotted" else 0.0
            margin = radius + stretch
            for along in along_side(outline, frame, self.along_mm, self.span_mm, self.count, margin):
                out = edge_mm(above, frame, along, head / 2 + stretch) + away
                root = edge_mm(outline, frame, along) - radius - site.wall_mm
                shift = stretch * frame.u[:2]
                middle, inner = spot(frame, along, out), spot(frame, along, root)
                ears += [lug(middle + way * shift, radius, inner + way * shift) for way in (-1.0, 1.0)]
                round_holes = [
                    Outline.circle(middle + way * shift, diameter / 2, outside=True) for way in (-1.0, 1.0)
                ]
                holes.append(Hole((round_holes[0] | round_holes[1]).hull(), head))
                ears.append((ears[-1] | ears[-2]).hull())
                handles.append(
                    Handle(side, triple([*middle, site.base_z_mm("lower") + thick]), label="the ears")
                )
        bill = screw_lines(len(holes), self.size, self.name)
        return mounted(self, site, Outline.union(ears), holes, bill=bill, handles=tuple(handles[:1]))

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knob at the middle of the ears."""
        side = upright_sides(self.sides)[0]
        return side_knob(site, side, side, self.along_mm, "the ears")

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the ears moved along their side."""
        (side,) = upright_sides(handle)
        along = float(np.asarray(to_mm) @ frame_of(side).u)
        return self.model_copy(update={"along_mm": round(along, 2)})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return ears on the two shorter sides."""
        wide, deep = np.ptp(site.outer_mm, axis=0)[:2].tolist()
        return cls(sides="left and right" if wide >= deep else "front and back")

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return ears on the side the user clicked."""
        side = face_of(normal)
        if side in ("floor", "roof"):
            return cls.proposed(site)
        return cls.model_validate({"sides": side})
