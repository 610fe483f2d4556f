"""Arrows with numbers on the bench: how far the part can move.  No Qt, no VTK."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from housingdesk.geometry.freedom import Play, Range
from housingdesk.geometry.types import Floats
from housingdesk.view3d.camera import Eye
from housingdesk.view3d.cutting import Point

Pixel = tuple[float, float]

LENGTH_SHARE = 0.11  # of the housing's longest side: an arrow's length says nothing, its number does
LEAST_PX = 12.0  # an arrow that points at the viewer is a dot, and left out


@dataclass(frozen=True, slots=True)
class Arrow:
    """An arrow from ``from_mm`` to ``to_mm`` with words at its tip; without words at ``to_mm`` alone."""

    from_mm: Point
    to_mm: Point
    words: str


@dataclass(frozen=True, slots=True)
class ArrowSeen:
    """An arrow in pixels; ``tail`` None where there are words alone."""

    tail: Pixel | None
    tip: Pixel
    words: str


def play_arrows(found: Play, outer_mm: Floats, about: Point | None, axis: Point | None) -> tuple[Arrow, ...]:
    """Return an arrow for each way the part can shift, and words for how far it can turn.

    Parameters
    ----------
    outer_mm : (2, 3) corners of the housing; the arrows start at the middles of its sides.
    about, axis : a point of the axis it is turned about and the axis' direction, (3,) build frame; the words
        stand where that axis leaves the housing.  None where nothing turns.
    """
    low, high = np.asarray(outer_mm, float)
    middle, length = (low + high) / 2, LENGTH_SHARE * float((high - low).max())
    out = []
    for index, (less, more) in enumerate((found.x_mm, found.y_mm, found.z_mm)):
        for way, free_mm in ((-1.0, less), (1.0, more)):
            start = middle.copy()
            start[index] = (low if way < 0 else high)[index]
            end = start.copy()
            end[index] += way * length
            words = "free" if free_mm >= found.limit_mm else f"{free_mm:.2f} mm"
            out.append(Arrow(_point(start), _point(end), words))
    if about is not None and axis is not None:
        at = _leaving(np.asarray(about, float), np.asarray(axis, float), low, high)
        out.append(Arrow(_point(at), _point(at), f"turns {turn_words(found.turn_deg, found)}"))
    return tuple(out)


def turn_words(pair: Range, found: Play) -> str:
    """Say how far it turns one way and the other."""
    back, forth = ("free" if v >= found.limit_deg else f"{v:.1f}°" for v in pair)
    return f"{back} / {forth}" if back != forth else f"±{back}" if back != "free" else "freely"


def arrows_seen(eye: Eye, arrows: Iterable[Arrow]) -> tuple[ArrowSeen, ...]:
    """Return the arrows before the viewer, in pixels."""
    out = []
    for arrow in arrows:
        (ax, ay, a), (bx, by, b) = eye.pixels(np.array([arrow.from_mm, arrow.to_mm])).tolist()
        if a <= 0 or b <= 0:
            continue
        if arrow.from_mm == arrow.to_mm:
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
