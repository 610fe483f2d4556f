"""From zones in words to clearances on triangles, and to the shafts that go out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from housingdesk.build.leaving import (
    SAME_AXIS,
    no_round,
    part_ahead_mm,
    points_at_part,
    second_shaft,
    several,
    slim,
    ways_out,
    with_wheel,
)
from housingdesk.build.placed import Placed
from housingdesk.features.site import Shaft
from housingdesk.finding import Finding
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.stretch import stretched
from housingdesk.geometry.types import Floats, Ints
from housingdesk.spec.models import FitSpec
from housingdesk.spec.zones import PatchRef, ZoneSpec

# How far a patch may have moved on another mesh of the same part and still be the same.
SAME_PLACE = 0.05  # of its size, and
SAME_PLACE_MM = 0.5  # at least
SAME_SIZE = 0.06


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
    names : of the zones, as ``zone`` counts them.
    barred : names of turning zones with shafts that have no way out, and why.
    """

    reach: Floats
    zone: Ints
    extra: Floats
    extra_reach: Floats
    extra_zone: Ints
    shafts: tuple[Shaft, ...]
    lost: tuple[str, ...]
    ends: Mapping[int, Floats] = field(default_factory=dict)
    names: tuple[str, ...] = ()
    barred: tuple[tuple[str, Finding], ...] = ()

    def surfaces(self, placed: Placed) -> tuple[Floats, Floats]:
        """Return all triangles that need room, (n, 3, 3), and their clearances (n,)."""
        if not len(self.extra):
            return placed.tris, self.reach
        return np.concatenate([placed.tris, self.extra]), np.concatenate([self.reach, self.extra_reach])

    def number(self, name: str) -> int:
        """Return by which number ``zone`` knows a zone."""
        return self.names.index(name)

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


def zoned(
    fit: FitSpec, placed: Placed, patches: Mapping[str, tuple[Patch, ...]], hole_extra_mm: float = 0.0
) -> Zoned:
    """Put zones on triangles.

    Parameters
    ----------
    patches : of each part by name, in the part frame, mm.
    hole_extra_mm : what holes of shafts are drawn wider, for a printer measured to make them smaller.
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
    barred: list[tuple[str, Finding]] = []
    extra, extra_reach, extra_zone = [np.zeros((0, 3, 3))], [np.zeros(0)], [np.zeros(0, np.int32)]
    for number, wanted in enumerate(fit.zones):
        part = placed.names.index(wanted.part)
        found = [p for r in wanted.patches if (p := find_patch(r, patches[wanted.part])) is not None]
        rounds = [p for p in found if p.kind == "cylinder"]
        widest = max(rounds, key=lambda p: p.area_mm2, default=None)
        own = np.flatnonzero(zone == number)
        if wanted.end_mm > 0 and len(own) and found:
            axis = _end_axis(wanted, widest or max(found, key=lambda p: p.area_mm2), placed.rotation(part))
            more = np.concatenate(
                [stretched(placed.tris[own], way * axis, wanted.end_mm) for way in (1.0, -1.0)]
            )
            extra.append(more)
            extra_reach.append(np.full(len(more), wanted.clearance_mm))
            extra_zone.append(np.full(len(more), number, np.int32))
            ends[number] = wanted.end_mm * axis
        if wanted.purpose == "turning" and found and widest is None:
            barred.append((wanted.name, no_round(wanted, placed.moved(part, found[0].centre_mm))))
        if wanted.purpose == "turning" and widest is not None:
            turning = [n for n, z in enumerate(fit.zones) if z.purpose == "turning"]
            passed = np.flatnonzero(np.isin(zone, turning))
            wheel = with_wheel(widest, rounds)
            found_ways = ways_out(wanted, wheel, placed, part, own, passed, hole_extra_mm)
            ahead_of = [(s, part_ahead_mm(s, placed, part, passed)) for s in found_ways]
            found_ways = [s for s, ahead in ahead_of if ahead is None]
            if not found_ways and ahead_of:
                barred.append((wanted.name, points_at_part(wanted, *ahead_of[0])))
            if second := second_shaft(rounds, wheel, wanted.clearance_mm, placed, part, own):
                barred.append((wanted.name, several(wanted, placed.moved(part, second.centre_mm))))
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
        names=tuple(z.name for z in fit.zones),
        barred=tuple(barred),
    )


def _end_axis(wanted: ZoneSpec, largest: Patch, rotation: Floats) -> Floats:
    """Return the way in which a zone's ends get room; without a round its own is across its largest flat."""
    if wanted.end_axis == "own":
        return np.asarray(rotation @ largest.axis)
    return np.asarray(rotation[:, "xyz".index(wanted.end_axis)])
