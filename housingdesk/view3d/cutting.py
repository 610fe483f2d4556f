"""Where the section's cutting line runs: a thin ring around the housing.

No Qt, no VTK.  A cut is a turn about the pull and a shift from the housing's middle, as the strip has it.
It is turned clockwise seen from above, and looked at the way a positive shift goes: at 0 from the front, so
that shifts go to the back and the drawing's right is the housing's; at 90 from the left, and shifts go right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from housingdesk.geometry.types import Floats

Point = tuple[float, float, float]

STAND_OFF = 0.02  # of the longer side: the ring is drawn that far off the housing, clear of its faces


@dataclass(frozen=True, slots=True)
class CutFrame:
    """The ring as drawn.

    Attributes
    ----------
    corners : in order around it, build frame, mm; the last two are the upper ones, which carry the knobs.
    offset_mm : shift from the middle, along ``normal``.
    normal : unit direction of a positive shift.
    most_mm : the shift at which the cut would leave the housing.
    """

    corners: tuple[Point, Point, Point, Point]
    offset_mm: float
    normal: Point
    most_mm: float


def directions(angle_deg: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return unit directions in plan: of a cutting line, to the drawing's right, and of its shift."""
    a = np.radians(angle_deg)
    along, across = float(np.cos(a)), float(np.sin(a))
    return (along, -across), (across, along)


def settled(angle_deg: float, offset_mm: float) -> tuple[float, float]:
    """Return turn and shift of the same line, turned by more than -90 to 90 degrees.

    So one line is one cut, and shifts never go to the front.
    """
    turns = int(np.ceil((angle_deg - 90.0) / 180.0))
    return angle_deg - 180.0 * turns, (0.0 - offset_mm if turns % 2 else offset_mm)


def chord(angle_deg: float, offset_mm: float, half_size_mm: tuple[float, float]) -> tuple[float, float]:
    """Return from where to where along itself a cutting line is inside a box about the middle, mm.

    Slab method: each pair of sides leaves an interval of the line, and both must hold.
    """
    along, normal = directions(angle_deg)
    start = (normal[0] * offset_mm, normal[1] * offset_mm)
    low, high = -np.inf, np.inf
    for direction, at, half in zip(along, start, half_size_mm, strict=True):
        if abs(direction) > 1e-9:
            ends = sorted(((-half - at) / direction, (half - at) / direction))
            low, high = max(low, ends[0]), min(high, ends[1])
    return float(low), float(max(low, high))


def reach_along_normal(angle_deg: float, size_mm: tuple[float, float]) -> float:
    """Return how far the cutting plane may be shifted before it leaves a box of this plan size."""
    a = np.radians(angle_deg)
    return float(abs(np.sin(a)) * size_mm[0] + abs(np.cos(a)) * size_mm[1]) / 2.0


def cut_frame(angle_deg: float, offset_mm: float, outer_mm: Floats, lift_mm: float = 0.0) -> CutFrame:
    """Return the ring around a housing.

    Parameters
    ----------
    outer_mm : (2, 3) corners of the shell, mm.
    lift_mm : how far the upper half is lifted off; the ring goes around it as well.
    """
    low, high = np.asarray(outer_mm, float)
    size = (float(high[0] - low[0]), float(high[1] - low[1]))
    off = STAND_OFF * max(size)
    most = max(0.0, reach_along_normal(angle_deg, size) - 0.05)
    offset = float(np.clip(offset_mm, -most, most))  # a housing just made smaller
    back, front = chord(angle_deg, offset, (size[0] / 2, size[1] / 2))
    along, normal = (np.array(way) for way in directions(angle_deg))
    middle = (low[:2] + high[:2]) / 2 + offset * normal
    bottom, top = float(low[2] - off), float(high[2] + off + lift_mm)

    def corner(way: float, z: float) -> Point:
        x, y = middle + way * along
        return float(x), float(y), z

    first, last = back - off, front + off
    return CutFrame(
        (corner(first, bottom), corner(last, bottom), corner(last, top), corner(first, top)),
        offset,
        (float(normal[0]), float(normal[1]), 0.0),
        most,
    )
