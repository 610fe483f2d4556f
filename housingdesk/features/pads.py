"""Pads of foam or tape between part and wall: bought, stuck into the cavity, squeezed as it is shut."""

from __future__ import annotations

from collections import Counter
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
from housingdesk.features.records import BillLine, Contact, Cushion
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import Finding, counted
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES, Floats, Side

FLUSH_MM = 1e-4  # a squeezed pad ends so far before the part, so that the part slides past its edges
# Soft stuff holds where it is squeezed to between these shares of its thickness (common practice, no source).
SOFTEST, FIRMEST = 0.35, 0.92
THICKNESSES_MM = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)  # on sale (common practice, no source)
Where = Literal["all round", "sideways", "up and down"]
Stuff = Literal["foam", "felt", "tape"]
_FACES: dict[Where, tuple[str, ...]] = {
    "all round": tuple(DIRECTIONS),
    "sideways": SIDEWAYS,
    "up and down": UP_AND_DOWN,
}


class Pads(Feature):
    """Pads that fill the gap, stuck to the wall of the cavity."""

    TITLE: ClassVar[str] = "Pads"
    STATION: ClassVar[Station] = "Fit"
    SENTENCE: ClassVar[str] = (
        "Hold the {zone} {hold} with {count} pad|pads of {stuff} on each side, {thick_mm} thick."
    )
    ORDER: ClassVar[int] = 71

    kind: Literal["pads"] = "pads"
    zone: str = Field(
        default="body", max_length=40, title="zone that is held",
        description="Name of a held zone; nothing may rub on a shaft, and foam keeps heat in.",
    )  # fmt: skip
    hold: Where = Field(default="up and down", title="directions", description="Sides that get pads.")
    count: int = Field(default=2, ge=1, le=4, title="pads on each side", description="Two, well apart.")
    stuff: Stuff = Field(
        default="foam", title="material",
        description="Foam and felt are squeezed by the gap and press on the part; tape only takes up room.",
    )  # fmt: skip
    thick_mm: float = Field(
        default=2.0, ge=0.1, le=20.0, title="thickness as bought",
        description="Foam holds well where the gap squeezes it to about two thirds (common practice).",
    )  # fmt: skip
    length_mm: float = Field(
        default=8.0, ge=2.0, le=100.0, title="length",
        description="Shorter ones are taken where the part's flat is small.",
    )  # fmt: skip
    width_mm: float = Field(default=5.0, ge=2.0, le=100.0, title="width", description="Across the length.")
    stray_mm: float = Field(
        default=0.0, ge=0.0, le=5.0, title="thickness varies by",
        description="Plus or minus, as you measured on a few pieces; 0: not known.",
    )  # fmt: skip

    def build(self, site: Site) -> Work:
        """Place pads on flats of the part that face a wall."""
        held_zone(site, self.zone)
        self._check(room_of(site, self.zone))
        ground = Ground(site, self.zone)
        placed: list[tuple[Foothold, Print]] = []
        bare = []
        for face in _FACES[self.hold]:
            found = self._on(ground, face)
            placed += found
            if not found:
                bare.append(face)
        if not placed:
            raise SpecError(
                "Nowhere does a flat of the part lie right in front of a wall that is big enough for a pad; "
                "take smaller pads."
            )
        while len(placed) > 1 and share_of(self._contacts(placed), site.parts.values()) > MOST_OF_PART:
            placed.pop()
        soft: dict[Side, list[Solid]] = {side: [] for side in SIDES}
        for place, size in placed:
            soft[place.side].append(self._pad(place, size))
        return Work(
            soft={side: tuple(s) for side, s in soft.items()},
            contacts=self._contacts(placed),
            cushions=self._cushions(placed),
            bill=self._bill(placed),
            findings=(self._told(placed, bare),),
        )

    def _check(self, room: float) -> None:
        """Refuse a thickness that does not go with the gap."""
        if self.stuff == "tape":
            if self.thick_mm > room:
                raise SpecError(
                    f"Tape {self.thick_mm:g} mm thick does not fit into the gap of {room:.2f} mm; "
                    "take thinner tape, or more clearance."
                )
            return
        share = room / self.thick_mm
        if not SOFTEST <= share <= FIRMEST:
            fitting = usual_thickness(room)
            advice = "more clearance" if fitting is None else f"{fitting:g} mm"
            how = "hardly squeezed" if share > FIRMEST else "squeezed too hard"
            raise SpecError(
                f"{self.stuff.capitalize()} {self.thick_mm:g} mm thick is {how} by the gap of {room:.2f} mm; "
                f"take {advice}."
            )

    def _on(self, ground: Ground, face: str) -> list[tuple[Foothold, Print]]:
        """Return places on one side, for the largest pads that find any; none smaller than half."""
        for part in (1.0, 0.75, 0.5):
            size = Print(part * self.length_mm / 2, part * self.width_mm / 2)
            around = np.array([(u, v) for u in (-1, 0, 1) for v in (-1, 0, 1)]) * (
                size.half_length_mm, size.half_width_mm
            )  # fmt: skip
            profile = np.column_stack([around, np.full(len(around), 0.9)])
            feet = np.column_stack([around, np.full(len(around), MORE_MM + 0.05)])
            for side in halves_of(face):
                found = ground.footholds(face, side, size, profile, feet)
                chosen = well_apart(found, self.count, 1.5 * self.length_mm)
                if chosen:
                    return [(p, size) for p in chosen]
        return []

    def _pad(self, place: Foothold, size: Print) -> Solid:
        """Return the pad as it lies when the housing is shut, a little into the wall it sticks to."""
        gap = place.gap_mm
        inner = FLUSH_MM if self.stuff != "tape" else max(gap - self.thick_mm, FLUSH_MM)
        corners = [
            (u * size.half_length_mm, v * size.half_width_mm, out)
            for u in (-1, 1)
            for v in (-1, 1)
            for out in (inner, gap + MORE_MM)
        ]
        return Solid.hull_of_points(place.points(corners))

    def _contacts(self, placed: list[tuple[Foothold, Print]]) -> tuple[Contact, ...]:
        out: list[Contact] = []
        for place, size in placed:
            out += covered(place, size.half_length_mm, size.half_width_mm, 0.0)
        return tuple(out)

    def _cushions(self, placed: list[tuple[Foothold, Print]]) -> tuple[Cushion, ...]:
        """Return what the odds count: nothing where nobody knows how the thickness strays."""
        if not self.stray_mm:
            return ()
        out = []
        for place, _ in placed:
            x, y, z = place.out.tolist()
            out.append(Cushion((x, y, z), self.thick_mm - place.gap_mm, self.stray_mm))
        return tuple(out)

    def _bill(self, placed: list[tuple[Foothold, Print]]) -> tuple[BillLine, ...]:
        sizes = Counter((2 * s.half_length_mm, 2 * s.half_width_mm) for _, s in placed)
        return tuple(
            BillLine(
                n,
                f"self-adhesive {self.stuff} {length:g} x {width:g}, {self.thick_mm:g} mm thick",
                purpose=f"holds the {self.zone}",
            )
            for (length, width), n in sizes.items()
        )

    def _told(self, placed: list[tuple[Foothold, Print]], bare: list[str]) -> Finding:
        counts = Counter(p.face for p, _ in placed)
        where = ", ".join(f"{n} {face}" for face, n in counts.items())
        hold = "holds" if len(placed) == 1 else "hold"
        message = f"{counted(len(placed), 'pad')} of {self.stuff} {hold} the {self.zone}: {where}."
        if not self.stray_mm:
            message += (
                f" How surely is not counted: no source says how much {self.stuff} strays in thickness; "
                "measure a few pieces and enter it."
            )
        if not bare:
            return Finding("pads", "pass", message)
        gone = f" On these sides there is no flat big enough in front of a wall: {', '.join(bare)}."
        return Finding("pads", "caution", message + gone, "Take smaller pads, or ribs there.")

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return pads above and below whose thickness fits the gap."""
        thick = usual_thickness(site.clearance_mm)
        return None if thick is None else cls(name="Pads", thick_mm=thick)

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return pads on the sides along the clicked face's direction."""
        found = cls.proposed(site)
        if found is None:
            return None
        upright = abs(normal[2]) > 0.7
        return found.model_copy(update={"hold": "up and down" if upright else "sideways"})


def usual_thickness(room_mm: float) -> float | None:
    """Return the thickness on sale that a gap squeezes nearest to two thirds, None where none goes."""
    fitting = [t for t in THICKNESSES_MM if SOFTEST <= room_mm / t <= FIRMEST]
    return min(fitting, key=lambda t: abs(room_mm / t - 2 / 3), default=None)
