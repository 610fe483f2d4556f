"""A hole for a cable gland, with room for its nut inside."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.behind import part_within
from housingdesk.features.edge import THIN_MM
from housingdesk.features.feature import first_that_fits
from housingdesk.features.opening import (
    FRAMES,
    Face,
    Frame,
    SideOpening,
    bore,
    cuts,
    on_the_side,
    reach_of,
    triple,
    way_out,
)
from housingdesk.features.records import BillLine, OpeningRecord
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline
from housingdesk.standards.glands import Gland, GlandSize, glands

_SLICE_MM = 0.05


class GlandHole(SideOpening):
    """A round hole for a cable gland."""

    TITLE = "cable gland"
    STATION = "Openings"
    SENTENCE = (
        "Put a cable gland {size} into the {side} (sideways: {across_mm}, height: {height_mm}), with "
        "{nut_room_mm} room around its nut."
    )

    kind: Literal["gland"] = "gland"
    size: GlandSize = Field(
        default="M12",
        title="thread",
        description="Metric thread of the gland. M12 seals on cables of 3 to 6 mm; the others' figures "
        "are from memory, and makers differ: measure yours.",
    )
    nut_room_mm: float = Field(
        default=1.0,
        ge=0,
        le=20,
        title="room around the nut",
        description="So that a spanner's tip or a finger holds the nut; common practice, no source.",
    )

    def build(self, site: Site) -> Work:
        """Cut the hole, and the nut's room where the inside is narrower.

        Raises
        ------
        SpecError : nothing to go through, over the edge, or a wall thicker than thread and nut allow.
        """
        frame, gland = FRAMES[self.side], glands()[self.size]
        place = self.place(site)
        hole = gland.hole_mm + site.hole_extra_mm
        outline = Outline.circle(place, hole / 2, outside=True)
        way = way_out(site, frame, outline)
        said = on_the_side(site, frame, outline, way, self.name)
        most = gland.thread_length_mm - gland.nut_height_mm
        if way.wall_mm > gland.thread_length_mm - 2.0:
            raise SpecError(
                f"The wall is {way.wall_mm:.1f} mm there, too thick for the thread of "
                f"{gland.thread_length_mm:g} mm of a gland {self.size}; make it {most:.1f} mm or less."
            )
        inside = way.face_mm - way.wall_mm
        deep = max(gland.nut_height_mm, gland.thread_length_mm - way.wall_mm)
        nut_outline = Outline.circle(place, gland.nut_corners_mm / 2, outside=True)
        form = _section(site, frame, inside - deep) & _section(site, frame, inside)
        if not form.grown(-THIN_MM).covers(nut_outline):
            raise SpecError(
                f"The nut of a gland {self.size} is {gland.nut_corners_mm:.1f} mm wide and would break "
                "through beside it; move the gland inwards, or let floor and roof reach further out."
            )
        nut = frame.body(nut_outline, inside - deep, inside)
        # The room around the nut ends where floor, roof and walls begin.
        around = nut_outline.grown(self.nut_room_mm) & form.grown(-site.wall_mm)
        room = frame.body(nut_outline | around, inside - deep, inside)
        at = frame.point(*place, way.face_mm)
        shoulder = frame.body(
            Outline.circle(place, gland.shoulder_mm / 2), way.face_mm + 0.01, way.face_mm + 10.0
        )
        return Work(
            cut=cuts([bore(frame, outline, way), room], site.parting_z_mm),
            keep_out=(frame.body(outline, inside - deep, way.face_mm), room, shoulder),
            openings=(OpeningRecord(self.name, self.kind, triple(at), (hole, hole)),),
            bill=(BillLine(1, f"cable gland {self.size} x 1.5 with locknut", "EN 60423", self.name),),
            findings=(*said, *self._findings(site, gland, part_within(site, nut), way.wall_mm, triple(at))),
            handles=self.knob(place, way, "the gland"),
        )

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return a gland in the first side that has room for its nut, the back first."""
        sides: tuple[Face, ...] = ("back", "right", "left", "front")
        return first_that_fits((cls(side=side) for side in sides), site)

    def _findings(
        self, site: Site, gland: Gland, blocked: bool, wall_mm: float, at: tuple[float, float, float]
    ) -> list[Finding]:
        out = []
        if blocked:
            out.append(
                Finding(
                    "gland-nut",
                    "fail",
                    f"The part is where the nut of {self.name} goes; it needs {gland.nut_height_mm:g} mm "
                    "behind the wall.",
                    "Move the gland beside the part, or give that side more room.",
                    at,
                )
            )
        cable = f"{gland.cable_mm.low:g} to {gland.cable_mm.high:g} mm"
        known = "from memory; " if gland.source("cable_mm").from_memory else ""
        out.append(
            Finding(
                "gland-cable",
                "pass",
                f"{self.name} {self.size} goes through {wall_mm:.1f} mm of wall and seals on cables of "
                f"{cable} ({known}makers differ).",
                where_mm=at,
            )
        )
        return out


def _section(site: Site, frame: Frame, out_mm: float) -> Outline:
    """Return the section of the outside form across ``Frame.out``, at a distance along it."""
    far = reach_of(site)
    slice_ = frame.body(Outline.rectangle((-far, -far), (far, far)), out_mm - _SLICE_MM, out_mm + _SLICE_MM)
    return frame.outline(slice_ & site.form)
