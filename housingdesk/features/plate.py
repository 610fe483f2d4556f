"""What mounts share: plates and lugs flush with the floor, so that the lower half prints as it lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature
from housingdesk.features.forms.form import rimmed
from housingdesk.features.hardware import washer_line
from housingdesk.features.opening import BEYOND_MM, FRAMES, Frame, triple
from housingdesk.features.records import BillLine, OpeningRecord
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats
from housingdesk.standards.screws import cap_screws, clearance_holes, washers

Upright = Literal["left", "right", "front", "back"]
MountSize = Literal["M3", "M4", "M5", "M6"]
LEAST_THICK_MM = 3.0  # of a plate that a screw pulls on, common practice, no source
RIM_MM = 2.5  # material around a hole, common practice, no source
EDGE_ROOM_MM = 0.05  # a head's or washer's edge lies so far inside the flat it lies on
LEAST_EDGE_MM = 0.2  # a smaller chamfer is not seen on a print
RIM_SHARES = (1.0, 0.75, 0.5, 0.25)  # tried in turn where heads lie near the edge
HEAD_ROOM_MM = 0.5  # between a screw's head or washer and the wall beside it


class FloorMount(Feature):
    """A mount that is part of the lower half, flush with its floor; base of several features."""

    STATION = "Mounts"
    ORDER = 70

    thickness_mm: float | None = Field(
        default=None,
        ge=1,
        le=50,
        title="thickness",
        description="As needed: 3 mm, or as thick as the wall where that is more.",
    )

    def thick_mm(self, site: Site) -> float:
        """Return the plate's thickness.

        Raises
        ------
        SpecError : it reaches over the parting plane.
        """
        thick = max(LEAST_THICK_MM, site.wall_mm) if self.thickness_mm is None else self.thickness_mm
        most = site.parting_z_mm - site.base_z_mm("lower")
        if thick > most:
            raise SpecError(
                f"A plate of {thick:g} mm reaches over the parting plane; make it {most:.1f} mm or less."
            )
        return thick

    def broken_mm(self, site: Site) -> float:
        """Return how far the plate's edges are broken: as the form's, but never most of its height."""
        return 0.0 if site.rim[0] == "sharp" else min(site.rim[1], self.thick_mm(site) / 3)

    def plate(self, site: Site, outline: Outline, rim_mm: float) -> Solid:
        """Return a plate flush with the floor, its edges broken in the form's way."""
        floor, thick = site.base_z_mm("lower"), self.thick_mm(site)
        if rim_mm < LEAST_EDGE_MM:
            return Solid.prism(outline, floor, floor + thick)
        pieces = outline.filled().pieces()
        return Solid.union(rimmed(p, floor, floor + thick, site.rim[0], rim_mm) for p in pieces)


@dataclass(frozen=True, eq=False)
class Hole:
    """An upright hole through a plate.

    Attributes
    ----------
    outline : the hole, seen along the pull.
    head_mm : diameter of what lies on the plate: a screw's head or its washer.
    """

    outline: Outline
    head_mm: float


def foot(site: Site, thick_mm: float) -> Outline:
    """Return the outline of the housing where a plate flush with the floor joins it."""
    floor = site.base_z_mm("lower")
    low, high = site.form.section_at(floor + 0.02), site.form.section_at(floor + thick_mm)
    return (low | high).simplified(0.005)


def standing(site: Site, above_mm: float) -> list[Solid]:
    """Return what other features have added that reaches above a height (ears, a wireway's hold)."""
    bodies = [s for work in site.done.values() for s in work.added]
    return [s for s in bodies if not s.is_empty and s.bounds[1, 2] > above_mm + 0.1]


def overhead(site: Site, thick_mm: float) -> Outline:
    """Return the area over a plate where no screwdriver comes down: the housing and what stands out of it."""
    added = standing(site, site.base_z_mm("lower") + thick_mm)
    return Outline.union([site.form.silhouette(), *(s.silhouette() for s in added)]).simplified(0.005)


def edge_mm(outline: Outline, frame: Frame, along_mm: float, half_mm: float = 0.05) -> float:
    """Return how far out an outline reaches on one side, within ``half_mm`` of a place along it, mm.

    Raises
    ------
    SpecError : the side does not reach so far along.
    """
    (x0, y0), (x1, y1) = (outline.bounds + np.array([[-1.0], [1.0]])).tolist()
    strip = (
        Outline.rectangle((along_mm - half_mm, y0), (along_mm + half_mm, y1))
        if abs(frame.out[1]) > 0.5
        else Outline.rectangle((x0, along_mm - half_mm), (x1, along_mm + half_mm))
    )
    shared = outline & strip
    if shared.is_empty:
        raise SpecError("The housing does not reach so far along this side; move it inwards.")
    return float((shared.bounds @ frame.out[:2]).max())


def spot(frame: Frame, along_mm: float, out_mm: float) -> Floats:
    """Return the (2,) place of the plan at a distance along a side and one out of it."""
    return np.asarray((along_mm * frame.u + out_mm * frame.out)[:2])


def lug(centre: ArrayLike, radius_mm: float, root: ArrayLike) -> Outline:
    """Return a round lug that runs back to a root inside the housing, as wide as it is."""
    return (Outline.circle(centre, radius_mm) | Outline.circle(root, radius_mm)).hull()


def hole_mm(site: Site, size: MountSize) -> float:
    """Return the diameter of a clear hole, ISO 273 medium, and what the printer needs."""
    return clearance_holes()[size].medium_mm + site.hole_extra_mm


def head_mm(size: MountSize) -> float:
    """Return the room over a screw's head and its washer, whichever is wider."""
    return max(washers()[size].outside_mm, cap_screws()[size].head_knurled_mm)


def screw_lines(count: int, size: MountSize, name: str) -> tuple[BillLine, ...]:
    """Return the lines of the parts list for screws with washers through a plate."""
    what = f"screw {size}, as long as what it stands on asks"
    return BillLine(count, what, "", name), washer_line(count, size, name)


def along_side(
    outline: Outline, frame: Frame, middle_mm: float, span_mm: float | None, count: int, margin_mm: float
) -> list[float]:
    """Return evenly spread places along a side of an outline.

    Parameters
    ----------
    middle_mm : the middle of the places.
    span_mm : from the first to the last.  None: as far apart as the side allows about their middle, or on all
        of the side where the middle lies too near one end of it for two.
    margin_mm : kept to the side's ends where the span is left open.
    """
    if count == 1:
        return [middle_mm]
    if span_mm is None:
        ends = sorted((outline.bounds @ frame.u[:2]).tolist())
        low, high = ends[0] + margin_mm, ends[1] - margin_mm
        half = min(middle_mm - low, high - middle_mm)
        if -margin_mm <= half < margin_mm:
            middle_mm, half = (low + high) / 2, (high - low) / 2
        span_mm = 2 * max(half, 0.0)
    return [middle_mm + float(away) for away in np.linspace(-span_mm / 2, span_mm / 2, count)]


def mounted(
    feature: FloorMount,
    site: Site,
    outline: Outline,
    holes: list[Hole],
    *,
    bill: tuple[BillLine, ...] = (),
    handles: tuple[Handle, ...] = (),
    findings: tuple[Finding, ...] = (),
) -> Work:
    """Return the work of a plate with holes: the material, its cuts, and what must stay free above it.

    Raises
    ------
    SpecError : a hole lies under the housing, where no screw goes in.
    """
    floor, thick = site.base_z_mm("lower"), feature.thick_mm(site)
    above = overhead(site, thick)
    top = site.base_z_mm("upper")
    cut, keep, needs, records = [], [], [], []
    for number, hole in enumerate(holes, 1):
        if above.touches(hole.outline):
            raise SpecError(
                f"Hole {number} lies under the housing, where no screw goes in; move it outwards."
            )
        body = Solid.prism(hole.outline, floor - BEYOND_MM, floor + thick + BEYOND_MM)
        middle = hole.outline.bounds.mean(axis=0)
        cut.append(body)
        head = (Outline.circle(middle, hole.head_mm / 2) | hole.outline).hull()
        keep.append(Solid.prism(head, floor + thick + 0.01, max(top, floor + thick + 1.0)))
        needs.append(Solid.prism(hole.outline.grown(1.2) - hole.outline.grown(0.02), floor, floor + thick))
        records.append(
            OpeningRecord(
                f"{feature.name} {number}",
                feature.kind,
                triple([*middle, floor]),
                (float(np.ptp(hole.outline.bounds[:, 0])), float(np.ptp(hole.outline.bounds[:, 1]))),
            )
        )
        if above.touches(head):
            x, y = middle.tolist()
            findings = (
                *findings,
                Finding(
                    "mount-head",
                    "caution",
                    f"The head or washer of {feature.name} {number} does not clear what stands beside it.",
                    "Move the hole outwards, or use a smaller screw.",
                    (x, y, floor + thick),
                ),
            )
    rim = _rim_beside(outline, holes, feature.broken_mm(site))
    thin = feature.thickness_mm is not None and feature.thickness_mm < LEAST_THICK_MM
    if thin:
        x, y = outline.bounds.mean(axis=0).tolist()
        findings = (
            *findings,
            Finding(
                "mount-thin",
                "caution",
                f"{feature.name} is {thick:g} mm thick; a screw that is pulled tight breaks thin plates.",
                f"Make it {LEAST_THICK_MM:g} mm or more.",
                (x, y, floor),
            ),
        )
    return Work(
        add={"lower": (feature.plate(site, outline, rim),)},
        cut={"lower": tuple(cut)},
        needs=tuple(needs),
        keep_out=tuple(keep),
        openings=tuple(records),
        bill=bill,
        findings=findings,
        handles=handles,
    )


def side_knob(site: Site, key: str, side: Upright, along_mm: float, label: str) -> tuple[Handle, ...]:
    """Return a knob at the foot of a side of the box around the housing, dragged level."""
    frame, floor = FRAMES[side], site.base_z_mm("lower")
    at = frame.point(along_mm, floor, float(frame.seen(site.outer_mm)[:, 2].max()))
    return (Handle(key, triple(at), label=label),)


def _rim_beside(outline: Outline, holes: list[Hole], rim_mm: float) -> float:
    """Return how far a plate's edges may be broken so that every head or washer still lies on it."""
    if rim_mm == 0.0:
        return 0.0
    heads = [Outline.circle(h.outline.bounds.mean(axis=0), h.head_mm / 2) | h.outline for h in holes]
    every = Outline.union(heads)
    tried = (rim_mm * share for share in RIM_SHARES)
    return next((rim for rim in tried if outline.grown(-rim).covers(every)), 0.0)


def upright_sides(which: str) -> tuple[Upright, ...]:
    """Return the sides that a choice in words names."""
    every: tuple[Upright, ...] = ("left", "right", "front", "back")
    return every if which == "all four sides" else tuple(s for s in every if s in which.split())


def frame_of(side: Upright) -> Frame:
    """Return a side's frame."""
    return FRAMES[side]
