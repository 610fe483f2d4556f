"""Notches across the parting edge at one place, so that the halves are not mixed up or turned."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.features.engraving import READ, check_behind, layer, place_on, shown, split
from housingdesk.features.feature import Feature, Station, first_that_fits
from housingdesk.features.opening import Face, face_of, triple
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats

Upright = Literal["front", "back", "left", "right"]
_QUARTER = 0.25  # off the middle by this share of the side, so that a turned half does not match


class MatingMarks(Feature):
    """Matching notches in both halves."""

    TITLE: ClassVar[str] = "Mating marks"
    STATION: ClassVar[Station] = "Shell"
    SENTENCE: ClassVar[str] = (
        "Cut {count} notch|notches {width_mm} wide and {depth_mm} deep across the parting edge on the "
        "{face}, {length_mm} into each half."
    )
    ORDER: ClassVar[int] = 88

    kind: Literal["mating_marks"] = "mating_marks"
    face: Upright = Field(default="front", title="side")
    count: int = Field(
        default=2,
        ge=1,
        le=6,
        title="number of notches",
        description="With a different number on each of several housings, their halves are not mixed up.",
    )
    width_mm: float = Field(default=1.2, ge=0.6, le=10.0, title="width")
    depth_mm: float = Field(
        default=0.5,
        ge=0.2,
        le=3.0,
        title="depth",
        description="Half a millimetre is felt with a finger nail and leaves the wall nearly whole.",
    )
    length_mm: float = Field(default=2.5, ge=0.6, le=30.0, title="length into each half")
    across_mm: float | None = Field(
        default=None,
        ge=-1000,
        le=1000,
        title="place sideways",
        description="Away from the middle, so that a half put on the wrong way round shows no match.",
    )

    def build(self, site: Site) -> Work:
        """Cut the notches into both halves at once, so that they match."""
        across, z = self._across(site), site.parting_z_mm
        first = across - (self.count - 1) * self.width_mm
        bars = [
            Outline.rectangle(
                (first + 2 * i * self.width_mm - self.width_mm / 2, z - self.length_mm),
                (first + 2 * i * self.width_mm + self.width_mm / 2, z + self.length_mm),
            )
            for i in range(self.count)
        ]
        area = Outline.union(bars)
        body = layer(site.form, self.face, area, self.depth_mm)
        left = check_behind(site, body, self.depth_mm)
        frame = READ[self.face]
        findings = [Finding("mating-marks", "pass", f"Behind {self.name} {left:.2f} mm of wall are left.")]
        middle = float(frame.seen(site.outer_mm.mean(axis=0))[0])
        if abs(across - middle) < self.width_mm:
            findings.append(
                Finding(
                    "mating-marks",
                    "caution",
                    f"{self.name} lies in the middle of the {self.face}: a turned half may match it too.",
                    "Move it off the middle.",
                )
            )
        whole, free = shown(site.form, self.face, area, self.depth_mm)
        return Work(
            cut=split(site, body),
            needs=(whole,),
            in_view=(free,),
            findings=tuple(findings),
            handles=self.knobs(site),
        )

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knob in the middle of the notches."""
        frame = READ[self.face]
        out = float(frame.seen(site.outer_mm)[:, 2].max())
        at = frame.at((self._across(site), site.parting_z_mm), out)
        return (Handle("place", triple(at), triple(frame.out), f"Notches: {self.name}"),)

    def _across(self, site: Site) -> float:
        if self.across_mm is not None:
            return self.across_mm
        middle, _ = place_on(site, self.face, None, None)
        width = float(np.ptp(READ[self.face].seen(site.outer_mm)[:, 0]))
        return middle + _QUARTER * width

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the notches where they were dragged to along the side."""
        return self.model_copy(update={"across_mm": round(float(READ[self.face].seen(to_mm)[0]), 2)})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return two notches on the first side whose wall is thick enough for them, the front first."""
        faces: tuple[Upright, ...] = ("front", "back", "left", "right")
        return first_that_fits((cls(face=face) for face in faces), site)

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return notches on the side that was clicked; none on floor and roof, which have no parting edge."""
        face: Face = face_of(normal)
        if face == "floor" or face == "roof":
            return None
        return cls(face=face, across_mm=round(float(READ[face].seen(point_mm)[0]), 1))
