"""The parting plane's handle: where it is on screen, and what dragging it means.  No Qt, no VTK."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from housingdesk.view3d.camera import Eye, grip_anchor, snapped
from housingdesk.view3d.scene import PlaneFrame, height_label

Pixel = tuple[float, float]

GRIP_WIDTH, GRIP_HEIGHT = 36.0, 32.0
SPARE_PX = 3.0  # the grip is hit a little beyond its outline
SNAP_PX = 6.0
STEP_MM = 0.1  # heights dragged to are whole tenths; with Shift, hundredths


@dataclass(frozen=True, slots=True)
class Drag:
    """The grip being dragged.

    Attributes
    ----------
    anchor : (x, y) of the upright line it moves on, mm.
    began_z, z_mm : where it was taken, and where it is.
    hold : where on the grip it was taken hold of, pixels from its middle.
    caught : ``z_mm`` is a snapping height.
    """

    anchor: tuple[float, float]
    began_z: float
    z_mm: float
    hold: Pixel
    caught: bool = False

    def moved(self, eye: Eye, plane: PlaneFrame, snaps_mm: tuple[float, ...], at: Pixel, free: bool) -> Drag:
        """Return the drag with the pointer at another pixel.

        Parameters
        ----------
        snaps_mm : heights that catch the plane within 6 pixels.
        free : nothing catches it (Shift is held), and it moves in finer steps.
        """
        anchor = (*self.anchor, self.z_mm)
        x, y = at[0] - self.hold[0], at[1] - self.hold[1]
        under = eye.height_under(x, y, anchor)
        reach = abs(eye.height_under(x, y - SNAP_PX, anchor) - under)
        caught = snapped(under, () if free else within(snaps_mm, plane.range_mm), reach)
        step = STEP_MM / 10 if free else STEP_MM
        z = round(round(under / step) * step, 4) if caught is None else caught
        return replace(self, z_mm=float(np.clip(z, *plane.range_mm)), caught=caught is not None)

    def given_back(self) -> Drag:
        """Return the drag where it began."""
        return replace(self, z_mm=self.began_z, caught=False)


@dataclass(frozen=True, slots=True)
class Grip:
    """The handle as drawn.

    Attributes
    ----------
    anchor : (x, y) of its place on the frame, mm.
    at : its middle, pixels; text : the height beside it.
    lit : the pointer is over it; held : it is being dragged; caught : it holds a snapping height.
    rail : while held, the ends of its upright path; ticks : the snapping heights along it.
    """

    anchor: tuple[float, float]
    at: Pixel
    text: str
    lit: bool = False
    held: bool = False
    caught: bool = False
    rail: tuple[Pixel, Pixel] | None = None
    ticks: tuple[Pixel, ...] = ()

    def holds(self, at: Pixel) -> bool:
        """Whether a pixel is on the handle."""
        return (
            abs(at[0] - self.at[0]) <= GRIP_WIDTH / 2 + SPARE_PX
            and abs(at[1] - self.at[1]) <= GRIP_HEIGHT / 2 + SPARE_PX
        )


def grip_of(
    eye: Eye, plane: PlaneFrame, z_mm: float, lit: bool, drag: Drag | None, snaps_mm: tuple[float, ...]
) -> Grip:
    """Return the handle for a plane drawn at ``z_mm``; while it is dragged it stays on its line."""
    anchor = drag.anchor if drag else grip_anchor(eye, plane.corners, z_mm, GRIP_WIDTH)
    ends = plane.range_mm
    heights = [z_mm, *ends, *within(snaps_mm, ends)] if drag else [z_mm]
    at, *rest = _pixels(eye, anchor, heights)
    return Grip(
        anchor=anchor,
        at=at,
        text=height_label(z_mm),
        lit=lit,
        held=drag is not None,
        caught=drag is not None and drag.caught,
        rail=(rest[0], rest[1]) if drag else None,
        ticks=tuple(rest[2:]),
    )


def within(heights_mm: tuple[float, ...], range_mm: tuple[float, float]) -> tuple[float, ...]:
    """Return the heights that lie in a range."""
    return tuple(h for h in heights_mm if range_mm[0] <= h <= range_mm[1])


def _pixels(eye: Eye, anchor: tuple[float, float], heights_mm: list[float]) -> list[Pixel]:
    seen = eye.pixels(np.array([(*anchor, h) for h in heights_mm]))
    return [(float(p[0]), float(p[1])) for p in seen]
