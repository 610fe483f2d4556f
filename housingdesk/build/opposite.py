"""What lies opposite a zone, across its part: itself, or another zone whose gap counts on that side."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from housingdesk.build.placed import Placed
from housingdesk.build.zoning import Zoned
from housingdesk.geometry.types import Floats, Ints
from housingdesk.proof.facts import Across

SAME_WAY = np.cos(np.radians(15.0))  # faces that look one way
BACK = 0.5  # cosine: a face looks the other way within 60 degrees of it
MAIN = 0.25  # of the zone's most: what looks one way with less is a rounding, or a narrow end (own choice)
SLIGHT = 0.1  # of what looks one way: less of a zone opposite is a rounding (own choice)
_STEPS = 32  # normals are told apart to about two degrees
_WAYS = 60  # most directions that are looked at


def opposites(
    placed: Placed, found: Zoned, clearances: Floats, ends: Mapping[int, Floats], turning: frozenset[int]
) -> dict[int, tuple[Across, ...]]:
    """Return for every zone that is there, by number, what lies across the part from it.

    Where a zone has faces that look both ways, the gap is its own on both sides; where they look one way
    only, the least gap of those that look the other way counts there.  What turns is no support and left out.

    Parameters
    ----------
    clearances : (k + 1,) of the body and every zone.
    ends : more room of a zone at its ends, along an axis: (3,) mm, build frame.
    turning : zones that turn; not asked about.
    """
    out: dict[int, set[Across]] = {}
    for part in range(len(placed.parts)):
        first, last = placed.starts[part], placed.starts[part + 1]
        looks = _looks(placed.tris[first:last], found.zone[first:last])
        seen = {number: bins for number, bins in looks.items() if number not in turning}
        for number, (normals, areas) in seen.items():
            ways = normals[np.argsort(-areas)[:_WAYS]]
            cosines = ways @ normals.T
            most = np.where(cosines > SAME_WAY, cosines * areas, 0.0).sum(axis=1)
            for way, area in zip(
                ways[most >= MAIN * most.max()], most[most >= MAIN * most.max()], strict=True
            ):
                back = {other: _facing(bins, -way) for other, bins in seen.items()}
                mine = _end(ends, number, way)
                if back[number] >= MAIN * area:
                    across = Across(more_mm=2 * mine)
                else:
                    gaps = {o: clearances[o + 1] + _end(ends, o, way) for o in seen if o != number}
                    there = [gaps[o] for o in gaps if back[o] >= SLIGHT * area]
                    if there:
                        across = Across(float(min(there)), mine)
                    elif any(back[o] > 0 for o in gaps):
                        across = Across(float(gaps[max(gaps, key=lambda o: back[o])]), mine)
                    else:
                        across = Across(more_mm=2 * mine)
                out.setdefault(number, set()).add(across)
    return {number: tuple(sorted(each, key=str)) for number, each in out.items()}


def _looks(tris: Floats, zone: Ints) -> dict[int, tuple[Floats, Floats]]:
    """Return where the faces of each zone of a part look, much alike as one: unit normals and areas."""
    crossed = np.cross(tris[:, 1] - tris[:, 0], tris[:, 2] - tris[:, 0]) / 2
    if float(np.einsum("ij,ij->", tris[:, 0], crossed)) < 0:
        crossed = -crossed  # the file's faces look inward
    areas = np.linalg.norm(crossed, axis=1)
    whole = areas > 0
    crossed, areas, zone = crossed[whole], areas[whole], zone[whole]
    cell = np.round(crossed / areas[:, None] * _STEPS).astype(np.int64) + _STEPS
    wide = 2 * _STEPS + 1
    keys = (((zone.astype(np.int64) + 1) * wide + cell[:, 0]) * wide + cell[:, 1]) * wide + cell[:, 2]
    _, one, index = np.unique(keys, return_index=True, return_inverse=True)
    index = index.reshape(-1)
    sums = np.column_stack([np.bincount(index, crossed[:, i]) for i in range(3)])
    size, owner = np.linalg.norm(sums, axis=1), zone[one]
    return {int(n): (sums[owner == n] / size[owner == n, None], size[owner == n]) for n in np.unique(owner)}


def _facing(bins: tuple[Floats, Floats], way: Floats) -> float:
    """Return the area that faces look with one way, mm2."""
    normals, areas = bins
    cosines = normals @ way
    return float(np.where(cosines > BACK, cosines * areas, 0.0).sum())


def _end(ends: Mapping[int, Floats], number: int, way: Floats) -> float:
    """Return how much more room a zone has one way."""
    return abs(float(ends[number] @ way)) if number in ends else 0.0
