"""Feet: recesses for stick-on pads at the corners, or feet to stand on."""

from __future__ import annotations

from itertools import combinations
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.edge import THIN_MM
from housingdesk.features.forms.form import profile_of
from housingdesk.features.opening import triple
from housingdesk.features.plate import LEAST_EDGE_MM, FloorMount, foot
from housingdesk.features.records import BillLine, OpeningRecord
from housingdesk.features.site import Site, Unparted
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf

Style = Literal["recesses for pads", "standing feet"]
RIM_MM = 1.6  # of plastic around a pad, four lines of a 0.4 mm nozzle (own choice)
SKIN_MM = 1.2  # over a recess (shop guidance for a least wall: 0.8 to 1.2)
STEP_MM = 0.25
_CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


class Feet(FloorMount):
    """Four feet at the corners of the floor."""

    TITLE = "feet"
    SENTENCE = (
        "Let it stand on four {style} of Ø{diameter_mm}; depth or height: {height_mm}; {inset_mm} in from "
        "the corners."
    )

    ORDER = 75  # after all that stands on the floor

    ONLY_IF: ClassVar[OnlyIf] = {
        "thickness_mm": {"style": ("recesses for pads",)},
        "room_mm": {"style": ("recesses for pads",)},
    }

    kind: Literal["feet"] = "feet"
    style: Style = Field(
        default="recesses for pads",
        title="kind",
        description="Recesses for stick-on pads keep the floor flat, so that the half prints as it lies; "
        "where the floor is too thin for them, lugs are grown beside the corners. Standing feet need "
        "support under the floor while it prints.",
    )
    diameter_mm: float = Field(
        default=8.0,
        ge=2,
        le=60,
        title="diameter",
        description="Of the pad, by calipers, or of the standing foot.",
    )
    height_mm: float = Field(
        default=1.0,
        ge=0.3,
        le=60,
        title="depth or height",
        description="Recesses: how deep they are. Standing feet: how high.",
    )
    inset_mm: float = Field(
        default=1.0, ge=-50, le=100, title="inset", description="From the corner of the floor inwards."
    )
    room_mm: float = Field(
        default=0.2,
        ge=0,
        le=3,
        title="room",
        description="Around a pad on each side; common practice, no source.",
    )

    def build(self, site: Site) -> Work:
        """Add the feet.

        Raises
        ------
        SpecError : no corner of the floor has room for them.
        """
        return self._standing(site) if self.style == "standing feet" else self._recessed(site)

    def _recessed(self, site: Site) -> Work:
        floor = site.base_z_mm("lower")
        radius = self.diameter_mm / 2 + self.room_mm
        thick = self.thick_mm(site)
        outline = foot(site, thick)
        bed = site.form.section_at(floor + 0.02)
        # Beside a pad two lines of the nozzle stay on the bed, however far the edges are broken.
        reach = radius + max(RIM_MM, THIN_MM + self.broken_mm(site))
        hollow = self._hollow(site, floor)
        cut, lugs, keep = [], [], []
        records: list[OpeningRecord] = []
        places = self._places(outline, reach, hollow, radius)
        for place in places:
            cut.append(
                Solid.prism(Outline.circle(place, radius, outside=True), floor - 1.0, floor + self.height_mm)
            )
            disc = Outline.circle(place, reach)
            if not (outline.covers(disc, 0.01) and bed.covers(Outline.circle(place, radius + THIN_MM), 0.01)):
                inner = Outline.circle(_nearest_inside(outline, place, reach), reach)
                lugs.append(self.plate(site, (disc | inner).hull(), self.broken_mm(site)))
            keep.append(Solid.prism(Outline.circle(place, radius), floor, floor + self.height_mm))
            records.append(
                OpeningRecord(
                    f"{self.name} {len(records) + 1}",
                    self.kind,
                    triple([*place, floor]),
                    (2 * radius, 2 * radius),
                )
            )
        spots = tuple((float(x), float(y)) for x, y in places)
        left = site.once(_left_over, spots, radius, floor, self.height_mm, site.wall_mm + SKIN_MM)
        said = self._said(radius, left)
        bill = BillLine(
            4, f"stick-on pad Ø{self.diameter_mm:g}, more than {self.height_mm:g} high", "", self.name
        )
        return Work(
            add={"lower": tuple(lugs)},
            cut={"lower": tuple(cut)},
            keep_out=tuple(keep),
            openings=tuple(records),
            bill=(bill,),
            findings=(said,),
        )

    def _said(self, radius_mm: float, left_mm: float) -> Finding:
        """Return what is to be known of the recesses, with the least material between them and the cavity."""
        words = f"{self.name}: four recesses Ø{2 * radius_mm:.1f}, {self.height_mm:g} mm deep; "
        if not np.isfinite(left_mm):
            return Finding("feet-pads", "pass", f"{words}the floor stays flat to print on.")
        words += f"{left_mm:.2f} mm of floor are left over them."
        if left_mm >= SKIN_MM - 1e-6:
            return Finding("feet-pads", "pass", words)
        return Finding("feet-pads", "caution", words, "Make the recesses less deep, or the floor thicker.")

    def thick_mm(self, site: Site) -> float:
        """Return how thick lugs are: as the recesses are deep, and what stays over them.

        Raises
        ------
        SpecError : too thin for the recesses, or they reach over the parting plane.
        """
        thick = self.height_mm + SKIN_MM if self.thickness_mm is None else self.thickness_mm
        if thick < self.height_mm + 0.8:
            raise SpecError(
                f"Lugs of {thick:g} mm are too thin for recesses of {self.height_mm:g} mm; make them "
                f"{self.height_mm + SKIN_MM:g} mm."
            )
        most = site.parting_z_mm - site.base_z_mm("lower")
        if thick > most:
            raise SpecError(
                f"Recesses {self.height_mm:g} mm deep, with material over them, pass the parting plane; "
                f"make them {max(most - SKIN_MM, 0):.1f} mm deep or less."
            )
        return thick

    def _hollow(self, site: Site, floor: float) -> Outline:
        """Return the area where a recess would thin the floor under a hollow, or cut what others need."""
        top = floor + self.height_mm + SKIN_MM
        others = [s for work in site.done.values() for s in (*work.needs, *work.keep_out)]
        near = [s.below(top) for s in (site.cavity["lower"], *others)]
        return Outline.union(s.silhouette() for s in near if not s.is_empty)

    def _places(self, outline: Outline, reach_mm: float, hollow: Outline, radius_mm: float) -> list[Floats]:
        """Return the four middles, from the corners moved outward until nothing hollow is over them."""
        middle = outline.bounds.mean(axis=0)
        loop = max(outline.pieces()[0].loops, key=len)
        out = []
        for way in _CORNERS:
            # The corner that spans most: a narrow end does not draw two feet together.
            away = np.clip((loop - middle) * way, 0.0, None)
            corner = loop[int((away[:, 0] * away[:, 1]).argmax())]
            place = corner - way * (reach_mm + self.inset_mm)
            for _ in range(400):
                if not hollow.touches(Outline.circle(place, radius_mm)):
                    break
                place = place + way * STEP_MM
            else:
                raise SpecError("No corner of the floor has room for feet; make them smaller.")
            out.append(np.asarray(place))
        if min(float(np.linalg.norm(a - b)) for a, b in combinations(out, 2)) < 2 * reach_mm:
            raise SpecError("The feet would run into each other; make them smaller.")
        return out

    def _standing(self, site: Site) -> Work:
        floor = site.base_z_mm("lower")
        top, bottom = self.diameter_mm / 2 + 0.3 * self.height_mm, self.diameter_mm / 2
        outline = site.form.section_at(floor + 0.02)
        profile = self._standing_profile(site, floor, bottom, top)
        feet = []
        for place in self._places(outline, top, Outline.union([]), top):
            if not outline.touches(Outline.circle(place, top), np.pi * top**2 * 0.5):
                raise SpecError("The feet stand beside the floor; set them further in or make them smaller.")
            feet.append(Solid.turned(float(place[0]), float(place[1]), profile))
        said = Finding(
            "feet-print",
            "caution",
            f"The lower half stands on {self.name}, {self.height_mm:g} mm high, while it is printed: its "
            "floor hangs in the air.",
            "Print it with supports under the floor, or take recesses for stick-on pads.",
            triple([*outline.bounds.mean(axis=0), floor - self.height_mm]),
        )
        return Work(add={"lower": tuple(feet)}, findings=(said,))

    def _standing_profile(self, site: Site, floor: float, bottom: float, top: float) -> Floats:
        """Return (k, 2) radii and heights of a standing foot, its edge on the bed broken as the form's is."""
        low, high = floor - self.height_mm, floor + 0.3
        size = 0.0 if site.rim[0] == "sharp" else min(site.rim[1], self.height_mm / 3, bottom / 3)
        ways, rises = profile_of(site.rim[0], size) if size >= LEAST_EDGE_MM else ([0.0], [0.0])
        widen = (top - bottom) / (high - low)
        side = [(bottom + widen * up - way, low + up) for way, up in zip(ways, rises, strict=True)]
        return np.array([(0.0, low), *side, (top, high), (0.0, high)])

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return recesses for pads."""
        return cls()


def _nearest_inside(outline: Outline, place: Floats, radius_mm: float) -> Floats:
    """Return the place nearest the corner from which a lug of some radius grows out of the floor."""
    middle = outline.bounds.mean(axis=0)
    way = (middle - place) / np.linalg.norm(middle - place)
    for step in np.arange(0.0, float(np.linalg.norm(middle - place)), STEP_MM):
        inner = place + way * step
        if outline.covers(Outline.circle(inner, min(radius_mm, 1.0)), 1e-3):
            return np.asarray(inner)
    return np.asarray(middle)


def _left_over(
    housing: Unparted,
    places: tuple[tuple[float, float], ...],
    radius_mm: float,
    floor_mm: float,
    deep_mm: float,
    search_mm: float,
) -> float:
    """Return the least material between recesses and the lower cavity, infinite beyond ``search_mm``."""
    cavity = housing.cavity["lower"]
    recesses = (
        Solid.prism(Outline.circle(place, radius_mm), floor_mm, floor_mm + deep_mm) for place in places
    )
    least = min(recess.min_gap(cavity, search_mm) for recess in recesses)
    return least if least < search_mm else float("inf")
