"""What is put into a shaft's seat: a ball bearing or a plain bush, as steps along the shaft."""

from __future__ import annotations

from dataclasses import dataclass

from housingdesk.errors import SpecError
from housingdesk.features.opening import Frame
from housingdesk.geometry.solid import Solid
from housingdesk.standards.bearings import bearing_for, bearings, bush_for

SHOULDER_MM = 1.6  # thickness of the shoulders, four lines of a 0.4 mm nozzle (own choice)
RING_SHARE = 0.2  # of D - d: so wide a shoulder may touch the outer ring alone; common practice, no source
AXIAL_PLAY_MM = 0.2  # in all, so that the halves close over the bearing; common practice, no source


@dataclass(frozen=True, slots=True)
class Carried:
    """What is put into a seat: steps of (length along the shaft, outside diameter), from inside out.

    Attributes
    ----------
    free_mm : diameter of what turns with the shaft, which no shoulder may touch.
    """

    what: str
    standard: str
    bore_mm: float
    steps: tuple[tuple[float, float], ...]
    free_mm: float
    from_memory: bool

    @property
    def length_mm(self) -> float:
        """Length along the shaft."""
        return sum(length for length, _ in self.steps)

    @property
    def widest_mm(self) -> float:
        """Greatest diameter."""
        return max(diameter for _, diameter in self.steps)


def ball_bearing(designation: str, shaft_mm: float) -> Carried:
    """Return a ball bearing by its designation, or the smallest that fits the shaft.

    Raises
    ------
    SpecError : none of that name, or none for that shaft.
    """
    table = bearings()
    if designation:
        found = table.get(designation)
        if found is None:
            raise SpecError(
                f"There is no bearing '{designation}' in the table; choose one of {', '.join(table)}."
            )
    else:
        fitting = bearing_for(shaft_mm, 0.1)
        if not fitting:
            bores = sorted({f"{b.bore_mm:g}" for b in table.values()}, key=float)
            raise SpecError(
                f"No bearing of the table fits a shaft of {shaft_mm:.2f} mm; there are bores of "
                f"{', '.join(bores)} mm."
            )
        found = fitting[0]
    free = found.outside_mm - RING_SHARE * (found.outside_mm - found.bore_mm)
    return Carried(
        f"ball bearing {found.name}",
        "ISO 15",
        found.bore_mm,
        ((found.width_mm, found.outside_mm),),
        free,
        found.source("outside_mm").from_memory,
    )


def plain_bush(shaft_mm: float) -> Carried:
    """Return the plain bush with a shoulder for a shaft.

    Raises
    ------
    SpecError : none for that shaft.
    """
    found = bush_for(shaft_mm, 0.1)
    if found is None:
        raise SpecError(
            f"No bush of the table fits a shaft of {shaft_mm:.2f} mm; take a ball bearing or a plain hole."
        )
    rest = found.length_mm - found.shoulder_thick_mm
    return Carried(
        f"plain bush {found.bore_mm:g} x {found.outside_mm:g} x {found.length_mm:g} with shoulder "
        f"{found.shoulder_mm:g}",
        "ISO 2795",
        found.bore_mm,
        ((found.shoulder_thick_mm, found.shoulder_mm), (rest, found.outside_mm)),
        found.bore_mm,
        True,
    )


def seat_steps(
    carried: Carried, hole_mm: float, fit_mm: float, extra_mm: float, laid: bool
) -> list[tuple[float, float]]:
    """Return the seat's (length, diameter) from inside out, shoulders and plays included."""
    shoulder = max(carried.free_mm, hole_mm)
    if shoulder > carried.steps[0][1] - 0.8:
        raise SpecError(
            f"The shaft's hole of {hole_mm:.1f} mm leaves no shoulder for the {carried.what}; give the "
            "shaft less clearance."
        )
    grown = [[length, diameter + 2 * fit_mm + extra_mm] for length, diameter in carried.steps]
    grown[0][0] += AXIAL_PLAY_MM
    steps = [(length, diameter) for length, diameter in grown]
    inside = [(SHOULDER_MM, shoulder)] if laid else []
    # A bush is caught by its own shoulder, both ways.
    outside = [(SHOULDER_MM, shoulder)] if len(steps) == 1 else []
    return [*inside, *steps, *outside]


def rings(frame: Frame, carried: Carried, start_mm: float) -> list[Solid]:
    """Return the bearing as rings, as it lies in its seat."""
    out, at = [], start_mm
    for length, diameter in carried.steps:
        start, end = frame.point(0, 0, at), frame.point(0, 0, at + length)
        ring = Solid.rod(start, end, diameter / 2)
        out.append(ring - Solid.rod(start - frame.out, end + frame.out, carried.bore_mm / 2, outside=True))
        at += length
    return out
