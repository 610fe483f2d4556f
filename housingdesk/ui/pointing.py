"""Which half a finding's place lies on, so that its mark is lifted with it.  No widgets."""

from __future__ import annotations

import numpy as np

from housingdesk.build.results import BuildResult
from housingdesk.finding import Finding
from housingdesk.geometry.measure import distances
from housingdesk.geometry.types import SIDES, Floats, Mesh, Side

_HAIR_MM2 = 1e-9  # what rounding may cost


def half_at(finding: Finding, result: BuildResult | None) -> Side | None:
    """Return the half that a finding's place lies on, or None where it lies on a part.

    A finding about one half says so in its code; another's place lies on the body nearest to it.
    """
    for side, face in zip(SIDES, ("floor", "roof"), strict=True):
        if finding.code.endswith((f"-{side}", f"-{face}")):
            return side
    if result is None or finding.where_mm is None:
        return None
    place = np.array(finding.where_mm)
    to_part = min((_away(place, part) for part in result.parts), default=np.inf)
    away = {_away(place, half): side for side, half in result.halves.items()}
    return away[min(away)] if away and min(away) < to_part else None


def _away(place: Floats, mesh: Mesh) -> float:
    """Return how far a place, (3,), is from a surface, mm."""
    if not mesh.triangles:
        return np.inf
    corners = mesh.vertices[mesh.faces]
    # Only triangles whose boxes come nearer than some corner can be the nearest: a few of a million.
    beside = np.maximum(np.maximum(corners.min(axis=1) - place, place - corners.max(axis=1)), 0.0)
    near = (beside**2).sum(axis=1) <= ((mesh.vertices - place) ** 2).sum(axis=1).min() + _HAIR_MM2
    return float(distances(place[None], Mesh(mesh.vertices, mesh.faces[near]))[0])
