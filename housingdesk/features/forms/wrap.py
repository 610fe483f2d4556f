"""A smooth skin that follows the parts: their room grown again by the wall."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np
from pydantic import Field

from housingdesk.features.forms.form import Form
from housingdesk.features.forms.ground import OVER_MM, Ground, Outside
from housingdesk.geometry.offset import sweep_cavity
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.stretch import stretched
from housingdesk.geometry.types import Floats

_STEPS = 12


class Wrap(Form):
    """A skin of even thickness around the parts, with flats to print on."""

    TITLE: ClassVar[str] = "Wrap around the part"
    SENTENCE: ClassVar[str] = (
        "A smooth skin that follows the part, with a floor and a roof flat over {flat_pct} % of its area."
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
        return Outside(self._half(ground, up=True), self._half(ground, up=False), ground.wall_mm)

    def _half(self, ground: Ground, *, up: bool) -> Solid:
        tris, reach = _drawn_out(ground)
        reach = reach + ground.wall_mm + OVER_MM
        skin = sweep_cavity(tris, reach, up=up, seal_mm=ground.seal_mm, tolerance_mm=ground.tolerance_mm)
        low, high = ground.outer_mm[:, 2].tolist()
        base, tip = (low, high) if up else (high, low)
        # Where the floor is to be thicker than the wall, all that faces the bed is thickened straight down.
        thicker = base - skin.bounds[0 if up else 1, 2]
        if thicker * (base - tip) > 0:
            skin = skin.shifted((0.0, 0.0, thicker))
        body = skin.above(low).below(high)
        return _on_limits(Solid.union([body, _foot(skin, base, tip, self.flat_pct / 100)]), ground)


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
