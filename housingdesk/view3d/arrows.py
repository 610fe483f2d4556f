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


def play_arrows(facts: PlayFacts, outer_mm: Floats) -> tuple[Arrow, ...]:
    """Return an arrow for each way the part can shift, and words for how far it can turn, about what.

    The words stand where the axis leaves the housing; where the part cannot shift at all they say that, too.

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
    at = _point(_leaving(np.asarray(facts.axis_mm), np.asarray(facts.axis), low, high))
    words = turn_words(found, facts.about_words)
    words = words if found.shifts else f"does not move; {words}"
    out.append(Arrow(at, at, f"{facts.part}: {words}" if facts.part else words))
    return tuple(out)


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
