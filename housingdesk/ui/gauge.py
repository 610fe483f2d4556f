"""Measuring in the section strip: gaps and walls at a point of the drawing.  Pure, no Qt.

The figures are those of the drawn outlines, along the outline's normal within the cutting plane; the
proof sheet has the distances in space.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from scipy.spatial import cKDTree

from housingdesk.build.results import CutPlane, Section
from housingdesk.geometry.types import SIDES, Floats, Side
from housingdesk.ui.lengths import write_number
from housingdesk.view3d.cutting import directions

_ON_PLANE_MM = 1e-6
TOUCH_MM = 0.02  # ribs and pads are drawn flush with the part, and their section ends so near to it
# Looked at for the least gap: points of the part, points along the halves, pieces and places looked at
# exactly.  Together some milliseconds, so that the window's thread stays free.
_LEAST_POINTS, _LEAST_SAMPLES, _LEAST_LOOKS = 800, 4000, 24
_ZONE_PIECES = 400  # a zone's outline is looked at in so many pieces: a shaft's may be two long lines


@dataclass(frozen=True, slots=True)
class Dimension:
    """A dimension line: from one outline to another, in the drawing's mm."""

    kind: Literal["gap", "wall"]
    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def length_mm(self) -> float:
        """What the figure says."""
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))

    def words(self, between: str = " ") -> str:
        """Return what is read off, as in "gap 0.41 mm"; ``between`` stands before the figure."""
        if self.kind == "gap" and self.length_mm < TOUCH_MM:
            return "touching" + between.rstrip()
        return f"{self.kind}{between}{write_number(self.length_mm)} mm"

    def words_of(self, zone: str) -> str:
        """Return the same of a zone, short, as in "shaft 0.51"."""
        return f"{zone} {'touching' if self.length_mm < TOUCH_MM else write_number(self.length_mm)}"


@dataclass(frozen=True, eq=False)
class Outlines:
    """A section's outlines as straight pieces, each (n, 2, 2): piece, end, x and y."""

    part: Floats
    halves: dict[Side, Floats]

    @cached_property
    def half_pieces(self) -> Floats:
        """Pieces of both halves but those in the parting plane: halves that meet are one thickness."""
        pieces = np.concatenate([self.halves[s] for s in SIDES if s in self.halves] or [_no_pieces()])
        if len(self.halves) < 2 or not len(pieces):
            return pieces
        shared = _shared_height(self.halves)
        if shared is None:
            return pieces
        return pieces[~(np.abs(pieces[:, :, 1] - shared) < _ON_PLANE_MM).all(axis=1)]

    @cached_property
    def box(self) -> tuple[float, float, float, float] | None:
        """Least x, least y, greatest x, greatest y of everything drawn; None when empty."""
        every = np.concatenate([self.part, *self.halves.values()]) if self.halves else self.part
        if not len(every):
            return None
        low, high = every.min(axis=(0, 1)), every.max(axis=(0, 1))
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def outlines_of(section: Section) -> Outlines:
    """Cut a section's loops and polylines into straight pieces."""
    return Outlines(
        part=_pieces(section.parts, closed=False),
        halves={side: _pieces(loops, closed=True) for side, loops in section.halves.items()},
    )


def measure_at(lines: Outlines, at: tuple[float, float]) -> Dimension | None:
    """Return what is worth dimensioning at a point of the drawing.

    In material: the thickness of material through the point, along the normal of the nearest wall.
    Elsewhere: the gap between the nearest piece of the part's outline and the cavity, along that
    outline's normal.  None where neither exists.
    """
    point = np.asarray(at, float)
    if any(_inside(pieces, point) for pieces in lines.halves.values()):
        return _wall_through(lines.half_pieces, point)
    return _gap_near(lines, point)


def least_gap(lines: Outlines) -> Dimension | None:
    """Return the least distance from the part's drawn points to the halves; None without one.

    Points along the halves' outlines, set close enough that the nearest piece of a point is always among
    its nearest few, pick the pieces that are worth an exact look.
    """
    pieces = lines.half_pieces
    if not len(lines.part) or not len(pieces):
        return None
    ends = np.concatenate([lines.part[:, 0], lines.part.mean(axis=1)])
    ends = ends[:: max(1, len(ends) // _LEAST_POINTS)]
    length = np.hypot(*(pieces[:, 1] - pieces[:, 0]).T)
    spacing = max(float(length.sum()) / _LEAST_SAMPLES, 1e-9)
    count = np.ceil(length / spacing).astype(int) + 1
    owner = np.repeat(np.arange(len(pieces)), count)
    first = np.repeat(np.cumsum(count) - count, count)
    share = (np.arange(len(owner)) - first) / np.repeat(count - 1, count).clip(min=1)
    points = pieces[owner, 0] + share[:, None] * (pieces[owner, 1] - pieces[owner, 0])
    looks = np.arange(1, min(_LEAST_LOOKS, len(points)) + 1)
    rough, near = (np.asarray(found) for found in cKDTree(points).query(ends, k=looks))
    close = rough[:, 0]
    worth = np.flatnonzero(close <= close.min() + spacing)
    best: tuple[float, Floats, Floats] | None = None
    for index in worth[np.argsort(close[worth])][:_LEAST_LOOKS]:
        foot, distance = _nearest(pieces[np.unique(owner[near[index]])], ends[index])
        if best is None or distance < best[0]:
            best = (distance, ends[index], foot)
    assert best is not None
    return Dimension("gap", _pair(best[1]), _pair(best[2]))


def zone_gaps(section: Section, lines: Outlines) -> tuple[tuple[str, Dimension], ...]:
    """Return the least gap of each zone that is cut inside the housing, with its words, the least first.

    Where all that is cut is of one zone, that is the least gap of the drawing.
    """
    if len(section.zones) < 2:
        found = least_gap(lines)
        return () if found is None else ((found.words(), found),)
    if not len(lines.half_pieces):
        return ()
    low, high = lines.half_pieces.min(axis=(0, 1)), lines.half_pieces.max(axis=(0, 1))
    out = []
    for name, outlines in section.zones:
        pieces = _fine(_pieces(outlines, closed=False))
        middles = pieces.mean(axis=1)
        inside = pieces[((middles > low) & (middles < high)).all(axis=1)]
        found = least_gap(Outlines(inside, lines.halves))
        if found is not None:
            out.append((found.words_of(name), found))
    return tuple(sorted(out, key=lambda o: o[1].length_mm))


def _fine(pieces: Floats) -> Floats:
    """Cut straight pieces into shorter ones, all of about one length."""
    if not len(pieces):
        return pieces
    length = np.hypot(*(pieces[:, 1] - pieces[:, 0]).T)
    count = np.ceil(length / max(float(length.sum()) / _ZONE_PIECES, 1e-9)).astype(int).clip(min=1)
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    start, along = (np.repeat(v, count, axis=0) for v in (pieces[:, 0], pieces[:, 1] - pieces[:, 0]))
    share = np.stack([number, number + 1], axis=1) / np.repeat(count, count)[:, None]
    return np.asarray(start[:, None] + share[:, :, None] * along[:, None])


def cut_plane(angle_deg: float, offset_mm: float, middle_mm: tuple[float, float, float]) -> CutPlane:
    """Return the vertical cutting plane that contains the pull axis.

    Parameters
    ----------
    angle_deg : turn, clockwise seen from above; 0 cuts along X, looking towards +Y.
    offset_mm : shift of the plane the way it is looked at, from the middle.
    middle_mm : point the plane goes through at offset 0.
    """
    right, normal = directions(angle_deg)
    origin = (middle_mm[0] + offset_mm * normal[0], middle_mm[1] + offset_mm * normal[1], middle_mm[2])
    return CutPlane(origin_mm=origin, right=(*right, 0.0), up=(0.0, 0.0, 1.0))


def _pair(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _no_pieces() -> Floats:
    return np.zeros((0, 2, 2))


def _pieces(polylines: tuple[Floats, ...], *, closed: bool) -> Floats:
    out = []
    for line in polylines:
        points = np.asarray(line, float).reshape(-1, 2)
        if len(points) < 2:
            continue
        ends = np.roll(points, -1, axis=0) if closed else points[1:]
        out.append(np.stack([points[: len(ends)], ends], axis=1))
    return np.concatenate(out) if out else _no_pieces()


def _shared_height(halves: dict[Side, Floats]) -> float | None:
    """Height at which the lower half ends and the upper begins, when they meet."""
    if not all(len(pieces) for pieces in halves.values()):
        return None
    top, bottom = float(halves["lower"][:, :, 1].max()), float(halves["upper"][:, :, 1].min())
    return top if abs(top - bottom) < _ON_PLANE_MM else None


def _inside(pieces: Floats, point: Floats) -> bool:
    """Even-odd rule with a ray to the right."""
    a, b = pieces[:, 0], pieces[:, 1]
    crosses = (a[:, 1] > point[1]) != (b[:, 1] > point[1])
    a, b = a[crosses], b[crosses]
    x = a[:, 0] + (point[1] - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return bool(np.count_nonzero(x > point[0]) % 2)


def _nearest(pieces: Floats, point: Floats) -> tuple[Floats, float]:
    """Foot of the perpendicular (or end) on the nearest piece, and how far it is."""
    a, along = pieces[:, 0], pieces[:, 1] - pieces[:, 0]
    length2 = np.maximum((along**2).sum(axis=1), 1e-300)
    t = np.clip(((point - a) * along).sum(axis=1) / length2, 0.0, 1.0)
    feet = a + t[:, None] * along
    distances = np.hypot(*(feet - point).T)
    best = int(distances.argmin())
    return feet[best], float(distances[best])


def _first_hit(pieces: Floats, start: Floats, direction: Floats, least: float) -> float | None:
    """Way from ``start`` to the first piece met beyond ``least``, None when there is none."""
    if not len(pieces):
        return None
    a, along = pieces[:, 0] - start, pieces[:, 1] - pieces[:, 0]
    cross = direction[0] * along[:, 1] - direction[1] * along[:, 0]
    safe = np.where(np.abs(cross) < 1e-12, np.nan, cross)
    way = (a[:, 0] * along[:, 1] - a[:, 1] * along[:, 0]) / safe
    s = (a[:, 0] * direction[1] - a[:, 1] * direction[0]) / safe
    good = way[(s >= -1e-9) & (s <= 1 + 1e-9) & (way > least)]
    return float(good.min()) if len(good) else None


def _wall_through(pieces: Floats, point: Floats) -> Dimension | None:
    if not len(pieces):
        return None
    foot, distance = _nearest(pieces, point)
    if distance < 1e-9:
        return None
    inward = (point - foot) / distance
    way = _first_hit(pieces, point, inward, 1e-9)
    return None if way is None else Dimension("wall", _pair(foot), _pair(point + way * inward))


def _gap_near(lines: Outlines, point: Floats) -> Dimension | None:
    if not len(lines.part) or not len(lines.half_pieces):
        return None
    foot, distance = _nearest(lines.part, point)
    if distance > 1e-6:
        normal = (point - foot) / distance
    else:
        along = _piece_at(lines.part, foot)
        normal = np.array([-along[1], along[0]])
    best: float | None = None
    for direction in (normal, -normal):
        way = _first_hit(lines.half_pieces, foot, direction, -1e-9)
        blocked = _first_hit(lines.part, foot, direction, 1e-6)
        if way is None or (blocked is not None and blocked < way - 1e-9):
            continue
        if best is None or way < abs(best):
            best = way if direction is normal else -way
    return None if best is None else Dimension("gap", _pair(foot), _pair(foot + best * normal))


def _piece_at(pieces: Floats, foot: Floats) -> Floats:
    """Direction of the piece that holds a point."""
    a, b = pieces[:, 0], pieces[:, 1]
    slack = np.hypot(*(foot - a).T) + np.hypot(*(b - foot).T) - np.hypot(*(b - a).T)
    along = b[int(slack.argmin())] - a[int(slack.argmin())]
    return np.asarray(along / np.hypot(*along))
