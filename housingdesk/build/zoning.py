"""From zones in words to clearances on triangles, and the ways out of turning ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from housingdesk.build.placed import Placed
from housingdesk.features.site import LEVEL, Shaft
from housingdesk.finding import Finding
from housingdesk.geometry.frames import rotation_to
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
TURNS = 0.55  # of a full turn, for a round to be a shaft
HIDDEN = 0.5  # of a shaft's end: so much with the part before it, and it points at that (own choice)
_ROUND = np.linspace(0.3, 0.3 + 2 * np.pi, 8, endpoint=False)
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
            barred.append((wanted.name, _no_round(wanted, placed.moved(part, found[0].centre_mm))))
        if wanted.purpose == "turning" and widest is not None:
            turning = [n for n, z in enumerate(fit.zones) if z.purpose == "turning"]
            passed = np.flatnonzero(np.isin(zone, turning))
            wheel = _with_wheel(widest, rounds)
            found_ways = _ways_out(wanted, wheel, placed, part, own, passed, hole_extra_mm)
            ahead_of = [(s, _part_ahead_mm(s, placed, part, passed)) for s in found_ways]
            found_ways = [s for s, ahead in ahead_of if ahead is None]
            if not found_ways and ahead_of:
                barred.append((wanted.name, _points_at_part(wanted, *ahead_of[0])))
            if second := _second_shaft(rounds, wheel, wanted.clearance_mm, placed, part, own):
                barred.append((wanted.name, _several(wanted, placed.moved(part, second.centre_mm))))
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


def slim(shaft: Shaft, tris: Floats) -> NDArray[np.bool_]:
    """Tell which of (m, 3, 3) triangles lie within a shaft's round, before or behind where it leaves."""
    rel = tris - shaft.base_mm
    beside = np.linalg.norm(rel - (rel @ shaft.axis)[..., None] * shaft.axis, axis=2)
    return np.asarray((beside <= shaft.diameter_mm / 2 * SLIM + SLIM_MM).all(axis=1))


def _end_axis(wanted: ZoneSpec, largest: Patch, rotation: Floats) -> Floats:
    """Return the way in which a zone's ends get room; without a round its own is across its largest flat."""
    if wanted.end_axis == "own":
        return np.asarray(rotation @ largest.axis)
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
    hole_extra_mm: float,
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
                hole_extra_mm=hole_extra_mm,
            )
        )
    return out


def _part_ahead_mm(shaft: Shaft, placed: Placed, part: int, passed: NDArray[np.int64]) -> float | None:
    """Return how far before its end a shaft has its own part, None where its way is free.

    What is met first has to look back at the shaft: a rounded tip that is no patch is still the shaft.
    """
    first, last = placed.starts[part], placed.starts[part + 1]
    whole = placed.tris[first:last] - shaft.tip_mm
    inside_out = float(np.einsum("ij,ij->", whole[:, 0], np.cross(whole[:, 1], whole[:, 2]))) < 0
    tris = placed.tris[np.setdiff1d(np.arange(first, last), passed)] - shaft.tip_mm
    tris = tris[(tris @ shaft.axis).max(axis=1) > SLIM_MM]
    heights, flat = tris @ shaft.axis, tris @ rotation_to(np.array([0.0, 0.0, 1.0]), shaft.axis)[:3, :2]
    back = (np.cross(tris[:, 1] - tris[:, 0], tris[:, 2] - tris[:, 0]) @ shaft.axis < 0) != inside_out
    ring = 0.45 * shaft.diameter_mm * np.stack([np.cos(_ROUND), np.sin(_ROUND)], axis=1)
    hits = []
    for spot in np.concatenate([np.zeros((1, 2)), ring]):
        rel = flat - spot
        turn = np.roll(rel, -1, axis=1)
        # Twice the area opposite each corner, rolled on to it: the corner's weight where the line passes.
        weights = np.roll(rel[..., 0] * turn[..., 1] - rel[..., 1] * turn[..., 0], -2, axis=1)
        area = weights.sum(axis=1)
        met = (np.abs(area) > 1e-12) & ((weights >= 0).all(axis=1) | (weights <= 0).all(axis=1))
        at = (weights[met] * heights[met]).sum(axis=1) / area[met]
        looks_back = back[met][at > SLIM_MM]
        at = at[at > SLIM_MM]
        if len(at) and looks_back[int(at.argmin())]:
            hits.append(float(at.min()))
    return float(np.median(hits)) if len(hits) > HIDDEN * (1 + len(ring)) else None


def _second_shaft(
    rounds: list[Patch],
    widest: Patch,
    clearance_mm: float,
    placed: Placed,
    part: int,
    own: NDArray[np.int64],
) -> Patch | None:
    """Return a round of a zone that is another shaft than its widest: nothing of the zone joins them."""
    tris = placed.tris[own]
    _, corner = np.unique(np.round(tris.reshape(-1, 3), 5), axis=0, return_inverse=True)
    corner = corner.reshape(-1, 3)
    pairs = np.concatenate([corner[:, :2], corner[:, 1:]])
    count = int(corner.max()) + 1 if len(corner) else 0
    _, piece = connected_components(coo_array((np.ones(len(pairs)), pairs.T), (count, count)), directed=False)
    piece_of = dict(zip(own.tolist(), piece[corner[:, 0]].tolist(), strict=True))
    start = placed.starts[part]

    def joined_to(patch: Patch) -> set[int]:
        return {piece_of[start + f] for f in patch.faces.tolist() if start + f in piece_of}

    mine = joined_to(widest)
    for other in rounds:
        away = other.centre_mm - widest.centre_mm
        apart = float(np.linalg.norm(away - (away @ widest.axis) * widest.axis))
        # What lies wholly in the hole of the one is led out with it.
        outside = apart + other.diameter_mm / 2 > widest.diameter_mm / 2 + clearance_mm
        if other.side != "outside" or other.turn < TURNS or same_line(other, widest.centre_mm, widest.axis):
            continue
        if outside and not mine & joined_to(other):
            return other
    return None


def _no_round(wanted: ZoneSpec, at_mm: Floats) -> Finding:
    return Finding(
        "passage-none",
        "fail",
        f"The {wanted.name} turns, but no round is among its faces, so it has no axis to go out along.",
        "Pick the round of its shaft as well, or say that it is held.",
        _triple(at_mm),
    )


def _points_at_part(wanted: ZoneSpec, shaft: Shaft, ahead_mm: float | None) -> Finding:
    return Finding(
        "passage-none",
        "fail",
        f"The {wanted.name} turns, but it points at {wanted.part} itself, {ahead_mm or 0.0:.1f} mm before "
        "its end, so no way out of the housing would reach it.",
        "Pick the faces of an end that is free, or say that it is held.",
        _triple(shaft.tip_mm),
    )


def _several(wanted: ZoneSpec, at_mm: Floats) -> Finding:
    return Finding(
        "passage-none",
        "fail",
        f"The zone {wanted.name} has more than one shaft, and only its largest gets a way out.",
        "Make a zone of each shaft.",
        _triple(at_mm),
    )


def _triple(point: Floats) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return (x, y, z)
