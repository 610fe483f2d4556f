"""What marks share: faces to read from outside, a thin layer of the outside form, what is left behind it."""

from __future__ import annotations

import numpy as np

from housingdesk.errors import SpecError
from housingdesk.features.opening import Face, Frame
from housingdesk.features.site import Site, Unparted
from housingdesk.geometry.measure import distances
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Side

PRINTABLE_MM = (
    1.2  # three lines of a 0.4 mm nozzle: thinner, light and the mark show inside (common practice)
)
BEYOND_MM = 1.0
VIEW_MM = 0.3  # what stands so near before a mark covers it; less than heads keep from a wall
_THROUGH_MM = 0.01
_LEAST_DIP_MM = 4.0  # a mark follows an outside that falls away so far behind its foremost point
_X, _Y, _Z = np.eye(3)

# Across and up as somebody reads who looks at the face; for the floor the housing is tilted backward.
READ: dict[Face, Frame] = {
    "left": Frame(-_Y, _Z, -_X),
    "right": Frame(_Y, _Z, _X),
    "front": Frame(_X, _Z, -_Y),
    "back": Frame(-_X, _Z, _Y),
    "floor": Frame(_X, -_Y, -_Z),
    "roof": Frame(_X, _Y, _Z),
}


def place_on(site: Unparted, face: Face, across_mm: float | None, up_mm: float | None) -> tuple[float, float]:
    """Return a place on a face; None is the face's middle."""
    middle = READ[face].seen(site.outer_mm.mean(axis=0))
    return (
        float(middle[0]) if across_mm is None else across_mm,
        float(middle[1]) if up_mm is None else up_mm,
    )


def layer(form: Solid, face: Face, area: Outline, depth_mm: float) -> Solid:
    """Return the outermost material under an area of a face, ``depth_mm`` deep along the face's direction.

    It follows an outside that is not flat.  A negative depth gives a layer that lies on the outside.

    Raises
    ------
    SpecError : there is no outside under the area.
    """
    frame = READ[face]
    far = float(np.abs(frame.seen(form.bounds)[:, 2]).max()) + abs(depth_mm) + BEYOND_MM
    column = form & frame.body(area, -far, far)
    if column.is_empty:
        raise SpecError("There is no outside at that place of this side; move it onto the side.")
    front = float(frame.seen(column.mesh().vertices)[:, 2].max())
    dip = max(_LEAST_DIP_MM, float(np.ptp(area.bounds, axis=0).max()) / 2)
    near = frame.body(area, front - dip - abs(depth_mm), far)
    shift = -depth_mm * frame.out
    # The bottoms of a mark are the mark's, not the form's: they are no outer walls.
    moved = form.shifted(shift).anew()
    return (form & near) - moved if depth_mm > 0 else (moved & near) - form


def shown(form: Solid, face: Face, area: Outline, depth_mm: float) -> tuple[Solid, Solid]:
    """Return what must stay whole for a mark to be read, and what must stay free before it.

    Parameters
    ----------
    depth_mm : as of ``layer``; less than 0 where the mark stands out.
    """
    whole = area.hull()
    free = layer(form, face, whole, min(depth_mm, 0.0) - VIEW_MM)
    return layer(form, face, whole, depth_mm), free


def split(site: Site, body: Solid) -> dict[Side, tuple[Solid, ...]]:
    """Return a body's shares of both halves."""
    z = site.parting_z_mm
    shares: dict[Side, Solid] = {"lower": body.below(z), "upper": body.above(z)}
    return {side: (share,) for side, share in shares.items() if not share.is_empty}


def left_behind(site: Site, cut: Solid, search_mm: float) -> float:
    """Return the least material between a cut and the cavity, at most ``search_mm``."""
    least = search_mm
    for side, (share,) in split(site, cut).items():
        low, high = share.bounds
        near = site.near(low - search_mm, high + search_mm).cavity[side]
        z = site.parting_z_mm
        near = near.below(z) if side == "lower" else near.above(z)
        if near.is_empty:
            continue
        least = min(
            least,
            float(distances(share.mesh().vertices, near.mesh()).min()),
            float(distances(near.mesh().vertices, share.mesh()).min()),
        )
    return least


def check_behind(site: Site, cut: Solid, depth_mm: float) -> float:
    """Return the material left behind a cut.

    Raises
    ------
    SpecError : it is less than prints soundly; says what depth would do.
    """
    search = site.wall_mm + depth_mm + BEYOND_MM
    left = left_behind(site, cut, search)
    needed = min(PRINTABLE_MM, 0.75 * site.wall_mm)
    if left < _THROUGH_MM:
        raise SpecError("It would break through into the cavity; make it less deep, or thicken the wall.")
    if left < needed - 1e-6:
        most = depth_mm - (needed - left)
        way = f"make it at most {np.floor(most * 10) / 10:.1f} mm deep" if most >= 0.2 else "raise it instead"
        raise SpecError(
            f"Only {max(left, 0):.2f} mm of wall would be left behind it; {way}, or thicken the wall."
        )
    return left
