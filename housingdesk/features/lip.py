"""Lip and groove along the parting edge, so that the halves find each other and no light falls through."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

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
MUCH = 0.5  # of the edge: a lip along less than this is said (own choice)
SIMPLER_MM = 0.02
COARSE_MM = 0.03
HAIR_MM = 0.005  # rounds are drawn with chords, so that a gap is a hair less at their corners


class Lip(Feature):
    """A lip on one half in a groove of the other."""

    TITLE: ClassVar[str] = "Lip and groove"
    STATION: ClassVar[Station] = "Joints"
    SENTENCE: ClassVar[str] = (
        "Let a lip {height_mm} high and {width_mm} wide on the {lip_on} half run along the {runs}, "
        "with {gap_mm} room in its groove."
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
        description="A side; 0.2 slides on most filament printers. A coupon finds yours.",
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
        lip = self._outline(site, width)
        if lip.is_empty:
            needed = width + self.gap_mm + THIN_MM
            raise SpecError(
                f"The walls have no room for a lip, which needs {needed:.1f} mm with its gap and what stays "
                "beside it; raise the wall, or make the lip narrower."
            )
        z, groove = site.parting_z_mm, lip.grown(self.gap_mm + HAIR_MM)
        high, up = self.height_mm, 1.0 if self.lip_on == "lower" else -1.0
        other: Side = "upper" if self.lip_on == "lower" else "lower"
        length = lip.area_mm2 / width
        whole = _round_length(site, self.runs)
        figures = {
            "width_mm": width,
            "height_mm": high,
            "gap_mm": self.gap_mm,
            "length_mm": length,
            "groove_depth_mm": high + self.gap_mm,
        }
        return Work(
            add={self.lip_on: (_slab(lip, z - up * ROOT_MM, z + up * high),)},
            cut={other: (_slab(groove, z - up * ROOT_MM, z + up * (high + self.gap_mm)),)},
            joints=(Joint(self.name, "lip", figures),),
            findings=() if length >= MUCH * whole else (self._short(length, whole),),
        )

    def _outline(self, site: Site, width: float) -> Outline:
        """Return the area of the lip: along one edge of the wall, off bosses and openings."""
        depth = self.height_mm + self.gap_mm
        form, hollow = edge_section(site, depth), site.keep_clear.simplified(SIMPLER_MM)
        if self.runs == "inside":
            smooth = hollow.filled().grown(SMOOTH_MM).grown(-SMOOTH_MM)
            # Drawn coarser, and so much further out that it still covers all of the cavity.
            smooth = smooth.simplified(COARSE_MM).grown(2 * COARSE_MM, "sharp")
            lip = (smooth.grown(width) - smooth) & form.grown(-(self.gap_mm + THIN_MM))
        else:
            lip = (form - form.grown(-width)) - hollow.grown(self.gap_mm + THIN_MM)
        lip = lip - barred_at_edge(site, depth).grown(self.gap_mm + 2 * HAIR_MM)
        # What is thinner than two lines of a nozzle does not print.
        thin = 0.49 * min(width, THIN_MM)
        lip = (lip.grown(-thin).grown(thin) & lip).simplified(SIMPLER_MM)
        return Outline.union(p for p in lip.pieces() if p.area_mm2 >= STUB_MM * width)

    def _check_depth(self, site: Site, high: float) -> None:
        other: Side = "upper" if self.lip_on == "lower" else "lower"
        room = abs(site.base_z_mm(other) - site.parting_z_mm) - THIN_MM - self.gap_mm
        if high > room:
            raise SpecError(
                f"The {other} half is too low for a lip {high:.1f} mm high; make it {max(room, 0):.1f} mm or "
                "less."
            )

    def _short(self, length: float, whole: float) -> Finding:
        return Finding(
            "lip-short",
            "caution",
            f"{self.name} runs along {100 * length / whole:.0f} % of the edge; elsewhere it has no room.",
            "Raise the wall, or make the lip narrower.",
        )


def _slab(outline: Outline, one_z_mm: float, other_z_mm: float) -> Solid:
    return Solid.prism(outline, min(one_z_mm, other_z_mm), max(one_z_mm, other_z_mm))


def _round_length(site: Site, runs: str) -> float:
    """Return how long the whole edge is that the lip runs along, mm."""
    form = site.form.section_at(site.parting_z_mm)
    edge = form if runs == "outside" else (site.keep_clear & form)
    return sum(loops.length(loop) for loop in edge.filled().loops)
