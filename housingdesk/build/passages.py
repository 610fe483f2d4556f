"""The way out of a turning shaft: a round hole through the wall, with a chamfered mouth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from housingdesk.errors import SolidError
from housingdesk.features.seat import ShaftSeat
from housingdesk.features.site import Shaft
from housingdesk.finding import Finding
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats
from housingdesk.spec.zones import ZoneSpec

MEET_MM3 = 0.5  # passages that share less than this touch
STUB_MM = 2.0  # a shaft that stands out by less carries nothing (own choice)
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
    diameter_mm : of the hole.
    cut : what is taken from both halves.
    through_mm : (2, 3) corners of the box around what it takes from the form, its mouth included.
    reaches : whether the shaft's end comes out of the housing.
    aslant : whether it goes out well off square, so that the wall runs out thin on one side of its mouth.
    """

    zone: str
    axis: Floats
    mouth_mm: Floats
    diameter_mm: float
    cut: Solid
    through_mm: Floats
    reaches: bool
    aslant: bool = False


def passage(shaft: Shaft, form: Solid, mouth_chamfer_mm: float, wall_mm: float = 0.0) -> Passage | None:
    """Return a shaft's way out of the outside form, or None where it meets no wall.

    The mouth's chamfer gives way where it would leave less than the wall beside it.
    """
    radius = shaft.diameter_mm / 2 + shaft.clearance_mm
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
    tip = float((shaft.tip_mm - shaft.base_mm) @ shaft.axis)
    return Passage(
        shaft.zone,
        shaft.axis,
        end,
        2 * radius,
        cut,
        (cut & form).bounds,
        tip > mouth,
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


def seats(zones: tuple[ZoneSpec, ...]) -> tuple[ShaftSeat, ...]:
    """Return the seats that turning zones ask for."""
    return tuple(
        ShaftSeat(
            kind="seat",
            name=f"seat of {zone.name}",
            zone=zone.name,
            seat=zone.seat,
            bearing=zone.bearing,
            mouth_mm=zone.mouth_mm,
        )
        for zone in zones
        if zone.purpose == "turning" and zone.seat != "plain"
    )


def passage_findings(
    shafts: tuple[Shaft, ...], passages: tuple[Passage, ...], turning: Iterable[str] = ()
) -> Iterator[Finding]:
    """Tell of turning zones without a way out, of shafts that end inside, and of passages that meet."""
    led_out = {s.zone for s in shafts}
    for name in (n for n in dict.fromkeys(turning) if n not in led_out):
        yield Finding(
            "passage-none",
            "fail",
            f"The {name} turns, but it sticks out of nothing, so the housing has no way out for it.",
            "Pick the faces of its free end as well, or say that it is held.",
        )
    for shaft in shafts:
        mine = [p for p in passages if p.zone == shaft.zone and float(p.axis @ shaft.axis) > 0.999]
        if not mine:
            yield Finding(
                "passage-no-wall",
                "caution",
                f"The {shaft.zone} meets no wall: the housing ends before it.",
                "Let that side reach further out if the wall should guide or guard the shaft.",
                _triple(shaft.base_mm),
            )
            continue
        short = float((mine[0].mouth_mm - shaft.tip_mm) @ shaft.axis)
        if not mine[0].reaches:
            yield Finding(
                "passage-ends-inside",
                "caution",
                f"The end of the {shaft.zone} stays {short:.1f} mm inside its passage.",
                "Let that side reach less far out if something goes on the shaft."
                if shaft.leaves
                else "If something goes on the shaft, let it come out at station Fit: floor and roof are "
                "then measured from the body.",
                _triple(shaft.tip_mm),
            )
        elif -short < STUB_MM:
            yield Finding(
                "passage-stub",
                "caution",
                f"The {shaft.zone} stands only {-short:.1f} mm out of the housing; hardly a part fits on.",
                "Let that side reach less far out.",
                _triple(shaft.tip_mm),
            )
        else:
            yield Finding(
                "passage-out",
                "pass",
                f"The {shaft.zone} stands {-short:.1f} mm out of the housing.",
                where_mm=_triple(shaft.tip_mm),
            )
        if mine[0].aslant:
            yield Finding(
                "passage-aslant",
                "caution",
                f"The {shaft.zone} goes out aslant, so the wall runs out thin on one side of its mouth.",
                "Turn the part until the shaft points square to a side.",
                _triple(mine[0].mouth_mm),
            )
    for one, other in combinations(passages, 2):
        shared = one.cut & other.cut
        if one.zone != other.zone and shared.volume_mm3 > MEET_MM3:
            yield Finding(
                "passages-meet",
                "caution",
                f"The passages of {one.zone} and {other.zone} meet inside the wall.",
                "See that the shafts do not touch, and that the wall between them is not needed.",
                _triple(shared.bounds.mean(axis=0)),
            )


def _triple(point: Floats) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return (x, y, z)
