"""Which parting plane to offer: least relief, then an axis of the part, then the widest section."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from housingdesk.build.placed import Placed
from housingdesk.build.results import PlaneProposal
from housingdesk.geometry.frames import PullDirection
from housingdesk.geometry.profile import Profile

RELIEF_NOISE = 0.01  # of the part's bulk: planes that differ by less are alike
SHAFT_WORTH = 0.15  # of the part's bulk: so much more relief a plane through the shaft is worth (own choice)
ON_SHAFT = "On the axis of the shaft, so that each half holds half of it and it can be laid in."
ON_AXIS = "On the axis of a round of the part, so that each half holds half of it."


def rank(
    pull: PullDirection,
    placed: Placed,
    costs: Profile,
    axes_mm: Iterable[float],
    shafts_mm: Iterable[float] = (),
) -> list[PlaneProposal]:
    """Return proposals for one pull direction, best first.

    Parameters
    ----------
    axes_mm : heights at which a cylinder of the part lies level, largest cylinder first.
    shafts_mm : heights of level turning shafts.
    """
    low, high = 0.0, float(placed.bounds[1, 2])
    edge = min(0.5, 0.1 * (high - low))
    inside = (costs.z_mm > low + edge) & (costs.z_mm < high - edge)
    z = costs.z_mm[inside]
    if not len(z):
        z = np.array([(low + high) / 2])
    relief = np.array([sum(costs.relief_at(h)) for h in z])
    section = np.array([costs.section_at(h) for h in z])
    bulk = float(np.trapezoid(costs.section_mm2, costs.z_mm))
    near = relief.min() + RELIEF_NOISE * bulk
    out: list[PlaneProposal] = []

    def offer(height: float, reason: str) -> None:
        if any(abs(p.height_mm - height) < 0.2 for p in out):
            return
        out.append(
            PlaneProposal(
                pull, round(height, 2), sum(costs.relief_at(height)), costs.section_at(height), reason
            )
        )

    for axis in shafts_mm:
        if (
            low + edge < axis < high - edge
            and sum(costs.relief_at(axis)) <= relief.min() + SHAFT_WORTH * bulk
        ):
            offer(axis, ON_SHAFT)
    for axis in axes_mm:
        if low + edge < axis < high - edge and sum(costs.relief_at(axis)) <= near:
            offer(axis, ON_AXIS)
    best = (relief <= near) & (section >= 0.98 * np.where(relief <= near, section, 0).max())
    middle = float(z[best][np.argmin(np.abs(z[best] - np.median(z[best])))])
    offer(middle, "Least material has to be cut away for the part to go in, at the part's widest section.")
    offer((low + high) / 2, "Through the middle of the part.")
    return out


def best_first(proposals: Iterable[PlaneProposal], bulk_mm3: float) -> tuple[PlaneProposal, ...]:
    """Order proposals of several pull directions: least relief, then the widest section."""

    def price(p: PlaneProposal) -> tuple[float, int, float]:
        axis = 0 if p.reason in (ON_AXIS, ON_SHAFT) else 1
        relief = p.relief_mm3 - (SHAFT_WORTH * bulk_mm3 if p.reason == ON_SHAFT else 0.0)
        return (round(relief / max(RELIEF_NOISE * bulk_mm3, 1e-9)), axis, -p.section_mm2)

    return tuple(sorted(proposals, key=price))
