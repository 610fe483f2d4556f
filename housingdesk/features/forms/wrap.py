"""A smooth skin that follows the parts: their room grown again by the wall."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from housingdesk.features.forms.form import Form
from housingdesk.features.forms.ground import Ground, Nose, Outside
from housingdesk.geometry.offset import sweep_cavity
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.stretch import stretched
from housingdesk.geometry.types import Floats

CORNERS_MM = 0.15  # so much larger than its room a cavity may be at corners of rounds; 0.144 was measured
_STEPS = 12
_RAY_MM = 0.05


class Wrap(Form):
    """A skin of even thickness around the parts, with flats to print on."""

    TITLE: ClassVar[str] = "Wrap around the part"
    SENTENCE: ClassVar[str] = (
        "A smooth skin that follows the part, with a floor and a roof flat over {flat_pct} of its area."
    )
    SIDES_NOTE: ClassVar[str] = (
        "Extra room draws the skin out on that side; "
        "a fixed side cuts it straight, whatever wall that leaves."
    )
    ORDER: ClassVar[int] = 50

    kind: Literal["wrap"] = "wrap"
    flat_pct: int = Field(
        default=50,
        ge=30,
        le=100,
        title="flat share of floor and roof",
        description="Each half is printed on its flat: the skin goes straight down to the bed from where it\n"
        "has this share of its whole area.  More holds better and overhangs less; 30 % is the least\n"
        "for a sure hold.",
    )

    def build(self, ground: Ground) -> Outside:
        """Sweep the parts, grown by room and wall, along the pull into each half."""
        ground = ground.straight
        halves = [self._half(ground, up=True), self._half(ground, up=False)]
        noses = [bar for nose in ground.noses if (bar := _bar(nose, halves)) is not None]
        low, high = ground.outer_mm[:, 2].tolist()
        bars = Solid.union(noses).above(low).below(high)
        lower, upper = (_on_limits(half | bars if noses else half, ground) for half in halves)
        return Outside(lower, upper, ground.wall_mm)

    def _half(self, ground: Ground, *, up: bool) -> Solid:
        tris, reach = _drawn_out(ground)
        reach = reach + ground.wall_mm + CORNERS_MM
        skin = sweep_cavity(tris, reach, up=up, seal_mm=ground.seal_mm, tolerance_mm=ground.tolerance_mm)
        low, high = ground.outer_mm[:, 2].tolist()
        base, tip = (low, high) if up else (high, low)
        # Where the floor is to be thicker than the wall, all that faces the bed is thickened straight down.
        thicker = base - skin.bounds[0 if up else 1, 2]
        if thicker * (base - tip) > 0:
            skin = skin.shifted((0.0, 0.0, thicker))
        body = skin.above(low).below(high)
        return Solid.union([body, _foot(skin, base, tip, self.flat_pct / 100)])


def _bar(nose: Nose, halves: list[Solid]) -> Solid | None:
    """Return the wall about a way out up to where its axis leaves the skin, None where it does not run in it.

    A skin rounds off around the hole, and would leave its wall thin at the mouth.
    """
    far = float(np.linalg.norm([np.ptp(half.bounds, axis=0) for half in halves], axis=1).max())
    ray = Solid.rod(nose.base_mm, nose.base_mm + far * nose.axis, _RAY_MM)
    met = [m for half in halves if not (m := half & ray).is_empty]
    if not met:
        return None
    out = max(float(((m.mesh().vertices - nose.base_mm) @ nose.axis).max()) for m in met)
    if abs(nose.axis[2]) > 0.5:  # floor and roof cut it off level, however it slants
        out += nose.radius_mm
    return Solid.rod(nose.base_mm, nose.base_mm + out * nose.axis, nose.radius_mm, outside=True)


def _drawn_out(ground: Ground) -> tuple[Floats, Floats]:
    """Return surfaces and their room, drawn out to the sides that reach further than the wall needs."""
    tris, reach = [ground.tris], [ground.reach]
    for by in ground.stretches:
        length = float(np.linalg.norm(by))
        more = stretched(np.concatenate(tris), by / length, length)
        tris.append(more)
        reach.append(np.full(len(more), float(ground.reach.max())))
    return np.concatenate(tris), np.concatenate(reach)


def _foot(skin: Solid, base_mm: float, tip_mm: float, share: float) -> Solid:
    """Return a straight piece from the bed up to where the skin has its share of the whole area.

    A swept skin only widens away from the bed, so the piece lies within its shadow.
    """
    wanted = share * skin.section_at(tip_mm - np.sign(tip_mm - base_mm) * 1e-3).area_mm2
    near, far = base_mm, (base_mm + tip_mm) / 2
    for _ in range(_STEPS):
        middle = (near + far) / 2
        near, far = (near, middle) if skin.section_at(middle).area_mm2 >= wanted else (middle, far)
    low, high = sorted((base_mm, far))
    return Solid.prism(skin.section_at(far), low, high)


def _on_limits(body: Solid, ground: Ground) -> Solid:
    """Return the body cut by the fixed sides."""
    if not ground.fixed:
        return body
    return body & Solid.box(*ground.limits_mm)
