"""The way through the wall in front of a zone that is kept open: a connector, a button.

A zone of the fit asks for it (its purpose), so it has no entry of its own among the features.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.behind import covered
from housingdesk.features.feature import Feature
from housingdesk.features.opening import (
    FRAMES,
    Face,
    Frame,
    Way,
    bore,
    cuts,
    face_of,
    near_edge,
    on_the_side,
    reach_of,
    room_in,
    span,
    triple,
)
from housingdesk.features.records import OpeningRecord, Point
from housingdesk.features.site import Site
from housingdesk.features.window import FAR_IN_MM
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats

ASLANT = float(np.cos(np.radians(46.0)))  # faces further off square look out of no side (own choice)
LOOKS_OUT = 0.5  # cosine: what of a zone is in front (own choice)
COUNTS = 0.25  # of the largest share: what looks out of a side by less is no reason to open that (own choice)
ALIKE_MM = 1.0  # sides that are about as near as this are told by how much looks out of them (own choice)
WITHIN_MM = 0.012  # more than the clearance, as rounds of a cavity are
ROUND_ENOUGH = 0.99  # of its hull's area: an outline without dents
SAMPLED = 40  # faces looked at for what lies before them
_NOTHING_MM3 = 0.02
_HAIR_MM = 0.02
_RAY_MM = 0.05


class KeptOpen(Feature):
    """The opening before one zone that the housing must not cover; made from the zone, not by the user."""

    TITLE = "way to what is kept open"
    STATION = "Fit"
    ORDER = 31  # after the user's own openings: what these leave open needs no other

    zone: str
    mouth_mm: float = Field(default=0.6, ge=0, le=5)

    def build(self, site: Site) -> Work:
        """Cut the way, outward from the zone's faces, as wide as they and their clearance.

        Raises
        ------
        SpecError : none of its faces is there.
        """
        found = _patches(site, self.zone)
        if not found:
            raise SpecError(f"None of the faces of the zone {self.zone} is on its part any more.")
        side = _side(site, found)
        if side is None:
            return Work(findings=(self._no_side(site, found),))
        frame = FRAMES[side]
        tris = np.concatenate([mesh_tris(site, name)[p.faces] for name, p in found])
        seen = frame.seen(tris)
        front = float(seen[:, :, 2].max())
        facing = _facing(seen)
        start = float(seen[facing][:, :, 2].min()) if facing.any() else front
        clearance = next(r.clearance_mm for r in site.regions if r.name == self.zone)
        shadow = Outline.shadow(seen)
        if shadow.is_empty:  # the wall of a round alone
            shadow = Outline.polygon(seen[:, :, :2].reshape(-1, 2)).hull()
        works = [
            self._one(site, side, piece, start, front)
            for piece in shadow.grown(clearance + WITHIN_MM).filled().pieces()
        ]
        if not any(w.cut or w.findings for w in works):
            at = triple(frame.at(shadow.bounds.mean(axis=0), front))
            said = f"Nothing of the housing lies before the {self.zone}: it is open to the {side} already."
            return Work(findings=(Finding("kept-open", "pass", said, where_mm=at),))
        return Work(
            cut={s: tuple(b for w in works for b in w.cut.get(s, ())) for s in ("lower", "upper")},
            keep_out=tuple(b for w in works for b in w.keep_out),
            openings=tuple(o for w in works for o in w.openings),
            findings=tuple(f for w in works for f in w.findings),
        )

    def spot(self, site: Site) -> Point | None:
        """Return the middle of its first face."""
        return next((triple(p.centre_mm) for _, p in _patches(site, self.zone)), None)

    def _one(self, site: Site, side: Face, outline: Outline, start_mm: float, front_mm: float) -> Work:
        """Cut before one connected area; nothing where nothing is in front of it."""
        frame, far = FRAMES[side], start_mm + reach_of(site)
        ahead = frame.body(outline, start_mm, far) & site.form
        if ahead.is_empty:
            return Work()
        room = room_in(site, frame.body(outline.grown(_HAIR_MM), start_mm - 1.0, far))
        left = ahead.without([room, *(c for w in site.done.values() for c in w.taken)])
        left = Solid.union(b for b in left.bodies() if b.volume_mm3 > _NOTHING_MM3)
        if left.is_empty:
            return Work()
        middle = outline.bounds.mean(axis=0)
        ray = frame.body(Outline.circle(middle, _RAY_MM), start_mm, far) & site.form
        inner, outer = span(left, frame)
        face = outer if ray.is_empty else span(ray, frame)[1]
        way = Way(start_mm, face, outer, max(face - inner, 0.1))
        at = triple(frame.at(middle, face))
        if near_edge(site, frame, outline, way, 0.0):
            return Work(
                findings=(
                    Finding(
                        "kept-open-none",
                        "fail",
                        f"The way out before the {self.zone} would reach over the edge of the {side}.",
                        "Give the sides beside it more room, or leave it less clearance.",
                        at,
                    ),
                )
            )
        hull = outline.hull()
        chamfer = self.mouth_mm if outline.area_mm2 > ROUND_ENOUGH * hull.area_mm2 else 0.0
        cut = bore(frame, hull if chamfer else outline, way, chamfer)
        width, tall = np.ptp(outline.bounds, axis=0).tolist()
        said = on_the_side(site, frame, outline, way, self.name)
        return Work(
            cut=cuts([cut], site.parting_z_mm),
            keep_out=(frame.body(outline, way.inner_mm, way.outer_mm),),
            openings=(OpeningRecord(self.name, "open", at, (width, tall)),),
            findings=(*said, self._told(side, (width, tall), face - front_mm, at)),
        )

    def _told(self, side: Face, size_mm: tuple[float, float], deep_mm: float, at: Point) -> Finding:
        width, tall = size_mm
        said = f"The {self.zone} is kept open: a way of {width:.1f} × {tall:.1f} mm goes out of the {side}, "
        said += (
            f"and it lies {deep_mm:.1f} mm inside the outside." if deep_mm > 0 else "as far as it reaches."
        )
        if deep_mm <= FAR_IN_MM:
            return Finding("kept-open", "pass", said, where_mm=at)
        return Finding(
            "kept-open",
            "caution",
            said,
            "See that a plug or a finger reaches so far; else leave more clearance around it, or thin that "
            "side.",
            at,
        )

    def _no_side(self, site: Site, found: list[tuple[str, Patch]]) -> Finding:
        if not any(abs(p.axis @ FRAMES[face_of(p.axis)].out) >= ASLANT for _, p in found):
            why = "its faces look out of no side, but more than 45 degrees aslant"
            remedy = "Turn the part until it looks square at a side, or cut a window by hand."
        else:
            why = "its faces look at the part itself"
            remedy = "Pick the faces that are seen from outside, or say that it is held."
        said = f"The {self.zone} is to be kept open, but {why}, so the housing has no way out for it."
        return Finding("kept-open-none", "fail", said, remedy, self.spot(site))


def mesh_tris(site: Site, name: str) -> Floats:
    """Return the (m, 3, 3) triangles of a part."""
    mesh = site.parts[name]
    return np.asarray(mesh.vertices[mesh.faces])


def _patches(site: Site, zone: str) -> list[tuple[str, Patch]]:
    """Return the flats and rounds of a zone, with the part that each is on."""
    number = next((i for i, r in enumerate(site.regions) if r.name == zone), -1)
    return [
        (name, p)
        for name, patches in site.patches.items()
        if name in site.region_of
        for p in patches
        if (site.region_of[name][p.faces] == number).all()
    ]


def _facing(seen: Floats) -> np.ndarray:
    """Tell which of (m, 3, 3) triangles, as seen through a side, look out of it."""
    normals = np.cross(seen[:, 1] - seen[:, 0], seen[:, 2] - seen[:, 0])
    return np.asarray(normals[:, 2] > LOOKS_OUT * np.linalg.norm(normals, axis=1))


def _side(site: Site, found: list[tuple[str, Patch]]) -> Face | None:
    """Return the side that faces look out of, or None.

    It is that of the largest flat.  Of a body's faces picked all round, those that look to opposite sides say
    nothing of where it looks; of several sides that are left, the nearest to the outside.
    """
    shares = dict.fromkeys(FRAMES, 0.0)
    for _, patch in found:
        face = face_of(patch.axis)
        if patch.kind == "flat" and float(patch.axis @ FRAMES[face].out) >= ASLANT:
            shares[face] += patch.area_mm2
    left = {face: area - shares[face_of(-FRAMES[face].out)] for face, area in shares.items()}
    least = COUNTS * max(left.values())
    likely = {face: area for face, area in left.items() if area > 0 and area >= least}
    if not likely:
        likely = dict(_along_rounds(found))
    tris = np.concatenate([mesh_tris(site, name)[p.faces] for name, p in found])
    free = [face for face in likely if not _blocked(site, FRAMES[face], tris)]
    if not free:
        return None
    away = {face: _inside_mm(site, FRAMES[face], tris) for face in free}
    near = [face for face in free if away[face] <= min(away.values()) + ALIKE_MM]
    return max(near, key=lambda face: (round(likely[face], 3), -away[face]))


def _along_rounds(found: list[tuple[str, Patch]]) -> Iterator[tuple[Face, float]]:
    """Yield both sides that the axis of the largest round points at."""
    rounds = [p for _, p in found if p.kind != "flat"]
    if not rounds:
        return
    widest = max(rounds, key=lambda p: p.area_mm2)
    for way in (1.0, -1.0):
        face = face_of(way * widest.axis)
        if way * float(widest.axis @ FRAMES[face].out) >= ASLANT:
            yield face, 1.0


def _inside_mm(site: Site, frame: Frame, tris: Floats) -> float:
    """Return how far the front of a zone lies inside the box around the housing."""
    return float(frame.seen(site.outer_mm)[:, 2].max() - frame.seen(tris)[:, :, 2].max())


def _blocked(site: Site, frame: Frame, tris: Floats) -> bool:
    """Tell whether most of what looks out of a side has the part before it."""
    seen = frame.seen(tris)
    facing = seen[_facing(seen)]
    if not len(facing):
        box = seen.reshape(-1, 3)
        middle = (box.min(axis=0) + box.max(axis=0)) / 2
        return covered(site, frame, middle[:2], float(box[:, 2].max()) + 1e-3)
    areas = np.linalg.norm(np.cross(facing[:, 1] - facing[:, 0], facing[:, 2] - facing[:, 0]), axis=1)
    most = np.argsort(areas)[-SAMPLED:]
    middles = facing[most].mean(axis=1)
    hidden = np.array([covered(site, frame, m[:2], float(m[2]) + 1e-3) for m in middles])
    return bool(areas[most][hidden].sum() > areas[most].sum() / 2)
