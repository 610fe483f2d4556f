"""Lip and groove along the parting edge, so that the halves find each other and no light falls through."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.edge import THIN_MM, barred_at_edge, edge_section
from housingdesk.features.feature import Feature, Station
from housingdesk.features.records import Joint
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry import loops
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Side
from housingdesk.standards.fits import fit_preset

ROOT_MM = 0.3  # a lip reaches so deep into its own half, so that both become one
SMOOTH_MM = 3.0  # recesses of the cavity narrower than twice this are passed straight (own choice)
STUB_MM = 5.0  # shorter pieces of a lip break off (own choice)
MUCH = 0.05  # of the edge: where the wall is too thin along so much of it, that is said (own choice)
SIMPLER_MM = 0.02
COARSE_MM = 0.03
HAIR_MM = 0.005  # rounds are drawn with chords, so that a gap is a hair less at their corners
SAMPLE_MM = 2.0  # between places at which a wall too thin for a lip is measured
NEAR_MM = 0.1  # what is nearer to a lip than this is said to have it


@dataclass(frozen=True, eq=False)
class _Edge:
    """The edge a lip runs along, seen along the pull.

    Attributes
    ----------
    strip : where the lip would lie if the wall were thick everywhere.
    room : where the wall is thick enough for it.
    near, far : what the strip lies along, and what it must leave the wall to.
    leaves : where the room of the part leaves the housing, and no edge is.
    """

    strip: Outline
    room: Outline
    near: Outline
    far: Outline
    leaves: Outline


class Lip(Feature):
    """A lip on one half in a groove of the other."""

    TITLE: ClassVar[str] = "Lip and groove"
    STATION: ClassVar[Station] = "Joints"
    SENTENCE: ClassVar[str] = (
        "Let a lip {height_mm} high (width: {width_mm}) on the {lip_on} half run along the {runs}, with "
        "{gap_mm} room in its groove."
    )
    ORDER: ClassVar[int] = 75

    kind: Literal["lip"] = "lip"
    height_mm: float = Field(
        default=1.6, ge=0.4, le=10, title="height of the lip",
        description="Higher finds its groove sooner and shuts out more dust.",
    )  # fmt: skip
    width_mm: float | None = Field(
        default=None, ge=THIN_MM, le=10, title="width of the lip",
        description="As needed: half of the wall that the gap leaves, and at least two lines of the nozzle.",
    )  # fmt: skip
    gap_mm: float = Field(
        default=0.2, ge=0.05, le=1, title="room in the groove",
        description="On each side; 0.2 slides on most filament printers. A small test print finds yours.",
    )  # fmt: skip
    lip_on: Literal["lower", "upper"] = Field(
        default="lower", title="half with the lip", description="The other half has the groove."
    )
    runs: Literal["inside", "outside"] = Field(
        default="inside", title="edge it runs along",
        description="Inside hides the joint; outside leaves the inner wall smooth.",
    )  # fmt: skip

    @classmethod
    def proposed(cls, site: Site) -> Self:
        """Propose a lip with the room that slides on this kind of printer."""
        return cls(gap_mm=fit_preset("filament", "sliding").clearance_mm)

    def build(self, site: Site) -> Work:
        """Make the lip and its groove where the wall has room for both."""
        self._check_depth(site, self.height_mm)
        width = self.width_mm or max(THIN_MM, (site.wall_mm - self.gap_mm) / 2)
        edge = self._edge(site, width)
        barred = barred_at_edge(site, self.height_mm + self.gap_mm).grown(self.gap_mm + 2 * HAIR_MM)
        lip = self._outline(edge, barred, width)
        if lip.is_empty:
            enough = self._enough_mm(site, edge, edge.strip - _printable(edge.room, width))
            if enough > site.wall_mm:
                raise SpecError(
                    "The walls have no room for a lip with its gap and what stays beside it; raise the wall "
                    f"to {enough:.1f} mm."
                )
            raise SpecError(
                "Screws and openings leave no room for a lip along the edge; move them, or do without."
            )
        drawn = lip.grown((site.drawn_mm(width, room_mm=self.gap_mm) - width) / 2)
        if self.runs == "outside":
            drawn &= edge.near  # the form keeps its size
        # Growing puts a round at every corner, however blunt.
        z, groove = site.parting_z_mm, lip.grown(self.gap_mm + 2 * HAIR_MM).simplified(HAIR_MM)
        high, up = self.height_mm, 1.0 if self.lip_on == "lower" else -1.0
        other: Side = "upper" if self.lip_on == "lower" else "lower"
        length = lip.area_mm2 / width
        figures = {
            "width_mm": width,
            "height_mm": high,
            "gap_mm": self.gap_mm,
            "length_mm": length,
            "groove_depth_mm": high + self.gap_mm,
            "outside_correction_mm": site.outside_extra_mm,
        }
        return Work(
            add={self.lip_on: (_slab(drawn, z - up * ROOT_MM, z + up * high),)},
            cut={other: (_slab(groove, z - up * ROOT_MM, z + up * (high + self.gap_mm)),)},
            joints=(Joint(self.name, "lip", figures),),
            findings=self._missing(site, edge, barred, width),
        )

    def _edge(self, site: Site, width: float) -> _Edge:
        """Return the edge that the lip runs along, and where its wall has room for the lip."""
        form, hollow = (
            edge_section(site, self.height_mm + self.gap_mm),
            site.keep_clear.simplified(SIMPLER_MM),
        )
        beside = self.gap_mm + THIN_MM
        if self.runs == "inside":
            smooth = hollow.filled().grown(SMOOTH_MM).grown(-SMOOTH_MM)
            # Drawn coarser, and so much further out that it still covers all of the cavity.
            smooth = smooth.simplified(COARSE_MM).grown(2 * COARSE_MM, "sharp")
            strip = smooth.grown(width) - smooth
            return _Edge(strip, strip & form.grown(-beside), smooth, form, smooth - form)
        strip = form - form.grown(-width)
        return _Edge(strip, strip - hollow.grown(beside), form, hollow, hollow - form)

    def _outline(self, edge: _Edge, barred: Outline, width: float) -> Outline:
        """Return the area of the lip: where it has room, off bosses and openings."""
        lip = _printable(edge.room - barred, width).simplified(SIMPLER_MM)
        return Outline.union(p for p in lip.pieces() if p.area_mm2 >= STUB_MM * width)

    def _check_depth(self, site: Site, high: float) -> None:
        other: Side = "upper" if self.lip_on == "lower" else "lower"
        room = abs(site.base_z_mm(other) - site.parting_z_mm) - THIN_MM - self.gap_mm
        if high > room:
            raise SpecError(
                f"The {other} half is too low for a lip {high:.1f} mm high; make it {max(room, 0):.1f} mm or "
                "less."
            )

    def _missing(self, site: Site, edge: _Edge, barred: Outline, width: float) -> tuple[Finding, ...]:
        """Say where the wall is too thin for the lip, unless it stops there anyway."""
        margin = max(0.0, width - THIN_MM) + NEAR_MM  # a lip may be narrower than asked and is still one
        there = _printable(edge.room, width).grown(margin)
        stops = edge.leaves.grown(width + self.gap_mm + THIN_MM + margin) | barred.grown(width)
        bare = edge.strip - there - stops
        bare = bare.grown(-0.3 * width).grown(0.3 * width) & bare
        gaps = [p for p in bare.pieces() if p.loops]  # a piece may be too small for the kernel to draw
        missing = sum(p.area_mm2 / width + 2 * margin for p in gaps)
        share = missing / ((edge.strip - stops).area_mm2 / width) if gaps else 0.0
        if not gaps or share < MUCH:
            return ()
        at = np.vstack(gaps[0].loops)
        enough = self._enough_mm(site, edge, bare)
        x, y = at[np.linalg.norm(at - gaps[0].bounds.mean(axis=0), axis=1).argmin()].tolist()
        return (
            Finding(
                "lip-short",
                "caution",
                f"{self.name} is missing along {100 * min(share, 1.0):.0f} % of the edge, the longest piece "
                f"{gaps[0].area_mm2 / width + 2 * margin:.0f} mm: the wall is too thin for it there.",
                f"A wall of {enough:.1f} mm would do; or give that side more room.",
                (x, y, site.parting_z_mm),
            ),
        )

    def _enough_mm(self, site: Site, edge: _Edge, bare: Outline) -> float:
        """Return the wall that must be asked for so that an edge without lip gets one, in tenths."""
        near, far = edge.near.loops, edge.far.loops
        every = [p for loop in bare.loops for p in loops.spread(loop, SAMPLE_MM)]
        at = [p for p in every if loops.distance(near, p) < SIMPLER_MM]
        within = self.runs == "inside"  # what lies outside the form has no wall at all
        least = min(
            (loops.distance(far, p) if loops.contains(far, p) == within else 0.0 for p in at), default=0.0
        )
        # Where the wall does not give more, a lip is narrower than asked, but never than two lines.
        return math.ceil(10 * (site.wall_mm + THIN_MM + self.gap_mm + THIN_MM - least) - 1e-6) / 10


def _printable(area: Outline, width: float) -> Outline:
    """Return what of an area is not thinner than two lines of a nozzle, or than a lip of some width."""
    thin = 0.49 * min(width, THIN_MM)
    return area.grown(-thin).grown(thin) & area


def _slab(outline: Outline, one_z_mm: float, other_z_mm: float) -> Solid:
    return Solid.prism(outline, min(one_z_mm, other_z_mm), max(one_z_mm, other_z_mm))
