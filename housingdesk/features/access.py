"""A hole through which a screwdriver reaches a screw of the part."""

from __future__ import annotations

from typing import Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.behind import Seen, screw_holes
from housingdesk.features.opening import (
    FRAMES,
    Face,
    Frame,
    SideOpening,
    bore,
    cuts,
    face_of,
    on_the_side,
    triple,
    way_out,
)
from housingdesk.features.records import OpeningRecord
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats

NEAR_MM = 4.0  # a click so far from a hole's axis still means it


class AccessHole(SideOpening):
    """A straight hole on the axis of a screw of the part."""

    TITLE = "screwdriver hole"
    STATION = "Openings"
    SENTENCE = (
        "Reach {target} through the {side} with a screwdriver {driver_mm} thick (sideways: {across_mm}, "
        "height: {height_mm})."
    )

    kind: Literal["access"] = "access"
    side: Face = Field(default="roof", title="side", description="Where the screwdriver comes in.")
    target: Literal["a screw of the part", "a place"] = Field(
        default="a screw of the part",
        title="aim",
        description="A screw of the part: the hole lies on its axis. A place: the hole lies where you put "
        "it.",
    )
    driver_mm: float = Field(
        default=6.0,
        ge=1,
        le=30,
        title="screwdriver",
        description="Thickest part of the blade that must go in, by calipers.",
    )
    room_mm: float = Field(
        default=0.5,
        ge=0,
        le=5,
        title="room",
        description="Gap around the blade on each side; common practice, no source.",
    )
    chamfer_mm: float = Field(
        default=0.8,
        ge=0,
        le=5,
        title="chamfer",
        description="Widens the mouth, so that the blade finds its way in.",
    )

    def build(self, site: Site) -> Work:
        """Cut the hole.

        Raises
        ------
        SpecError : no hole of the part along this side, nothing to go through, over the edge.
        """
        frame = FRAMES[self.side]
        place = np.array(self.place(site))
        if self.target == "a screw of the part":
            place = self._aim(site, frame, place).middle_mm
        diameter = self.driver_mm + 2 * self.room_mm
        outline = Outline.circle(place, diameter / 2, outside=True)
        way = way_out(site, frame, outline)
        said = on_the_side(site, frame, outline, way, self.name)
        at = triple(frame.at(place, way.face_mm))
        return Work(
            cut=cuts([bore(frame, outline, way, self.chamfer_mm)], site.parting_z_mm),
            keep_out=(frame.body(outline, way.inner_mm, way.outer_mm),),
            openings=(OpeningRecord(self.name, self.kind, at, (diameter, diameter)),),
            findings=tuple(said),
            handles=self.knob((float(place[0]), float(place[1])), way, "the screwdriver's hole"),
        )

    def _aim(self, site: Site, frame: Frame, place: Floats) -> Seen:
        holes = screw_holes(site, frame)
        nearest = min(holes, key=lambda s: float(np.linalg.norm(s.middle_mm - place)), default=None)
        given = self.across_mm is not None or self.height_mm is not None
        if nearest is None or (given and np.linalg.norm(nearest.middle_mm - place) > 3 * NEAR_MM):
            raise SpecError(
                f"No screw hole of the part points to the {self.side} near there; move the hole, or aim "
                "it at a place."
            )
        return nearest

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return a hole to the first screw of the part that points out of a side, or one at a place."""
        faces: tuple[Face, ...] = ("roof", "floor", "left", "right", "front", "back")
        for face in faces:
            for hole in screw_holes(site, FRAMES[face]):
                u, v = np.round(hole.middle_mm, 2).tolist()
                return cls(side=face, across_mm=u, height_mm=v)
        return cls(target="a place")

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return a hole where the user clicked, on the axis of a screw hole near there."""
        side = face_of(normal)
        u, v, _ = np.round(FRAMES[side].seen(point_mm), 2).tolist()
        near = any(
            np.linalg.norm(hole.middle_mm - [u, v]) <= NEAR_MM for hole in screw_holes(site, FRAMES[side])
        )
        return cls(side=side, across_mm=u, height_mm=v, target="a screw of the part" if near else "a place")
