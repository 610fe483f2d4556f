"""Whether a hot zone comes too near to the housing when the part shifts as far as its play lets it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from housingdesk.finding import Finding
from housingdesk.geometry.freedom import STILL, Play
from housingdesk.geometry.measure import distances, nearest, samples
from housingdesk.geometry.types import Floats, Ints, Mesh, joined
from housingdesk.proof.wording import mm, triple

TOUCH_MM = 0.1  # air that a hot zone has to keep: less is as good as a touch (own choice)
_CODE = "hot-touch"
_STREWN = 2000
_REACH_MM = 1.0  # corners of the halves further off than this are not looked at
_WAYS = (("to the left", "to the right"), ("to the front", "to the back"), ("down", "up"))


def hot_findings(
    part: Mesh, hot: Mapping[str, Ints], halves: Sequence[Mesh], play: Play
) -> tuple[Finding, ...]:
    """Say which hot zones come within ``TOUCH_MM`` of the housing as the part lies, or shifted one way.

    Parameters
    ----------
    hot : (k, 3) faces of the part by zone.
    halves : as finished, with ribs that press; pads and other parts are no housing.
    play : of this part; where it moves freely it is not followed.
    """
    out = []
    still = joined(list(halves))
    for name, faces in hot.items():
        if not len(faces):
            continue
        zone = Mesh(part.vertices, faces)
        points = np.concatenate([part.vertices[np.unique(faces)], samples(zone, _STREWN, seed=7)])
        shifts = [("where the part lies", np.zeros(3))]
        for axis, room in enumerate((play.x_mm, play.y_mm, play.z_mm)):
            for way, far in enumerate(room):
                if STILL <= far < play.limit_mm:
                    words = f"when the part is pushed {_WAYS[axis][way]}"
                    shifts.append((words, (2 * way - 1) * far * np.eye(3)[axis]))
        gap, at, words = min(
            ((*_least(zone, points, still, shift), words) for words, shift in shifts), key=lambda g: g[0]
        )
        if gap < TOUCH_MM:
            how = "touches the housing" if gap < STILL else f"comes within {mm(gap)} of the housing"
            remedy = (
                "Hold the part by ribs or pads at other faces, none on this zone; or, where other faces stop "
                f"it first, raise the clearance of the {name}, so that {mm(TOUCH_MM)} of air is left."
            )
            out.append(Finding(_CODE, "caution", f"The hot zone '{name}' {how} {words}.", remedy, triple(at)))
    return tuple(out)


def _least(zone: Mesh, points: Floats, still: Mesh, shift: Floats) -> tuple[float, Floats]:
    """Return the least distance of a shifted zone to the housing, and where on the zone as it lies."""
    away = distances(points + shift, still)
    gap, at = float(away.min()), points[away.argmin()]
    low, high = (
        zone.vertices[np.unique(zone.faces)].min(axis=0),
        zone.vertices[np.unique(zone.faces)].max(axis=0),
    )
    near = still.vertices - shift
    near = near[((near > low - _REACH_MM) & (near < high + _REACH_MM)).all(axis=1)]
    if len(near):
        back, there, _ = nearest(near, zone)
        if float(back.min()) < gap:
            gap, at = float(back.min()), there[back.argmin()]
    return gap, at
