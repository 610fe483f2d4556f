"""Where words over the picture go so that none covers another and all stay inside.  No Qt, no VTK."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from housingdesk.geometry.types import Floats

Box = tuple[float, float, float, float]  # left, top, width, height; pixels

GAP_PX = 3.0  # between two labels
INSET_PX = 4.0  # from the border of the picture
_AWAY_PX = (16.0, 40.0, 80.0, 140.0)  # how far a label may stand from what it is about
_WAY_COSTS = 0.4  # pixels of lines that may be covered to stay one pixel nearer


def laid(wanted: Sequence[Box], taken: Sequence[Box], width: float, height: float) -> list[Box]:
    """Return where labels go: each as near to where it is wanted as those before it let it.

    Parameters
    ----------
    wanted : of each label, the most important first.
    taken : boxes that no label may cover.
    width, height : of the picture.

    Notes
    -----
    The nearest free place of a label touches what is in its way, so only places beside the others (and the
    wanted one) are tried.  Where there is none at all, it stays where it is wanted, inside the picture.
    """
    placed = list(taken)
    out = []
    for box in wanted:
        inside = _inside(box, width, height)
        spot = _nearest_free(inside, placed, width, height) or inside
        placed.append(spot)
        out.append(spot)
    return out


def beside(
    size: tuple[float, float], place: Box, lines: Floats, taken: Sequence[Box], width: float, height: float
) -> Box:
    """Return where a label goes beside the place it is about, so that it covers little of a drawing.

    Parameters
    ----------
    size : of the label.
    place : what it points at and never covers, unless the picture is too small for that.
    lines : (n, 2, 2) straight pieces of the drawing, pixels.
    taken : boxes that it may not cover.
    width, height : of the picture.
    """
    wide, high = size
    x, y, across, down = place
    found: list[tuple[float, Box]] = []
    for away in _AWAY_PX:
        columns = x - away - wide, x + (across - wide) / 2, x + across + away
        rows = y - away - high, y + (down - high) / 2, y + down + away
        for column, row in product(range(3), range(3)):
            box = columns[column], rows[row], wide, high
            if box == _inside(box, width, height) and not any(overlap(box, o) for o in (place, *taken)):
                found.append((covered_px(lines, box) + _WAY_COSTS * away, box))
    return min(found)[1] if found else _inside((x + across, y - high, wide, high), width, height)


def covered_px(lines: Floats, box: Box) -> float:
    """Return the length of straight pieces, (n, 2, 2), that lies in a box (slab method)."""
    start, along = lines[:, 0], lines[:, 1] - lines[:, 0]
    low, high = np.array(box[:2]), np.array(box[:2]) + box[2:]
    safe = np.where(np.abs(along) < 1e-9, 1e-9, along)
    one, other = (low - start) / safe, (high - start) / safe
    first = np.minimum(one, other).max(axis=1).clip(min=0.0)
    last = np.maximum(one, other).min(axis=1).clip(max=1.0)
    return float(((last - first).clip(min=0.0) * np.hypot(*along.T)).sum())


def overlap(one: Box, other: Box, gap: float = 0.0) -> bool:
    """Tell whether two boxes cover each other or come nearer than a gap."""
    return all(
        one[i] < other[i] + other[i + 2] + gap and other[i] < one[i] + one[i + 2] + gap for i in (0, 1)
    )


def is_inside(x: float, y: float, width: float, height: float) -> bool:
    """Tell whether a pixel lies in the picture."""
    return 0.0 <= x <= width and 0.0 <= y <= height


def _inside(box: Box, width: float, height: float) -> Box:
    left = max(min(box[0], width - INSET_PX - box[2]), INSET_PX)
    top = max(min(box[1], height - INSET_PX - box[3]), INSET_PX)
    return left, top, box[2], box[3]


def _nearest_free(box: Box, placed: Sequence[Box], width: float, height: float) -> Box | None:
    if not any(overlap(box, other, GAP_PX) for other in placed):
        return box
    columns = [box[0], *(x for o in placed for x in (o[0] - box[2] - GAP_PX, o[0] + o[2] + GAP_PX))]
    rows = [box[1], *(y for o in placed for y in (o[1] - box[3] - GAP_PX, o[1] + o[3] + GAP_PX))]
    places = sorted(product(columns, rows), key=lambda p: (p[0] - box[0]) ** 2 + (p[1] - box[1]) ** 2)
    for x, y in places:
        spot = (x, y, box[2], box[3])
        if spot == _inside(spot, width, height) and not any(overlap(spot, o, GAP_PX) for o in placed):
            return spot
    return None
