"""Zones that stay on their faces while the readings of a part are corrected."""

from __future__ import annotations

import numpy as np

from housingdesk.geometry.types import Floats
from housingdesk.spec.shapes import Block, Plate, Round, Shape
from housingdesk.spec.zones import PatchRef, ZoneSpec

_NEAR_MM = 0.1  # how far a face found on the part may be from the surface of the shape that it belongs to
_ALONG = 1 - 1e-4  # cosine between directions that are the same


def zones_followed(
    zones: tuple[ZoneSpec, ...], part: str, before: tuple[Shape, ...], after: tuple[Shape, ...]
) -> tuple[ZoneSpec, ...]:
    """Return zones whose faces have moved and grown with the shapes that they lie on.

    Parameters
    ----------
    part : name of the part made of the shapes; zones of others stay as they are.
    before, after : its shapes, each in its place of the list; where shapes were added or taken away the
        others have not changed, and nothing has to follow.
    """
    if len(before) != len(after) or before == after:
        return zones
    return tuple(
        z.model_copy(update={"patches": tuple(_in_list(p, before, after) for p in z.patches)})
        if z.part == part
        else z
        for z in zones
    )


def _in_list(face: PatchRef, before: tuple[Shape, ...], after: tuple[Shape, ...]) -> PatchRef:
    """Follow the shape that a face lies on; of several the last, which was put over the others."""
    for old, new in zip(reversed(before), reversed(after), strict=True):
        moved = followed(face, old, new)
        if moved is not None:
            return moved
    return face


def followed(face: PatchRef, before: Shape, after: Shape) -> PatchRef | None:
    """Return a face of one shape as it is on that shape's corrected self, or None where it is not its face.

    A face keeps its share of the shape's sizes: one that begins a tenth up a round still does.
    """
    if type(before) is not type(after):
        return None
    turn, size = _own_frame(before)
    centre, axis = turn.T @ (np.array(face.centre_mm) - before.at), turn.T @ np.array(face.axis)
    to_turn, to_size = _own_frame(after)
    if isinstance(before, Plate) and isinstance(after, Plate) and face.kind == "cylinder":
        local, diameter = _hole(face, centre, before, after), after.hole_mm
    elif face.kind == "cylinder":
        on = isinstance(before, Round) and _is_side(face, centre, axis, before)
        local = centre / size * to_size if on else None
        diameter = after.diameter_mm if isinstance(after, Round) else 0.0
    elif face.kind == "flat":
        local, diameter = _flat(centre, axis, before, after), None
    else:
        return None
    if local is None:
        return None
    x, y, z = (after.at + to_turn @ local).tolist()
    u, v, w = (to_turn @ axis).tolist()
    if diameter is None:
        across = np.abs(axis) < 0.5
        grown = np.sort(to_size[across]) / np.sort(size[across])
        sizes = (face.size_mm * float(grown[-1]), face.length_mm * float(grown[0]))
    else:
        along = int(np.argmax(np.abs(axis)))
        sizes = (diameter, face.length_mm * float(to_size[along] / size[along]))
    return face.model_copy(
        update={"centre_mm": (x, y, z), "axis": (u, v, w), "size_mm": sizes[0], "length_mm": sizes[1]}
    )


def _own_frame(shape: Shape) -> tuple[Floats, Floats]:
    """Return (3, 3) a shape's own axes as columns, and (3,) its sizes along them."""
    if isinstance(shape, Round):
        turn = np.column_stack([shape.axis, shape.flat_normal, np.cross(shape.axis, shape.flat_normal)])
        return turn, np.array([shape.long_mm, shape.diameter_mm, shape.diameter_mm])
    if isinstance(shape, Block):
        return np.eye(3), np.array([shape.long_mm, shape.wide_mm, shape.high_mm])
    assert isinstance(shape, Plate)
    return np.eye(3), np.array([shape.long_mm, shape.wide_mm, shape.thick_mm])


def _begins(shape: Shape) -> Floats:
    """Return (3,) where a shape begins, seen from its place, in shares of its own sizes."""
    return np.array([0.0, -0.5, -0.5] if isinstance(shape, Round) else [-0.5, -0.5, 0.0])


def _is_side(face: PatchRef, centre: Floats, axis: Floats, shape: Round) -> bool:
    """Whether a round face is the side of a round; centre and axis in the round's own frame."""
    return (
        abs(axis[0]) > _ALONG
        and abs(face.size_mm - shape.diameter_mm) < _NEAR_MM
        and float(np.hypot(centre[1], centre[2])) < _NEAR_MM
        and -_NEAR_MM < centre[0] < shape.long_mm + _NEAR_MM
    )


def _hole(face: PatchRef, centre: Floats, before: Plate, after: Plate) -> Floats | None:
    """Return the middle of a plate's hole on the corrected plate."""
    apart = np.array([before.apart_x_mm, before.apart_y_mm]) / 2
    near = float(np.linalg.norm(np.abs(centre[:2]) - apart)) < _NEAR_MM
    if not near or abs(face.size_mm - before.hole_mm) > _NEAR_MM:
        return None
    to = np.sign(centre[:2]) * np.array([after.apart_x_mm, after.apart_y_mm]) / 2
    return np.array([*to, centre[2] / before.thick_mm * after.thick_mm])


def _flat(centre: Floats, normal: Floats, before: Shape, after: Shape) -> Floats | None:
    """Return the middle of a flat on the corrected shape, in its own frame."""
    (_, size), (_, to_size), low = _own_frame(before), _own_frame(after), _begins(before)
    along = int(np.argmax(np.abs(normal)))
    share = centre / size
    slack = _NEAR_MM / size
    if abs(normal[along]) < _ALONG or (share < low - slack).any() or (share > low + 1 + slack).any():
        return None
    local: Floats = share * to_size
    if isinstance(before, Round) and isinstance(after, Round) and along == 1:
        if abs(centre[1] - (before.diameter_mm / 2 - before.flat_mm)) > _NEAR_MM or before.flat_mm <= 0:
            return None
        local[1] = after.diameter_mm / 2 - after.flat_mm
        return local
    at_end = min(abs(share[along] - low[along]), abs(share[along] - low[along] - 1)) < slack[along]
    return local if at_end and not (isinstance(before, Round) and along == 2) else None
