"""Where a turning zone leaves the rest of its part, and what bars its way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from housingdesk.build.placed import Placed
from housingdesk.features.site import LEVEL, Shaft
from housingdesk.finding import Finding
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.measure import first_met
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.patches.sorting import components
from housingdesk.geometry.types import Floats
from housingdesk.geometry.weld import same_points
from housingdesk.proof.wording import triple
from housingdesk.spec.zones import ZoneSpec

SAME_AXIS = np.cos(np.radians(4.0))
STICKS_OUT = 0.3  # of a shaft's diameter, beyond the rest of the part
LEAVES_MM = 1.0  # however wide a turning round is, so much of it beyond the rest has to come out (own choice)
SAME_LINE_MM = 0.2  # axes so near each other are one
TURNS = 0.55  # of a full turn, for a round to be a shaft
HIDDEN = 0.5  # of a shaft's end: so much with the part before it, and it points at that (own choice)
_ROUND = np.linspace(0.3, 0.3 + 2 * np.pi, 8, endpoint=False)
SLIM, SLIM_MM = 1.02, 0.02  # what lies within so much more than a shaft's radius is the shaft


def slim(shaft: Shaft, tris: Floats) -> NDArray[np.bool_]:
    """Tell which of (m, 3, 3) triangles lie within a shaft's round, before or behind where it leaves."""
    rel = tris - shaft.base_mm
    beside = np.linalg.norm(rel - (rel @ shaft.axis)[..., None] * shaft.axis, axis=2)
    return np.asarray((beside <= shaft.diameter_mm / 2 * SLIM + SLIM_MM).all(axis=1))


def with_wheel(widest: Patch, rounds: list[Patch]) -> Patch:
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


def ways_out(
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


def part_ahead_mm(shaft: Shaft, placed: Placed, part: int, passed: NDArray[np.int64]) -> float | None:
    """Return how far before its end a shaft has its own part, None where its way is free.

    What is met first has to look back at the shaft: a rounded tip that is no patch is still the shaft.
    """
    first, last = placed.starts[part], placed.starts[part + 1]
    whole = placed.tris[first:last] - shaft.tip_mm
    inside_out = float(np.einsum("ij,ij->", whole[:, 0], np.cross(whole[:, 1], whole[:, 2]))) < 0
    tris = placed.tris[np.setdiff1d(np.arange(first, last), passed)]
    back = (np.cross(tris[:, 1] - tris[:, 0], tris[:, 2] - tris[:, 0]) @ shaft.axis < 0) != inside_out
    ring = 0.45 * shaft.diameter_mm * np.stack([np.cos(_ROUND), np.sin(_ROUND)], axis=1)
    across = rotation_to(np.array([0.0, 0.0, 1.0]), shaft.axis)[:3, :2]
    starts = shaft.tip_mm + SLIM_MM * shaft.axis + np.concatenate([np.zeros((1, 2)), ring]) @ across.T
    met, away = first_met(tris, starts, shaft.axis)
    hits = away[(met >= 0) & back[met]] + SLIM_MM
    return float(np.median(hits)) if len(hits) > HIDDEN * len(starts) else None


def second_shaft(
    rounds: list[Patch],
    widest: Patch,
    clearance_mm: float,
    placed: Placed,
    part: int,
    own: NDArray[np.int64],
) -> Patch | None:
    """Return a round of a zone that is another shaft than its widest: nothing of the zone joins them."""
    first, last = placed.starts[part], placed.starts[part + 1]
    corners = same_points(np.round(placed.tris[own].reshape(-1, 3), 5))[1].reshape(-1, 3)
    count = int(corners.max(initial=-1)) + 1
    _, piece = components(count, corners[:, :2].ravel(), corners[:, 1:].ravel())
    piece_of = np.full(last - first, -1)
    piece_of[own - first] = piece[corners[:, 0]]

    def joined_to(patch: Patch) -> set[int]:
        return set(piece_of[patch.faces].tolist()) - {-1}

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


def no_round(wanted: ZoneSpec, at_mm: Floats) -> Finding:
    """Say that a turning zone has no axis to go out along."""
    return Finding(
        "passage-none",
        "fail",
        f"The {wanted.name} turns, but no round is among its faces, so it has no axis to go out along.",
        "Pick the round of its shaft as well, or say that it is held.",
        triple(at_mm),
    )


def points_at_part(wanted: ZoneSpec, shaft: Shaft, ahead_mm: float | None) -> Finding:
    """Say that a shaft would meet its own part."""
    return Finding(
        "passage-none",
        "fail",
        f"The {wanted.name} turns, but it points at {wanted.part} itself, {ahead_mm or 0.0:.1f} mm before "
        "its end, so no way out of the housing would reach it.",
        "Pick the faces of an end that is free, or say that it is held.",
        triple(shaft.tip_mm),
    )


def several(wanted: ZoneSpec, at_mm: Floats) -> Finding:
    """Say that a zone has more than one shaft."""
    return Finding(
        "passage-none",
        "fail",
        f"The zone {wanted.name} has more than one shaft, and only its largest gets a way out.",
        "Make a zone of each shaft.",
        triple(at_mm),
    )
