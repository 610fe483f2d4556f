"""Vents: a field of slots, holes or hexagons for air."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.feature import first_that_fits
from housingdesk.features.opening import (
    BEYOND_MM,
    FRAMES,
    Face,
    Frame,
    SideOpening,
    Way,
    cuts,
    reach_of,
    room_in,
    triple,
    way_out,
)
from housingdesk.features.records import OpeningRecord
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import Finding, counted
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf
from housingdesk.standards.guards import first_numeral, safe_distance_mm

Pattern = Literal["slots", "round holes", "hexagons"]
SHARE = 0.7  # of the part's breadth, for a field left open
STEP_MM = 6.0  # so much deeper than in the middle of the field the inside may be
_HAIR_MM = 0.02
_SIN60 = math.sqrt(3) / 2


class Vents(SideOpening):
    """A field of openings for air."""

    TITLE = "vents"
    STATION = "Openings"
    SENTENCE = (
        "Vent the {side} with {pattern} {opening_mm} wide [and {slot_mm} long,] with {bar_mm} of material "
        "between them; field: {field_wide_mm} wide, {field_tall_mm} high."
    )

    ONLY_IF: ClassVar[OnlyIf] = {"slot_mm": {"pattern": ("slots",)}}

    kind: Literal["vents"] = "vents"
    side: Face = Field(
        default="left", title="side", description="Warm air rises: low on one side, high on another."
    )
    pattern: Pattern = Field(
        default="slots",
        title="pattern",
        description="Upright slots print cleanly in a side wall; round holes and hexagons in floor and roof.",
    )
    opening_mm: float = Field(
        default=2.0,
        ge=0.5,
        le=30,
        title="opening",
        description="Width of a slot, diameter of a hole, width of a hexagon over its flats. Up to 4 mm "
        "a finger reaches 2 mm in (ISO 13857 table 4).",
    )
    slot_mm: float = Field(
        default=12.0, ge=1, le=200, title="length of a slot", description="Over its round ends."
    )
    bar_mm: float = Field(
        default=2.0,
        ge=0.8,
        le=50,
        title="bars",
        description="Material between openings; two lines of a 0.4 mm nozzle are the least (shop guidance).",
    )
    field_wide_mm: float | None = Field(
        default=None,
        ge=1,
        le=500,
        title="width of the field",
        description="As needed: 70 % of the part's width.",
    )
    field_tall_mm: float | None = Field(
        default=None,
        ge=1,
        le=500,
        title="height of the field",
        description="As needed: 70 % of the part's height.",
    )

    def build(self, site: Site) -> Work:
        """Cut every opening of the field that has the room of the part behind its whole area.

        Raises
        ------
        SpecError : no opening fits, or there is nothing to go through.
        """
        frame, place = FRAMES[self.side], np.array(self.place(site))
        half = self._field(site, frame) / 2
        field = Outline.rectangle(place - half, place + half)
        way = way_out(site, frame, field)
        said: list[Finding] = []
        all_places = list(self._places(place, half))
        depths = self._depths(site, frame, way, all_places)
        places = [p for p, depth in zip(all_places, depths, strict=True) if depth is not None]
        if not places:
            raise SpecError(
                "No opening of this field lies in front of the room of the part; make the openings "
                "smaller, or move the field."
            )
        openings = Outline.union(self._one(p) for p in places)
        cut = Solid.union(
            frame.body(self._one(p), depth - _HAIR_MM, way.outer_mm + BEYOND_MM)
            for p, depth in zip(all_places, depths, strict=True)
            if depth is not None
        )
        at = triple(frame.at(place, way.face_mm))
        width, tall = np.ptp(openings.bounds, axis=0).tolist()
        if len(places) < len(all_places):
            said.append(
                Finding(
                    "vents-left-out",
                    "caution",
                    f"{len(all_places) - len(places)} of {len(all_places)} openings of {self.name} are "
                    "left out: no room of the part lies behind them, or no wall around them.",
                    "Make the field smaller or move it.",
                    at,
                )
            )
        said += [self._area(len(places), at), *self._reach(site, frame, way, places, at)]
        return Work(
            cut=cuts([cut], site.parting_z_mm),
            keep_out=(frame.body(field, way.inner_mm, way.outer_mm),),
            openings=(OpeningRecord(self.name, self.kind, at, (width, tall)),),
            findings=tuple(said),
            handles=self.knob((float(place[0]), float(place[1])), way, "the vents"),
        )

    def _depths(self, site: Site, frame: Frame, way: Way, places: list[Floats]) -> list[float | None]:
        """Return where each opening meets the room over its whole area; None where it does not.

        The inside need not be level: every opening goes as deep as the wall is there.
        """
        if not places:
            return []
        far = reach_of(site)
        every = frame.body(Outline.union(self._one(p) for p in places), -far, far)
        wider = frame.body(Outline.union(self._one(p).grown(_HAIR_MM) for p in places), -far, far)
        deepest = way.face_mm - way.wall_mm - max(2 * site.wall_mm, STEP_MM)
        out: list[float | None] = [None] * len(places)
        middles = np.array(places)
        for piece in ((every & site.form) - room_in(site, wider)).bodies():
            seen = frame.seen(piece.mesh().vertices)
            if seen[:, 2].max() < way.face_mm - way.wall_mm / 2:
                continue
            middle = (seen[:, :2].min(axis=0) + seen[:, :2].max(axis=0)) / 2
            number = int(np.linalg.norm(middles - middle, axis=1).argmin())
            before = out[number]
            depth = float(seen[:, 2].min())
            out[number] = depth if before is None else min(before, depth)
        middle_of_wall = way.face_mm - way.wall_mm / 2
        least = min(site.wall_mm, self.bar_mm)
        wide = Outline.union(self._one(p) for p in places).hull().grown(least + 1.0)
        slab = frame.body(wide, -0.05, 0.05)
        side = frame.outline(slab.shifted(middle_of_wall * frame.out) & site.form)
        return [
            depth
            if depth is not None and depth >= deepest and side.covers(self._one(p).grown(least), 1e-3)
            else None
            for p, depth in zip(places, out, strict=True)
        ]

    def open_mm2(self, count: int) -> float:
        """Return the open area of so many openings, closed form."""
        e = self.opening_mm
        if self.pattern == "slots":
            each = e * (self._slot_mm - e) + math.pi * e**2 / 4
        elif self.pattern == "round holes":
            each = math.pi * e**2 / 4
        else:
            each = _SIN60 * e**2  # of a regular hexagon by its width over flats: sqrt3 / 2 e^2
        return count * each

    @property
    def _slot_mm(self) -> float:
        return max(self.slot_mm, self.opening_mm)

    def _field(self, site: Site, frame: Frame) -> Floats:
        whole = np.ptp(frame.seen(site.part_bounds)[:, :2], axis=0) * SHARE
        asked = (self.field_wide_mm, self.field_tall_mm)
        return np.array([w if a is None else a for a, w in zip(asked, whole.tolist(), strict=True)])

    def _one(self, place: Floats) -> Outline:
        """Return one opening; a slot stands upright."""
        r = self.opening_mm / 2
        if self.pattern == "round holes":
            return Outline.circle(place, r)
        if self.pattern == "slots":
            half = np.array([0.0, (self._slot_mm - self.opening_mm) / 2])
            return (Outline.circle(place - half, r) | Outline.circle(place + half, r)).hull()
        t = np.radians(np.arange(6) * 60.0 + 30.0)  # a point up, so that it prints without support
        return Outline.polygon(place + r / _SIN60 * np.column_stack([np.cos(t), np.sin(t)]))

    def _places(self, middle: Floats, half: Floats) -> Iterator[Floats]:
        """Yield the middles of all openings that lie wholly in the field, (2,)."""
        e, step = self.opening_mm, self.opening_mm + self.bar_mm
        tall = {"slots": self._slot_mm, "round holes": e, "hexagons": e / _SIN60}[self.pattern]
        rise = tall + self.bar_mm if self.pattern == "slots" else step * _SIN60
        rows = 1 + max(-1, math.floor((2 * half[1] - tall) / rise + 1e-9))
        for row in range(rows):
            staggered = self.pattern != "slots" and row % 2 == 1
            room = 2 * half[0] - e - (step if staggered else 0.0)
            whole = 2 * half[0] - e
            columns = 1 + max(-1, math.floor((room if staggered else whole) / step + 1e-9))
            for column in range(columns):
                yield middle + np.array([(column - (columns - 1) / 2) * step, (row - (rows - 1) / 2) * rise])

    # --- words --------------------------------------------------------------------------------------

    def _area(self, count: int, at: tuple[float, float, float]) -> Finding:
        return Finding(
            "vents-area",
            "pass",
            f"{self.name}: {counted(count, 'opening')}, {self.open_mm2(count) / 100:.2f} cm² open.",
            where_mm=at,
        )

    @property
    def _enters_mm(self) -> float:
        """The round that goes through an opening; of a hexagon the one around its corners, to be safe."""
        return self.opening_mm / _SIN60 if self.pattern == "hexagons" else self.opening_mm

    def _reach(
        self, site: Site, frame: Frame, way: Way, places: list[Floats], at: tuple[float, float, float]
    ) -> list[Finding]:
        """Judge whether a finger reaches a turning shaft, and what is behind in general."""
        out = []
        need = safe_distance_mm(
            "slot" if self.pattern == "slots" else "round", self._enters_mm, slot_length_mm=self._slot_mm
        )
        mouths = np.array([frame.at(p, way.face_mm) for p in places])
        for shaft in site.shafts:
            along = np.clip((mouths - shaft.base_mm) @ shaft.axis, 0.0, None)
            along = np.minimum(along, float((shaft.tip_mm - shaft.base_mm) @ shaft.axis))
            foot = shaft.base_mm + along[:, None] * shaft.axis
            half = self._slot_mm / 2 if self.pattern == "slots" else self._enters_mm / 2
            away = float(np.linalg.norm(mouths - foot, axis=1).min()) - shaft.diameter_mm / 2 - half
            enough = away >= need.value
            out.append(
                Finding(
                    "vents-shaft",
                    "pass" if enough else "caution",
                    f"The {shaft.zone} turns {max(away, 0.0):.0f} mm behind {self.name}; openings of "
                    f"{self._enters_mm:.1f} mm ask {need.value:g} mm (ISO 13857 table 4, 14 years and "
                    "above).",
                    "" if enough else "Make the openings narrower, or move them away from the shaft.",
                    at,
                )
            )
        numeral = first_numeral(self._enters_mm)
        out.append(
            Finding(
                "vents-fingers",
                "caution",
                f"{self.name} lets in what is thinner than {self._enters_mm:.1f} mm: IP{numeral}X by size "
                "(IEC 60529), and water.",
                "Put no mains voltage behind it; that needs a housing that is tested for it."
                if numeral >= 2
                else "A finger goes in: make the openings narrower than 12 mm, and put no mains voltage "
                "behind.",
                at,
            )
        )
        return out

    # --- by hand ------------------------------------------------------------------------------------

    def _fitted(self, site: Site) -> Self:
        """Return the vents with slots no longer than their field."""
        tall = float(self._field(site, FRAMES[self.side])[1])
        return self.model_copy(update={"slot_mm": max(1.0, min(self.slot_mm, round(tall - 0.05, 1)))})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return vents in the middle of the first side with room of the part behind it, the left first."""
        sides: tuple[Face, ...] = ("left", "right", "back", "front", "roof", "floor")
        return first_that_fits((cls(side=side)._fitted(site) for side in sides), site)

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return vents where the user clicked."""
        placed = super().at(point_mm, normal, site)
        return None if placed is None else placed._fitted(site)
