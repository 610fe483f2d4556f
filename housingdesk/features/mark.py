"""Words on the outside: engraved or raised."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.engraving import READ, check_behind, layer, place_on, shown
from housingdesk.features.feature import Feature, Station
from housingdesk.features.lettering import Lettering, letters_of
from housingdesk.features.opening import Face, face_of, triple
from housingdesk.features.site import Site, Unparted
from housingdesk.features.work import Handle, Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf

THINNEST_MM = 0.4  # one line of the usual filament nozzle (common practice, no source)
_WHOLE = 0.97  # share of the letters that must lie on the side
_ROOM = 0.8  # of a side's width that proposed words may take
_UP = "THIS SIDE UP"


class Mark(Feature):
    """A line of words on one side."""

    TITLE: ClassVar[str] = "Words"
    STATION: ClassVar[Station] = "Shell"
    SENTENCE: ClassVar[str] = (
        "Write {says} [{text}] on the {face}, {way} {depth_mm}, capitals {height_mm} high, font {font}."
    )
    ORDER: ClassVar[int] = 90

    ONLY_IF: ClassVar[OnlyIf] = {"text": {"says": ("own words",)}}

    kind: Literal["mark"] = "mark"
    says: Literal["own words", "the part's name", "this side up"] = Field(
        default="own words",
        title="words",
        description="Own words are typed beside this; the part's name follows the part.\n"
        "'This side up' comes with an arrow that points the way the upper half is lifted off.",
    )
    text: str = Field(default="", max_length=60, title="own words")
    face: Face = Field(
        default="roof",
        title="side",
        description="Floor and roof lie on the bed while they are printed: engraved letters come out sharp\n"
        "there, raised ones would hold the half off the bed.",
    )
    way: Literal["engraved", "raised"] = Field(default="engraved", title="way")
    depth_mm: float = Field(
        default=0.6,
        ge=0.2,
        le=5.0,
        title="depth",
        description="How deep letters go in, or how far they stand out; 0.6 mm is three usual layers.",
    )
    height_mm: float = Field(
        default=6.0,
        ge=2.0,
        le=200.0,
        title="height of capitals",
        description="Plain letters under 4 mm have strokes finer than a usual nozzle's line.",
    )
    font: str = Field(
        default="",
        max_length=80,
        title="font",
        description="Name of a font of this machine, such as 'DejaVu Sans Bold'; leave it empty for\n"
        "plain letters that need no font (small letters are written as capitals).",
    )
    turn_deg: float = Field(default=0.0, ge=-180.0, le=180.0, title="turned by")
    across_mm: float | None = Field(default=None, ge=-1000, le=1000, title="place sideways")
    up_mm: float | None = Field(default=None, ge=-1000, le=1000, title="place up")

    def build(self, site: Site) -> Work:
        """Engrave or raise the words."""
        engraved = self.way == "engraved"
        drawn, area, body, (whole, free) = site.once(_lettered, self, site.form)
        findings = [self._caution(note, "Choose another font, or other words.") for note in drawn.notes]
        if body.volume_mm3 < _WHOLE * area.area_mm2 * self.depth_mm:
            remedy = "Make the letters smaller, or move them."
            findings.append(self._caution(f"{self.name} runs over the edge of the {self.face}.", remedy))
        if len(area.grown(-THINNEST_MM / 2).pieces()) < len(area.pieces()):
            remedy = "Make the letters higher, or choose a bolder font."
            findings.append(
                self._caution(
                    f"{self.name} has strokes finer than {THINNEST_MM} mm, too fine to print.", remedy
                )
            )
        if engraved:
            left = check_behind(site, body, self.depth_mm)
            if left <= site.wall_mm + self.depth_mm:
                findings.append(
                    Finding("mark", "pass", f"Behind {self.name} {left:.2f} mm of wall are left.")
                )
        elif self.face in ("floor", "roof"):
            findings.append(
                self._caution(
                    f"{self.name} stands out of the {self.face}, so that half does not lie flat on the bed.",
                    "Engrave the words, or write them on another side.",
                )
            )
        return Work(
            carved=(body,) if engraved else (),
            stands=() if engraved else (body,),
            needs=(whole,),
            in_view=(free,),
            findings=tuple(findings),
            handles=self.knobs(site),
        )

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knob in the middle of the words."""
        frame = READ[self.face]
        place = place_on(site, self.face, self.across_mm, self.up_mm)
        at = frame.at(place, float(frame.seen(site.outer_mm)[:, 2].max()))
        return (Handle("place", triple(at), triple(frame.out), f"Words: {self.name}"),)

    def drawn(self, part: str) -> Lettering:
        """Return the words as outlines around the origin; ``part`` is the first part's name."""
        said = {"own words": self.text, "the part's name": part, "this side up": _UP}
        words = said[self.says].strip()
        if not words:
            raise SpecError("There are no words to write; type some.")
        drawn = letters_of(words, self.height_mm, self.font)
        if self.says != "this side up" or self.face in ("floor", "roof"):
            return drawn
        arrow = _arrow(self.height_mm).moved((drawn.outline.bounds[0, 0] - self.height_mm, 0.0))
        both = drawn.outline | arrow
        return Lettering(both.moved(-both.bounds.mean(axis=0)), drawn.notes)

    def _caution(self, message: str, remedy: str) -> Finding:
        return Finding("mark", "caution", message, remedy)

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the words at the place they were dragged to."""
        across, up, _ = np.round(READ[self.face].seen(to_mm), 2).tolist()
        return self.model_copy(update={"across_mm": across, "up_mm": up})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Write the part's name on the roof, as large as fits well, at most 8 mm high."""
        name = next(iter(site.parts), "").strip()
        if not name:
            return None
        width = float(np.ptp(letters_of(name, 1.0).outline.bounds[:, 0]))
        size, deep = (site.outer_mm[1] - site.outer_mm[0])[:2].tolist()
        height = float(np.clip(min(_ROOM * size / width, 0.4 * deep), 3.0, 8.0))
        return cls(says="the part's name", height_mm=np.floor(2 * height) / 2)

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Write the part's name where the user clicked."""
        face = face_of(normal)
        across, up, _ = np.round(READ[face].seen(point_mm), 1).tolist()
        return cls(says="the part's name", face=face, across_mm=across, up_mm=up)


def _arrow(height_mm: float) -> Outline:
    """Return an upright arrow, its middle at the origin."""
    h = height_mm
    return Outline.polygon(
        [
            (-0.1 * h, -0.7 * h), (0.1 * h, -0.7 * h), (0.1 * h, 0.1 * h), (0.4 * h, 0.1 * h),
            (0.0, 0.7 * h), (-0.4 * h, 0.1 * h), (-0.1 * h, 0.1 * h),
        ]
    )  # fmt: skip


def _lettered(
    housing: Unparted, mark: Mark, form: Solid
) -> tuple[Lettering, Outline, Solid, tuple[Solid, Solid]]:
    """Return a mark's words, their area on their face, the form's layer under it, and what ``shown`` says."""
    drawn = mark.drawn(next(iter(housing.parts), ""))
    place = place_on(housing, mark.face, mark.across_mm, mark.up_mm)
    area = drawn.outline.turned(mark.turn_deg).moved(place)
    deep = mark.depth_mm if mark.way == "engraved" else -mark.depth_mm
    return drawn, area, layer(form, mark.face, area, deep), shown(form, mark.face, area, deep)
