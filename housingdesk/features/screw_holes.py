"""Bodies of a screw's holes, and of what must stay solid or free around it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from housingdesk.errors import SpecError
from housingdesk.features.hardware import AROUND_MM, TIP_MM
from housingdesk.features.places import Place
from housingdesk.geometry.solid import Outline, Solid

if TYPE_CHECKING:
    from housingdesk.features.screws import Screw

SAME_MM = 1e-6
PAST_MM = 0.5  # cuts reach this far past the parting plane, so that no skin stays


def cut_head(screw: Screw, beyond_z_mm: float) -> Solid:
    """Return the hole in the half with the head: shank, and the room of the head out to a height outside."""
    kit, face = screw.kit, screw.head_z_mm
    start = screw.parting_z_mm - screw.up * PAST_MM
    if kit.cone:
        bottom = face - screw.up * kit.head_deep_mm
        return _hole(
            screw, (start, kit.clear_mm), (bottom, kit.clear_mm), (face, kit.head_mm), (beyond_z_mm, None)
        )
    if kit.proud:
        wide = kit.head_rest_mm  # what lies over a proud head, such as a foot, lets it through
        return _hole(screw, (start, kit.clear_mm), (face, None), (face, wide), (beyond_z_mm, None))
    seat = screw.seat_z_mm
    return _hole(screw, (start, kit.clear_mm), (seat, None), (seat, kit.head_mm), (beyond_z_mm, None))


def cut_thread(screw: Screw, beyond_z_mm: float, outline: Outline, around: Outline) -> Solid:
    """Return the hole in the other half: thread, insert or nut.

    Parameters
    ----------
    beyond_z_mm : a height outside that half's outer face.
    outline, around : section of the form, and what a nut's slot must not run through.
    """
    kit, heights, z, up = screw.kit, screw.stack, screw.parting_z_mm, screw.up
    start, bottom = z + up * PAST_MM, z - up * heights.hole_mm
    if kit.holds == "printed threads":
        relief = z - up * kit.relief_mm
        return _hole(
            screw, (start, kit.relief_wide_mm), (relief, None), (relief, kit.thread_mm), (bottom, None)
        )
    tip = z - up * max(heights.reach_mm + TIP_MM, heights.hole_mm)
    if kit.holds == "heat-set inserts":
        if abs(tip - bottom) < SAME_MM:
            return _hole(screw, (start, kit.thread_mm), (bottom, None))
        return _hole(screw, (start, kit.thread_mm), (bottom, None), (bottom, kit.clear_mm), (tip, None))
    if kit.holds == "nuts outside":
        face, wide = screw.thread_z_mm, kit.nut_rest_mm  # through a foot over it, too
        return _hole(screw, (start, kit.clear_mm), (face, None), (face, wide), (beyond_z_mm, None))
    nut_z = z - up * heights.nut_mm
    if kit.holds == "nuts dropped in":
        pocket = _prism(hexagon(screw.place, kit.nut_flats_mm, 0.0), nut_z, beyond_z_mm)
        return pocket | _hole(screw, (start, kit.clear_mm), (beyond_z_mm, None))
    pocket = _prism(_slot(screw, outline, around), nut_z, nut_z - up * kit.nut_deep_mm)
    return pocket | _hole(screw, (start, kit.clear_mm), (tip, None))


def kept_solid(screw: Screw) -> list[Solid]:
    """Return the material that must stay around a screw: round its head, its shank and what holds it."""
    kit, z, up = screw.kit, screw.parting_z_mm, screw.up
    head = max(2 * (kit.head_radius_mm + AROUND_MM), kit.head_rest_mm)
    shank = kit.clear_mm + 2 * AROUND_MM
    thread = max(kit.thread_mm + 2 * kit.around_mm, shank)
    if kit.nut_radius_mm > 0:
        thread = max(thread, 2 * (kit.nut_radius_mm + AROUND_MM))
    under = screw.head_z_mm - up * ((kit.head_deep_mm if kit.cone else screw.stack.seat_mm) + AROUND_MM)
    under = max(under, z) if up > 0 else min(under, z)
    deep = min(max(screw.stack.hole_mm, screw.stack.reach_mm) + AROUND_MM, abs(screw.thread_z_mm - z))
    bodies = [_round(screw, under, screw.head_z_mm, head), _round(screw, z, z - up * deep, thread)]
    return bodies if abs(under - z) < SAME_MM else [*bodies, _round(screw, z, under, shank)]


def kept_free(screw: Screw, beyond_z_mm: float) -> list[Solid]:
    """Return the room of the screw itself and of the driver that turns it."""
    kit = screw.kit
    rests_on = screw.head_z_mm if kit.proud else screw.seat_z_mm  # with its washer
    bodies = [
        _round(screw, rests_on, beyond_z_mm, max(kit.head_mm, kit.head_rest_mm)),
        _round(screw, screw.tip_z_mm, screw.seat_z_mm, kit.diameter_mm),
    ]
    if kit.nut_rest_mm > 0:
        bodies.append(_round(screw, screw.tip_z_mm, screw.thread_z_mm, kit.nut_rest_mm))
    return bodies


def _hole(screw: Screw, *steps: tuple[float, float | None]) -> Solid:
    """Return a round hole through heights with a diameter each; None keeps the diameter up to there.

    A height that is given twice, first with None, is a step; else the hole widens evenly.
    """
    profile: list[tuple[float, float]] = [(0.0, steps[0][0])]
    wide = 0.0
    for height, diameter in steps:
        wide = wide if diameter is None else diameter
        profile.append((wide / 2, height))
    profile.append((0.0, steps[-1][0]))
    return Solid.turned(*screw.place, profile, outside=True)


def _round(screw: Screw, from_z_mm: float, to_z_mm: float, diameter_mm: float) -> Solid:
    x, y = screw.place
    return Solid.rod((x, y, from_z_mm), (x, y, to_z_mm), diameter_mm / 2)


def _prism(outline: Outline, one_z_mm: float, other_z_mm: float) -> Solid:
    return Solid.prism(outline, min(one_z_mm, other_z_mm), max(one_z_mm, other_z_mm))


def hexagon(place: Place, flats_mm: float, turn_rad: float) -> Outline:
    """Return a regular hexagon; without a turn two of its flats run along x."""
    angle = turn_rad + np.arange(6) * np.pi / 3
    return Outline.polygon(
        np.asarray(place) + flats_mm / np.sqrt(3) * np.column_stack([np.cos(angle), np.sin(angle)])
    )


def _slot(screw: Screw, outline: Outline, around: Outline) -> Outline:
    """Return a nut's pocket with the way it is slid in, the shortest to the outside.

    Raises
    ------
    SpecError : every way is barred.
    """
    own = Outline.circle(screw.place, screw.kit.boss_radius_mm + 0.01)
    barred = around - own
    (low_x, low_y), (high_x, high_y) = outline.bounds.tolist()
    far, half = high_x - low_x + high_y - low_y, screw.kit.nut_flats_mm / 2
    best: tuple[float, Outline] | None = None
    for angle in np.arange(8) * np.pi / 4:
        way = Outline.rectangle((0.0, -half), (far, half)).turned(np.degrees(angle)).moved(screw.place)
        within = way & outline
        if not barred.touches(within) and (best is None or within.area_mm2 < best[0] - 1e-6):
            best = (within.area_mm2, way | hexagon(screw.place, screw.kit.nut_flats_mm, angle))
    if best is None:
        raise SpecError("A nut cannot be slid in from any side here; drop the nuts in, or move the screws.")
    return best[1]
