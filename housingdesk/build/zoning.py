"""From zones in words to clearances on triangles, and the ways out of turning ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from housingdesk.build.placed import Placed
from housingdesk.features.site import LEVEL, Shaft
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.stretch import stretched
from housingdesk.geometry.types import Floats, Ints
from housingdesk.spec.models import FitSpec
from housingdesk.spec.zones import PatchRef, ZoneSpec

# How far a patch may have moved on another mesh of the same part and still be the same.
SAME_PLACE = 0.05  # of its size, and
SAME_PLACE_MM = 0.5  # at least
SAME_SIZE = 0.06
SAME_AXIS = np.cos(np.radians(4.0))
STICKS_OUT = 0.3  # of a shaft's diameter, beyond the rest of the part
LEAVES_MM = 1.0  # however wide a turning round is, so much of it beyond the rest has to come out (own choice)
SAME_LINE_MM = 0.2  # axes so near each other are one
SLIM, SLIM_MM = 1.02, 0.02  # what lies within so much more than a shaft's radius is the shaft


@dataclass(frozen=True, eq=False)
class Zoned:
    """Zones found on the placed parts.

    Attributes
    ----------
    reach : (m,) clearance of each triangle of ``Placed.tris``, mm.
    zone : (m,) int32, which of ``FitSpec.zones`` it belongs to; -1 for the body.
    extra, extra_reach, extra_zone : (k, 3, 3), (k,) and (k,) triangles that make room at the ends of zones.
    shafts : ways out of turning zones, build frame.
    lost : sentences about faces that are no longer found.
    ends : by number of the zone, what room it has more at its ends, (3,) along their axis.
    """

    reach: Floats
    zone: Ints
    extra: Floats
    extra_reach: Floats
    extra_zone: Ints
    shafts: tuple[Shaft, ...]
    lost: tuple[str, ...]
    ends: Mapping[int, Floats] = field(default_factory=dict)

    def surfaces(self, placed: Placed) -> tuple[Floats, Floats]:
        """Return all triangles that need room, (n, 3, 3), and their clearances (n,)."""
        if not len(self.extra):
            return placed.tris, self.reach
        return np.concatenate([placed.tris, self.extra]), np.concatenate([self.reach, self.extra_reach])

    @property
    def zone_of_surfaces(self) -> Ints:
        """(n,) the zone of each triangle of ``surfaces``."""
        return np.concatenate([self.zone, self.extra_zone])


def find_patch(wanted: PatchRef, patches: tuple[Patch, ...]) -> Patch | None:
    """Return the patch that a reference means, or None.

    Both are in the part frame, mm.  Where several would do, the nearest.
    """
    centre, axis = np.array(wanted.centre_mm), np.array(wanted.axis)
    best, least = None, np.inf
    for patch in patches:
        if patch.kind != wanted.kind or patch.side != wanted.side:
            continue
        size = _size(patch)
        along = float(axis @ patch.axis)
        if (along if patch.kind == "flat" else abs(along)) < SAME_AXIS:
            continue
        if abs(size - wanted.size_mm) > max(SAME_SIZE * wanted.size_mm, 0.1):
            continue
        away = float(np.linalg.norm(patch.centre_mm - centre))
        if away <= max(SAME_PLACE_MM, SAME_PLACE * max(size, wanted.length_mm)) and away < least:
            best, least = patch, away
    return best


def _size(patch: Patch) -> float:
    return patch.length_mm if patch.kind == "flat" else patch.diameter_mm


def reference(patch: Patch) -> PatchRef:
    """Return the words by which a patch (part frame, mm) is found again."""
    x, y, z = np.round(patch.centre_mm, 4).tolist()
    u, v, w = np.round(patch.axis, 6).tolist()
    length = patch.width_mm if patch.kind == "flat" else patch.length_mm
    return PatchRef(
        kind=patch.kind,
        side=patch.side,
        centre_mm=(x, y, z),
        axis=(u, v, w),
        size_mm=round(_size(patch), 4),
        length_mm=round(length, 4),
    )


def zoned(fit: FitSpec, placed: Placed, patches: Mapping[str, tuple[Patch, ...]]) -> Zoned:
    """Put zones on triangles.

    Parameters
    ----------
    patches : of each part by name, in the part frame, mm.
    """
    zone = np.full(len(placed.tris), -1, np.int32)
    lost: list[str] = []
    for number, wanted in enumerate(fit.zones):
        part = placed.names.index(wanted.part)
        missing = 0
        for ref in wanted.patches:
            patch = find_patch(ref, patches[wanted.part])
            if patch is None:
                missing += 1
            else:
                zone[placed.starts[part] + patch.faces] = number
        if missing:
            lost.append(
                f"{missing} of {len(wanted.patches)} faces of the zone '{wanted.name}' are not on "
                f"{wanted.part} any more; pick them afresh at station Fit, or remove the zone."
            )
    clearances = np.array([fit.clearance_mm, *(z.clearance_mm for z in fit.zones)])
    reach: Floats = clearances[zone + 1]
    shafts: list[Shaft] = []
    ends: dict[int, Floats] = {}
    extra, extra_reach, extra_zone = [np.zeros((0, 3, 3))], [np.zeros(0)], [np.zeros(0, np.int32)]
    for number, wanted in enumerate(fit.zones):
        part = placed.names.index(wanted.part)
        found = [p for r in wanted.patches if (p := find_patch(r, patches[wanted.part])) is not None]
        rounds = [p for p in found if p.kind == "cylinder"]
        widest = max(rounds, key=lambda p: p.area_mm2, default=None)
        own = np.flatnonzero(zone == number)
        if wanted.end_mm > 0 and len(own):
            axis = _end_axis(wanted, widest, placed.rotation(part))
            if axis is not None:
                more = np.concatenate(
                    [stretched(placed.tris[own], way * axis, wanted.end_mm) for way in (1.0, -1.0)]
                )
                extra.append(more)
                extra_reach.append(np.full(len(more), wanted.clearance_mm))
                extra_zone.append(np.full(len(more), number, np.int32))
                ends[number] = wanted.end_mm * axis
        if wanted.purpose == "turning" and widest is not None:
            turning = [n for n, z in enumerate(fit.zones) if z.purpose == "turning"]
            passed = np.flatnonzero(np.isin(zone, turning))
            found_ways = _ways_out(wanted, _with_wheel(widest, rounds), placed, part, own, passed)
            first, last = placed.starts[part], placed.starts[part + 1]
            for shaft in found_ways:
                tris = placed.tris[first:last]
                ahead = ((tris - shaft.base_mm) @ shaft.axis > -1e-6).all(axis=1)
                own_too = ahead & slim(shaft, tris) & (zone[first:last] < 0)
                zone[first:last][own_too] = number
                reach[first:last][own_too] = wanted.clearance_mm
            shafts += found_ways
    return Zoned(
        reach=reach,
        zone=zone,
        extra=np.concatenate(extra),
        extra_reach=np.concatenate(extra_reach),
        extra_zone=np.concatenate(extra_zone),
        shafts=tuple(shafts),
        lost=tuple(lost),
        ends=ends,
    )


def slim(shaft: Shaft, tris: Floats) -> NDArray[np.bool_]:
    """Tell which of (m, 3, 3) triangles lie within a shaft's round, before or behind where it leaves."""
    rel = tris - shaft.base_mm
    beside = np.linalg.norm(rel - (rel @ shaft.axis)[..., None] * shaft.axis, axis=2)
    return np.asarray((beside <= shaft.diameter_mm / 2 * SLIM + SLIM_MM).all(axis=1))


def _end_axis(wanted: ZoneSpec, widest: Patch | None, rotation: Floats) -> Floats | None:
    if wanted.end_axis == "own":
        return None if widest is None else rotation @ widest.axis
    return np.asarray(rotation[:, "xyz".index(wanted.end_axis)])


def _with_wheel(widest: Patch, rounds: list[Patch]) -> Patch:
    """Return a shaft's round as wide as the widest round on its axis: a wheel has to come out, too."""
    same = [
        p
        for p in rounds
        if p.side == "outside" and p.is_whole and same_line(p, widest.centre_mm, widest.axis)
    ]
    return replace(widest, diameter_mm=max([widest.diameter_mm, *(p.diameter_mm for p in same)]))


def same_line(patch: Patch, centre_mm: Floats, axis: Floats) -> bool:
    """Tell whether a round's axis is a line given by a place on it and its direction."""
    away = patch.centre_mm - centre_mm
    beside = np.linalg.norm(away - (away @ axis) * axis)
    return bool(abs(patch.axis @ axis) > SAME_AXIS and beside < SAME_LINE_MM)


def _ways_out(
    wanted: ZoneSpec,
    widest: Patch,
    placed: Placed,
    part: int,
    own: NDArray[np.int64],
    passed: NDArray[np.int64],
) -> list[Shaft]:
    """Return the ends at which a turning zone leaves the rest of its part.

    Parameters
    ----------
    own, passed : triangles of the zone, and of all that turn: they are not what it leaves.
    """
    rotation = placed.rotation(part)
    axis = rotation @ widest.axis
    centre = placed.moved(part, widest.centre_mm)
    radius = widest.diameter_mm / 2
    first, last = placed.starts[part], placed.starts[part + 1]
    rest = np.setdiff1d(np.arange(first, last), passed)
    near = placed.tris[rest] - centre
    along = near @ axis
    beside = np.linalg.norm(near - along[..., None] * axis, axis=2)
    # Slivers of the shaft that are no flat and no round belong to no patch; they are not what it leaves.
    body = (beside > radius * SLIM + SLIM_MM).any(axis=1)
    along, beside = along[body], beside[body]
    mine = (placed.tris[own].reshape(-1, 3) - centre) @ axis
    out = []
    for way in (1.0, -1.0):
        tip = float((way * mine).max())
        # What stands beside the shaft and reaches past it is not what it leaves, if it leaves it room.
        for room in (2.5 * radius, radius + wanted.clearance_mm):
            base = float((way * along[beside < room]).max(initial=-np.inf))
            if tip - base > min(STICKS_OUT * widest.diameter_mm, LEAVES_MM):
                break
        else:
            continue
        base = max(base, float((way * mine).min()))
        upright = abs(float(axis[2])) > LEVEL
        out.append(
            Shaft(
                wanted.name,
                centre + way * axis * base,
                centre + way * axis * tip,
                way * axis,
                widest.diameter_mm,
                wanted.clearance_mm,
                leaves=not upright or wanted.along_pull == "out",
            )
        )
    return out
