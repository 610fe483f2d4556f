"""What openings share: the sides of the housing, and the straight way from the cavity to the outside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal, Self

import numpy as np
from numpy.typing import ArrayLike
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature
from housingdesk.features.records import Point
from housingdesk.features.site import Site
from housingdesk.features.work import Handle
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import SIDES, Floats, Side

Face = Literal["left", "right", "front", "back", "floor", "roof"]
BEYOND_MM = 1.0  # cuts reach this far past the outer face, so that no skin stays
_FILM_MM = 1e-3
_HAIR_MM = 0.02  # cuts begin this far inside the room, for the same reason
_RAY_MM = 0.05

_X, _Y, _Z = np.eye(3)


@dataclass(frozen=True, eq=False)
class Frame:
    """A plane to draw an opening on, and the way out of the housing.

    Attributes
    ----------
    u, v : (3,) unit, across and up in the plane.
    out : (3,) unit, pointing out of the housing.
    origin_mm : (3,) build frame.
    """

    u: Floats
    v: Floats
    out: Floats
    origin_mm: Floats = field(default_factory=lambda: np.zeros(3))

    def point(self, u_mm: float, v_mm: float, out_mm: float) -> Floats:
        """Return the (3,) place in the build frame."""
        return np.asarray(self.origin_mm + u_mm * self.u + v_mm * self.v + out_mm * self.out)

    def at(self, place: ArrayLike, out_mm: float) -> Floats:
        """Return the (3,) place in the build frame of (2,) across and up."""
        u, v = np.asarray(place, float).tolist()
        return self.point(u, v, out_mm)

    def seen(self, points_mm: ArrayLike) -> Floats:
        """Return (..., 3) coordinates u, v, out of places in the build frame."""
        rows = np.array([self.u, self.v, self.out])
        return np.asarray((np.asarray(points_mm, float) - self.origin_mm) @ rows.T)

    def outline(self, body: Solid) -> Outline:
        """Return a body's shadow on the plane."""
        back = np.eye(4)
        back[:3, :3] = np.array([self.u, self.v, self.out])
        back[:3, 3] = -back[:3, :3] @ self.origin_mm
        return body.moved(back).silhouette()

    def body(self, outline: Outline, low_mm: float, high_mm: float) -> Solid:
        """Return an outline of the plane drawn straight out from one distance to another."""
        return Solid.prism(outline, low_mm, high_mm).moved(self._turn)

    def raised(self, rings: Floats, out_mm: Floats) -> Solid:
        """Return the body between (h, n, 2) rings of the plane, each (h,) so far out; see ``Solid.loft``."""
        return Solid.loft(rings, out_mm).moved(self._turn)

    @property
    def _turn(self) -> Floats:
        turn = np.eye(4)
        turn[:3, :3] = np.array([self.u, self.v, self.out]).T
        turn[:3, 3] = self.origin_mm
        return turn


FRAMES: dict[Face, Frame] = {
    "left": Frame(_Y, _Z, -_X),
    "right": Frame(_Y, _Z, _X),
    "front": Frame(_X, _Z, -_Y),
    "back": Frame(_X, _Z, _Y),
    "floor": Frame(_X, _Y, -_Z),
    "roof": Frame(_X, _Y, _Z),
}


def face_of(normal: ArrayLike) -> Face:
    """Return the side of the housing that a direction belongs to."""
    n = np.asarray(normal, float)
    return max(FRAMES, key=lambda face: float(FRAMES[face].out @ n))


@dataclass(frozen=True, slots=True)
class Way:
    """A straight way through a wall; distances along ``Frame.out``, mm.

    Attributes
    ----------
    inner_mm : where a cut must begin to be open to the cavity over its whole area.
    face_mm : the outer face on the axis.
    outer_mm : the outermost material within the opening.
    wall_mm : material on the axis.
    """

    inner_mm: float
    face_mm: float
    outer_mm: float
    wall_mm: float


def room_in(site: Site, probe: Solid) -> Solid:
    """Return the cavity as it will be cut, within a probe."""
    lower, upper, z = site.cavity["lower"], site.cavity["upper"], site.parting_z_mm
    # Pieces that only meet may leave a film between them.
    return (probe & lower).below(z + _FILM_MM) | (probe & upper).above(z - _FILM_MM)


def span(body: Solid, frame: Frame) -> tuple[float, float]:
    """Return where a body begins and ends along ``Frame.out``, mm."""
    along = frame.seen(body.mesh().vertices)[:, 2]
    return float(along.min()), float(along.max())


def reach_of(site: Site) -> float:
    """Return a length that leads out of the housing from anywhere in it, mm."""
    return float(np.linalg.norm(np.ptp(site.form.bounds, axis=0))) + 20.0


def way_out(site: Site, frame: Frame, outline: Outline) -> Way:
    """Return the way from the cavity to the outside for an opening of some outline.

    Where the cavity's wall slopes, the cut goes as deep as its whole area needs, but no deeper than half its
    width beyond the axis, so that an opening beside the cavity does not run through the housing.

    Raises
    ------
    SpecError : the axis meets no cavity, or no material.
    """
    far = reach_of(site)
    middle = outline.bounds.mean(axis=0)
    probe = outline | Outline.circle(middle, _RAY_MM)
    # The room is looked for in wider probes, so that none of its faces lies in the narrower one's.
    room = room_in(site, frame.body(probe.grown(_HAIR_MM), -far, far))
    material = frame.body(probe, -far, far) & site.form
    ray, around = (frame.body(Outline.circle(middle, r), -far, far) for r in (_RAY_MM / 2, _RAY_MM))
    outermost = _outer_wall(material & ray, room & around, frame)
    if outermost is None:
        raise SpecError("There is no room of the part behind this place; move it to where the part lies.")
    ray_inner, face = outermost
    inner, outer = _outer_wall(material, room, frame) or outermost
    half_width = float(np.ptp(outline.bounds, axis=0).max()) / 2
    return Way(max(inner, ray_inner - half_width), face, outer, face - ray_inner)


def _outer_wall(material: Solid, room: Solid, frame: Frame) -> tuple[float, float] | None:
    """Return where the outermost wall begins and ends, None where no room is behind."""
    if room.is_empty:
        return None
    walls = [span(piece, frame) for piece in (material - room).bodies()]
    if not walls:
        return None
    inner, outer = max(walls, key=lambda wall: wall[1])
    return (inner, outer) if inner > span(room, frame)[0] else None


def bore(frame: Frame, outline: Outline, way: Way, chamfer_mm: float = 0.0) -> Solid:
    """Return the cut of an opening (an outline without dents), with a chamfer that widens outward."""
    cut = frame.body(outline, way.inner_mm - _HAIR_MM, way.outer_mm + BEYOND_MM)
    if chamfer_mm > 0:
        start = max(way.face_mm - chamfer_mm, way.inner_mm)
        end = way.outer_mm + BEYOND_MM
        wide = outline.grown(end - way.face_mm + chamfer_mm)
        thin = 1e-3
        cone = Solid.hull([frame.body(outline, start, start + thin), frame.body(wide, end - thin, end)])
        cut = cut | cone
    return cut


def near_edge(site: Site, frame: Frame, outline: Outline, way: Way, margin_mm: float) -> bool:
    """Tell whether an opening leaves less than a margin of material beside it in the middle of the wall."""
    middle = way.face_mm - way.wall_mm / 2
    plate = frame.body(outline.grown(margin_mm), middle - 0.05, middle + 0.05)
    return (plate - site.form).volume_mm3 > 1e-3


def on_the_side(site: Site, frame: Frame, outline: Outline, way: Way, name: str) -> list[Finding]:
    """Return what is to be said of an opening's place on its side.

    Raises
    ------
    SpecError : it reaches over the side's edge.
    """
    if near_edge(site, frame, outline, way, 0.0):
        raise SpecError("It reaches over the edge of its side; move it inwards or make it smaller.")
    if not near_edge(site, frame, outline, way, min(site.wall_mm, 1.2)):
        return []
    where = triple(frame.at(outline.bounds.mean(axis=0), way.face_mm))
    return [
        Finding(
            "opening-edge",
            "caution",
            f"{name} leaves little material between it and the edge of its side.",
            "Move it inwards, or give the housing more room on that side.",
            where,
        )
    ]


def halves_met(body: Solid, parting_z_mm: float) -> tuple[Side, ...]:
    """Return the halves that a body lies in."""
    low, high = body.bounds[:, 2]
    return tuple(s for s in SIDES if (low < parting_z_mm if s == "lower" else high > parting_z_mm))


def cuts(bodies: Iterable[Solid], parting_z_mm: float) -> dict[Side, tuple[Solid, ...]]:
    """Return bodies to cut, for the halves they lie in.

    They are not parted: what stands over the plane there (a lip) is in their way, too.
    """
    met = [(b, halves_met(b, parting_z_mm)) for b in bodies]
    return {side: tuple(b for b, sides in met if side in sides) for side in SIDES}


def adds(bodies: Iterable[Solid], parting_z_mm: float) -> dict[Side, tuple[Solid, ...]]:
    """Return bodies to add, each half with what lies on its side of the plane."""
    met = [(b, halves_met(b, parting_z_mm)) for b in bodies]
    return {
        "lower": tuple(b.below(parting_z_mm) for b, sides in met if "lower" in sides),
        "upper": tuple(b.above(parting_z_mm) for b, sides in met if "upper" in sides),
    }


def triple(point: ArrayLike) -> Point:
    """Return a (3,) place as three numbers."""
    x, y, z = np.asarray(point, float).tolist()
    return (x, y, z)


class SideOpening(Feature):
    """An opening through one side of the housing; base of several features."""

    ORDER = 30

    side: Face = Field(default="back", title="side", description="Which side of the housing it goes through.")
    across_mm: float | None = Field(
        default=None,
        ge=-500,
        le=500,
        title="across",
        description="From the middle of the part along the side. As needed: at the middle.",
    )
    height_mm: float | None = Field(
        default=None,
        ge=-500,
        le=500,
        title="height",
        description="Above the lowest point of the part; on floor and roof, from its middle to the back.",
    )

    def place(self, site: Site) -> tuple[float, float]:
        """Return where on the side it lies: across and up, mm."""
        middle = FRAMES[self.side].seen(site.part_bounds.mean(axis=0))
        u = float(middle[0]) if self.across_mm is None else self.across_mm
        v = float(middle[1]) if self.height_mm is None else self.height_mm
        return u, v

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knob where it is placed, on the box around the housing."""
        frame = FRAMES[self.side]
        at = frame.point(*self.place(site), float(frame.seen(site.outer_mm)[:, 2].max()))
        return (Handle("place", triple(at), triple(frame.out), self.name),)

    def knob(self, place: tuple[float, float], way: Way, label: str) -> tuple[Handle, ...]:
        """Return the knob by which it is dragged over its side."""
        frame = FRAMES[self.side]
        at = frame.point(*place, way.face_mm)
        return (Handle("place", triple(at), triple(frame.out), label),)

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the opening where it was dragged to."""
        u, v, _ = FRAMES[self.side].seen(to_mm).tolist()
        return self.model_copy(update={"across_mm": round(u, 2), "height_mm": round(v, 2)})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return the opening in the middle of its usual side."""
        return cls.model_validate({})

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return the opening where the user clicked."""
        side = face_of(normal)
        u, v, _ = FRAMES[side].seen(point_mm).tolist()
        return cls.model_validate({"side": side, "across_mm": round(u, 2), "height_mm": round(v, 2)})
