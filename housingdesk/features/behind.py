"""What of the part lies behind an opening: its flats, its screw holes, its body."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from housingdesk.errors import SolidError
from housingdesk.features.opening import Frame
from housingdesk.features.site import Site
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats

PARALLEL = float(np.cos(np.radians(3.0)))
NEAR_MM = 3.0  # a click this far beside a face of the part still means it


@dataclass(frozen=True, eq=False)
class Seen:
    """A patch of the part as seen through a side.

    Attributes
    ----------
    low_mm, high_mm : (2,) corners of the rectangle around it, across and up.
    out_mm : how far out it lies, at its outermost.
    """

    patch: Patch
    low_mm: Floats
    high_mm: Floats
    out_mm: float

    @property
    def middle_mm(self) -> Floats:
        """(2,) middle of the rectangle."""
        return np.asarray((self.low_mm + self.high_mm) / 2)

    def away_mm(self, place: Floats) -> float:
        """Return how far (2,) lies outside the rectangle, 0 within."""
        return float(np.linalg.norm(np.maximum(0.0, np.maximum(self.low_mm - place, place - self.high_mm))))


def patches_along(site: Site, frame: Frame) -> Iterator[Seen]:
    """Yield flats that look out of the side, and rounds whose axis does."""
    for name, patches in site.patches.items():
        mesh = site.parts[name]
        for patch in patches:
            along = float(patch.axis @ frame.out)
            if (along if patch.kind == "flat" else abs(along)) < PARALLEL:
                continue
            seen = frame.seen(mesh.vertices[np.unique(mesh.faces[patch.faces])])
            yield Seen(patch, seen[:, :2].min(axis=0), seen[:, :2].max(axis=0), float(seen[:, 2].max()))


def face_at(site: Site, frame: Frame, place: Floats) -> Seen | None:
    """Return the face of the part that (2,) means: the outermost flat or button there, or the nearest."""
    shown = [
        s
        for s in patches_along(site, frame)
        if (s.patch.kind == "flat" or s.patch.side == "outside") and s.away_mm(place) <= NEAR_MM
    ]
    return min(shown, key=lambda s: (round(s.away_mm(place), 1), -s.out_mm, s.patch.area_mm2), default=None)


def screw_holes(site: Site, frame: Frame, least_mm: float = 1.0, most_mm: float = 8.0) -> list[Seen]:
    """Return round holes of the part that are open to a side, of diameters between two limits."""
    return [
        s
        for s in patches_along(site, frame)
        if s.patch.kind == "cylinder"
        and s.patch.side == "inside"
        and s.patch.is_whole
        and least_mm <= s.patch.diameter_mm <= most_mm
        and not covered(site, frame, s.middle_mm, s.out_mm + 1e-3)
    ]


def covered(site: Site, frame: Frame, place: Floats, out_mm: float) -> bool:
    """Tell whether any of the part lies further out than (2,) at a distance along the way out."""
    for mesh in site.parts.values():
        tris = frame.seen(mesh.vertices)[mesh.faces]
        near = (tris[:, :, :2].min(axis=1) <= place).all(axis=1)
        near &= (tris[:, :, :2].max(axis=1) >= place).all(axis=1) & (tris[:, :, 2].max(axis=1) > out_mm)
        a, b, c = (tris[near, i] for i in range(3))
        # Barycentric weights in the plane; a triangle seen edge-on covers nothing.
        weights = np.stack([_twice_area(b, c, place), _twice_area(c, a, place), _twice_area(a, b, place)], 1)
        whole = weights.sum(axis=1)
        seen = np.abs(whole) > 1e-12
        share = weights[seen] / whole[seen, None]
        depth = np.einsum("ij,ij->i", share, np.stack([a, b, c], 1)[seen, :, 2])
        if ((share >= -1e-9).all(axis=1) & (depth > out_mm)).any():
            return True
    return False


def _twice_area(a: Floats, b: Floats, point: Floats) -> Floats:
    d, e = a[:, :2] - point, b[:, :2] - point
    return np.asarray(d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0])


def part_within(site: Site, body: Solid) -> bool:
    """Tell whether any of the part lies in a body; of a part with gaps in its surface, its corners only."""
    low, high = body.bounds
    for mesh in site.parts.values():
        try:
            if (Solid.from_mesh(mesh) & body).volume_mm3 > 1e-6:
                return True
        except SolidError:
            if ((mesh.vertices > low) & (mesh.vertices < high)).all(axis=1).any():
                return True
    return False
