"""A wireway: a channel on the parting plane, half of it in each half, with a hold for the wire."""

from __future__ import annotations

import math
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.features.feature import Feature
from housingdesk.features.opening import (
    BEYOND_MM,
    FRAMES,
    Face,
    Frame,
    adds,
    cuts,
    face_of,
    triple,
)
from housingdesk.features.records import Channel, OpeningRecord, Point
from housingdesk.features.site import Site
from housingdesk.features.wirecourse import Course, course_of, nearest_room, straight_way
from housingdesk.features.wirehold import LEAST_GAP_MM, humps, material_around
from housingdesk.features.wirepath import WEAVE_DEG, Section, mouth, ribbon, swept, weave, weave_length_mm
from housingdesk.features.work import Handle, Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf

Relief = Literal["none", "clamp", "labyrinth"]
Upright = Literal["left", "right", "front", "back"]
Point2 = tuple[Annotated[float, Field(ge=-500, le=500)], Annotated[float, Field(ge=-500, le=500)]]

FRICTION = 0.3  # of a plastic sheath on printed plastic, from memory
_UP = np.array([0.0, 0.0, 1.0])
_HAIR_MM = 0.02


class Wireway(Feature):
    """A channel for a wire from the cavity to the outside, shared by both halves."""

    TITLE = "wireway"
    STATION = "Openings"
    SENTENCE = (
        "Lead a wire {wire_mm} thick out through the {side} (sideways: {across_mm}) in a {shape} channel "
        "with {room_mm} room; strain relief: {relief}."
    )
    ORDER = 30

    ONLY_IF: ClassVar[OnlyIf] = {"squeeze_mm": {"relief": ("clamp",)}}

    kind: Literal["wireway"] = "wireway"
    side: Upright = Field(
        default="back",
        title="side",
        description="Where the wire leaves. The channel lies on the parting plane, so the wire is laid in.",
    )
    across_mm: float | None = Field(
        default=None,
        ge=-500,
        le=500,
        title="across",
        description="From the middle of the part. As needed: where the room for the part is nearest.",
    )
    points_mm: tuple[Point2, ...] = Field(
        default=(),
        max_length=30,
        title="drawn way",
        description="Corners of the way on the parting plane, from the room of the part outwards.",
    )
    wire_mm: float = Field(
        default=4.0,
        ge=0.5,
        le=30,
        title="wire",
        description="Outside diameter of wire or cable, by calipers.",
    )
    shape: Section = Field(
        default="round",
        title="shape",
        description="Round holds a cable; square takes a ribbon or several wires, and prints as well.",
    )
    room_mm: float = Field(
        default=0.3,
        ge=0,
        le=5,
        title="room",
        description="Gap around the wire on each side. Common practice 0.2 to 0.5 mm, no source.",
    )
    relief: Relief = Field(
        default="clamp",
        title="strain relief",
        description="Keeps a pull on the wire away from its solder joints. A clamp squeezes it between "
        "two humps when the halves close; a labyrinth bends it four times and holds by friction.",
    )
    squeeze_mm: float = Field(
        default=0.5,
        ge=0,
        le=5,
        title="squeeze",
        description="How much narrower than the wire the gap between the humps is. Common practice 10 to 15 "
        "% of a "
        "soft sheath, no source.",
    )
    mouth_mm: float = Field(
        default=1.0,
        ge=0,
        le=10,
        title="rounding of the mouth",
        description="Radius of the outer edge, so that it does not cut the wire where that bends.",
    )

    @property
    def width_mm(self) -> float:
        """Diameter or side of the channel."""
        return self.wire_mm + 2 * self.room_mm

    @property
    def bend_mm(self) -> float:
        """Radius of a labyrinth's bends, at the middle of the wire: humps are rounded by half the wire."""
        return self.width_mm / 2 + self.wire_mm / 2

    def build(self, site: Site) -> Work:
        """Cut the channel in both halves; where the wall is too thin for its hold, put material around it.

        Raises
        ------
        SpecError : the way does not begin at the room of the part, or leaves no outer face.
        """
        course = self.course(site)
        z = site.parting_z_mm
        missing = self.missing_mm(course)
        line = self.line(course)
        end = self._out(course.frame, missing)
        channel = swept(line, z, self.width_mm, self.shape)
        if self.mouth_mm > 0:
            channel = channel | mouth(end, self.width_mm, self.shape, self.mouth_mm, BEYOND_MM)
        free, at, gap = channel, None, max(self.wire_mm - self.squeeze_mm, LEAST_GAP_MM)
        if self.relief == "clamp":
            at = self._out(course.frame, missing - self.mouth_mm - self._hump_mm())
            free = channel.without(humps(at, self._hump_mm(), self.width_mm, gap))
        inside = min(course.straight_mm, site.wall_mm)
        spout = (
            [material_around(site, course.frame, line, self.width_mm, inside, missing)] if missing > 0 else []
        )
        width = self.width_mm + 2 * self.mouth_mm
        return Work(
            add=adds(spout, z),
            cut=cuts([free], z),
            keep_out=(channel,),
            needs=tuple(s - channel for s in spout),
            openings=(OpeningRecord(self.name, self.kind, triple(end.origin_mm), (width, width)),),
            channels=(
                Channel(
                    self.name,
                    self.wire_mm,
                    self.width_mm,
                    triple(end.u),
                    triple(end.out),
                    triple(end.point(0, 0, -self.mouth_mm - _HAIR_MM)),
                    0.0 if self.relief == "labyrinth" else max(inside + missing - self.mouth_mm, 0.0),
                    triple(at.origin_mm) if at else None,
                    gap if at else 0.0,
                ),
            ),
            findings=tuple(self._findings(site, course, missing, spout)),
            handles=self._handles(course.drawn_mm, end.origin_mm),
        )

    # --- where it runs ------------------------------------------------------------------------------

    def course(self, site: Site) -> Course:
        """Return where the channel runs, from inside the cavity to the outer face.

        Raises
        ------
        SpecError : it does not begin at the room of the part, or its last piece meets no outer face.
        """
        drawn = np.array(self.points_mm, float).reshape(-1, 2)
        z, half = site.parting_z_mm, self.width_mm / 2 + 0.1
        low, high = site.form.bounds
        low[2], high[2] = z - half, z + half
        if len(drawn) < 2 or not (np.linalg.norm(np.diff(drawn, axis=0), axis=1) > 1e-3).all():
            inset = self.width_mm / 2 + self.mouth_mm
            across = nearest_room(site, self.side, inset) if self.across_mm is None else self.across_mm
            look = FRAMES[self.side]
            low, high = (np.where(look.u, across + by, end) for by, end in ((-half, low), (half, high)))
            near = site.near(low, high)
            drawn = straight_way(near, self.side, across, self.width_mm, self.shape)
        else:
            near = site.near(low, high)
        return course_of(near, drawn, self.width_mm)

    # --- its hold -----------------------------------------------------------------------------------

    def _hump_mm(self) -> float:
        """Radius of a clamp's humps along the wire."""
        return max(1.0, self.wire_mm / 3)

    def _hold_length_mm(self) -> float:
        if self.relief == "clamp":
            return 2 * self._hump_mm()
        return weave_length_mm(self.bend_mm) if self.relief == "labyrinth" else 0.0

    def _out(self, frame: Frame, more_mm: float) -> Frame:
        return Frame(frame.u, frame.v, frame.out, frame.point(0, 0, more_mm))

    def missing_mm(self, course: Course) -> float:
        """Return by how much the hold is longer than the way through the wall."""
        hold = self._hold_length_mm()
        return max(0.0, hold + self.mouth_mm - course.straight_mm) if hold else 0.0

    def line(self, course: Course) -> Floats:
        """Return the wire's middle line with the labyrinth's bends, led past the outer face, (n, 2)."""
        missing, hold = self.missing_mm(course), self._hold_length_mm()
        out, end = course.frame.out[:2], course.frame.origin_mm[:2]
        tail = (end + out * (missing + BEYOND_MM))[None]
        if self.relief != "labyrinth":
            return np.vstack([course.points_mm[:-1], tail])
        bends = weave(self.bend_mm)
        start = end + out * (missing - self.mouth_mm - hold)
        along = np.array([out, [-out[1], out[0]]])
        return np.vstack([course.points_mm[:-1], start + bends @ along, tail])

    # --- words --------------------------------------------------------------------------------------

    def _findings(self, site: Site, course: Course, missing: float, spout: list[Solid]) -> list[Finding]:
        at = triple(course.frame.origin_mm)
        out = []
        if self.relief == "labyrinth":
            turn = 4 * WEAVE_DEG
            times = math.exp(FRICTION * math.radians(turn))  # Euler-Eytelwein, rope around a post
            out.append(
                Finding(
                    "wireway-hold",
                    "pass",
                    f"{self.name} turns the wire by {turn:.0f}° in all with bends of {self.bend_mm:.1f} mm "
                    f"radius; at a friction of {FRICTION} (from memory) a pull is {times:.1f} times weaker "
                    "inside.",
                    where_mm=at,
                )
            )
        if self.relief == "clamp" and self.squeeze_mm > 0.3 * self.wire_mm:
            out.append(
                Finding(
                    "wireway-squeeze",
                    "caution",
                    f"{self.name} squeezes a wire of {self.wire_mm:g} mm by {self.squeeze_mm:g} mm.",
                    "Squeeze less, or the sheath is crushed and the halves do not close.",
                    at,
                )
            )
        if self.relief == "none":
            out.append(
                Finding(
                    "wireway-hold",
                    "caution",
                    f"{self.name} does not hold the wire; a pull outside reaches what it is soldered to.",
                    "Choose a clamp or a labyrinth, or tie the wire down inside.",
                    at,
                )
            )
        thin = self._thin_beside(site, course, spout)
        if thin is not None:
            out.append(
                Finding(
                    "wireway-wall",
                    "caution",
                    f"{self.name} runs nearer to the outside than the wall of {site.wall_mm:g} mm.",
                    "Move its corners inwards, or give the side more room.",
                    thin,
                )
            )
        if missing > 0:
            out.append(
                Finding(
                    "wireway-spout",
                    "pass",
                    f"{self.name} stands {missing:.1f} mm out of the {face_of(course.frame.out)}, "
                    "for its hold is longer than the wall is thick.",
                    where_mm=at,
                )
            )
        return out

    def _thin_beside(self, site: Site, course: Course, spout: list[Solid]) -> Point | None:
        """Return a place where the channel, but for its mouth, leaves less than the wall beside it."""
        z, reach = site.parting_z_mm, self.width_mm / 2 + site.wall_mm - 0.05
        line, end = (
            self.line(course),
            course.frame.origin_mm[:2] + course.frame.out[:2] * self.missing_mm(course),
        )
        line = np.vstack([line[:-1], end])
        form = Outline.union(body.section_at(z) for body in (site.form, *spout))
        bare = ribbon(line, reach) - form - Outline.circle(end, 1.5 * reach)
        if bare.area_mm2 < 0.5:
            return None
        x, y = bare.bounds.mean(axis=0).tolist()
        return (x, y, z)

    # --- by hand ------------------------------------------------------------------------------------

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knobs of its own corners, or of its mouth where the side gives the way."""
        frame = FRAMES[self.side]
        middle = float(frame.seen(site.part_bounds.mean(axis=0))[0])
        across = middle if self.across_mm is None else self.across_mm
        mouth = frame.point(across, site.parting_z_mm, float(frame.seen(site.outer_mm)[:, 2].max()))
        drawn = np.array(self.points_mm, float).reshape(-1, 2)
        return self._handles(drawn, mouth)[: None if len(drawn) > 1 else 1]

    def _handles(self, drawn: Floats, mouth_mm: Floats) -> tuple[Handle, ...]:
        """Return knobs for the mouth or the corners, and one in the middle of each piece that bends it there.

        A knob's key holds the way it was made for, so a drag gives the same way however often it is told.
        """
        z = float(mouth_mm[2])
        up = (0.0, 0.0, 1.0)
        way = " ".join(f"{x:.2f},{y:.2f}" for x, y in drawn.tolist())
        knobs = [
            Handle(f"bend {i + 1} {way}", (x, y, z), up, "drag to bend the way here")
            for i, (x, y) in enumerate(((drawn[:-1] + drawn[1:]) / 2).tolist())
        ]
        if len(self.points_mm) < 2:
            return (Handle("mouth", triple(mouth_mm), up, "where the wire leaves"), *knobs)
        corners = [
            Handle(f"corner {i} {way}", (x, y, z), up, f"corner {i + 1} of the way")
            for i, (x, y) in enumerate(drawn.tolist())
        ]
        return (*corners, *knobs)

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the wireway with its mouth or a corner dragged, or with a new corner."""
        x, y = round(float(to_mm[0]), 2), round(float(to_mm[1]), 2)
        if handle == "mouth":
            across = float(FRAMES[self.side].seen(np.array([x, y, 0.0]))[0])
            return self.model_copy(update={"across_mm": across})
        what, number, *way = handle.split()
        points = [tuple(float(value) for value in place.split(",")) for place in way]
        at = int(number)
        points[at : at + (what == "corner")] = [(x, y)]
        return self.model_copy(update={"points_mm": tuple(points)})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return a wireway through a side that no shaft leaves by, the back first."""
        sides: tuple[Upright, ...] = ("back", "right", "left", "front")
        turning = [s.axis for s in site.shafts]
        free = [s for s in sides if all(float(FRAMES[s].out @ axis) < 0.5 for axis in turning)]
        return cls(side=free[0] if free else "back")

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return a wireway through the side that was clicked; on floor and roof, through the nearest side."""
        side: Face = face_of(normal)
        if side in ("floor", "roof"):
            gaps: dict[Face, float] = {
                f: float(look.seen(site.outer_mm)[:, 2].max() - look.seen(point_mm)[2])
                for f, look in FRAMES.items()
                if abs(look.out[2]) < 0.5
            }
            side = min(gaps, key=lambda f: gaps[f])
        across = float(FRAMES[side].seen(point_mm)[0])
        return cls.model_validate({"side": side, "across_mm": round(across, 2)})
