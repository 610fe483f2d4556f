"""Keyholes: the housing hangs on screws that stay in the wall."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.opening import FRAMES, room_in, triple
from housingdesk.features.plate import (
    HEAD_ROOM_MM,
    RIM_MM,
    FloorMount,
    Hole,
    MountSize,
    along_side,
    edge_mm,
    foot,
    frame_of,
    lug,
    mounted,
    overhead,
    side_knob,
    spot,
    upright_sides,
)
from housingdesk.features.records import BillLine, OpeningRecord
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf
from housingdesk.standards.screws import cap_screws, clearance_holes

LEAST_SKIN_MM = 0.8  # left over a pocket in the floor: two lines of a 0.4 mm nozzle (shop guidance)


class Keyholes(FloorMount):
    """Keyholes in lugs or in the floor; the side they are on is up when it hangs."""

    TITLE = "keyholes"
    SENTENCE = (
        "Hang it up by {count} keyhole|keyholes {where} at the {side} [(distance: {span_mm}),] on screws "
        "{size}; thickness: {thickness_mm}."
    )

    ONLY_IF: ClassVar[OnlyIf] = {
        "thickness_mm": {"where": ("in lugs",)},
        "lip_mm": {"where": ("in the floor",)},
        "span_mm": {"count": (2, 3, 4)},
    }

    kind: Literal["keyholes"] = "keyholes"
    where: Literal["in lugs", "in the floor"] = Field(
        default="in lugs",
        title="where",
        description="In lugs beside the housing the screws are seen. In the floor they are hidden, which "
        "needs a floor that is thick enough for the screw's head.",
    )
    side: Literal["left", "right", "front", "back"] = Field(
        default="back", title="side", description="This side is up when it hangs."
    )
    count: int = Field(default=2, ge=1, le=4, title="keyholes", description="Two keep it from turning.")
    span_mm: float | None = Field(
        default=None,
        ge=0,
        le=500,
        title="distance",
        description="As needed: as far apart as the side allows.",
    )
    along_mm: float = Field(
        default=0.0,
        ge=-500,
        le=500,
        title="along",
        description="Middle of the keyholes, from the part's middle.",
    )
    size: MountSize = Field(
        default="M4", title="screws", description="The head of an ISO 4762 screw, knurled, goes through."
    )
    drop_mm: float = Field(
        default=6.0, ge=1, le=40, title="drop", description="How far the housing slides down on the screws."
    )
    lip_mm: float = Field(
        default=2.0,
        ge=0.8,
        le=20,
        title="plastic behind the head",
        description="In the floor: thickness of what the head hangs behind.",
    )

    def build(self, site: Site) -> Work:
        """Cut the keyholes.

        Raises
        ------
        SpecError : the side is too short, or the floor too thin.
        """
        return self._in_floor(site) if self.where == "in the floor" else self._in_lugs(site)

    @property
    def _head_mm(self) -> float:
        return cap_screws()[self.size].head_knurled_mm + 1.0  # so that it drops in, common practice

    def _slot_mm(self, site: Site) -> float:
        return clearance_holes()[self.size].medium_mm + site.hole_extra_mm

    def _keyhole(self, site: Site, low: Floats, up: Floats) -> tuple[Outline, Outline]:
        """Return the keyhole, and the way of the head in it; ``low`` is the middle of the head's hole."""
        top = low + self.drop_mm * up
        head, slot = self._head_mm / 2, self._slot_mm(site) / 2
        entry = Outline.circle(low, head, outside=True)
        ends = Outline.circle(low, slot, outside=True) | Outline.circle(top, slot, outside=True)
        way = (entry | Outline.circle(top, head, outside=True)).hull()
        return entry | ends.hull(), way

    def _places(self, outline: Outline, half_mm: float) -> list[float]:
        return along_side(outline, frame_of(self.side), self.along_mm, self.span_mm, self.count, half_mm)

    def _in_lugs(self, site: Site) -> Work:
        frame = frame_of(self.side)
        thick = self.thick_mm(site)
        outline, above = foot(site, thick), overhead(site, thick)
        radius = self._head_mm / 2 + RIM_MM
        lugs, holes, handles = [], [], []
        for along in self._places(outline, radius):
            half = self._head_mm / 2
            out = edge_mm(above, frame, along, half) + half + HEAD_ROOM_MM
            low, up = spot(frame, along, out), frame.out[:2]
            lugs.append(
                lug(
                    low + self.drop_mm * up,
                    radius,
                    spot(frame, along, edge_mm(outline, frame, along) - radius),
                )
            )
            holes.append(Hole(self._keyhole(site, low, up)[0], self._head_mm))
            handles.append(
                Handle(self.side, triple([*low, site.base_z_mm("lower") + thick]), label="the keyholes")
            )
        return mounted(
            self, site, Outline.union(lugs), holes, bill=(self._screws(),), handles=tuple(handles[:1])
        )

    def _in_floor(self, site: Site) -> Work:
        frame, floor = frame_of(self.side), site.base_z_mm("lower")
        deep = self.lip_mm + cap_screws()[self.size].head_height_mm + HEAD_ROOM_MM
        radius = self._head_mm / 2 + RIM_MM
        outline = site.form.section_at(floor + 0.02)
        cut, keep, records, handles = [], [], [], []
        for number, along in enumerate(self._places(outline, radius), 1):
            up = frame.out[:2]
            low = spot(frame, along, edge_mm(outline, frame, along) - radius - self.drop_mm)
            key, way = self._keyhole(site, low, up)
            pocket = Solid.prism(key, floor - 1.0, floor + deep) | Solid.prism(
                way, floor + self.lip_mm, floor + deep
            )
            skin = Solid.prism(way, floor + 0.01, floor + deep + LEAST_SKIN_MM)
            room = room_in(site, skin)
            if not room.is_empty:
                have = float(room.bounds[0, 2]) - floor
                raise SpecError(
                    f"The floor is {have:.1f} mm thick there and a hidden keyhole for {self.size} needs "
                    f"{deep + LEAST_SKIN_MM:.1f} mm; let the floor reach further out, or use lugs."
                )
            if not outline.covers(way):
                raise SpecError("A keyhole reaches over the edge of the floor; set them nearer together.")
            cut.append(pocket)
            keep.append(skin)
            size = np.ptp(key.bounds, axis=0).tolist()
            records.append(
                OpeningRecord(f"{self.name} {number}", self.kind, triple([*low, floor]), (size[0], size[1]))
            )
            handles.append(Handle(self.side, triple([*low, floor]), label="the keyholes"))
        return Work(
            cut={"lower": tuple(cut)},
            keep_out=tuple(keep),
            openings=tuple(records),
            bill=(self._screws(),),
            handles=tuple(handles[:1]),
        )

    def _screws(self) -> BillLine:
        return BillLine(
            self.count, f"screw {self.size} with a head as ISO 4762, to suit the wall", "", self.name
        )

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knob at the middle of the keyholes."""
        return side_knob(site, self.side, self.side, self.along_mm, "the keyholes")

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the keyholes moved along their side."""
        (side,) = upright_sides(handle)
        return self.model_copy(update={"along_mm": round(float(np.asarray(to_mm) @ FRAMES[side].u), 2)})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return two keyholes at the back."""
        return cls()
