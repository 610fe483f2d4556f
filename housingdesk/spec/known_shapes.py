"""Things of known size, as shapes: motors by their face, ball bearings, round cells.

Motor faces by NEMA ICS 16, ball bearings by ISO 15, cells by the IEC codes; the sources of all figures stand
in the tables of ``standards``.
"""

from __future__ import annotations

from housingdesk.errors import SpecError
from housingdesk.spec.shapes import AnyShape, Block, Round
from housingdesk.standards.bearings import bearings
from housingdesk.standards.cells import cell
from housingdesk.standards.motors import motor_faces

CELLS = ("18650", "21700", "14500", "CR2032")  # offered by name; any other code can be typed
SHAFT_LONG_MM = 20.0  # drawn so long, as no face standard says it


def known_names() -> tuple[str, ...]:
    """Return the names that ``known`` takes, in the order shown."""
    return (
        *(f"motor {name}" for name in motor_faces()),
        *(f"bearing {name}" for name in bearings()),
        *(f"cell {code}" for code in CELLS),
    )


def known(name: str, length_mm: float = 40.0) -> tuple[AnyShape, ...]:
    """Return the shapes of a thing of known size: a motor by its face, a ball bearing, a round cell.

    Parameters
    ----------
    name : as in ``known_names``; cells also by any other code.
    length_mm : of a motor's body, which its face does not say.

    Raises
    ------
    SpecError : no such thing.
    """
    what, _, which = name.partition(" ")
    if what == "cell":
        size = cell(which)
        return (Round(diameter_mm=size.diameter_mm, long_mm=size.length_mm, way="+x"),)
    if what == "bearing" and which in bearings():
        ring = bearings()[which]
        return (
            Round(diameter_mm=ring.outside_mm, long_mm=ring.width_mm),
            Round(diameter_mm=ring.bore_mm, long_mm=ring.width_mm + 2.0, z_mm=-1.0, cut=True),
        )
    if what == "motor" and which in motor_faces():
        face = motor_faces()[which]
        side = face.face_mm.high
        return (
            Block(long_mm=side, wide_mm=side, high_mm=length_mm, z_mm=-length_mm),
            Round(diameter_mm=face.pilot_mm, long_mm=face.pilot_height_mm),
            Round(diameter_mm=face.shaft_mm, long_mm=SHAFT_LONG_MM),
        )
    raise SpecError(f"'{name}' is not known; choose one of {', '.join(known_names()[:6])} and others.")
