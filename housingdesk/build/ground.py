"""From the placed parts and the wishes for the shell to the ground that an outside form stands on."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from housingdesk.build.leaving import slim
from housingdesk.build.placed import Placed
from housingdesk.build.zoning import Zoned
from housingdesk.errors import SpecError
from housingdesk.features.forms.ground import HAIR_MM, OVER_MM, Ground, Nose
from housingdesk.features.site import Shaft
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.offset import LEAST_REACH_MM
from housingdesk.geometry.types import Floats
from housingdesk.proof.subject import PLANE_OF
from housingdesk.spec.models import HOUSING_SIDES, FitSpec, ShellSpec

_LEAST_SLANT = 1e-6
_ROUND = 24  # corners of the disc that stands for a shaft where it leaves the body


def ground_of(
    shell: ShellSpec, fit: FitSpec, placed: Placed, found: Zoned, tolerance_mm: float = 0.05
) -> Ground:
    """Return what the form must enclose and how far out its sides are to lie.

    Raises
    ------
    SpecError : fixed sides leave nothing between them.
    """
    tris, reach = enclosed(placed, found, shell.wall_mm, {z.name: z.mouth_mm for z in fit.zones})
    reach = np.maximum(reach, LEAST_REACH_MM)
    parts = placed.bounds
    room = np.array(
        [(tris - reach[:, None, None]).min(axis=(0, 1)), (tris + reach[:, None, None]).max(axis=(0, 1))]
    )
    # The height stays: a level shaft as thick as its part must not thin the floor under it.
    least = max(fit.clearance_mm, LEAST_REACH_MM)
    low, high = held_bounds(placed, found)[:, 2]
    room[0, 2], room[1, 2] = min(room[0, 2], low - least), max(room[1, 2], high + least)
    outer = room.copy()
    fixed = set()
    for side in HOUSING_SIDES:
        axis, end = PLANE_OF[side]
        way = 1.0 if end else -1.0
        wanted = shell.reach_mm(side)
        if wanted is not None:
            fixed.add((axis, end))
            outer[end, axis] = parts[end, axis] + way * wanted
        else:
            outer[end, axis] += way * (shell.wall_at_mm(side) + HAIR_MM + shell.extra_mm(side))
    before = outer.copy()
    for shaft in found.shafts:
        _make_room_beside(shaft, _mouth_mm(shaft, fit), shell.wall_mm, outer, fixed)
    if not (outer[1] - outer[0] > 1.0).all():
        raise SpecError("The fixed sides leave no housing between them; give at least one of them more room.")
    noses = tuple(_nose(s, fit, shell.wall_mm) for s in found.shafts)
    return Ground(
        tris,
        reach,
        fit.seal_mm,
        shell.wall_mm,
        room,
        outer,
        frozenset(fixed),
        tolerance_mm,
        noses,
        outer - before,
    )


def _nose(shaft: Shaft, fit: FitSpec, wall_mm: float) -> Nose:
    """Return the wall around a shaft's way out, its chamfered mouth included."""
    radius = shaft.hole_mm / 2 + _mouth_mm(shaft, fit) + wall_mm + OVER_MM
    return Nose(shaft.base_mm, shaft.axis, radius)


def _mouth_mm(shaft: Shaft, fit: FitSpec) -> float:
    return next((z.mouth_mm for z in fit.zones if z.name == shaft.zone), 0.0)


def _make_room_beside(
    shaft: Shaft, mouth_mm: float, wall_mm: float, outer_mm: Floats, fixed: set[tuple[int, int]]
) -> None:
    """Move the side that a shaft leans to, in place, until its way out of another has a wall beside it."""
    leans = [a for a in (0, 1) if abs(shaft.axis[a]) > _LEAST_SLANT]
    if shaft.is_upright or len(leans) < len((0, 1)):
        return
    far = {a: (outer_mm[int(shaft.axis[a] > 0), a] - shaft.base_mm[a]) / shaft.axis[a] for a in leans}
    out = min(leans, key=lambda a: far[a])
    beside = 1 - out
    way = np.sign(shaft.axis[beside])
    # A round cut aslant is an ellipse.
    wide = shaft.hole_mm / 2 + mouth_mm
    wide *= np.hypot(*shaft.axis[:2]) / abs(shaft.axis[out])
    reach = shaft.base_mm[beside] + far[out] * shaft.axis[beside] + way * (wide + wall_mm + OVER_MM)
    end = int(way > 0)
    if (beside, end) not in fixed and way * (reach - outer_mm[end, beside]) > 0:
        outer_mm[end, beside] = reach


def enclosed(
    placed: Placed, found: Zoned, wall_mm: float, mouths_mm: Mapping[str, float] = MappingProxyType({})
) -> tuple[Floats, Floats]:
    """Return (m, 3, 3) surfaces that the housing must enclose, and their clearances.

    These are all but shafts that leave it.  For every shaft a disc stands at the body, since its way out is a
    true round, wider than the flats of a coarse one.  Where one leaves sideways, another stands as high up as
    the shaft leaves a wall ``wall_mm`` thick.  All are as wide as the chamfer of the mouth makes it
    (``mouths_mm``, by zone).
    """
    tris, reach = found.surfaces(placed)
    if not found.shafts:
        return tris, reach
    tris = tris.copy()
    for shaft in found.shafts:
        if shaft.leaves:
            _push_back(shaft, tris)
            # Room at its sides goes out with it.
            ends = found.zone_of_surfaces == found.number(shaft.zone)
            ends[: len(placed.tris)] = False
            tris[ends] = _back(shaft, tris[ends])
    discs, room = [], []
    for shaft in found.shafts:
        ends = [np.zeros(3)]
        if not shaft.is_upright:
            ends.append(np.array([0.0, 0.0, _rise_mm(shaft, tris, reach + wall_mm)]))
        discs += [_disc(shaft, mouths_mm.get(shaft.zone, 0.0)) + rise for rise in ends]
        room += [shaft.clearance_mm] * (len(ends) * _ROUND)
    return np.concatenate([tris, *discs]), np.concatenate([reach, room])


def held_bounds(placed: Placed, found: Zoned) -> Floats:
    """Return (2, 3) corners of the box around the parts without what leaves through floor or roof, mm."""
    tris = placed.tris.copy()
    for shaft in found.shafts:
        if shaft.leaves and shaft.is_upright:
            _push_back(shaft, tris)
    return np.array([tris.min(axis=(0, 1)), tris.max(axis=(0, 1))])


def _push_back(shaft: Shaft, tris: Floats) -> None:
    """Push what is outside the body back, in place, to where the shaft leaves it; what is inside stays."""
    mine = slim(shaft, tris)
    tris[mine] = _back(shaft, tris[mine])


def _back(shaft: Shaft, tris: Floats) -> Floats:
    """Return triangles, what is outside the body pushed back to where a shaft leaves it."""
    over = np.maximum((tris - shaft.base_mm) @ shaft.axis, 0.0)
    return np.asarray(tris - over[..., None] * shaft.axis)


def _rise_mm(shaft: Shaft, tris: Floats, beyond_mm: Floats) -> float:
    """Return how much higher than at the body a shaft is where it leaves the box around all that is enclosed.

    ``beyond_mm``: (m,) of each triangle, room and wall.
    """
    more = beyond_mm[:, None, None]
    box = np.array([(tris - more).min(axis=(0, 1)), (tris + more).max(axis=(0, 1))])
    ways = [
        (box[int(shaft.axis[a] > 0), a] - shaft.base_mm[a]) / shaft.axis[a]
        for a in (0, 1)
        if abs(shaft.axis[a]) > _LEAST_SLANT
    ]
    return max(float(min(ways)), 0.0) * float(shaft.axis[2])


def _disc(shaft: Shaft, more_mm: float) -> Floats:
    """Return the round, (k, 3, 3), in which a shaft leaves the body: there it needs its room and a wall."""
    turn = rotation_to(np.array([0.0, 0.0, 1.0]), shaft.axis)[:3, :3]
    angle = np.linspace(0, 2 * np.pi, _ROUND, endpoint=False)
    flat = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    flat *= (shaft.diameter_mm + shaft.hole_extra_mm) / 2 + more_mm
    rim = shaft.base_mm + flat @ turn.T
    middle = np.broadcast_to(shaft.base_mm, rim.shape)
    return np.stack([middle, rim, np.roll(rim, -1, axis=0)], axis=1)
