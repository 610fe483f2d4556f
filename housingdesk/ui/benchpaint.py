"""Which faces of the parts have a colour of their own on the bench: zones, and what is picked."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np

from housingdesk.build.results import BuildResult
from housingdesk.geometry.clearance_map import ClearanceMap, MapOn
from housingdesk.geometry.types import Floats, Ints, Mesh
from housingdesk.ui.desk import Desk
from housingdesk.ui.facepick import NOTHING, FacePick
from housingdesk.view3d.legend import Legend, gap_legend, gap_paint
from housingdesk.view3d.paint import Paint, pick_paint, zone_paint
from housingdesk.view3d.palette import Palette

_NO_FACES = np.zeros(0, np.int32)


class Painter:
    """Makes paints, and the same one again while nothing about it has changed."""

    def __init__(self) -> None:
        self._kept: dict[int, tuple[Hashable, Paint]] = {}
        self._gaps: tuple[ClearanceMap, Palette, tuple[Mesh, Paint, Legend]] | None = None

    def gaps(self, desk: Desk, colours: Palette) -> tuple[Mesh, Paint, Legend] | None:
        """Return parts or cavity cut finely, their colours by the gap, and the scale; None unknown."""
        found, result = desk.gaps, desk.result
        if found is None or result is None:
            return None
        if self._gaps is None or self._gaps[0] is not found or self._gaps[1] is not colours:
            gap, asked = gaps_of(found), asked_of(found, result, desk.gaps_where)
            middles = found.vertices[found.faces].mean(axis=1)
            gap[((middles < result.outer_mm[0]) | (middles > result.outer_mm[1])).any(axis=1)] = np.nan
            legend = gap_legend(gap, asked, colours)
            shown = Mesh(found.vertices, found.faces), gap_paint(gap, asked, legend, colours), legend
            self._gaps = (found, colours, shown)
        return self._gaps[2]

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


def gaps_of(found: ClearanceMap) -> Floats:
    """Return the gap at each face of a map, (m,) mm."""
    return np.asarray(found.distance_mm[found.faces].mean(axis=1))


def asked_of(found: ClearanceMap, result: BuildResult, where: MapOn = "part") -> Floats:
    """Return the clearance asked at each face of a map, (m,) mm; of the cavity that of the nearest zone."""
    fit = result.spec.fit
    asked = np.array([fit.clearance_mm, *(z.clearance_mm for z in fit.zones)])
    of_part = found.source if where == "part" else found.nearest
    return np.asarray(asked[np.concatenate(result.zone_faces)[of_part] + 1])


def _faces(desk: Desk, pick: FacePick) -> Ints:
    found = desk.patches_of(pick.part)
    return pick.faces(found) if found is not None and pick.chosen else _NO_FACES
