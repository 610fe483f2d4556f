"""The seat of a shaft's bearing in the wall: a ball bearing or a plain bush, caught along the shaft.

A zone of the fit names it (``ZoneSpec.seat``), so it has no entry of its own among the features.  Where the
halves part through the shaft's axis, the bearing is laid in and a shoulder at each end catches it.
Elsewhere it is pushed in from inside, against one shoulder.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.behind import part_within
from housingdesk.features.carried import (
    AXIAL_PLAY_MM,
    SHOULDER_MM,
    SLACK_MM,
    Carried,
    OwnSize,
    SeatKind,
    carried_by,
    rings,
    seat_steps,
)
from housingdesk.features.feature import Feature
from housingdesk.features.opening import (
    BEYOND_MM,
    Frame,
    adds,
    cuts,
    face_of,
    reach_of,
    room_in,
    span,
    triple,
)
from housingdesk.features.records import BillLine, Joint, OpeningRecord, Point, Seat
from housingdesk.features.site import Shaft, Site
from housingdesk.features.wirehold import material_around
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.standards.fits import fit_preset

ON_PLANE_MM = 0.05
LEVEL = 1e-3
SLEEVE_MM = 1.0  # so much wider than the shaft a sleeve may fill a bore, in diameter (own choice)
TOO_SHORT = "seat-short-shaft"
_HAIR_MM = 0.02
_UP = np.array([0.0, 0.0, 1.0])


class ShaftSeat(Feature):
    """The seat of one zone's bearing; made from the zone, not by the user."""

    TITLE = "seat"
    STATION = "Fit"
    ORDER = 10

    zone: str
    seat: SeatKind
    bearing: str = ""
    bore_mm: float | None = None
    outside_mm: float = OwnSize().outside_mm
    width_mm: float = OwnSize().width_mm
    mouth_mm: float = Field(default=0.6, ge=0, le=5)

    def build(self, site: Site) -> Work:
        """Seat the bearing at every end at which the zone's shaft leaves the housing.

        Raises
        ------
        SpecError : no bearing fits, no wall is there, or no room beside the axis.
        """
        shafts = [s for s in site.shafts if s.zone == self.zone]
        if not shafts:
            raise SpecError(
                f"The zone {self.zone} has no end that leaves its part; nothing carries it in the wall."
            )
        works = [self._one(site, shaft) for shaft in shafts]
        return Work(
            add={s: tuple(b for w in works for b in w.add.get(s, ())) for s in ("lower", "upper")},
            cut={s: tuple(b for w in works for b in w.cut.get(s, ())) for s in ("lower", "upper")},
            needs=tuple(b for w in works for b in w.needs),
            keep_out=tuple(b for w in works for b in w.keep_out),
            openings=tuple(o for w in works for o in w.openings),
            joints=tuple(j for w in works for j in w.joints),
            bill=_counted([line for w in works for line in w.bill]),
            bought=tuple(b for w in works for b in w.bought),
            seats=tuple(s for w in works for s in w.seats),
            findings=tuple(f for w in works for f in w.findings),
        )

    def spot(self, site: Site) -> Point | None:
        """Return where the shaft leaves its part."""
        return next((triple(s.base_mm) for s in site.shafts if s.zone == self.zone), None)

    def _one(self, site: Site, shaft: Shaft) -> Work:
        own = OwnSize(self.bore_mm, self.outside_mm, self.width_mm)
        carried = carried_by(self.seat, self.bearing, shaft.diameter_mm, own)
        frame, z = axis_frame(shaft), site.parting_z_mm
        laid = bool(abs(shaft.axis[2]) < LEVEL and abs(shaft.base_mm[2] - z) <= ON_PLANE_MM)
        inner, face = wall_around(site, shaft, frame)
        hole = shaft.hole_mm
        steps = seat_steps(
            carried, hole, fit_preset("filament", "snug").clearance_mm, site.hole_extra_mm, laid
        )
        end = max(face, inner + sum(length for length, _ in steps))
        beside = self._room_beside(site, shaft, carried)
        # Pushed in, it needs a way in where floor or roof would be in it.
        way_in = _HAIR_MM if laid else carried.length_mm + 1.0
        cut = self._cut(frame, steps, inner, end, way_in)
        boss = self._boss(site, shaft, frame, carried, inner, face, end, laid)
        starts = inner + (SHOULDER_MM if laid else 0.0)
        bodies = rings(frame, carried, starts + (AXIAL_PLAY_MM / 2 if laid else 0.0))
        mouth = triple(frame.point(0, 0, end))
        ring = Solid.rod(frame.point(0, 0, starts), frame.point(0, 0, end), carried.widest_mm / 2 + beside)
        return Work(
            add=adds(boss, z),
            cut=cuts([cut], z),
            needs=(ring - cut,),
            keep_out=(cut,),
            openings=(OpeningRecord(self.name, "passage", mouth, (steps[-1][1], steps[-1][1])),),
            joints=(
                Joint(
                    self.name,
                    self.seat,
                    {
                        "seat_mm": carried.widest_mm,
                        "length_mm": carried.length_mm,
                        "starts_mm": starts,
                        "boss_mm": end - face,
                    },
                ),
            ),
            bill=(BillLine(1, carried.what, carried.standard, f"{self.zone}, in the wall"),),
            bought=tuple(bodies),
            seats=(
                Seat(
                    self.zone,
                    carried.words,
                    triple(frame.point(0, 0, starts)),
                    triple(frame.out),
                    carried.steps,
                    carried.free_mm,
                    max(carried.free_mm, hole),
                    steps[-1][1] + 2 * self.mouth_mm,
                    laid,
                    mouth,
                    self.mouth_mm,
                ),
            ),
            findings=tuple(self._findings(site, shaft, carried, laid, starts, face, end, bodies, mouth)),
        )

    def _cut(
        self, frame: Frame, steps: list[tuple[float, float]], inner: float, end: float, way_in_mm: float
    ) -> Solid:
        """Return what is cut: the way in, steps from inside out, and a chamfered mouth.

        It is one turned body: bars that only meet keep a skin of no thickness between their ends.
        """
        places = np.cumsum([inner, *(length for length, _ in steps)]).tolist()
        places[0] -= way_in_mm
        last = end + BEYOND_MM
        places[-1] = last
        shape = [_stretch(a, b, d / 2, d / 2) for (a, b), (_, d) in zip(pairwise(places), steps, strict=True)]
        if self.mouth_mm > 0:
            radius = steps[-1][1] / 2
            shape.append(_stretch(end - self.mouth_mm, last, radius, radius + self.mouth_mm + BEYOND_MM))
        (profile,) = Outline.union(shape).loops
        turn = np.eye(4)
        turn[:3] = np.column_stack([frame.u, frame.v, frame.out, frame.origin_mm])
        return Solid.turned(0.0, 0.0, profile, outside=True).moved(turn)

    def _room_beside(self, site: Site, shaft: Shaft, carried: Carried) -> float:
        """Return the wall beside the bearing; SpecError where floor or roof leave too little."""
        least = min(site.wall_mm, 1.2)
        if abs(shaft.axis[2]) > 0.5:
            return least
        low, high = site.base_z_mm("lower"), site.base_z_mm("upper")
        for name, room in (("floor", shaft.base_mm[2] - low), ("roof", high - shaft.base_mm[2])):
            if room < carried.widest_mm / 2 + least:
                raise SpecError(
                    f"The {carried.what} needs {carried.widest_mm / 2 + least:.1f} mm between the axis "
                    f"and the {name}, {room:.1f} mm are there; let the {name} reach further out."
                )
        return least

    def _boss(
        self,
        site: Site,
        shaft: Shaft,
        frame: Frame,
        carried: Carried,
        inner: float,
        face: float,
        end: float,
        laid: bool,
    ) -> list[Solid]:
        """Return the material a seat needs outside a wall that is thinner than it."""
        if end <= face + 1e-6:
            return []
        if not laid:
            radius = carried.widest_mm / 2 + site.wall_mm
            return [Solid.rod(frame.point(0, 0, inner), frame.point(0, 0, end), radius)]
        outer = Frame(frame.u, frame.v, frame.out, frame.point(0, 0, face))
        line = np.array([frame.point(0, 0, inner)[:2], frame.point(0, 0, end)[:2]])
        return [material_around(site, outer, line, carried.widest_mm, face - inner, end - face)]

    def _findings(
        self,
        site: Site,
        shaft: Shaft,
        carried: Carried,
        laid: bool,
        starts: float,
        face: float,
        end: float,
        bodies: list[Solid],
        at: tuple[float, float, float],
    ) -> list[Finding]:
        out = []
        slack = carried.bore_mm - shaft.diameter_mm
        memory = "; its figures are from memory" if carried.from_memory else ""
        bore = f"The {carried.what} has a bore of {carried.bore_mm:.4g} mm, the {self.zone} is "
        bore += f"{shaft.diameter_mm:.2f} mm{memory}."
        if -0.02 <= slack <= SLACK_MM:
            out.append(Finding("seat-bore", "pass", bore, where_mm=at))
        elif SLACK_MM < slack <= SLEEVE_MM:
            out.append(
                Finding(
                    "seat-bore",
                    "caution",
                    bore,
                    f"Put a sleeve {slack / 2:.2f} mm thick around the shaft, or measure the real one: the "
                    "model may draw it thinner.",
                    at,
                )
            )
        else:
            out.append(
                Finding("seat-bore", "fail", bore, "Choose one whose bore is the shaft's diameter.", at)
            )
        tip = float((shaft.tip_mm - shaft.base_mm) @ shaft.axis)
        far_end = starts + carried.length_mm
        if tip < far_end:
            out.append(
                Finding(
                    TOO_SHORT,
                    "fail",
                    f"The {self.zone} ends {far_end - tip:.1f} mm before the far end of the {carried.what}, "
                    f"and {end - tip:.1f} mm inside the mouth of its way out.",
                    f"Let the {face_of(shaft.axis)} reach less far out at station Shell, or take a narrower "
                    "bearing.",
                    at,
                )
            )
        if not laid:
            out.append(
                Finding(
                    "seat-pushed-in",
                    "caution",
                    f"The halves do not part through the axis of {self.zone}: the {carried.what} is "
                    "pushed in from inside and only its fit holds it there.",
                    "Let the halves part through the shaft's axis, or secure it with glue on its outer ring.",
                    at,
                )
            )
        if any(part_within(site, body) for body in bodies):
            out.append(
                Finding(
                    "seat-meets-part",
                    "fail",
                    f"The {carried.what} would stand in the part.",
                    "Give that side of the housing more room.",
                    at,
                )
            )
        if end - face > 0.01:
            out.append(
                Finding(
                    "seat-boss",
                    "pass",
                    f"The wall is thinner than the {carried.what}: it stands {end - face:.1f} mm out around "
                    f"the {self.zone}.",
                    where_mm=at,
                )
            )
        return out


def _stretch(start_mm: float, end_mm: float, start_radius_mm: float, end_radius_mm: float) -> Outline:
    """Return half the section of a round bar or cone: radius across, place along its axis up."""
    return Outline.polygon([(0, start_mm), (start_radius_mm, start_mm), (end_radius_mm, end_mm), (0, end_mm)])


def axis_frame(shaft: Shaft) -> Frame:
    """Return a frame that looks out along a shaft from its base; where it is level, ``v`` is the pull."""
    out = shaft.axis / np.linalg.norm(shaft.axis)
    if abs(out[2]) < LEVEL:
        return Frame(np.array([-out[1], out[0], 0.0]), _UP, out, shaft.base_mm)
    turn = rotation_to(_UP, out)[:3, :3]
    return Frame(turn[:, 0], turn[:, 1], out, shaft.base_mm)


def wall_around(site: Site, shaft: Shaft, frame: Frame) -> tuple[float, float]:
    """Return where the wall begins and ends beside the shaft's hole, from the shaft's base along it, mm.

    Raises
    ------
    SpecError : no wall there.
    """
    r = shaft.hole_mm / 2 + 0.2
    ring = Outline.circle((0, 0), r + 0.4) - Outline.circle((0, 0), r)
    wide = Outline.circle((0, 0), r + 0.45) - Outline.circle((0, 0), r - 0.05)
    far = reach_of(site)
    solid = (frame.body(ring, -0.5, far) & site.form) - room_in(site, frame.body(wide, -1.0, far))
    walls = [span(piece, frame) for piece in solid.bodies() if piece.volume_mm3 > 0.05]
    if not walls:
        raise SpecError(f"The shaft of {shaft.zone} meets no wall that could carry a bearing.")
    return max(walls, key=lambda wall: wall[1])


def _counted(lines: list[BillLine]) -> tuple[BillLine, ...]:
    """Return equal lines added up."""
    out: dict[tuple[str, str, str], int] = {}
    for line in lines:
        key = (line.what, line.standard, line.purpose)
        out[key] = out.get(key, 0) + line.count
    return tuple(BillLine(count, *key) for key, count in out.items())
