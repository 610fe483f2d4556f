"""Heights of a part that a parting plane is likely to want: axes of level rounds, and level flats."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from housingdesk.geometry.frames import PullDirection, build_frame
from housingdesk.geometry.patches import Patch, find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import PartSpec

MAX_TRIANGLES = 150_000  # beyond this, looking for rounds and flats would keep other work waiting
MOST = 12  # heights that catch; more would leave no free height between them
LEVEL_TILT = 1e-3  # sine of the greatest lean
LEAST_TURN = 0.4  # of a full turn: a rounded edge covers a quarter
LEAST_SHARE = 0.04  # of the footprint's area, for a flat to count
LEAST_DIAMETER_MM = 1.0
APART_MM = 0.2  # heights closer than this are one


def landmark_heights(
    get_mesh: Callable[[str], Mesh], parts: tuple[PartSpec, ...], pull: PullDirection
) -> tuple[float, ...]:
    """Return the heights of the placed parts' landmarks, ascending, mm in the build frame.

    Parameters
    ----------
    get_mesh : gives a part's mesh in file units by its key.

    Notes
    -----
    Rounds are found on the part as its file has it, so that another pull or place asks for no new search.
    Of more than 12 heights those of the largest surfaces are kept.
    """
    scaled = [_scaled(get_mesh(p.mesh_key), p.scale_mm) for p in parts]
    turns = [np.reshape(p.placement, (4, 4)) for p in parts]
    to_build = build_frame([m.moved(t) for m, t in zip(scaled, turns, strict=True)], pull)
    boxes = np.array([m.moved(to_build @ t).bounds for m, t in zip(scaled, turns, strict=True)])
    (x0, y0, _), (x1, y1, top) = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    least_mm2 = LEAST_SHARE * float((x1 - x0) * (y1 - y0))
    found = [
        (patch.area_mm2, float((to_build @ turn @ np.append(patch.centre_mm, 1.0))[2]))
        for mesh, turn in zip(scaled, turns, strict=True)
        if mesh.triangles <= MAX_TRIANGLES
        for patch in find_patches(mesh)
        if _is_landmark(patch, float(abs((to_build @ turn)[2, :3] @ patch.axis)), least_mm2)
    ]
    kept: list[float] = []
    for _, height in sorted(found, reverse=True):
        inside = APART_MM < height < top - APART_MM
        if inside and all(abs(height - other) >= APART_MM for other in kept):
            kept.append(height)
    return tuple(sorted(round(height, 3) for height in kept[:MOST]))


def _scaled(mesh: Mesh, scale: float) -> Mesh:
    return mesh if scale == 1.0 else mesh.moved(np.diag([scale] * 3 + [1.0]))


def _is_landmark(patch: Patch, upright: float, least_mm2: float) -> bool:
    """Whether a plane may want a patch's height; ``upright`` is the cosine of its axis to the pull."""
    if patch.kind == "flat":
        return 1.0 - upright < LEVEL_TILT**2 and patch.area_mm2 >= least_mm2
    level = patch.kind == "cylinder" and upright < LEVEL_TILT
    return level and patch.turn >= LEAST_TURN and patch.diameter_mm >= LEAST_DIAMETER_MM
