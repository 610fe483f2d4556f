"""Where a wireway runs: from the room of the part to the outer face, on the parting plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from housingdesk.errors import SpecError
from housingdesk.features.opening import FRAMES, Face, Frame, reach_of, room_in, span, way_out
from housingdesk.features.site import Site
from housingdesk.features.wirepath import Section
from housingdesk.geometry.solid import Outline
from housingdesk.geometry.types import Floats

_UP = np.array([0.0, 0.0, 1.0])
_HAIR_MM = 0.02
_RAY = Outline.circle((0, 0), 0.05)


@dataclass(frozen=True, eq=False)
class Course:
    """Where a wireway runs.

    Attributes
    ----------
    drawn_mm : (n, 2) the way as drawn, or as it would be drawn.
    points_mm : (n, 2) middle line from inside the cavity to its mouth.
    frame : origin in the middle of the mouth, ``out`` along the last piece.
    straight_mm : how much of the last piece runs in material.
    """

    drawn_mm: Floats
    points_mm: Floats
    frame: Frame
    straight_mm: float


def course_of(site: Site, drawn: Floats, width_mm: float) -> Course:
    """Return the course of a drawn way, (n, 2), its ends led on to the room and to the outer face.

    Raises
    ------
    SpecError : it does not begin at the room of the part, or its last piece meets no outer face.
    """
    start, heading = drawn[0], _unit(drawn[1] - drawn[0])
    inside = _first_inside(site, start, -heading)
    last = _unit(drawn[-1] - drawn[-2])
    frame = _level_frame(np.append(drawn[-2], site.parting_z_mm), last)
    face = _face_mm(site, frame)
    end = frame.point(0, 0, face)
    # What the last piece has of material: beyond the last bend, or from the cavity on.
    bent = len(drawn) > 2
    straight = face - width_mm / 2 if bent else float(np.linalg.norm(end[:2] - inside)) - _HAIR_MM
    points = np.vstack([inside - heading * width_mm / 2, drawn[1:-1], end[:2]])
    return Course(drawn, points, Frame(frame.u, frame.v, frame.out, end), straight)


def straight_way(site: Site, side: Face, across_mm: float, width_mm: float, section: Section) -> Floats:
    """Return a way straight through a side, (2, 2), beginning in the room.

    Raises
    ------
    SpecError : there is no room behind the side at that place.
    """
    look = FRAMES[side]
    level = Frame(look.u, look.v, look.out, across_mm * look.u + site.parting_z_mm * _UP)
    r = width_mm / 2
    outline = Outline.circle((0, 0), r) if section == "round" else Outline.rectangle((-r, -r), (r, r))
    way = way_out(site, level, outline)
    return np.array([level.point(0, 0, way.inner_mm - _HAIR_MM)[:2], level.point(0, 0, way.face_mm)[:2]])


def nearest_room(site: Site, side: Face, inset_mm: float) -> float:
    """Return where along a side the room for the part comes nearest, as near the middle as can be, mm.

    Parameters
    ----------
    inset_mm : so far from the ends of the nearest stretch, if it is wide enough.

    Raises
    ------
    SpecError : the parting plane meets no room.
    """
    look = FRAMES[side]
    outline = site.cavity["lower"].section_at(site.parting_z_mm) & site.form.section_at(site.parting_z_mm)
    rows = [np.column_stack([loop, np.zeros(len(loop))]) for loop in outline.loops]
    if not rows:
        raise SpecError("The parting plane meets no room of the part; move the plane into the part.")
    seen = look.seen(np.vstack(rows))
    near = seen[:, 2] > seen[:, 2].max() - 0.3
    low, high = float(seen[near, 0].min()), float(seen[near, 0].max())
    inset = min(inset_mm, (high - low) / 2)
    return float(np.clip(0.0, low + inset, high - inset))


def _first_inside(site: Site, start: Floats, back: Floats) -> Floats:
    """Return (2,) the first place of the room on the way back from the way's first point."""
    frame = _level_frame(np.append(start, site.parting_z_mm), back)
    room = room_in(site, frame.body(_RAY, -_HAIR_MM, reach_of(site)))
    if room.is_empty:
        raise SpecError("The wireway does not begin at the room of the part; move its first point there.")
    first = min(span(piece, frame)[0] for piece in room.bodies())
    return np.asarray(start + max(first, 0.0) * back)


def _face_mm(site: Site, frame: Frame) -> float:
    """Return how far along the last piece the outer face is."""
    ray = frame.body(_RAY, 0.0, reach_of(site)) & site.form
    if ray.is_empty:
        raise SpecError("The wireway's last piece lies outside the housing; move its corners inside.")
    return span(ray, frame)[1]


def _unit(v: Floats) -> Floats:
    return np.asarray(v / np.linalg.norm(v))


def _level_frame(origin_mm: Floats, heading: Floats) -> Frame:
    """Return a frame on the parting plane that looks along (2,) ``heading``."""
    out = np.array([heading[0], heading[1], 0.0])
    return Frame(np.array([-heading[1], heading[0], 0.0]), _UP, out, origin_mm)
