"""Which rounds of a part the program takes for turning: shafts that stick out, and wheels on them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.build.leaving import SAME_AXIS, SLIM, SLIM_MM, STICKS_OUT, same_line
from housingdesk.build.zoning import reference
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.types import Floats
from housingdesk.spec.zones import ZoneSpec

THIN = 0.55  # a shaft's diameter is at most this share of the rest's least breadth across it
SHAFT_CLEARANCE_MM = 0.5  # common practice, no source
TURN = 0.55  # of a full turn: a shaft may have a flat
STUB = 0.595  # of its diameter a shaft is long at least: heads of socket screws to M5 (ISO 4762) are 0.588
BORNE = 1.0  # of its diameter: so deep is what bears a shaft; posts on a board are borne by less (own choice)
BORED = 0.65  # of its diameter: a wider bore makes it a nozzle or a connector (own choice)
# Where something of the part reaches further out than the shaft (own choices):
LONG = 2.0  # diameters it is long at least, and
LEAST_MM = 1.5  # thick at least: thinner ones are wires and pins
WALLED = 0.5  # of the turn about it may be walled; more is a socket with its pin
# Where another round of the part is like it (own choices): legs and posts come in numbers, shafts in pairs.
ALIKE, ALIKE_LONG = 0.03, 0.1  # by which diameters and lengths may differ
PAIR = 2
PAIR_LONG = 3.0  # diameters
PAIR_LEAST_MM = 2.5
NECK = 0.75  # of a wheel's diameter: a wider neck is a step of one round (own choice)
OPEN = 0.4  # of the ring beside the neck looks back at the body, whatever holes are in it (own choice)
RIM = 0.15  # of a wheel's diameter: so much its edge may be rounded or chamfered (own choice)
AIR_MM = 0.3  # under a wheel: less is a joint between two surfaces (own choice)
CRUMB = 0.02  # of the rim: smaller faces (of a screw's head) go with the wheel without being named
OUT_MM = 0.5  # a wheel's face stands out of all else by so much (own choice)
_BINS = 72  # directions about a shaft


def propose_zones(
    part: str, patches: tuple[Patch, ...], corners_mm: Floats, clearance_mm: float = SHAFT_CLEARANCE_MM
) -> tuple[ZoneSpec, ...]:
    """Return the zones that the program sees on one part: shafts, and wheels on them.

    A thin whole cylinder that sticks out of a face is a shaft, at each of its ends; a wide one is what a
    shaft carries (the horn of a servo) where it stands on a thin neck and air is under it, so that it can be
    nothing that the body is joined to.

    Parameters
    ----------
    patches : of the part, part frame, mm.
    corners_mm : (m, 3, 3) its triangles, part frame.
    """
    found: list[list[Patch]] = []
    taken = np.zeros(len(corners_mm), bool)
    lines: list[tuple[Floats, Floats]] = []  # a place on the axis, and the way out
    outermost = _outermost(corners_mm.reshape(-1, 3))
    rounds = [p for p in patches if _is_round(p)]
    # A wheel first: the shaft before it belongs to it.
    for find, may_be in ((_wheel, _reaches_out), (_shaft_end, _may_be_shaft)):
        for patch in rounds:
            if taken[patch.faces].any():
                continue
            ways = [
                way
                for way in (1.0, -1.0)
                if not any(same_line(patch, c, a) and way * patch.axis @ a > 0 for c, a in lines)
                and may_be(patch, way, outermost, corners_mm, rounds)
            ]
            if not ways:
                continue
            along, inside = _about(patch, corners_mm)
            within = np.asarray(inside.all(axis=1))
            ends: list[Patch] = []
            for way in ways:
                end = find(patch, way * patch.axis, way * along, within, patches, corners_mm)
                if end is not None:
                    lines.append((patch.centre_mm, way * patch.axis))
                    ends += [p for p in end if not any(p is other for other in ends)]
            if ends:
                taken[np.concatenate([p.faces for p in ends])] = True
                found.append(ends)
    found.sort(key=lambda ends: -max(p.area_mm2 for p in ends if p.kind == "cylinder"))
    return tuple(
        ZoneSpec(
            name="shaft" if not number else f"shaft {number + 1}",
            part=part,
            purpose="turning",
            patches=tuple(reference(p) for p in ends),
            clearance_mm=clearance_mm,
        )
        for number, ends in enumerate(found)
    )


def _is_round(patch: Patch) -> bool:
    return patch.kind == "cylinder" and patch.side == "outside" and patch.turn >= TURN


def _reaches_out(
    patch: Patch, way: float, outermost: Floats, corners_mm: Floats, rounds: list[Patch]
) -> bool:
    """Tell quickly whether a round may reach further out than all else: most do not."""
    tip = float((way * ((corners_mm[patch.faces] - patch.centre_mm) @ patch.axis)).max())
    along, inside = _about(patch, outermost)
    return not (way * along[~inside] > tip - OUT_MM).any()


def _may_be_shaft(
    patch: Patch, way: float, outermost: Floats, corners_mm: Floats, rounds: list[Patch]
) -> bool:
    """Tell quickly whether a round may be a shaft, though something else may reach further out."""
    out = _is_long(patch, patch.length_mm) or _reaches_out(patch, way, outermost, corners_mm, rounds)
    return out and _is_apart(patch, rounds)


def _is_long(patch: Patch, length_mm: float) -> bool:
    return length_mm >= LONG * patch.diameter_mm and patch.diameter_mm >= LEAST_MM


def _about(patch: Patch, points: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return places of (..., 3) points along a round's axis, mm from its centre, and which lie within it."""
    rel = points - patch.centre_mm
    along = rel @ patch.axis
    beside = np.linalg.norm(rel - along[..., None] * patch.axis, axis=-1)
    return along, np.asarray(beside <= patch.diameter_mm / 2 * SLIM + SLIM_MM)


def _outermost(points: Floats) -> Floats:
    """Return the points furthest out in 26 directions: most rounds end before one of them."""
    steps = np.array([-1.0, 0.0, 1.0])
    ways = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(-1, 3)
    return np.asarray(points[[int((points @ way).argmax()) for way in ways]])


def _least_breadth(points: Floats, axis: Floats) -> float:
    """Return the least breadth across an axis, looked at in steps of 15 degrees."""
    first = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    first /= np.linalg.norm(first)
    second = np.cross(axis, first)
    angles = np.radians(np.arange(0.0, 180.0, 15.0))
    ways = np.outer(np.cos(angles), first) + np.outer(np.sin(angles), second)
    return float(np.ptp(points @ ways.T, axis=0).min())


def _shaft_end(
    patch: Patch,
    way: Floats,
    along: Floats,
    slim: NDArray[np.bool_],
    patches: tuple[Patch, ...],
    corners_mm: Floats,
) -> list[Patch] | None:
    """Return the patches of the shaft that ends where ``along`` is greatest, or None for no shaft's end.

    Parameters
    ----------
    way : (3,) unit, out of the part.
    along : (m, 3) places of the corners along the patch's axis from its centre, mm, towards that end.
    slim : (m,) triangles that lie within the patch's round, before or behind it.
    """
    diameter = patch.diameter_mm
    tip, start = float(along[patch.faces].max()), float(along[patch.faces].min())
    if not (~slim).any():
        return None  # the whole part is one round
    rest, height = corners_mm[~slim], along[~slim]
    near = _levels_near(rest, height, patch, diameter / 2 + SHAFT_CLEARANCE_MM)
    if not len(near):
        return None  # it stands on nothing
    floor, shoulder = max(float(near.max()), start), float(height.max())
    if tip - floor < STUB * diameter:
        return None
    if tip - max(shoulder, start) >= max(STICKS_OUT * diameter, 1.5):
        floor = max(shoulder, start)  # it reaches further out than all else
    elif not _is_long(patch, tip - floor) or _walled(rest, height, patch, 0.25 * floor + 0.75 * tip) > WALLED:
        return None
    if diameter > THIN * _least_breadth(rest.reshape(-1, 3), patch.axis):
        return None
    if floor - float(near.min()) < BORNE * diameter or _is_bored(patch, tip, along, patches):
        return None
    return [
        p
        for p in patches
        if p is patch
        or (p.side == "outside" and slim[p.faces].all() and float(along[p.faces].min()) >= floor - 0.05)
    ]


def _is_bored(patch: Patch, tip: float, along: Floats, patches: tuple[Patch, ...]) -> bool:
    """Tell whether a round is a tube at its tip."""
    return any(
        p.kind == "cylinder"
        and p.side == "inside"
        and BORED * patch.diameter_mm < p.diameter_mm < patch.diameter_mm
        and same_line(p, patch.centre_mm, patch.axis)
        and float(along[p.faces].max()) > tip - 0.1 * patch.diameter_mm
        for p in patches
    )


def _is_apart(patch: Patch, rounds: list[Patch]) -> bool:
    """Tell whether a round is no leg, post or wire among others like it: two may be, long and not thin."""
    others = [patch]
    for p in rounds:
        if (
            abs(p.diameter_mm - patch.diameter_mm) <= ALIKE * patch.diameter_mm
            and abs(p.length_mm - patch.length_mm) <= ALIKE_LONG * patch.length_mm
            and abs(p.axis @ patch.axis) > SAME_AXIS
            and not any(same_line(p, o.centre_mm, o.axis) for o in others)
        ):
            others.append(p)
            if len(others) > PAIR:
                return False
    stout = patch.length_mm >= PAIR_LONG * patch.diameter_mm and patch.diameter_mm >= PAIR_LEAST_MM
    return len(others) == 1 or stout


def _flat_about(tris: Floats, patch: Patch) -> Floats:
    """Return (m, 3, 2) triangles as seen along a round's axis, from its middle."""
    first = np.cross(patch.axis, np.eye(3)[np.argmin(np.abs(patch.axis))])
    first /= np.linalg.norm(first)
    rel = tris - patch.centre_mm
    return np.stack([rel @ first, rel @ np.cross(patch.axis, first)], axis=-1)


def _levels_near(tris: Floats, height: Floats, patch: Patch, radius_mm: float) -> Floats:
    """Return heights, among them the least and the greatest, of what lies within a radius of a round's axis.

    On a triangle and a disc a linear height is greatest at a corner of the triangle in the disc, where an
    edge crosses the circle, or where the height rises straight outward on the circle.
    """
    flat = _flat_about(tris, patch)
    box = (flat.min(axis=1) < radius_mm) & (flat.max(axis=1) > -radius_mm)
    flat, height = flat[box.all(axis=1)], height[box.all(axis=1)]
    out = [height[np.linalg.norm(flat, axis=2) <= radius_mm]]
    side, climb = np.roll(flat, -1, axis=1) - flat, np.roll(height, -1, axis=1) - height
    square = (side**2).sum(axis=2)
    half = (flat * side).sum(axis=2)
    root = half**2 - square * ((flat**2).sum(axis=2) - radius_mm**2)
    crosses = (root >= 0) & (square > 1e-18)
    for sign in (1.0, -1.0):
        t = (-half + sign * np.sqrt(np.maximum(root, 0))) / np.where(crosses, square, 1.0)
        met = crosses & (t >= 0) & (t <= 1)
        out.append((height + t * climb)[met])
    twice = side[:, 0, 0] * -side[:, 2, 1] + side[:, 0, 1] * side[:, 2, 0]
    broad = np.abs(twice) > 1e-12
    flat, height, side, climb, twice = (a[broad] for a in (flat, height, side, climb, twice))
    second, rise = -side[:, 2], -climb[:, 2]
    slope = np.stack(
        [
            (climb[:, 0] * second[:, 1] - rise * side[:, 0, 1]) / twice,
            (rise * side[:, 0, 0] - climb[:, 0] * second[:, 0]) / twice,
        ],
        axis=1,
    )
    steep = np.maximum(np.linalg.norm(slope, axis=1, keepdims=True), 1e-12)
    for sign in (1.0, -1.0):
        place = sign * radius_mm * slope / steep
        rel = place[:, None] - flat
        turn = np.sign(twice)[:, None] * (side[..., 0] * rel[..., 1] - side[..., 1] * rel[..., 0])
        met = (turn >= 0).all(axis=1)
        out.append((height[:, 0] + (rel[:, 0] * slope).sum(axis=1))[met])
    return np.concatenate(out)


def _walled(tris: Floats, height: Floats, patch: Patch, level: float) -> float:
    """Return over what share of the turn the part stands about a round's axis at a height."""
    cut = (height.min(axis=1) < level) & (height.max(axis=1) > level)
    flat, height = _flat_about(tris[cut], patch), height[cut]
    if not len(flat):
        return 0.0
    # The edges from the corner that is alone on its side of the height cross it.
    above = height > level
    lone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), above.argmin(axis=1))
    rows = np.arange(len(flat))
    ends = []
    for step in (1, 2):
        other = (lone + step) % 3
        share = (level - height[rows, lone]) / (height[rows, other] - height[rows, lone])
        ends.append(flat[rows, lone] + share[:, None] * (flat[rows, other] - flat[rows, lone]))
    first, last = (np.arctan2(end[:, 1], end[:, 0]) for end in ends)
    sweep = _turned(last - first)[:, None]
    away = _turned((np.arange(_BINS) + 0.5) * 2 * np.pi / _BINS - first[:, None]) * np.sign(sweep)
    return float(((away >= 0) & (away <= np.abs(sweep))).any(axis=0).mean())


def _turned(angle: Floats) -> Floats:
    """Return angles between -pi and pi."""
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi)


def _wheel(
    patch: Patch,
    way: Floats,
    along: Floats,
    slim: NDArray[np.bool_],
    patches: tuple[Patch, ...],
    corners_mm: Floats,
) -> list[Patch] | None:
    """Return the patches of the wheel whose rim a patch is, with its neck, or None.

    Parameters
    ----------
    way : (3,) unit, out of the part; ``along`` and ``slim`` as in `_shaft_end`.
    """
    start, tip = float(along[patch.faces].min()), float(along[patch.faces].max())
    rest = ~slim
    if not patch.is_whole or not rest.any() or tip - float(along[rest].max()) < OUT_MM:
        return None
    for neck in patches:
        if neck.kind != "cylinder" or neck.side != "outside" or not neck.is_whole:
            continue
        if neck.diameter_mm > NECK * patch.diameter_mm or not same_line(neck, patch.centre_mm, patch.axis):
            continue
        low, high = float(along[neck.faces].min()), float(along[neck.faces].max())
        if not start - RIM * patch.diameter_mm <= high <= start + 0.1:
            continue  # not under this rim
        under = _underside(patch, way, high, along, slim, patches)
        ring = np.pi / 4 * (patch.diameter_mm**2 - neck.diameter_mm**2)
        free = under is not None and under.area_mm2 > OPEN * ring and high - low >= AIR_MM
        if free and neck.diameter_mm <= THIN * _least_breadth(corners_mm[rest].reshape(-1, 3), patch.axis):
            floor = min(start, high) - 0.05
            return [
                p
                for p in patches
                if p is neck
                or (
                    p.side == "outside"
                    and p.area_mm2 >= CRUMB * patch.area_mm2
                    and slim[p.faces].all()
                    and float(along[p.faces].min()) >= floor
                )
            ]
    return None


def _underside(
    patch: Patch,
    way: Floats,
    height: float,
    along: Floats,
    slim: NDArray[np.bool_],
    patches: tuple[Patch, ...],
) -> Patch | None:
    """Return the flat of a wheel that looks back at the body at some height, or None."""
    for p in patches:
        if p.kind == "flat" and p.axis @ way < -SAME_AXIS and slim[p.faces].all():
            level = float(along[p.faces].mean())
            round_about = p.length_mm > 0.6 * patch.diameter_mm and p.width_mm > 0.6 * patch.diameter_mm
            if round_about and abs(level - height) < 0.1:
                return p
    return None
