"""Which parting plane to offer: least relief, then an axis of the part, then the widest section.

Each half is printed standing on its outer face, floor or roof, its cavity open upwards.  The cavity is swept
along the pull, so nothing overhangs in it and no skin is left over the part; what can be wrong is a half
that is a tower, or one so shallow that its walls are mere rims.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from housingdesk.build.results import PlaneProposal
from housingdesk.features.site import Shaft
from housingdesk.geometry.frames import PullDirection
from housingdesk.geometry.profile import Profile
from housingdesk.geometry.types import Floats, Side

RELIEF_NOISE = 0.01  # of the part's bulk: planes that differ by less are alike
SHAFT_WORTH = 0.15  # of the part's bulk: so much more relief a plane through the shaft is worth (own choice)
NO_RELIEF_MM3 = 1.0
ON_PLANE_MM = 0.05
SHALLOW_MM = 3.0  # a half that takes less of the part hardly holds it (own choice)
SLENDER = 3.0  # a half taller than so many breadths may tip on the bed (common practice, no source)
TOWER_WORTH = 0.15  # of the part's bulk: so much more relief is worth two halves that stand well (own choice)
ON_SHAFT = "On the axis of the shaft, so that each half holds half of it and it can be laid in."
ON_AXIS = "On the axis of a round of the part, so that each half holds half of it."


def rank(
    pull: PullDirection,
    costs: Profile,
    axes_mm: Iterable[float],
    shafts_mm: Iterable[float],
    housing_mm: Floats,
    held_mm: tuple[float, float],
    upright: tuple[Shaft, ...] = (),
) -> list[PlaneProposal]:
    """Return proposals for one pull direction, best first.

    Parameters
    ----------
    axes_mm : heights at which a cylinder of the part lies level, largest cylinder first.
    shafts_mm : heights of level turning shafts.
    housing_mm : (2, 3) least and greatest corner of the housing.
    held_mm : least and greatest height of what the housing holds, without shafts that leave through floor or
        roof.
    upright : shafts that lie along the pull.
    """
    low, high = held_mm
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
    shafts = tuple(shafts_mm)

    def offer(height: float, reason: str) -> None:
        if any(abs(p.height_mm - height) < 0.2 for p in out):
            return
        out.append(
            PlaneProposal(
                pull,
                round(height, 2),
                sum(costs.relief_at(height)),
                costs.section_at(height),
                reason,
                (*_notes(height, held_mm, costs, shafts), *_standing(height, housing_mm, upright)),
                slender(height, housing_mm) is None,
            )
        )

    for axis in shafts:
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


def _notes(
    height: float, held_mm: tuple[float, float], costs: Profile, shafts_mm: tuple[float, ...]
) -> tuple[str, ...]:
    """Say in plain words what speaks for and against a plane."""
    lower, upper = costs.relief_at(height)
    if lower + upper < NO_RELIEF_MM3:
        notes = ["The part goes straight into both halves; nothing has to be cut away."]
    else:
        notes = [
            f"{(lower + upper) / 1000:.1f} cm³ have to be cut away for the part to go in, "
            f"{lower / 1000:.1f} below and {upper / 1000:.1f} above the plane."
        ]
    held = sum(abs(z - height) < ON_PLANE_MM for z in shafts_mm)
    if held:
        notes.append("The shaft lies in the plane." if held == 1 else f"{held} shafts lie in the plane.")
    elif shafts_mm:
        notes.append("A shaft does not lie in the plane, so one half is cut open beside it.")
    shallow = min(height - held_mm[0], held_mm[1] - height)
    if shallow < SHALLOW_MM:
        notes.append(f"One half takes only {shallow:.1f} mm of the part, so its walls are mere rims.")
    else:
        notes.append(f"Both halves have walls to hold the part, {shallow:.1f} mm of it or more.")
    return tuple(notes)


def slender(height_mm: float, box: Floats) -> tuple[Side, float, float] | None:
    """Return which half is a tower, with its height and least breadth, mm; None where both stand well.

    Parameters
    ----------
    box : (2, 3) least and greatest corner of the housing, build frame, mm.
    """
    breadth = float((box[1] - box[0])[:2].min())
    tall: dict[Side, float] = {"lower": height_mm - float(box[0, 2]), "upper": float(box[1, 2]) - height_mm}
    side: Side = "lower" if tall["lower"] >= tall["upper"] else "upper"
    return (side, tall[side], breadth) if tall[side] > SLENDER * breadth else None


def _standing(height_mm: float, box: Floats, upright: tuple[Shaft, ...]) -> tuple[str, ...]:
    """Say whether both halves can be printed standing flat on floor and roof."""
    tower = slender(height_mm, box)
    if tower is None:
        lower, upper = height_mm - float(box[0, 2]), float(box[1, 2]) - height_mm
        notes = [
            f"Both halves print flat on their outer faces with the cavity up, {lower:.0f} mm and "
            f"{upper:.0f} mm tall."
        ]
    else:
        side, tall, breadth = tower
        notes = [
            f"The {side} half stands {tall:.0f} mm tall on a face only {breadth:.0f} mm broad; it may wobble "
            "or tip while it is printed."
        ]
    for name, up in (("floor", False), ("roof", True)):
        mine = [s for s in upright if (s.axis[2] > 0) == up]
        if any(s.leaves for s in mine):
            notes.append(f"A shaft comes out through the {name}, the face that half is printed on.")
        if not all(s.leaves for s in mine):
            notes.append(
                f"A shaft lies along the pull, and the {name} reaches past its end; "
                "station Fit can let it out."
            )
    return tuple(notes)


def best_first(proposals: Iterable[PlaneProposal], bulk_mm3: float) -> tuple[PlaneProposal, ...]:
    """Order proposals of several pull directions: least relief, then the widest section.

    A plane through a shaft and halves that stand well on the bed are worth some relief.
    """

    def price(p: PlaneProposal) -> tuple[float, int, float]:
        axis = 0 if p.reason in (ON_AXIS, ON_SHAFT) else 1
        relief = p.relief_mm3 - (SHAFT_WORTH * bulk_mm3 if p.reason == ON_SHAFT else 0.0)
        relief += 0.0 if p.stands else TOWER_WORTH * bulk_mm3
        return (round(relief / max(RELIEF_NOISE * bulk_mm3, 1e-9)), axis, -p.section_mm2)

    return tuple(sorted(proposals, key=price))
