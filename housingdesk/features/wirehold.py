"""What holds a wire in its channel: humps that squeeze it, and the material a long hold needs."""

from __future__ import annotations

import numpy as np

from housingdesk.features.opening import Frame
from housingdesk.features.site import Site
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats

LEAST_GAP_MM = 0.2


def humps(frame: Frame, radius_mm: float, width_mm: float, gap_mm: float) -> list[Solid]:
    """Return the two round-topped humps of a clamp, one of each half, to be left standing in a channel.

    Parameters
    ----------
    frame : origin midway between the humps, ``out`` along the wire, ``v`` along the pull.
    radius_mm : of their tops along the wire.
    width_mm : of the channel.
    gap_mm : left between them.
    """
    half_gap = max(gap_mm, LEAST_GAP_MM) / 2
    made = []
    for way in (1.0, -1.0):
        top, root = half_gap + radius_mm, half_gap + radius_mm + width_mm / 2
        made.append(
            Solid.hull(
                Solid.rod(frame.point(-width_mm, way * v, 0), frame.point(width_mm, way * v, 0), radius_mm)
                for v in (top, root)
            )
        )
    return made


def material_around(
    site: Site, frame: Frame, line: Floats, width_mm: float, inside_mm: float, missing_mm: float
) -> Solid:
    """Return the material around a channel that reaches out of the wall.

    Beneath and above it runs back to the wall at 45 degrees, so that each half prints without support; where
    floor or roof are nearer than that it stands on the bed.

    Parameters
    ----------
    frame : origin in the middle of the channel at the outer face, ``out`` along it, ``v`` along the pull.
    line : (n, 2) the wire's middle line.
    inside_mm, missing_mm : how far inside and outside the face it reaches.
    """
    half = width_mm / 2 + site.wall_mm
    seen = frame.seen(np.column_stack([line, np.full(len(line), site.parting_z_mm)]))
    across = seen[seen[:, 2] > -inside_mm - 1e-6, 0]
    sides = (float(across.min()) - half, float(across.max()) + half)
    points = []
    for way, base in ((-1.0, site.base_z_mm("lower")), (1.0, site.base_z_mm("upper"))):
        room = abs(base - site.parting_z_mm)
        tall = min(half, room)
        if tall + missing_mm >= room:
            corners = [(room, -inside_mm), (room, missing_mm)]
        else:
            corners = [(tall, missing_mm), (tall + missing_mm, 0.0), (tall + missing_mm, -inside_mm)]
        points += [frame.point(u, way * v, out) for u in sides for v, out in corners]
    # One body: two that only met along the channel kept a slit of no width between them.
    return Solid.hull_of_points(np.array(points))
