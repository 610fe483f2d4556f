"""Gaps of each zone, measured from points of the untouched part to the finished halves and back."""

from __future__ import annotations

import numpy as np

from housingdesk.features.carried import SHOULDER_MM
from housingdesk.features.footholds import free
from housingdesk.features.site import Region
from housingdesk.geometry.edges import Flags
from housingdesk.geometry.measure import distances, inside, nearest, samples
from housingdesk.geometry.types import Floats, Ints, Mesh, joined
from housingdesk.proof.facts import ZoneFacts
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import SLACK_MM

_STREWN = 6000  # points a zone, evenly by area; the median is of these
_CORNERS = 60_000  # most corners of a zone that are measured besides
_FACING = 0.5  # cosine: a face looks at the housing if the nearest of it lies within 60 degrees of its normal
_NEAR_MM = 0.05
_SHOWN = 400  # spots below the asked gap that are kept


def measure_zones(subject: Subject, part: Mesh) -> tuple[ZoneFacts, ...]:
    """Measure the gaps around every zone.

    The least is taken over corners of the zone, points strewn over it, and corners of the halves whose
    nearest face of the part is the zone's.  Only places inside the outside form count: a shaft's end in the
    open has no gap.  Contacts made on purpose are left out.

    The median and the most are taken over those of the points strewn that look at the housing, and not out
    of a mouth, into a recess or back at the part; and not over what lies in a mouth's chamfer or looks at the
    seat of a bearing.
    """
    halves = joined((subject.halves["lower"], subject.halves["upper"]))
    corners = free(np.unique(halves.vertices, axis=0), subject.contacts)
    away, at, face = nearest(corners, part)
    within = _in_form(subject, at)
    away, at, owner = away[within], at[within], subject.face_zone[face[within]]
    return tuple(
        _one(subject, number, wish, part, halves, (away[owner == number], at[owner == number]))
        for number, wish in enumerate(subject.zones, start=-1)
        if (subject.face_zone == number).any()
    )


def _in_form(subject: Subject, points: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    if subject.form is not None:
        return inside(points, subject.form)
    low, high = subject.outer_mm
    return np.asarray(((points > low) & (points < high)).all(axis=1))


def _one(
    subject: Subject, number: int, wish: Region, part: Mesh, halves: Mesh, back: tuple[Floats, Floats]
) -> ZoneFacts:
    faces: Ints = part.faces[subject.face_zone == number]
    corners = np.unique(part.vertices[np.unique(faces)], axis=0)
    corners = corners[:: max(1, -(-len(corners) // _CORNERS))]
    strewn = samples(Mesh(part.vertices, faces), _STREWN, seed=11)
    strewn, corners = (
        points[_in_form(subject, points)] for points in (free(p, subject.contacts) for p in (strewn, corners))
    )
    even, there, _ = nearest(strewn, halves)
    own = np.concatenate([even, distances(corners, halves)])
    away = np.concatenate([own, back[0]])
    at = np.concatenate([strewn, corners, back[1]])
    if not len(own):
        return ZoneFacts(wish.name, wish.purpose, wish.clearance_mm, np.inf, np.inf, np.inf, (0.0, 0.0, 0.0))
    order = np.argsort(away)
    below = order[: np.searchsorted(away[order], wish.clearance_mm - SLACK_MM)]
    x, y, z = at[order[0]].tolist()
    seated = _at_a_seat(subject, wish.name, there)
    enclosed = _looks_at(part, strewn, there) & ~_at_the_mouth(subject, wish.name, strewn) & ~seated
    typical = even[enclosed]
    if not len(typical):
        typical = np.array([np.inf]) if seated.any() else own
    return ZoneFacts(
        wish.name,
        wish.purpose,
        wish.clearance_mm,
        float(away[order[0]]),
        float(np.median(typical)),
        float(typical.max()),
        (x, y, z),
        at[below[:_SHOWN]],
    )


def _looks_at(part: Mesh, points: Floats, there: Floats) -> Flags:
    """Tell which points of a part's surface look at the places of the housing that are nearest to them."""
    _, _, face = nearest(points, part)
    a, b, c = (part.vertices[part.faces[face, i]] for i in range(3))
    normal = np.cross(b - a, c - a) * (1.0 if part.volume_mm3 >= 0 else -1.0)
    way = there - points
    size = np.linalg.norm(normal, axis=1) * np.linalg.norm(way, axis=1)
    looks: Flags = (normal * way).sum(axis=1) >= _FACING * size
    return looks


def _at_the_mouth(subject: Subject, zone: str, points: Floats) -> Flags:
    """Tell which points of a shaft lie in the chamfer of its mouth or beyond."""
    out = np.zeros(len(points), bool)
    for way in subject.ways_out:
        if way.zone == zone:
            out |= (points - way.mouth_mm) @ way.axis > -way.chamfer_mm
    return out


def _at_a_seat(subject: Subject, zone: str, places: Floats) -> Flags:
    """Tell which places of the housing lie at the seat of a shaft's bearing, or further out."""
    out = np.zeros(len(places), bool)
    for seat in subject.seats:
        if seat.zone == zone:
            axis = np.array(seat.axis)
            out |= (places - np.array(seat.starts_mm)) @ axis > -_NEAR_MM - (
                SHOULDER_MM if seat.laid else 0.0
            )
    return out
