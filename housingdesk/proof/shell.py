"""Checks of the shell: walls, floor and roof as built, openings, a flat outside to print on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from housingdesk.features.site import LEVEL
from housingdesk.finding import Finding, Severity
from housingdesk.geometry.section import section
from housingdesk.geometry.types import SIDES, Floats, Mesh
from housingdesk.geometry.walls import Opening, Wall
from housingdesk.proof.fit import SLACK_MM
from housingdesk.proof.measured import Measured
from housingdesk.proof.subject import PLANE_OF, SIDE_AT, Subject, WayOut
from housingdesk.proof.wording import mm, triple

WALL_SLACK_MM = 0.05  # what the cavity may exceed its clearance on plain surfaces, and the wall then lacks
PRINTABLE_MM = 0.8  # two lines of a 0.4 mm nozzle (shop guidance for filament printers, 0.8 to 1.2)
FLAT_SHARE = 0.3  # of the half's footprint, for a sure hold on the printer's bed (own choice)
_SQUARE = 1e-3  # sine of the rise of a shaft that lies level
_ON_PLANE_MM = 0.05  # a shaft whose axis is so near the plane lies in it
_TOGETHER_MM = 0.5  # rims of both halves so near each other are one opening


def _severity(subject: Subject, wall: Wall) -> Severity:
    """Return how bad a thin wall is: the user's own wish where the user has fixed that side."""
    return "caution" if SIDE_AT[wall.plane] in subject.fixed_sides else "fail"


def _remedy(subject: Subject, wall: Wall) -> str:
    if way := _slot_at(subject, wall.at_mm):
        return _laid_on(way)
    side = SIDE_AT[wall.plane]
    if way := _leaning_at(subject, wall.at_mm):
        return (
            f"The passage of the {way.zone} runs out there: turn the part until the shaft points square to a "
            "side."
        )
    if side in subject.fixed_sides:
        return f"Let the {side} reach further out, or free it."
    return "Raise the wall a little."


def _leaning_at(subject: Subject, at_mm: Floats) -> WayOut | None:
    """Return the shaft whose passage goes out aslant beside a place of the wall, or None."""
    near = subject.clearance_mm + subject.wall_mm
    for way in subject.ways_out:
        if np.sort(np.abs(way.axis))[1] < _SQUARE:
            continue
        low, high = way.box_mm - near * np.array([[1.0], [-1.0]])
        away = at_mm - way.mouth_mm
        beside = float(np.linalg.norm(away - (away @ way.axis) * way.axis))
        # A box about a round is nowhere across it narrower than it.
        across = float(np.delete(np.ptp(way.box_mm, axis=0), np.abs(way.axis).argmax()).min())
        if ((at_mm >= low) & (at_mm <= high)).all() and beside <= across / 2 + near:
            return way
    return None


def _slot_at(subject: Subject, at_mm: Floats) -> WayOut | None:
    """Return the shaft whose way in, from beside the parting plane, cuts the wall open at a place; or None.

    A half is hollow from such a shaft's passage to the plane, as wide as the shaft and its room.
    """
    z = subject.parting_z_mm
    for way in subject.ways_out:
        if abs(way.axis[2]) > LEVEL or (
            abs(way.axis[2]) < _SQUARE and abs(way.mouth_mm[2] - z) <= _ON_PLANE_MM
        ):
            continue
        near = subject.clearance_mm + subject.wall_mm
        low, high = way.box_mm - near * np.array([[1.0], [-1.0]])
        low[2], high[2] = min(low[2], z), max(high[2], z)
        if ((at_mm >= low) & (at_mm <= high)).all():
            return way
    return None


def _laid_on(way: WayOut) -> str:
    """Say what keeps a shaft's way in from cutting the wall open."""
    if abs(way.axis[2]) < _SQUARE:
        return (
            f"The way in of the {way.zone} cuts the wall open here: lay the parting plane on its axis, "
            f"at {mm(float(way.mouth_mm[2]))}."
        )
    return (
        f"The way in of the {way.zone} cuts the wall open here: turn the part until the shaft lies level, "
        "and lay the parting plane on its axis."
    )


def _named(wall: Wall) -> str:
    side = SIDE_AT[wall.plane]
    return f"wall by the edge of the {side}" if wall.slanted else f"{side} wall"


def _is_thin(subject: Subject, wall: Wall) -> bool:
    return wall.least_mm < subject.asked_mm(wall) - WALL_SLACK_MM


def walls(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge the least wall beside the cavity, as built."""
    for side in SIDES:
        beside = measured.halves[side].shell.walls[:-1]
        thin = [w for w in beside if _is_thin(subject, w)]
        for wall in thin:
            asked = subject.asked_mm(wall)
            yield Finding(
                f"wall-{side}",
                _severity(subject, wall),
                f"The {_named(wall)} of the {side} half is {mm(wall.least_mm, asked)} at its "
                f"thinnest, {mm(asked)} asked.",
                _remedy(subject, wall),
                triple(wall.at_mm),
            )
        least = min(beside, key=lambda w: w.least_mm)
        if not thin and np.isfinite(least.least_mm):
            asked = subject.asked_mm(least)
            message = (
                f"The walls of the {side} half are {mm(least.least_mm, asked)} or more, {mm(asked)} asked."
            )
            yield Finding(f"wall-{side}", "pass", message, where_mm=triple(least.at_mm))


def floor_and_roof(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge the material under and over the cavity, and room plus material under and over the part."""
    bounds = subject.held
    for side in SIDES:
        wall = measured.halves[side].shell.walls[-1]
        asked = subject.asked_mm(wall)
        name, (_, end) = SIDE_AT[wall.plane], wall.plane
        reach = abs(float(bounds[end, 2] - subject.outer_mm[end, 2]))
        if (subject.outer_mm[end, 2] > bounds[end, 2]) != bool(end):
            reach = -reach
        needed = asked + subject.clearance_mm
        code, where = f"{name}-{side}", triple(wall.at_mm) if np.isfinite(wall.least_mm) else None
        if _is_thin(subject, wall):
            message = f"The {name} is {mm(wall.least_mm, asked)} at its thinnest, {mm(asked)} asked."
            yield Finding(code, _severity(subject, wall), message, _remedy(subject, wall), where)
        elif reach < needed - SLACK_MM:
            message = (
                f"The {name} ends {mm(reach, needed)} from the part, "
                f"{mm(needed)} asked for room and material."
            )
            yield Finding(code, _severity(subject, wall), message, _remedy(subject, wall), where)
        else:
            thick = mm(wall.least_mm, asked) if np.isfinite(wall.least_mm) else mm(reach)
            yield Finding(code, "pass", f"The {name} is {thick} or more, {mm(asked)} asked.", where_mm=where)


def printable(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Warn of walls thinner than a printer can lay."""
    for side in SIDES:
        least = min(measured.halves[side].shell.walls, key=lambda w: w.least_mm)
        if least.least_mm < PRINTABLE_MM:
            name = _named(least) if least.slanted else SIDE_AT[least.plane]
            yield Finding(
                f"printable-{side}",
                "caution",
                f"The {name} of the {side} half is only {mm(least.least_mm)} thick; "
                f"most filament printers need {mm(PRINTABLE_MM)}.",
                _remedy(subject, least)
                if _slot_at(subject, least.at_mm) or _leaning_at(subject, least.at_mm)
                else f"Ask for a wall of at least {mm(PRINTABLE_MM)}, or print with a finer nozzle.",
                triple(least.at_mm),
            )


def openings(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Tell where the housing is open: the part comes out, or the cavity breaks through."""
    for name, plane in PLANE_OF.items():
        found = [o for side in SIDES for o in measured.halves[side].shell.openings if o.plane == plane]
        for hole in _merged(found):
            first, second = hole.size_mm
            where = triple(hole.centre_mm)
            size = f"{first:.1f} × {second:.1f} mm"
            if _is_meant(subject, hole):
                yield Finding(
                    f"opening-{name}", "pass", f"The {name} is open as asked, {size}.", where_mm=where
                )
            elif way := _slot_at(subject, hole.centre_mm):
                yield Finding(
                    f"opening-{name}",
                    "caution",
                    f"The {way.zone} goes out of the {name} through an opening of {size}, longer than its "
                    "passage.",
                    _laid_on(way),
                    where,
                )
            elif _comes_out(subject, measured.part, hole):
                yield Finding(
                    f"opening-{name}",
                    "caution",
                    f"The part comes out of the {name} through an opening of {size}.",
                    f"If it should stay inside, let the {name} reach further out.",
                    where,
                )
            else:
                yield Finding(
                    f"opening-{name}",
                    "caution" if name in subject.fixed_sides else "fail",
                    f"The {name} has a hole of {size} where no part comes out.",
                    f"Let the {name} reach further out.",
                    where,
                )


def _is_meant(subject: Subject, hole: Opening) -> bool:
    """Tell whether an opening lies within a passage or a feature's cut."""
    # A shaft's cavity is a little wider than its passage, which may have no chamfer at its mouth.
    wider = WALL_SLACK_MM * np.array([[-1.0], [1.0]])
    return any(hole.lies_in(box + wider) for box in subject.meant)


def _comes_out(subject: Subject, part: Mesh, hole: Opening) -> bool:
    """Tell whether the part passes the side's plane within the opening."""
    axis = hole.plane[0]
    axes = [a for a in range(3) if a != axis]
    origin = np.zeros(3)
    origin[axis] = hole.centre_mm[axis]
    right, up = np.eye(3)[axes]
    for line in section(part, origin, right, up):
        points = np.tile(origin, (len(line.points), 1))
        points[:, axes] = line.points
        if hole.covers(points, SLACK_MM).any():
            return True
    return False


def _merged(found: list[Opening]) -> list[Opening]:
    """Join openings whose rectangles touch, so that one that both halves share is told once."""
    out: list[Opening] = []
    for hole in found:
        low, high = hole.low_mm, hole.high_mm
        apart = []
        for other in out:
            touching = (other.low_mm <= high + _TOGETHER_MM) & (other.high_mm >= low - _TOGETHER_MM)
            if touching.all():
                low, high = np.minimum(low, other.low_mm), np.maximum(high, other.high_mm)
            else:
                apart.append(other)
        out = [*apart, Opening(hole.plane, low, high)]
    return out


def flat_outside(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether each half has a flat outside to lie on while it is printed."""
    for side in SIDES:
        x, y, _ = subject.halves[side].size_mm.tolist()
        name = "floor" if side == "lower" else "roof"
        flat = measured.halves[side].shell.flat_mm2
        if flat >= FLAT_SHARE * x * y:
            message = f"The {side} half lies on a flat {name} of {flat / 100:.1f} cm² while it is printed."
            yield Finding(f"flat-{side}", "pass", message)
        else:
            yield Finding(
                f"flat-{side}",
                "caution",
                f"The {side} half has only {flat / 100:.1f} cm² of flat {name} to lie on "
                "while it is printed.",
                f"Let the {name} reach further out, or print with a brim and supports.",
            )
