"""A window for a connector or a button."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.behind import Seen, face_at, patches_along
from housingdesk.features.feature import first_that_fits
from housingdesk.features.opening import (
    FRAMES,
    Face,
    Frame,
    SideOpening,
    bore,
    cuts,
    face_of,
    on_the_side,
    triple,
    way_out,
)
from housingdesk.features.records import OpeningRecord
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats
from housingdesk.model import OnlyIf

SMALL = 0.3  # a face this share of its side, or less, looks like a connector or button
LEAST_MM = 1.5
FAR_IN_MM = 2.5  # deeper than this behind the outside, a plug's grip may not reach


class Window(SideOpening):
    """An opening in front of a connector or a button."""

    TITLE = "window"
    STATION = "Openings"
    SENTENCE = (
        "Cut a {shape} window into the {side} (sideways: {across_mm}, height: {height_mm}), sized by {fit}, "
        "{margin_mm} larger all around, with a chamfer of {chamfer_mm}."
    )

    ONLY_IF: ClassVar[OnlyIf] = {
        "margin_mm": {"fit": ("the part",)},
        "width_mm": {"fit": ("hand",)},
        "tall_mm": {"fit": ("hand",), "shape": ("rectangle", "slot")},
    }

    kind: Literal["window"] = "window"
    side: Face = Field(default="front", title="side", description="Which side the window opens.")
    shape: Literal["rectangle", "slot", "circle"] = Field(
        default="rectangle",
        title="shape",
        description="A slot has round ends; it cracks less easily than a rectangle's corners.",
    )
    fit: Literal["the part", "hand"] = Field(
        default="the part",
        title="sized by",
        description="By the part: as large as the face of the part behind it (connector, button), plus the "
        "margin. By hand: as entered below.",
    )
    margin_mm: float = Field(
        default=0.5,
        ge=0,
        le=20,
        title="margin",
        description="Gap around the face on each side; 0.5 mm lets a printed window clear a connector. "
        "Common "
        "practice, no source.",
    )
    width_mm: float = Field(
        default=10.0,
        ge=0.5,
        le=300,
        title="width by hand",
        description="Along the side; a circle's diameter.",
    )
    tall_mm: float = Field(default=5.0, ge=0.5, le=300, title="height by hand", description="Across it.")
    chamfer_mm: float = Field(
        default=0.6,
        ge=0,
        le=10,
        title="chamfer",
        description="Widens outward, so that a plug finds its way in.",
    )

    def build(self, site: Site) -> Work:
        """Cut the window.

        Raises
        ------
        SpecError : no face of the part behind it, nothing to go through, over the edge.
        """
        frame = FRAMES[self.side]
        target = self._target(site, frame)
        outline = self._outline(target, self.place(site))
        way = way_out(site, frame, outline)
        said = on_the_side(site, frame, outline, way, self.name)
        middle, (width, tall) = outline.bounds.mean(axis=0).tolist(), np.ptp(outline.bounds, axis=0).tolist()
        at = triple(frame.at(middle, way.face_mm))
        if target is not None:
            said.append(self._depth(target, way.face_mm - target.out_mm, at))
        return Work(
            cut=cuts([bore(frame, outline, way, self.chamfer_mm)], site.parting_z_mm),
            keep_out=(frame.body(outline, way.inner_mm, way.outer_mm),),
            openings=(OpeningRecord(self.name, self.kind, at, (width, tall)),),
            findings=tuple(said),
            handles=self.knob((middle[0], middle[1]), way, "the window"),
        )

    def _target(self, site: Site, frame: Frame) -> Seen | None:
        if self.fit == "hand":
            return None
        place = np.array(self.place(site))
        if self.across_mm is None and self.height_mm is None:
            target = _likely(site, frame) or face_at(site, frame, place)
        else:
            target = face_at(site, frame, place)
        if target is None:
            raise SpecError(
                f"No face of the part looks out of the {self.side} there; move the window in front of "
                "one, or size it by hand."
            )
        return target

    def _outline(self, target: Seen | None, place: tuple[float, float]) -> Outline:
        if target is None:
            half = np.array([self.width_mm, self.tall_mm]) / 2
            if self.shape == "circle":
                return Outline.circle(place, self.width_mm / 2, outside=True)
            low, high = np.array(place) - half, np.array(place) + half
            return Outline.rectangle(low, high, float(half.min()) if self.shape == "slot" else 0.0)
        low, high, m = target.low_mm, target.high_mm, self.margin_mm
        half = (high - low) / 2
        if self.shape == "circle":
            is_round = target.patch.kind != "flat"
            radius = target.patch.diameter_mm / 2 if is_round else float(np.linalg.norm(half))
            return Outline.circle(target.middle_mm, radius + m, outside=True)
        if self.shape == "slot":
            # Ends are half circles about the ends of the face, so that its corners are clear, too.
            inset = np.where(half >= half.max() - 1e-9, 0.0, half)
            ends = (low + inset, high - inset)
            r = float(half.min()) + m
            return (
                Outline.circle(ends[0], r, outside=True) | Outline.circle(ends[1], r, outside=True)
            ).hull()
        return Outline.rectangle(low - m, high + m)

    def _depth(self, target: Seen, deep_mm: float, at: tuple[float, float, float]) -> Finding:
        width, tall = (target.high_mm - target.low_mm).tolist()
        said = (
            f"{self.name} opens onto a face of {width:.1f} × {tall:.1f} mm that lies {deep_mm:.1f} mm "
            "inside the outside."
        )
        if deep_mm <= FAR_IN_MM:
            return Finding("window-depth", "pass", said, where_mm=at)
        return Finding(
            "window-depth",
            "caution",
            said,
            "See that the plug reaches so far; else widen the margin to let its grip in, or thin that side.",
            at,
        )

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return a window in front of what looks most like a connector or button."""
        found = [(face, s) for face, frame in FRAMES.items() if (s := _likely(site, frame)) is not None]
        if not found:
            return cls(fit="hand")
        found.sort(key=lambda item: abs(item[1].patch.area_mm2 - 25.0))
        places = ((face, *np.round(seen.middle_mm, 2).tolist()) for face, seen in found)
        return first_that_fits((cls(side=face, across_mm=u, height_mm=v) for face, u, v in places), site)

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return a window where the user clicked; by hand where no face of the part lies behind."""
        side = face_of(normal)
        u, v, _ = np.round(FRAMES[side].seen(point_mm), 2).tolist()
        behind = face_at(site, FRAMES[side], np.array([u, v]))
        return cls(side=side, across_mm=u, height_mm=v, fit="hand" if behind is None else "the part")


def _likely(site: Site, frame: Frame) -> Seen | None:
    """Return the small flat that looks most like a connector: the outermost of one side, or None."""
    box = frame.seen(site.part_bounds)
    whole = float(np.prod(np.ptp(box[:, :2], axis=0)))
    small = [
        s
        for s in patches_along(site, frame)
        if s.patch.kind == "flat"
        and (s.high_mm - s.low_mm >= LEAST_MM).all()
        and float(np.prod(s.high_mm - s.low_mm)) <= SMALL * whole
    ]
    return max(small, key=lambda s: (round(s.out_mm, 1), s.patch.area_mm2), default=None)
