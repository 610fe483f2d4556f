"""Places at which the housing may press on the part: flats of the part that face a wall of the cavity."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

from housingdesk.errors import SpecError
from housingdesk.features.records import Contact
from housingdesk.features.site import Site, Unparted
from housingdesk.geometry.measure import inside, nearest, samples
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES, Floats, Mesh, Side, joined

FACING = np.cos(np.radians(8.0))  # a face leaning more is pressed askew
FLAT_MM = 0.06  # how far the part may fall away under a foothold
MORE_MM = 0.16  # so much more than its clearance a gap may be: beyond, something has to pass there
BEHIND_MM = 0.6  # material needed behind the wall's face
BELOW_PLANE_MM = 0.3  # a foothold keeps this far from the parting plane
TOLERATED_MM = 0.03  # by which another face of the part may be nearer than the one pressed on
COVER_MM = 0.05  # contacts are drawn so much larger than needed
_STREWN = 240

DIRECTIONS: dict[str, Floats] = {
    "left": np.array([-1.0, 0, 0]),
    "right": np.array([1.0, 0, 0]),
    "front": np.array([0, -1.0, 0]),
    "back": np.array([0, 1.0, 0]),
    "floor": np.array([0, 0, -1.0]),
    "roof": np.array([0, 0, 1.0]),
}


SIDEWAYS, UP_AND_DOWN = ("left", "right", "front", "back"), ("floor", "roof")
MOST_OF_PART = 0.12  # share of the part's surface that may be touched; the judge of the fit allows 0.15


@dataclass(frozen=True, eq=False)
class Foothold:
    """A place of the part with a wall of one half right opposite.

    Attributes
    ----------
    side, face : the half, and which of its sides.
    at_mm : (3,) on the part.
    out, along, across : (3,) unit: from the part to the wall, along the rib, and across it.
    gap_mm : from the part to the wall.
    """

    side: Side
    face: str
    at_mm: Floats
    out: Floats
    along: Floats
    gap_mm: float

    @cached_property
    def _frame(self) -> Floats:
        return np.array([self.along, np.cross(self.out, self.along), self.out])

    def points(self, offsets_mm: ArrayLike) -> Floats:
        """Return the (n, 3) points so far along, across and outward of the place; offsets (n, 3)."""
        return self.at_mm + np.asarray(offsets_mm, float) @ self._frame


@dataclass(frozen=True)
class Print:
    """The room a foothold needs on the part: half its length, half its width, and what its ends need."""

    half_length_mm: float
    half_width_mm: float
    lead_mm: float = 0.0


class Ground:
    """Where on a site footholds can be."""

    def __init__(self, site: Site, zone: str) -> None:
        self._site = site
        self._wall = site.once(Walls, site.form, zone)

    @cached_property
    def _taken(self) -> Mesh | None:
        """Holes of other features, and what must stay free for them."""
        works = self._site.done.values()
        bodies = [s for w in works for s in (*w.keep_out, *w.taken)]
        # Not united: a point in two of them counts twice as inside, which is inside all the same.
        return joined([body.mesh() for body in bodies]) if bodies else None

    def footholds(self, face: str, side: Side, need: Print, profile: Floats, feet: Floats) -> list[Foothold]:
        """Return all places on one side of one half, in no order.

        What stands there meets nothing else of the part, has a sound foot, and keeps off the parting plane
        and other features.

        Parameters
        ----------
        profile : (n, 3) points of what stands there as (along, across, share of the gap from part to wall).
        feet : (k, 3) where it is to be rooted in the wall, (along, across, depth in the wall).
        """
        z, up = self._site.parting_z_mm, 1.0 if side == "lower" else -1.0
        found = []
        for place in self._wall.footholds(face, side, need, profile, feet):
            # Towards the plane, what runs along the pull also needs room for its end.
            rise = need.half_length_mm + need.lead_mm if place.along[2] else 0.0
            if up * (z - place.at_mm[2]) - rise >= BELOW_PLANE_MM:
                found.append(place)
        if not found or self._taken is None:
            return found
        corners = _corners(need)
        on = np.array([p.points(corners) for p in found])
        behind = on + np.array([(p.gap_mm + BEHIND_MM) * p.out for p in found])[:, None]
        every = np.concatenate([on, behind], axis=1)
        met = inside(every.reshape(-1, 3), self._taken).reshape(every.shape[:2])
        return [found[i] for i in np.flatnonzero(~met.any(axis=1))]


class Walls:
    """Flats of the part with a wall of the cavity right opposite, wherever the plane parts them.

    Nothing here depends on the parting plane, so it is found once while the plane is dragged.
    """

    def __init__(self, housing: Unparted, form: Solid, zone: str) -> None:
        self._housing, self._zone = housing, zone
        self._form = form.mesh()
        self._cavities = {side: solid.mesh() for side, solid in housing.cavity.items()}
        self._parts = joined(tuple(housing.parts.values()))
        self._found: dict[tuple[str, Side, Print, bytes, bytes], list[Foothold]] = {}

    def footholds(self, face: str, side: Side, need: Print, profile: Floats, feet: Floats) -> list[Foothold]:
        """Return all places on one side; see ``Ground.footholds``."""
        key = (face, side, need, profile.tobytes(), feet.tobytes())
        if key not in self._found:
            self._found[key] = self._clear(self._opposite_walls(face, side, need), profile, feet)
        return self._found[key]

    def _clearances(self, part: str, mesh: Mesh) -> Floats:
        """Return for each face of a part its clearance, and NaN where nothing may press on it."""
        housing = self._housing
        if not housing.regions:
            return np.full(mesh.triangles, housing.clearance_mm)
        wanted = np.array(
            [
                r.clearance_mm if r.purpose == "held" and self._zone in ("", r.name) else np.nan
                for r in housing.regions
            ]
        )
        return np.asarray(wanted[housing.region_of[part]])

    def _opposite_walls(self, face: str, side: Side, need: Print) -> list[Foothold]:
        """Return places where a flat lies in front of a wall."""
        out = DIRECTIONS[face]
        upright = out[2] == 0
        ways = [np.array([0.0, 0, 1])] if upright else [np.array([1.0, 0, 0]), np.array([0, 1.0, 0])]
        found: list[Foothold] = []
        for part, mesh in self._housing.parts.items():
            clearances = self._clearances(part, mesh)
            a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
            normal = np.cross(b - a, c - a)
            size = np.linalg.norm(normal, axis=1)
            facing = np.abs(normal @ out) >= FACING * np.maximum(size, 1e-300)
            for clearance in np.unique(clearances[facing & ~np.isnan(clearances)]):
                flats = Mesh(mesh.vertices, mesh.faces[facing & (clearances == clearance)])
                points = samples(flats, _STREWN, seed=3)
                if len(points):
                    found += self._on(flats, points, float(clearance), face, side, ways, need)
        return found

    def _clear(self, places: Sequence[Foothold], profile: Floats, feet: Floats) -> list[Foothold]:
        """Return the places where what stands on the wall meets nothing else of the part, on a sound foot."""
        if not places:
            return []
        shares = profile[:, 2]
        points = np.array([p.points(np.multiply(profile, (1.0, 1.0, p.gap_mm))) for p in places])
        heights = np.array([shares * p.gap_mm for p in places])
        away = nearest(points.reshape(-1, 3), self._parts)[0].reshape(heights.shape)
        good = np.asarray((away >= heights - TOLERATED_MM).all(axis=1), bool)
        roots = np.array([p.points(np.add(feet, (0.0, 0.0, p.gap_mm))) for p in places])
        for side in SIDES:
            mine = np.array([p.side == side for p in places])
            flat = roots[mine].reshape(-1, 3)
            firm = inside(flat, self._form) & ~inside(flat, self._cavities[side])
            good[mine] &= firm.reshape(-1, len(feet)).all(axis=1)
        return [p for p, ok in zip(places, good, strict=True) if ok]

    def _on(
        self,
        flats: Mesh,
        points: Floats,
        clearance: float,
        face: str,
        side: Side,
        ways: Sequence[Floats],
        need: Print,
    ) -> list[Foothold]:
        out = DIRECTIONS[face]
        points = points[self._opposite(points, flats, clearance, out, side)[0]]
        found = []
        for along in ways:
            shifts = _corners(need) @ np.array([along, np.cross(out, along), out])
            every = (points[:, None] + shifts).reshape(-1, 3)
            good, gaps = self._opposite(every, flats, clearance, out, side)
            whole = good.reshape(-1, len(shifts)).all(axis=1)
            gap = gaps.reshape(-1, len(shifts))
            found += [
                Foothold(side, face, points[i], out, along, float(gap[i].max()))
                for i in np.flatnonzero(whole)
            ]
        return found

    def _opposite(
        self, points: Floats, flats: Mesh, clearance: float, out: Floats, side: Side
    ) -> tuple[NDArray[np.bool_], Floats]:
        """Tell which points lie on the flats and have a sound wall right opposite, and their gaps."""
        if not len(points):
            return np.zeros(0, bool), np.zeros(0)
        good = nearest(points, flats)[0] <= FLAT_MM
        gap, at, _ = nearest(points, self._cavities[side])
        good &= (gap >= clearance - 0.05) & (gap <= clearance + MORE_MM)
        good &= np.linalg.norm(at - (points + gap[:, None] * out), axis=1) <= MORE_MM
        behind = points + (gap[:, None] + BEHIND_MM) * out
        some = np.flatnonzero(good)
        good[some] = inside(behind[some], self._form) & ~inside(behind[some], self._cavities[side])
        return good, gap


def _corners(need: Print) -> Floats:
    """Return the (9, 3) corners, sides and middle of a foothold's room as (along, across, 0)."""
    shares = [(u, v, 0.0) for u in (-1.0, 0.0, 1.0) for v in (-1.0, 0.0, 1.0)]
    return np.array(shares) * (need.half_length_mm, need.half_width_mm, 0.0)


def well_apart(found: Sequence[Foothold], count: int, least_mm: float) -> list[Foothold]:
    """Choose up to ``count`` places far from each other; none nearer to another than ``least_mm``."""
    if not found:
        return []
    places = np.array([f.at_mm for f in found])
    if count == 1:
        middle = (places.min(axis=0) + places.max(axis=0)) / 2
        return [found[int(np.linalg.norm(places - middle, axis=1).argmin())]]
    chosen = [int(np.linalg.norm(places - places.mean(axis=0), axis=1).argmax())]
    away = np.linalg.norm(places - places[chosen[0]], axis=1)
    while len(chosen) < count and away.max() >= least_mm:
        chosen.append(int(away.argmax()))
        away = np.minimum(away, np.linalg.norm(places - places[chosen[-1]], axis=1))
    return [found[i] for i in chosen]


def covered(
    place: Foothold, reach_along_mm: float, reach_across_mm: float, press_mm: float
) -> tuple[Contact, ...]:
    """Return balls that cover all within a box around a place, by the reach given, in a row along it."""
    count = max(1, int(np.ceil(2 * reach_along_mm / reach_across_mm)))
    step = 2 * reach_along_mm / count
    radius = float(np.hypot(reach_across_mm, step / 2)) + COVER_MM
    u, v, w = place.out.tolist()
    row = -reach_along_mm + (np.arange(count) + 0.5) * step
    centres = place.points(row[:, None] * (1.0, 0.0, 0.0)).tolist()
    return tuple(Contact((x, y, z), radius, press_mm, (u, v, w)) for x, y, z in centres)


def share_of(contacts: Iterable[Contact], parts: Iterable[Mesh]) -> float:
    """Return the share of the parts' surface that lies in contacts."""
    points = np.concatenate([samples(m, 4000, seed=7) for m in parts])
    return 1.0 - len(free(points, contacts)) / len(points) if len(points) else 0.0


def free(points: Floats, contacts: Iterable[Contact]) -> Floats:
    """Return the (n, 3) points that lie in no contact."""
    spots = list(contacts)
    if not spots or not len(points):
        return points
    centres, radii = np.array([c.centre_mm for c in spots]), np.array([c.radius_mm for c in spots])
    touched = np.zeros(len(points), bool)
    for within in cKDTree(points).query_ball_point(centres, radii):
        touched[within] = True
    return points[~touched]


def halves_of(face: str) -> tuple[Side, ...]:
    """Return the halves that a side of the cavity belongs to, the one to prefer first."""
    if face == "floor":
        return ("lower",)
    return ("upper",) if face == "roof" else ("lower", "upper")


def held_zone(site: Site, zone: str) -> None:
    """Raise SpecError where nothing may press on a zone, or there is none of that name."""
    known = [r.name for r in site.regions if r.purpose == "held"]
    if site.regions and zone not in known:
        raise SpecError(f"There is no held zone '{zone}'; choose one of {', '.join(known) or 'none'}.")


def room_of(site: Site, zone: str) -> float:
    """Return the clearance asked of a zone."""
    return next((r.clearance_mm for r in site.regions if r.name == zone), site.clearance_mm)
