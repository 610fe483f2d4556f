"""The way of a wire on the parting plane, and the bodies swept along it."""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

import numpy as np

from housingdesk.features.opening import Frame
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.solid.outline import segments_for
from housingdesk.geometry.types import Floats

Section = Literal["round", "square"]
WEAVE_DEG = (
    65.0  # of each of the four bends of a labyrinth: the least with which nothing sees straight through
)
_STEP_DEG = 13.0
OVERLAP_MM = 0.01
SHARP = 0.7  # cosine of half a bend, beyond which it is not mitred


def weave(bend_mm: float) -> Floats:
    """Return a way that goes over to one side and back by four bends of one radius.

    Parameters
    ----------
    bend_mm : radius of the wire's middle line.

    Returns
    -------
    (n, 2) from (0, 0) along +x to (4 R sin a, 0); it swings over by 2 R (1 - cos a), a = ``WEAVE_DEG``.
    """
    steps = round(WEAVE_DEG / _STEP_DEG)
    t = np.radians(np.linspace(0.0, WEAVE_DEG, steps + 1))
    arc = bend_mm * np.column_stack([np.sin(t), 1.0 - np.cos(t)])
    over = np.vstack([arc, 2 * arc[-1] - arc[-2::-1]])
    back = np.column_stack([2 * over[-1, 0] - over[-2::-1, 0], over[-2::-1, 1]])
    return np.vstack([over, back])


def weave_length_mm(bend_mm: float) -> float:
    """Return how far along its axis a weave reaches."""
    return float(4 * bend_mm * np.sin(np.radians(WEAVE_DEG)))


def swept(
    points_mm: Floats, z_mm: float, width_mm: float, section: Section, *, outside: bool = True
) -> Solid:
    """Return a channel along a way in a horizontal plane, rounded at its bends.

    Parameters
    ----------
    points_mm : (n, 2) middle line.
    z_mm : height of the middle line.
    width_mm : diameter, or side of the square.
    outside : flats outside the true round, so that nothing is narrower than asked.
    """
    r = width_mm / 2
    if section == "square":
        area = ribbon(points_mm, r, outside=outside)
        return Solid.prism(area, z_mm - r, z_mm + r)
    n = segments_for(r)
    swell = 1.0 / np.cos(np.pi / n) if outside else 1.0
    turns = np.arange(n) * 2 * np.pi / n
    headings = np.diff(points_mm, axis=0)
    headings = headings / np.linalg.norm(headings, axis=1)[:, None]
    bodies = []
    for i, heading in enumerate(headings):
        ends = []
        for place, other in ((i, max(i - 1, 0)), (i + 1, min(i + 1, len(headings) - 1))):
            # A mitre in the plane that halves the bend; at sharp bends a square end and a ball.
            bisector = heading + headings[other]
            share = float(np.linalg.norm(bisector)) / 2
            if share < SHARP:
                bisector, share = heading, 1.0
                bodies.append(Solid.ball([*points_mm[place], z_mm], r * swell**2))
            x, y = bisector / np.linalg.norm(bisector)
            across = r * swell * np.cos(turns) / share
            # Pieces overlap by a hair: faces that only meet may leave a film between them.
            hair = OVERLAP_MM * heading * (1.0 if place > i else -1.0)
            ends.append(
                np.column_stack([-y * across, x * across, r * swell * np.sin(turns)])
                + np.array([*(points_mm[place] + hair), z_mm])
            )
        bodies.append(Solid.hull_of_points(np.vstack(ends)))
    return Solid.union(bodies)


def ribbon(points_mm: Floats, reach_mm: float, *, outside: bool = True) -> Outline:
    """Return the area within ``reach_mm`` of a way, cut off square at its ends."""
    pieces = [Outline.circle(p, reach_mm, outside=outside) for p in points_mm[1:-1]]
    for a, b in pairwise(points_mm):
        if np.allclose(a, b):  # bends that end right at the mouth
            continue
        along = (b - a) / np.linalg.norm(b - a)
        across = reach_mm * np.array([-along[1], along[0]])
        pieces.append(Outline.polygon([a - across, b - across, b + across, a + across]))
    return Outline.union(pieces)


def mouth(frame: Frame, width_mm: float, section: Section, radius_mm: float, past_mm: float) -> Solid:
    """Return the flare of a channel, whose edge is rounded by ``radius_mm``.

    Parameters
    ----------
    frame : its origin in the middle of the mouth, on the outer face.
    past_mm : so far past the face it goes on, straight.
    """
    t = np.radians(np.linspace(90.0, 0.0, 9))
    heights = np.append(-radius_mm * (1.0 - np.cos(t)), past_mm)
    half = width_mm / 2 + np.append(radius_mm * (1.0 - np.sin(t)), radius_mm)
    if section == "round":
        n = segments_for(float(half[-1]))
        turn, swell = np.arange(n) * 2 * np.pi / n, 1.0 / np.cos(np.pi / n)
        ring = swell * np.column_stack([np.cos(turn), np.sin(turn)])
    else:
        ring = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return frame.raised(half[:, None, None] * ring, heights)
