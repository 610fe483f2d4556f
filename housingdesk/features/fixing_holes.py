"""Holes for the screws that hold the part itself, from its own holes or a motor face's pattern."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.behind import Seen, screw_holes
from housingdesk.features.hardware import washer_line
from housingdesk.features.opening import (
    FRAMES,
    Face,
    Frame,
    SideOpening,
    Way,
    bore,
    cuts,
    face_of,
    on_the_side,
    triple,
    way_out,
)
from housingdesk.features.records import BillLine, OpeningRecord
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.finding import Finding, counted
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf
from housingdesk.standards.motors import motor_faces
from housingdesk.standards.screws import (
    SIZES,
    ScrewSize,
    cap_screws,
    clearance_holes,
    screw_lengths,
    threads,
    washers,
)

Pattern = Literal[
    "the part's own holes", "one hole of the part", "NEMA 8", "NEMA 11", "NEMA 14", "NEMA 17", "NEMA 23"
]  # fmt: skip
OWN: tuple[Pattern, ...] = ("the part's own holes", "one hole of the part")
FACES: tuple[Pattern, ...] = ("NEMA 8", "NEMA 11", "NEMA 14", "NEMA 17", "NEMA 23")
PLACED: tuple[Pattern, ...] = ("one hole of the part", *FACES)
NEAR_MM = 4.0  # a click so far from a hole's axis still means that hole
ENGAGED = 1.5  # of the diameter: least thread of a screw in metal, common practice, no source


class FixingHoles(SideOpening):
    """Clear holes for the part's own fixing screws."""

    TITLE = "holes for the part's screws"
    STATION = "Openings"
    SENTENCE = (
        "Screw the part to the {side} through {pattern}, screws {size}, {fit} holes; pattern turned by "
        "{turn_deg}."
    )

    ONLY_IF: ClassVar[OnlyIf] = {
        "across_mm": {"pattern": PLACED},
        "height_mm": {"pattern": PLACED},
        "turn_deg": {"pattern": FACES},
        "pilot": {"pattern": FACES},
    }

    kind: Literal["fixing_holes"] = "fixing_holes"
    side: Face = Field(default="floor", title="side", description="The side the screws come through.")
    pattern: Pattern = Field(
        default="the part's own holes",
        title="pattern",
        description="All screw holes found on the part, the one nearest to the place, or the square of a "
        "motor face (NEMA ICS 16 naming).",
    )
    size: Literal["auto", "M2", "M2.5", "M3", "M4", "M5", "M6"] = Field(
        default="auto",
        title="screws",
        description="Auto: what the motor face takes, or the thread that the part's hole measures. A hole "
        "drawn as it is before its thread is cut measures one size too small: then choose the size.",
    )
    fit: Literal["fine", "medium", "coarse"] = Field(
        default="medium",
        title="holes",
        description="Holes the screws pass through, by ISO 273; coarse leaves most room.",
    )
    turn_deg: float = Field(
        default=0.0,
        ge=-180,
        le=180,
        title="turn of the pattern",
        description="Of a motor face, about its shaft.",
    )
    pilot: bool = Field(
        default=False, title="hole for the motor's round shoulder", description="Of a motor face only."
    )

    def build(self, site: Site) -> Work:
        """Cut the holes.

        Raises
        ------
        SpecError : the part has no such holes, nothing to go through, over the edge.
        """
        frame = FRAMES[self.side]
        return self._own(site, frame) if self.pattern in OWN else self._face(site, frame)

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the pattern's knob; all holes of the part together have no place of their own."""
        return () if self.pattern == "the part's own holes" else super().knobs(site)

    def _own(self, site: Site, frame: Frame) -> Work:
        largest = threads()["M6"].diameter_mm + 1.0
        found = _apart(screw_holes(site, frame, 1.0, largest))
        if not found:
            raise SpecError(
                f"The part has no screw holes that point to the {self.side}; choose another side or a "
                "pattern."
            )
        if self.pattern == "one hole of the part":
            place = np.array(self.place(site))
            found = [min(found, key=lambda s: float(np.linalg.norm(s.middle_mm - place)))]
        sizes = [self._size_for(hole) for hole in found]
        depths = [hole.patch.length_mm for hole in found]
        places = [hole.middle_mm for hole in found]
        work, way = self._holes(site, frame, places, sizes, depths)
        guess = Finding(
            "fixing-size",
            "pass" if self.size != "auto" else "caution",
            f"{self.name}: {counted(len(found), 'hole')} of the part, Ø{found[0].patch.diameter_mm:.1f}, for "
            f"{sizes[0]}.",
            ""
            if self.size != "auto"
            else "See that this is the screw; a hole drawn at its tap size reads small.",
            triple(frame.at(places[0], way.face_mm)),
        )
        return replace(work, findings=(*work.findings, guess))

    def _face(self, site: Site, frame: Frame) -> Work:
        face = motor_faces()[self.pattern]
        size: ScrewSize = face.screw if self.size == "auto" else self.size
        middle = np.array(self._middle(site, frame))
        half, t = face.hole_spacing_mm / 2, np.radians(self.turn_deg)
        turn = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
        places = [middle + turn @ np.array([i * half, j * half]) for i in (-1, 1) for j in (-1, 1)]
        work, way = self._holes(site, frame, places, [size] * 4, [ENGAGED * threads()[size].diameter_mm] * 4)
        said = Finding(
            "fixing-face",
            "caution",
            f"{self.name}: {self.pattern}, holes {face.hole_spacing_mm:g} mm apart, {size}. {face.warning}",
            "Measure the motor's holes with calipers before you print.",
            triple(frame.at(middle, way.face_mm)),
        )
        work = replace(work, findings=(*work.findings, said))
        return self._with_pilot(site, frame, work, middle, face.pilot_mm) if self.pilot else work

    def _with_pilot(self, site: Site, frame: Frame, work: Work, middle: Floats, pilot_mm: float) -> Work:
        """Return the work with a hole for the motor's round shoulder."""
        diameter = pilot_mm + site.hole_extra_mm + 2 * site.clearance_mm
        outline = Outline.circle(middle, diameter / 2, outside=True)
        way = way_out(site, frame, outline)
        more = cuts([bore(frame, outline, way)], site.parting_z_mm)
        at = triple(frame.at(middle, way.face_mm))
        return replace(
            work,
            cut={side: work.cut[side] + more[side] for side in work.cut},
            keep_out=(*work.keep_out, frame.body(outline, way.inner_mm, way.outer_mm)),
            openings=(
                *work.openings,
                OpeningRecord(f"{self.name}, shoulder", self.kind, at, (diameter, diameter)),
            ),
        )

    def _holes(
        self,
        site: Site,
        frame: Frame,
        places: list[Floats],
        sizes: list[ScrewSize],
        depths_mm: list[float],
    ) -> tuple[Work, Way]:
        """Cut clear holes, keep their heads free, and name the screws; also return the first one's way."""
        made: list[Solid] = []
        keep: list[Solid] = []
        records, said, lengths = [], [], []
        ways = []
        for number, (place, size, depth) in enumerate(zip(places, sizes, depths_mm, strict=True), 1):
            hole = getattr(clearance_holes()[size], f"{self.fit}_mm") + site.hole_extra_mm
            outline = Outline.circle(place, hole / 2, outside=True)
            way = way_out(site, frame, outline)
            said += on_the_side(site, frame, outline, way, self.name)
            head, washer = cap_screws()[size], washers()[size]
            head_outline = Outline.circle(place, max(head.head_knurled_mm, washer.outside_mm) / 2)
            high = washer.thickness_mm + head.head_height_mm
            made.append(bore(frame, outline, way))
            keep.append(frame.body(outline, way.inner_mm, way.face_mm))
            keep.append(frame.body(head_outline, way.face_mm + 0.01, way.face_mm + high))
            records.append(
                OpeningRecord(
                    f"{self.name} {number}", self.kind, triple(frame.at(place, way.face_mm)), (hole, hole)
                )
            )
            through = washer.thickness_mm + way.wall_mm + site.clearance_mm
            lengths.append(_length(through, depth, threads()[size].diameter_mm))
            ways.append(way)
        kinds = Counter(zip(sizes, lengths, strict=True))
        bill = [
            BillLine(n, f"socket head cap screw {size} x {length:g}", "ISO 4762", self.name)
            for (size, length), n in kinds.items()
        ]
        bill += [washer_line(n, size, self.name) for size, n in Counter(sizes).items()]
        first = (float(places[0][0]), float(places[0][1]))
        own = self.pattern == "the part's own holes"
        middle = np.mean(places, axis=0)
        at = (float(middle[0]), float(middle[1]))
        return (
            Work(
                cut=cuts(made, site.parting_z_mm),
                keep_out=tuple(keep),
                openings=tuple(records),
                bill=tuple(bill),
                findings=tuple(said),
                handles=() if own else self.knob(at if len(places) > 1 else first, ways[0], "the pattern"),
            ),
            ways[0],
        )

    def _size_for(self, hole: Seen) -> ScrewSize:
        if self.size != "auto":
            return self.size
        d = hole.patch.diameter_mm
        fitting = [size for size in SIZES if threads()[size].diameter_mm <= d + 0.15]
        return fitting[-1] if fitting else SIZES[0]

    def _middle(self, site: Site, frame: Frame) -> tuple[float, float]:
        """Return where the pattern lies: about the shaft that leaves this side, else as placed."""
        if self.across_mm is None and self.height_mm is None:
            for shaft in site.shafts:
                if float(shaft.axis @ frame.out) > 0.99:
                    u, v, _ = frame.seen(shaft.tip_mm).tolist()
                    return u, v
        return self.place(site)

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return holes on the side that most screw holes of the part point to, or None without any."""
        counts = {face: len(_apart(screw_holes(site, frame))) for face, frame in FRAMES.items()}
        best = max(counts, key=lambda face: counts[face])
        return cls(side=best) if counts[best] else cls(pattern="NEMA 17")

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return the hole that the user clicked on a side, or all of that side."""
        side = face_of(normal)
        u, v, _ = np.round(FRAMES[side].seen(point_mm), 2).tolist()
        found = screw_holes(site, FRAMES[side])
        if not found:
            return cls(side=side, pattern="NEMA 17", across_mm=u, height_mm=v)
        if any(np.linalg.norm(hole.middle_mm - (u, v)) <= NEAR_MM for hole in found):
            return cls(side=side, pattern="one hole of the part", across_mm=u, height_mm=v)
        return cls(side=side)


def _apart(holes: list[Seen]) -> list[Seen]:
    """Return one hole an axis (the narrowest: a screw hole below its counterbore), from left to right."""
    out: list[Seen] = []
    for hole in sorted(holes, key=lambda s: s.patch.diameter_mm):
        if all(np.linalg.norm(hole.middle_mm - o.middle_mm) > 0.5 for o in out):
            out.append(hole)
    return sorted(out, key=lambda s: tuple(np.round(s.middle_mm, 3).tolist()))


def _length(through_mm: float, depth_mm: float, diameter_mm: float) -> float:
    """Return the longest screw on sale that does not reach the bottom of a hole, at least as engaged."""
    fitting = [
        length
        for length in screw_lengths()
        if through_mm + min(ENGAGED * diameter_mm, depth_mm) <= length <= through_mm + depth_mm
    ]
    longest = [length for length in screw_lengths() if length <= through_mm + depth_mm]
    return fitting[0] if fitting else (longest[-1] if longest else screw_lengths()[0])
