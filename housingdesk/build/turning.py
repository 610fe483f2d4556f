"""Which rounds of a part the program takes for turning: shafts that stick out, and wheels on them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from housingdesk.build.zoning import SAME_AXIS, SLIM, SLIM_MM, STICKS_OUT, reference
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.types import Floats
from housingdesk.spec.zones import ZoneSpec

THIN = 0.55  # a shaft's diameter is at most this share of the rest's least breadth across it
SHAFT_CLEARANCE_MM = 0.5  # common practice, no source
NECK = 0.75  # of a wheel's diameter: a wider neck is a step of one round (own choice)
OPEN = 0.4  # of the ring beside the neck looks back at the body, whatever holes are in it (own choice)
RIM = 0.15  # of a wheel's diameter: so much its edge may be rounded or chamfered (own choice)
AIR_MM = 0.3  # under a wheel: less is a joint between two surfaces (own choice)
CRUMB = 0.02  # of the rim: smaller faces (of a screw's head) go with the wheel without being named
OUT_MM = 0.5  # a wheel's face stands out of all else by so much (own choice)


def propose_zones(
    part: str, patches: tuple[Patch, ...], corners_mm: Floats, clearance_mm: float = SHAFT_CLEARANCE_MM
) -> tuple[ZoneSpec, ...]:
    """Return the zones that the program sees on one part: shafts, and wheels on them.

    A thin whole cylinder that sticks out is a shaft; a wide one is what a shaft carries (the horn of a servo)
    where it stands on a thin neck and air is under it, so that it can be nothing that the body is joined to.

    Parameters
    ----------
    patches : of the part, part frame, mm.
    corners_mm : (m, 3, 3) its triangles, part frame.
    """
    out: list[ZoneSpec] = []
    taken = np.zeros(len(corners_mm), bool)
    lines: list[tuple[Floats, Floats]] = []
    outermost = _outermost(corners_mm.reshape(-1, 3))
    for patch in patches:
        if patch.kind != "cylinder" or patch.side != "outside" or patch.turn < 0.55:
            continue
        if taken[patch.faces].any() or any(_same_line(patch, *line) for line in lines):
            continue
        tips = (corners_mm[patch.faces] - patch.centre_mm) @ patch.axis
        along, inside = _about(patch, outermost)
        ways = [w for w in (1.0, -1.0) if not (w * along[~inside] > (w * tips).max() - OUT_MM).any()]
        if not ways:
            continue
        along, inside = _about(patch, corners_mm)
        within = np.asarray(inside.all(axis=1))
        for way in ways:
            places = way * along
            end = _shaft_end(patch, places, within, patches, corners_mm)
            if end is None:
                end = _wheel(patch, way * patch.axis, places, within, patches, corners_mm)
            if end is None:
                continue
            faces = np.concatenate([p.faces for p in end])
            taken[faces] = True
            lines.append((patch.centre_mm, patch.axis))
            out.append(
                ZoneSpec(
                    name="shaft" if not out else f"shaft {len(out) + 1}",
                    part=part,
                    purpose="turning",
                    patches=tuple(reference(p) for p in end),
                    clearance_mm=clearance_mm,
                )
            )
            break
    return tuple(out)


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


def _same_line(patch: Patch, centre: Floats, axis: Floats) -> bool:
    away = patch.centre_mm - centre
    return bool(abs(patch.axis @ axis) > SAME_AXIS and np.linalg.norm(away - (away @ axis) * axis) < 0.2)


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
    along: Floats,
    slim: NDArray[np.bool_],
    patches: tuple[Patch, ...],
    corners_mm: Floats,
) -> list[Patch] | None:
    """Return the patches of the shaft that ends where ``along`` is greatest, or None for no shaft's end.

    Parameters
    ----------
    along : (m, 3) places of the corners along the patch's axis from its centre, mm, towards that end.
    slim : (m,) triangles that lie within the patch's round, before or behind it.
    """
    tip = float(along[patch.faces].max())
    start = float(along[patch.faces].min())
    rest = ~slim
    if not rest.any():
        return None  # the whole part is one round
    shoulder = float(along[rest].max())
    if tip - max(shoulder, start) < max(STICKS_OUT * patch.diameter_mm, 1.5):
        return None
    if patch.diameter_mm > THIN * _least_breadth(corners_mm[rest].reshape(-1, 3), patch.axis):
        return None
    floor = max(shoulder, start) - 0.05
    return [
        p
        for p in patches
        if p is patch
        or (p.side == "outside" and slim[p.faces].all() and float(along[p.faces].min()) >= floor)
    ]


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
        if neck.diameter_mm > NECK * patch.diameter_mm or not _same_line(neck, patch.centre_mm, patch.axis):
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
