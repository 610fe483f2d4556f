"""Which faces of the parts have a colour of their own on the bench: zones, and what is picked."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np

from housingdesk.geometry.types import Ints
from housingdesk.ui.desk import Desk
from housingdesk.ui.facepick import NOTHING, FacePick
from housingdesk.view3d.paint import Paint, pick_paint, zone_paint
from housingdesk.view3d.palette import Palette

_NO_FACES = np.zeros(0, np.int32)


class Painter:
    """Makes paints, and the same one again while nothing about it has changed."""

    def __init__(self) -> None:
        self._kept: dict[int, tuple[Hashable, Paint]] = {}

    def paints(self, desk: Desk, hovered: FacePick, colours: Palette) -> tuple[Paint | None, ...]:
        """Return a paint for each part of the result shown, None where the ghost's own colour serves."""
        result = desk.result
        if result is None or len(result.zone_faces) != len(result.parts):
            return ()
        purposes = tuple(z.purpose for z in result.spec.fit.zones)
        out: list[Paint | None] = []
        for number, zones in enumerate(result.zone_faces):
            name = result.spec.parts[number].name
            pick = desk.faces if desk.faces is not None and desk.faces.part == name else NOTHING
            over = hovered if hovered.part == name else NOTHING
            if not (pick.chosen or over.chosen or (zones >= 0).any()):
                out.append(None)
                continue
            key = (id(zones), purposes, pick, over, colours.ghost)
            if number not in self._kept or self._kept[number][0] != key:
                paint = zone_paint(zones, purposes, colours)
                if pick.chosen or over.chosen:
                    paint = pick_paint(paint, _faces(desk, pick), _faces(desk, over), colours)
                self._kept[number] = (key, paint)
            out.append(self._kept[number][1])
        return tuple(out)


def _faces(desk: Desk, pick: FacePick) -> Ints:
    found = desk.patches_of(pick.part)
    return pick.faces(found) if found is not None and pick.chosen else _NO_FACES
