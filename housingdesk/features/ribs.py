"""Locating ribs: small ribs in the cavity that the part crushes a little, so that it does not rattle."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature, Station
from housingdesk.features.footholds import (
    DIRECTIONS,
    MORE_MM,
    MOST_OF_PART,
    SIDEWAYS,
    UP_AND_DOWN,
    Foothold,
    Ground,
    Print,
    covered,
    halves_of,
    held_zone,
    room_of,
    share_of,
    well_apart,
)
from housingdesk.features.records import Contact
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.finding import Finding, counted
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES, Floats, Side
from housingdesk.model import OnlyIf
from housingdesk.standards.fits import off_words

EMBED_MM = 0.5  # a rib's foot stands so deep in the wall
SHORTEST_MM = 1.0
Hold = Literal["all round", "sideways", "up and down", "at one place"]
_FACES: dict[Hold, tuple[str, ...]] = {
    "all round": tuple(DIRECTIONS),
    "sideways": SIDEWAYS,
    "up and down": UP_AND_DOWN,
    "at one place": tuple(DIRECTIONS),
}


class Ribs(Feature):
    """Ribs that press on the part, placed by the program."""

    TITLE: ClassVar[str] = "Locating ribs"
    STATION: ClassVar[Station] = "Fit"
    SENTENCE: ClassVar[str] = (
        "Hold the {zone} {hold} [with {count} rib|ribs on each side, each] pressing {crush_mm} into it."
    )
    ORDER: ClassVar[int] = 70

    ONLY_IF: ClassVar[OnlyIf] = {
        "count": {"hold": ("all round", "sideways", "up and down")},
        "x_mm": {"hold": ("at one place",)},
        "y_mm": {"hold": ("at one place",)},
        "z_mm": {"hold": ("at one place",)},
    }

    kind: Literal["ribs"] = "ribs"
    zone: str = Field(
        default="body", max_length=40, title="zone that is held",
        description="Name of a held zone; shafts and hot zones must not be pressed on.",
    )  # fmt: skip
    hold: Hold = Field(
        default="all round", title="directions",
        description="Ribs on the sides run along the way the part goes in; those below and above press flat.",
    )  # fmt: skip
    count: int = Field(
        default=2, ge=1, le=4, title="ribs on each side",
        description="Two, well apart, also keep the part from turning.",
    )  # fmt: skip
    crush_mm: float = Field(
        default=0.15, ge=0.0, le=0.4, title="press",
        description="How far a rib would reach into the part; one or two tenths are crushed by hand as the "
        "housing is closed "
        "(common practice, no source).",
    )  # fmt: skip
    length_mm: float = Field(
        default=6.0, ge=SHORTEST_MM, le=60.0, title="length",
        description="Shorter ones are taken where the part's flat is small.",
    )  # fmt: skip
    width_mm: float = Field(
        default=1.8, ge=0.8, le=8.0, title="width at the wall",
        description="Two lines of the nozzle at the least, so that it does not break off.",
    )  # fmt: skip
    tip_mm: float = Field(
        default=0.6, ge=0.2, le=8.0, title="width of the tip",
        description="A narrow tip is crushed; a broad one would keep the halves open.",
    )  # fmt: skip
    x_mm: float = Field(default=0.0, ge=-500, le=500, title="across", description="For one place only.")
    y_mm: float = Field(default=0.0, ge=-500, le=500, title="to the back", description="For one place only.")
    z_mm: float = Field(default=0.0, ge=-500, le=500, title="height", description="For one place only.")

    def build(self, site: Site) -> Work:
        """Stand ribs on good places; nowhere one would block the part's way in."""
        held_zone(site, self.zone)
        ground, drawn = Ground(site, self.zone), self._drawn(site)
        places, bare = drawn._places(site, ground)
        if not places:
            raise SpecError(
                "Nowhere does a flat of the part lie right in front of a wall; use pads, or less clearance."
            )
        ribs = [(p, half) for p, half in places]
        while len(ribs) > 1 and share_of(drawn._contacts(ribs), site.parts.values()) > MOST_OF_PART:
            ribs.pop()
        pads: dict[Side, tuple[Solid, ...]] = {
            side: tuple(drawn._rib(p, half) for p, half in ribs if p.side == side) for side in SIDES
        }
        more = drawn.crush_mm - self.crush_mm
        return Work(
            pads=pads,
            contacts=tuple(replace(c, printed_more_mm=-more) for c in drawn._contacts(ribs)),
            findings=(self._told(ribs, len(places) - len(ribs), bare, site.outside_extra_mm),),
            handles=self._handles(ribs),
        )

    def _drawn(self, site: Site) -> Self:
        """Return the ribs as drawn: lower by what a single face of this printer comes out too far."""
        high = room_of(site, self.zone) + self.crush_mm
        return self.model_copy(update={"crush_mm": self.crush_mm + site.drawn_mm(high, faces=1) - high})

    def _places(self, site: Site, ground: Ground) -> tuple[list[tuple[Foothold, float]], list[str]]:
        """Return places with half the length of the rib there, and the sides that have none."""
        faces = _FACES[self.hold]
        if self.hold == "at one place":
            want = np.array([self.x_mm, self.y_mm, self.z_mm])
            every = [
                q for face in faces for side in halves_of(face) for q in self._on(site, ground, face, side)
            ]
            return sorted(every, key=lambda q: float(np.linalg.norm(q[0].at_mm - want)))[:1], []
        ranks: list[list[tuple[Foothold, float]]] = []
        bare = []
        for face in faces:
            for side in halves_of(face):
                found = self._on(site, ground, face, side)
                if found:
                    halves = {id(p): half for p, half in found}
                    far = well_apart([p for p, _ in found], self.count, 3 * self.width_mm)
                    ranks.append([(p, halves[id(p)]) for p in far])
                    break
            else:
                bare.append(face)
        # The first of every side, then the second: where there are too many the last are left out.
        rounds = range(max((len(r) for r in ranks), default=0))
        return [r[i] for i in rounds for r in ranks if i < len(r)], bare

    def _on(self, site: Site, ground: Ground, face: str, side: Side) -> list[tuple[Foothold, float]]:
        """Return places on one side of one half, for the longest rib that finds any."""
        half = self.length_mm / 2
        while True:
            room = room_of(site, self.zone)
            need = Print(half, self._tip / 2, room + MORE_MM + self.crush_mm + EMBED_MM)
            found = ground.footholds(face, side, need, *self._outline(room, half))
            if found or half <= SHORTEST_MM / 2:
                return [(p, half) for p in found]
            half = max(half / 2, SHORTEST_MM / 2)

    def _rib(self, place: Foothold, half: float) -> Solid:
        """Return one rib: a flat-topped ridge, tapered across and, by 45 degrees, at its ends."""
        foot, tip = place.gap_mm + EMBED_MM, -self.crush_mm
        long = half + foot - tip
        # The flanks go on into the wall with their slope.
        wide = self._tip / 2 + self._slope(place) * (foot - tip)
        corners = [
            (u * length, v * width, out)
            for u in (-1, 1)
            for v in (-1, 1)
            for length, width, out in ((half, self._tip / 2, tip), (long, wide, foot))
        ]
        return Solid.hull_of_points(place.points(corners))

    def _outline(self, gap: float, half: float) -> tuple[Floats, Floats]:
        """Return points of a rib's flanks, ends and foot as ``Ground.clear`` wants them."""
        tip, foot = self._tip / 2, self.width_mm / 2
        profile = []
        for share in (0.35, 0.7, 1.0):
            up = (share * gap + self.crush_mm) / (gap + self.crush_mm)
            wide, long = tip + (foot - tip) * up, half + share * gap + self.crush_mm
            profile += [(u * half, v * wide, share) for u in (-1, 0, 1) for v in (-1, 1)]
            profile += [(u * long, v * wide, share) for u in (-1, 1) for v in (-1, 0, 1)]
        feet = []
        for deep in (EMBED_MM / 2, EMBED_MM):
            long = half + gap + deep + self.crush_mm
            wide = foot + (foot - tip) * deep / (gap + self.crush_mm)
            feet += [(u * long, v * wide, deep) for u in (-1, -0.5, 0, 0.5, 1) for v in (-1, 1)]
        return np.array(profile), np.array(feet)

    @property
    def _tip(self) -> float:
        return min(self.tip_mm, self.width_mm)

    def _slope(self, place: Foothold) -> float:
        """How much the rib widens a side for each mm towards the wall."""
        return (self.width_mm - self._tip) / 2 / (place.gap_mm + self.crush_mm)

    def _contacts(self, ribs: list[tuple[Foothold, float]]) -> tuple[Contact, ...]:
        """Return balls that hold all of rib and part that come nearer than the gap.

        A point of the part beside the rib is at (b - b0) / sqrt(1 + k^2) from its flank, b off its middle
        line, b0 half the rib's width at the part's surface, k its slope; at the ends likewise with k = 1.
        """
        out: list[Contact] = []
        for place, half in ribs:
            k, gap = self._slope(place), place.gap_mm
            beside = self._tip / 2 + k * self.crush_mm + gap * float(np.sqrt(1 + k * k))
            beyond = half + self.crush_mm + gap * float(np.sqrt(2))
            across = max(beside, float(np.hypot(self.width_mm / 2, gap)))
            out += covered(place, beyond, across, self.crush_mm)
        return tuple(out)

    def _told(
        self, ribs: list[tuple[Foothold, float]], left_out: int, bare: list[str], off_mm: float
    ) -> Finding:
        counts = Counter(p.face for p, _ in ribs)
        where = ", ".join(f"{n} {face}" for face, n in counts.items())
        pressing = counted(len(ribs), "rib presses", "ribs press")
        message = f"{pressing} {self.crush_mm:.2f} mm on the {self.zone}: {where}."
        if off_mm:
            way = "higher" if off_mm > 0 else "lower"
            drawn = f"{abs(off_mm) / 2:.2f} mm {way}"
            message += f" They are drawn {drawn}, for outsides that come out {off_words(off_mm)}."
        if left_out:
            message += f" {left_out} more would cover too much of the part and were left out."
        if not bare:
            return Finding("ribs", "pass", message)
        gone = f" On these sides no flat faces a wall without blocking the way in: {', '.join(bare)}."
        return Finding("ribs", "caution", message + gone, "Add a pad there, or choose another parting plane.")

    def _handles(self, ribs: list[tuple[Foothold, float]]) -> tuple[Handle, ...]:
        if self.hold != "at one place":
            return ()
        place = ribs[0][0]
        (x, y, z), (u, v, w) = place.at_mm.tolist(), place.out.tolist()
        return (Handle("place", (x, y, z), (u, v, w), "rib"),)

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knob of a single rib at its own place."""
        own = Handle("place", (self.x_mm, self.y_mm, self.z_mm), label="rib")
        return (own,) if self.hold == "at one place" else ()

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the rib at the place its knob was dragged to."""
        x, y, z = np.round(to_mm, 2).tolist()
        return self.model_copy(update={"x_mm": x, "y_mm": y, "z_mm": z})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return ribs all round the body."""
        return cls(name="Ribs")

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return one rib at the place of the part nearest to the click."""
        x, y, z = np.round(point_mm, 2).tolist()
        return cls(name="Rib", hold="at one place", x_mm=x, y_mm=y, z_mm=z)
