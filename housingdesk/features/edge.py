"""The parting edge: what the wall is there, and what bars a joint along it."""

from __future__ import annotations

import numpy as np

from housingdesk.features.site import Site
from housingdesk.geometry.solid import Outline, Solid

LEVELS = 5  # slices of a body that passes the edge: screws are upright, wires lie
HAIR_MM = 0.001
THIN_MM = 0.8  # two lines of a 0.4 mm nozzle: thinner does not print (shop guidance, check-values 4a)


def edge_section(site: Site, depth_mm: float) -> Outline:
    """Return the area of the outside form, with what features have added, within a depth of the plane."""
    z = site.parting_z_mm
    heights = (z, z + depth_mm, z - depth_mm)
    area = site.form.section_at(z)
    for height in heights[1:]:
        area = area & site.form.section_at(height)
    added = [s.section_at(z + way * 0.01) for s, way in _added(site)]
    added += [s.section_at(z) for w in site.done.values() for s in w.stands]
    return Outline.union([area, *added]) if added else area


def barred_at_edge(site: Site, depth_mm: float) -> Outline:
    """Return the area in which no joint may lie: what other features need or keep free near the plane."""
    z = site.parting_z_mm
    bodies = [s for w in site.done.values() for s in (*w.needs, *w.keep_out)]
    return Outline.union(_area_between(s, z - depth_mm, z + depth_mm) for s in bodies)


def _area_between(body: Solid, low_mm: float, high_mm: float) -> Outline:
    """Return the area a body takes between two heights: its shadow where it lies between, else slices."""
    bottom, top = body.bounds[:, 2].tolist()
    if bottom >= high_mm or top <= low_mm:
        return Outline.union([])
    if bottom >= low_mm and top <= high_mm:
        return body.silhouette()
    inside = np.linspace(max(low_mm, bottom) + HAIR_MM, min(high_mm, top) - HAIR_MM, LEVELS)
    return Outline.union(body.section_at(z) for z in inside.tolist())


def _added(site: Site) -> list[tuple[Solid, float]]:
    """Return bodies that features have added at the parting plane, with the way they lie from it."""
    ways = {"lower": -1.0, "upper": 1.0}
    return [
        (s, ways[side])
        for w in site.done.values()
        for side, group in w.add.items()
        for s in group
        if not s.is_empty
    ]
