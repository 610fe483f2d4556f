"""Things of known size, as shapes: motors by their face, ball bearings, round cells.

Motor faces by NEMA ICS 16, ball bearings by ISO 15, cells by the IEC codes; the sources of all figures stand
in the tables of ``standards``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from housingdesk.errors import SpecError
from housingdesk.spec.shapes import AnyShape, Block, Round
from housingdesk.standards._data import Source
from housingdesk.standards.bearings import Bearing, bearings
from housingdesk.standards.cells import Cell, cell
from housingdesk.standards.motors import MotorFace, motor_faces

Kind = Literal["motor", "bearing", "cell"]
CELLS = ("18650", "21700", "14500", "AA", "AAA", "CR2032")  # offered by name; any other code can be typed
BODY_LONG_MM = 40.0  # of a motor, until the user has measured it: no face standard says it
SHAFT_LONG_MM = 20.0  # the same


@dataclass(frozen=True, slots=True)
class Told:
    """A figure of a known thing in words, and where it comes from."""

    words: str
    source: Source


def kinds() -> dict[Kind, tuple[str, ...]]:
    """Return what is known by name, of each kind in the order shown."""
    return {"motor": tuple(motor_faces()), "bearing": tuple(bearings()), "cell": CELLS}


def known_names() -> tuple[str, ...]:
    """Return the names that ``known`` takes, in the order shown."""
    return tuple(f"{kind} {which}" for kind, names in kinds().items() for which in names)


def known(
    name: str, length_mm: float = BODY_LONG_MM, shaft_long_mm: float = SHAFT_LONG_MM
) -> tuple[AnyShape, ...]:
    """Return the shapes of a thing of known size: a motor by its face, a ball bearing, a round cell.

    Motors and cells lie along X, so that the halves usually part along their axis and lift off along Z.

    Parameters
    ----------
    name : as in ``known_names``; cells also by any other code.
    length_mm, shaft_long_mm : of a motor's body and of its shaft from the face on, which its face does
        not say.

    Raises
    ------
    SpecError : no such thing.
    """
    entry = _entry(name)
    if isinstance(entry, Cell):
        return (Round(diameter_mm=entry.diameter_mm, long_mm=entry.length_mm, way="+x"),)
    if isinstance(entry, Bearing):
        return (
            Round(diameter_mm=entry.outside_mm, long_mm=entry.width_mm),
            Round(diameter_mm=entry.bore_mm, long_mm=entry.width_mm + 2.0, z_mm=-1.0, cut=True),
        )
    side = entry.face_mm.high
    return (
        Block(long_mm=length_mm, wide_mm=side, high_mm=side, x_mm=-length_mm / 2, z_mm=-side / 2),
        Round(diameter_mm=entry.pilot_mm, long_mm=entry.pilot_height_mm, way="+x"),
        Round(diameter_mm=entry.shaft_mm, long_mm=shaft_long_mm, way="+x"),
    )


def figures(name: str) -> tuple[Told, ...]:
    """Return the figures that ``known`` takes for a thing, each in words and with its source.

    Raises
    ------
    SpecError : no such thing.
    """
    entry = _entry(name)
    if isinstance(entry, Cell):
        said = {
            "diameter_mm": f"{entry.diameter_mm:g} mm across",
            "length_mm": f"{entry.length_mm:g} mm long",
        }
    elif isinstance(entry, Bearing):
        said = {
            "bore_mm": f"bore {entry.bore_mm:g} mm",
            "outside_mm": f"outside {entry.outside_mm:g} mm",
            "width_mm": f"width {entry.width_mm:g} mm",
        }
    else:
        said = {
            "face_mm": f"face {entry.face_mm.high:g} mm square",
            "pilot_mm": f"round shoulder {entry.pilot_mm:g} mm",
            "pilot_height_mm": f"{entry.pilot_height_mm:g} mm high",
            "shaft_mm": f"shaft {entry.shaft_mm:g} mm",
        }
    return tuple(Told(words, entry.source(field)) for field, words in said.items())


def warning(name: str) -> str:
    """Return what to check with calipers on a thing; empty where its table warns of nothing.

    Raises
    ------
    SpecError : no such thing.
    """
    entry = _entry(name)
    if isinstance(entry, MotorFace):
        return entry.warning
    unsure = any(told.source.from_memory for told in figures(name))
    return "Some of its figures are from memory and nobody has checked them; measure yours." if unsure else ""


def _entry(name: str) -> Cell | Bearing | MotorFace:
    what, _, which = name.partition(" ")
    if what == "cell":
        return cell(which)
    if what == "bearing" and which in bearings():
        return bearings()[which]
    if what == "motor" and which in motor_faces():
        return motor_faces()[which]
    raise SpecError(f"'{name}' is not known; choose one of {', '.join(known_names()[:6])} and others.")
