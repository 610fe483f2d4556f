"""Play: how far a part can still shift and turn inside the closed housing before it touches.

Measured on the finished halves and the untouched part.  Every figure is the exact first contact of the
two triangulated surfaces (see `contact`), within rounding of some 1e-6 mm, and is found without the engine
that made the halves.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import ArrayLike

from housingdesk.geometry.contact import first_contacts
from housingdesk.geometry.contact_surface import Surface, loose_surface, solid_surface, together
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.freedom import Play as Play
from housingdesk.geometry.freedom import Range
from housingdesk.geometry.types import Floats, Mesh

CRUSH_MM = (
    0.6  # deepest a crushed rib or pad may lie in the part (interference is a tenth or two in practice)
)
_WINDOWS_MM = (0.3, 1.2, 4.8, 19.2)
_WINDOWS_DEG = (1.0, 4.0, 16.0, 64.0)


def play(
    part: Mesh,
    halves: Sequence[Mesh],
    axis_point_mm: ArrayLike,
    axis_dir: ArrayLike,
    limit_mm: float = 10.0,
    limit_deg: float = 180.0,
    crush_mm: float = CRUSH_MM,
) -> Play:
    """Return the play of a part in its closed housing.

    Parameters
    ----------
    part : the untouched part; open, flipped or overlapping faces do no harm.
    halves : closed, outward-facing solids in the same frame, where they are when the housing is shut.
    axis_point_mm, axis_dir : (3,) a point of the axis to turn about, and its direction, not zero.
    limit_mm, limit_deg : bounds of the search, the angle at most 180.
    crush_mm : where the part lies in a half by up to this, as in a crushed rib, it has no room towards it.

    Notes
    -----
    Exact for the triangles given, while the part starts clear of the halves or in them no deeper than
    ``crush_mm``.  A surface along which the part slides does not stop it.  Where a part fits without any gap,
    an edge it would just slide past may be counted as met.

    Raises
    ------
    ValueError
        For an axis without direction, an angle limit beyond 180, or no halves.
    """
    direction = np.asarray(axis_dir, float).reshape(3)
    if not np.linalg.norm(direction) > 0:
        raise ValueError("axis_dir has no direction")
    if not 0 < limit_deg <= 180:
        raise ValueError("limit_deg must lie in 0 .. 180")
    if not halves:
        raise ValueError("halves is empty")
    moving = loose_surface(part)
    still = together([solid_surface(half) for half in halves])
    point = np.asarray(axis_point_mm, float).reshape(3)

    def room(motion: tuple[Floats, bool]) -> Range:
        axis, turning = motion
        return _both_ways(moving, still, axis, point, turning, limit_mm, limit_deg, crush_mm)

    axes = list(np.eye(3))
    motions = [*((axis, False) for axis in axes), *((axis, True) for axis in axes)]
    along = np.abs(direction @ np.eye(3)) >= np.linalg.norm(direction) * (1 - 1e-15)
    if not along.any():
        motions.append((direction, True))
    # The compiled loops let go of the interpreter.  Each motion has its own copy of all surfaces: no more
    # of them at a time than there are cores.
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        x, y, z, turn_x, turn_y, turn_z, *other = pool.map(room, motions)
    if other:
        turn = other[0]
    else:  # about a build axis: the same turns, perhaps the other way round
        number = int(along.argmax())
        turn = (turn_x, turn_y, turn_z)[number]
        turn = turn if direction[number] > 0 else (turn[1], turn[0])
    return Play(x, y, z, turn, turn_x, turn_y, turn_z, limit_mm, limit_deg)


def _both_ways(
    moving: Surface,
    still: Surface,
    axis: Floats,
    point: Floats,
    turning: bool,
    limit_mm: float,
    limit_deg: float,
    crush_mm: float,
) -> Range:
    """Return the motion against and along an axis, found in the frame where it is the plain one."""
    frame = rotation_to(axis, np.array([0.0, 0.0, 1.0] if turning else [1.0, 0.0, 0.0]))
    frame[:3, 3] = -frame[:3, :3] @ point
    part, solid = moving.moved(frame), still.moved(frame)
    if not turning:
        return first_contacts(part, solid, False, limit_mm, _WINDOWS_MM, crush_mm)
    windows = tuple(float(w) for w in np.radians(_WINDOWS_DEG))
    limit = float(np.radians(limit_deg))
    back, forth = first_contacts(part, solid, True, limit, windows, crush_mm)
    return _degrees(back, limit, limit_deg), _degrees(forth, limit, limit_deg)


def _degrees(angle: float, limit: float, limit_deg: float) -> float:
    """Return an angle in degrees, the limit as it was given."""
    return limit_deg if angle >= limit else float(np.degrees(angle))
