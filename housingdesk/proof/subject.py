"""What is proved: finished halves and untouched parts, nothing of how they were made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from housingdesk.features.records import Channel, Contact, Fastener, Seat
from housingdesk.features.site import Region
from housingdesk.geometry.types import Floats, Ints, Mesh, Side
from housingdesk.geometry.walls import Plane, Wall
from housingdesk.spec.models import HousingSide

PLANE_OF: dict[HousingSide, Plane] = {
    "left": (0, 0),
    "right": (0, 1),
    "front": (1, 0),
    "back": (1, 1),
    "floor": (2, 0),
    "roof": (2, 1),
}
SIDE_AT: dict[Plane, HousingSide] = {plane: side for side, plane in PLANE_OF.items()}


@dataclass(frozen=True, eq=False, slots=True)
class WayOut:
    """A turning shaft's passage through the wall.

    Attributes
    ----------
    zone : name of the shaft.
    axis, mouth_mm : (3,) unit, pointing out; the place on it where it leaves the housing.
    chamfer_mm : how deep its mouth is chamfered.
    box_mm : (2, 3) corners around what it takes from the housing.
    """

    zone: str
    axis: Floats
    mouth_mm: Floats
    box_mm: Floats
    chamfer_mm: float = 0.0


@dataclass(frozen=True)
class Subject:
    """Everything a proof looks at; all in the build frame.

    Attributes
    ----------
    parts : the untouched parts, placed.
    halves : the finished halves, assembled pose.
    parting_z_mm, outer_mm : height of the parting plane; (2, 3) corners of the shell.
    held_mm : (2, 3) corners of the box around the parts without shafts that leave through floor or roof; None
        where there are none.
    clearance_mm, wall_mm : what was asked.
    relief_mm3 : material taken from each half only so that the part can go in.
    overlap_mm3 : space that both halves claim.
    bodies : separate pieces of each half, as the solid kernel counts them.
    notes : plain sentences about the parts' files, to be passed on.
    meant : boxes, each (2, 3), in which the housing is open on purpose.
    ways_out : passages of turning shafts.
    fixed_sides : sides whose place the user has fixed, so that a thin wall there is the user's own wish.
    zones : what is asked of each zone; first the body, then the others in the order of the spec.
    face_zone : for each face of all parts in order its zone, -1 for the body, 0 for the next and so on.
    form : the outside form, closed; None where it is the box of ``outer_mm``.
    contacts : places where the housing touches the part on purpose.
    fasteners : screws as designed; the proof measures them.
    seats : of bearings, as designed; the proof measures them.
    channels : of wires, as designed.
    fastened : boxes, each (2, 3), around the holes of one screw: what is in them is no wall of the cavity.
    across : boxes, each (2, 3), of what stands across the parting plane on purpose: lips, dowels, hooks.
    floor_wall_mm, roof_wall_mm : material asked under and over the cavity; None is as the wall.
    skins : for each triangle of a half whether it is outside, cavity or the rest (see ``geometry.walls``);
        where a half has none, the shell is taken for a box.
    outside_extra_mm : what the printer needs added to outsides that have to fit; they are drawn with it.
    joined : whether anything keeps the two halves together.
    kept : halves whose material is kept though the part would have to pass it on its way in.
    """

    parts: tuple[Mesh, ...]
    halves: dict[Side, Mesh]
    parting_z_mm: float
    outer_mm: Floats
    clearance_mm: float
    wall_mm: float
    relief_mm3: dict[Side, float]
    overlap_mm3: float
    bodies: dict[Side, int]
    notes: tuple[str, ...] = ()
    fixed_sides: tuple[HousingSide, ...] = ()
    meant: tuple[Floats, ...] = ()
    zones: tuple[Region, ...] = ()
    face_zone: Ints = field(default_factory=lambda: np.zeros(0, np.int32))
    form: Mesh | None = None
    contacts: tuple[Contact, ...] = ()
    fasteners: tuple[Fastener, ...] = ()
    fastened: tuple[Floats, ...] = ()
    across: tuple[Floats, ...] = ()
    kept: tuple[Side, ...] = ()
    floor_wall_mm: float | None = None
    roof_wall_mm: float | None = None
    skins: Mapping[Side, Ints] = field(default_factory=dict)
    held_mm: Floats | None = None
    ways_out: tuple[WayOut, ...] = ()
    channels: tuple[Channel, ...] = ()
    joined: bool = False
    outside_extra_mm: float = 0.0
    seats: tuple[Seat, ...] = ()

    def asked_mm(self, wall: Wall) -> float:
        """Return the least material asked at a wall; behind a broken edge the lesser of side and floor."""
        level = {"floor": self.floor_wall_mm, "roof": self.roof_wall_mm}.get(SIDE_AT[wall.plane])
        if level is None:
            return self.wall_mm
        return min(level, self.wall_mm) if wall.slanted else level

    @property
    def held(self) -> Floats:
        """(2, 3) corners of the box around all that the housing is to hold."""
        return self.part_bounds if self.held_mm is None else self.held_mm

    @property
    def part_bounds(self) -> Floats:
        """(2, 3) corners of the box around all parts."""
        boxes = np.array([p.bounds for p in self.parts])
        return np.array([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])
