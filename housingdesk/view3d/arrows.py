"""Arrows with numbers on the bench: how far the part can move.  No Qt, no VTK."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from housingdesk.geometry.freedom import STILL, Play
from housingdesk.geometry.types import Floats
from housingdesk.proof.facts import PlayFacts
from housingdesk.view3d.camera import Eye
from housingdesk.view3d.cutting import Point

Pixel = tuple[float, float]

LENGTH_SHARE = 0.11  # of the housing's longest side: an arrow's length says nothing, its number does
_ARC_SHARE = 0.06  # the radius of a turn's arc, of the same
_ARC = np.radians(np.linspace(-120.0, 120.0, 33))
LEAST_PX = 12.0  # an arrow that points at the viewer is a dot, and left out


@dataclass(frozen=True, slots=True)
class Arrow:
    """An arrow from ``from_mm`` to ``to_mm`` with words at its tip; where the two are one, words alone.

    Attributes
    ----------
    around : points of an arc, for a turn; then the words stand at its end.
    ends : whether the arc has a head at its beginning, and at its end.
    """

    from_mm: Point
    to_mm: Point
    words: str
    around: tuple[Point, ...] = ()
    ends: tuple[bool, bool] = (False, True)


@dataclass(frozen=True, slots=True)
class ArrowSeen:
    """An arrow in pixels; ``tail`` None where there are words alone, ``around`` the points of an arc."""

    tail: Pixel | None
    tip: Pixel
    words: str
    around: tuple[Pixel, ...] = ()
    ends: tuple[bool, bool] = (False, True)


def play_arrows(facts: PlayFacts, outer_mm: Floats) -> tuple[Arrow, ...]:
    """Return an arrow for each way the part can shift, and one round the axis for how far it can turn.

    It stands where the axis leaves the housing.  Where the part cannot turn there are words alone, and where
    it cannot shift at all they say that, too.

    Parameters
    ----------
    outer_mm : (2, 3) corners of the housing; the arrows start at the middles of its sides, with
        several parts at those places of its sides that lie beside the loosest.
    """
    found = facts.now
    low, high = np.asarray(outer_mm, float)
    middle, length = (low + high) / 2, LENGTH_SHARE * float((high - low).max())
    if facts.middle_mm is not None:
        middle = np.clip(facts.middle_mm, low, high)
    out = []
    for index, (less, more) in enumerate((found.x_mm, found.y_mm, found.z_mm)):
        for way, free_mm in ((-1.0, less), (1.0, more)):
            if free_mm < STILL:
                continue
            start = middle.copy()
            start[index] = (low if way < 0 else high)[index]
            end = start.copy()
            end[index] += way * length
            words = "free" if free_mm >= found.limit_mm else f"{free_mm:.2f} mm"
            out.append(Arrow(_point(start), _point(end), words))
    axis = np.asarray(facts.axis, float)
    middle = _leaving(np.asarray(facts.axis_mm), axis, low, high)
    words = turn_words(found, facts.about_words)
    words = words if found.shifts else f"does not move; {words}"
    words = f"{facts.part}: {words}" if facts.part else words
    back, forth = (v >= STILL for v in found.turn_deg)
    arc = _arc(middle, axis, _ARC_SHARE * float((high - low).max())) if found.turns else ()
    out.append(Arrow(_point(middle), _point(middle), words, arc, (back, forth)))
    return tuple(out)


def _arc(middle: Floats, axis: Floats, radius: float) -> tuple[Point, ...]:
    """Return points around an axis, right-handed about it; open below, or in front of an upright axis."""
    axis = axis / np.linalg.norm(axis)
    side = np.cross(axis, (0.0, 0.0, 1.0) if abs(axis[2]) < 0.9 else (0.0, 1.0, 0.0))
    side /= np.linalg.norm(side)
    top = np.cross(side, axis)
    ring = middle + radius * (np.cos(_ARC)[:, None] * top + np.sin(_ARC)[:, None] * side)
    return tuple(_point(p) for p in ring)


def turn_words(found: Play, about: str) -> str:
    """Say how far it turns one way and the other, such as ``turns ±0.5° about the shaft``."""
    if not found.turns:
        return f"does not turn {about}"
    back, forth = ("free" if v >= found.limit_deg else _degrees(v) for v in found.turn_deg)
    far = f"{back} / {forth}" if back != forth else f"±{back}" if back != "free" else "freely"
    return f"turns {far} {about}"


def _degrees(value: float) -> str:
    return f"{value:.1f}°" if value >= 0.05 else f"{value:.2f}°"  # no zero where there is a little


def arrows_seen(eye: Eye, arrows: Iterable[Arrow]) -> tuple[ArrowSeen, ...]:
    """Return the arrows before the viewer, in pixels."""
    out = []
    for arrow in arrows:
        (ax, ay, a), (bx, by, b) = eye.pixels(np.array([arrow.from_mm, arrow.to_mm])).tolist()
        if a <= 0 or b <= 0:
            continue
        if arrow.around:
            *points, last = eye.pixels(np.array(arrow.around)).tolist()
            if min(p[2] for p in (*points, last)) > 0:
                path = tuple((x, y) for x, y, _ in (*points, last))
                out.append(ArrowSeen(path[-2], path[-1], arrow.words, path, arrow.ends))
        elif arrow.from_mm == arrow.to_mm:
            out.append(ArrowSeen(None, (bx, by), arrow.words))
        elif np.hypot(bx - ax, by - ay) >= LEAST_PX:
            out.append(ArrowSeen((ax, ay), (bx, by), arrow.words))
    return tuple(out)


def _leaving(point: Floats, axis: Floats, low: Floats, high: Floats) -> Floats:
    """Return where a line through a point leaves a box, the way the axis points."""
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.where(axis > 0, (high - point) / axis, np.where(axis < 0, (low - point) / axis, np.inf))
    far = float(np.nanmin(reach))
    return point + max(far, 0.0) * axis if np.isfinite(far) else point


def _point(values: Floats) -> Point:
    return float(values[0]), float(values[1]), float(values[2])
