"""What is proved: finished halves and untouched parts, nothing of how they were made."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from housingdesk.features.records import Contact
from housingdesk.geometry.types import Floats, Ints, Mesh, Side
from housingdesk.geometry.walls import Plane
from housingdesk.spec.models import HousingSide
from housingdesk.spec.zones import Purpose

PLANE_OF: dict[HousingSide, Plane] = {
    "left": (0, 0),
    "right": (0, 1),
    "front": (1, 0),
    "back": (1, 1),
    "floor": (2, 0),
    "roof": (2, 1),
}
SIDE_AT: dict[Plane, HousingSide] = {plane: side for side, plane in PLANE_OF.items()}


@dataclass(frozen=True, slots=True)
class ZoneWish:
    """What is asked of one zone."""

    name: str
    purpose: Purpose
    clearance_mm: float


@dataclass(frozen=True)
class Subject:
    """Everything a proof looks at; all in the build frame.

    Attributes
    ----------
    parts : the untouched parts, placed.
    halves : the finished halves, assembled pose.
    parting_z_mm, outer_mm : height of the parting plane; (2, 3) corners of the shell.
    clearance_mm, wall_mm : what was asked.
    relief_mm3 : material taken from each half only so that the part can go in.
    overlap_mm3 : space that both halves claim.
    bodies : separate pieces of each half, as the solid kernel counts them.
    notes : plain sentences about the parts' files, to be passed on.
    meant : boxes, each (2, 3), in which the housing is open on purpose.
    fixed_sides : sides whose place the user has fixed, so that a thin wall there is the user's own wish.
    zones : what is asked of each zone; first the body, then the others in the order of the spec.
    face_zone : for each face of all parts in order its zone, -1 for the body, 0 for the next and so on.
    form : the outside form, closed; None where it is the box of ``outer_mm``.
    contacts : places where the housing touches the part on purpose.
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
    zones: tuple[ZoneWish, ...] = ()
    face_zone: Ints = field(default_factory=lambda: np.zeros(0, np.int32))
    form: Mesh | None = None
    contacts: tuple[Contact, ...] = ()
    kept: tuple[Side, ...] = ()

    @property
    def part_bounds(self) -> Floats:
        """(2, 3) corners of the box around all parts."""
        boxes = np.array([p.bounds for p in self.parts])
        return np.array([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])
