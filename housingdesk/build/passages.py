"""The way out of a turning shaft: a round hole through the wall, with a chamfered mouth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from housingdesk.errors import SolidError
from housingdesk.features.kept_open import KeptOpen
from housingdesk.features.seat import ShaftSeat
from housingdesk.features.site import Shaft
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats
from housingdesk.spec.zones import ZoneSpec

ASLANT = 0.2  # tangent; about 11 degrees off square
SLICE_MM = 0.1
BEYOND_MM = 1.0  # cuts reach this far past the outer face, so that no skin stays


@dataclass(frozen=True, eq=False)
class Passage:
    """A shaft's hole through the wall, build frame.

    Attributes
    ----------
    zone : the turning zone it is for.
    axis : (3,) unit, pointing out.
    mouth_mm : (3,) on the axis, at the outer face.
    diameter_mm, widest_mm : of the hole, and of its mouth.
    cut : what is taken from both halves.
    through_mm : (2, 3) corners of the box around what it takes from the form, its mouth included.
    aslant : whether it goes out well off square, so that the wall runs out thin on one side of its mouth.
    """

    zone: str
    axis: Floats
    mouth_mm: Floats
    diameter_mm: float
    widest_mm: float
    cut: Solid
    through_mm: Floats
    aslant: bool = False


def passage(shaft: Shaft, form: Solid, mouth_chamfer_mm: float, wall_mm: float = 0.0) -> Passage | None:
    """Return a shaft's way out of the outside form, or None where it meets no wall.

    The mouth's chamfer gives way where it would leave less than the wall beside it.
    """
    radius = shaft.hole_mm / 2
    size = float(np.linalg.norm(np.ptp(form.bounds, axis=0))) + 10.0
    ray = Solid.rod(shaft.base_mm, shaft.base_mm + size * shaft.axis, 0.05)
    inside = form & ray
    if inside.is_empty:
        return None
    mouth = _furthest(inside, shaft)
    end = shaft.base_mm + shaft.axis * mouth
    try:
        # Where the shaft leaves aslant, material beside the axis reaches further out than on it.
        past = max(mouth, _furthest(form & _bar(shaft, size, radius), shaft))
        profile = [(radius, 0.0), (radius, past + BEYOND_MM)]
        # Looked at a wall's depth in, where a curved outside has come back to its breadth.
        room = _beside(
            shaft, form, mouth - max(mouth_chamfer_mm, wall_mm), radius + mouth_chamfer_mm + wall_mm
        )
        mouth_chamfer_mm = min(mouth_chamfer_mm, room - radius - wall_mm)
        if mouth_chamfer_mm > 0:
            wide = radius + mouth_chamfer_mm
            open_at = max(past, _furthest(form & _bar(shaft, size, wide), shaft))
            # A chamfer square to a slanting shaft would eat deep into one side of its mouth.
            if open_at - mouth < mouth_chamfer_mm:
                start = max(0.0, mouth - mouth_chamfer_mm)
                narrow = wide - (mouth - start)
                foot = [(radius, 0.0)] if start > 0.0 else []
                profile = [*foot, (narrow, start), (wide, mouth), (wide, open_at + BEYOND_MM)]
        turn = rotation_to(np.array([0.0, 0.0, 1.0]), shaft.axis)
        turn[:3, 3] = shaft.base_mm
        ends = [(0.0, profile[0][1]), *profile, (0.0, profile[-1][1])]
        cut = Solid.turned(0.0, 0.0, ends, outside=True).moved(turn)
    except SolidError:
        return None
    return Passage(
        shaft.zone,
        shaft.axis,
        end,
        2 * radius,
        2 * radius + 2 * max(mouth_chamfer_mm, 0.0),
        cut,
        (cut & form).bounds,
        past - mouth > ASLANT * radius,
    )


def _furthest(body: Solid, shaft: Shaft) -> float:
    """Return how far along a shaft a body reaches from where the shaft leaves its part, mm."""
    return float(((body.mesh().vertices - shaft.base_mm) @ shaft.axis).max())


def _bar(shaft: Shaft, length_mm: float, radius_mm: float) -> Solid:
    """Return a bar about a shaft's axis from where it leaves its part."""
    return Solid.rod(shaft.base_mm, shaft.base_mm + length_mm * shaft.axis, radius_mm, outside=True)


def _beside(shaft: Shaft, form: Solid, at_mm: float, far_mm: float) -> float:
    """Return how far a form reaches to all sides of a shaft, so far along it; at most ``far_mm``."""
    at = shaft.base_mm + at_mm * shaft.axis
    missing = Solid.rod(at - SLICE_MM * shaft.axis, at, far_mm) - form
    if missing.is_empty:
        return far_mm
    mesh = missing.mesh()
    points = mesh.vertices - shaft.base_mm
    points -= np.outer(points @ shaft.axis, shaft.axis)
    tails, sides = points[mesh.faces], points[np.roll(mesh.faces, -1, axis=1)] - points[mesh.faces]
    square = np.maximum((sides**2).sum(axis=2), 1e-18)
    nearest = tails + np.clip(-(tails * sides).sum(axis=2) / square, 0, 1)[..., None] * sides
    return float(np.linalg.norm(nearest, axis=2).min())


def seat_name(zone: str) -> str:
    """Return the name of a turning zone's seat among the features."""
    return f"Seat of the {zone}"


def seats(zones: tuple[ZoneSpec, ...]) -> tuple[ShaftSeat, ...]:
    """Return the seats that turning zones ask for."""
    return tuple(
        ShaftSeat(
            kind="seat",
            name=seat_name(zone.name),
            zone=zone.name,
            seat=zone.seat,
            bearing=zone.bearing,
            bore_mm=zone.bore_mm,
            outside_mm=zone.outside_mm,
            width_mm=zone.width_mm,
            mouth_mm=zone.mouth_mm,
        )
        for zone in zones
        if zone.purpose == "turning" and zone.seat != "plain"
    )


def kept_open(zones: tuple[ZoneSpec, ...]) -> tuple[KeptOpen, ...]:
    """Return the ways through the wall that zones ask for which are kept open."""
    return tuple(
        KeptOpen(kind="kept-open", name=f"Way to the {z.name}", zone=z.name, mouth_mm=z.mouth_mm)
        for z in zones
        if z.purpose == "open"
    )
