"""What is put into a shaft's seat: a ball bearing or a plain bush, as steps along the shaft."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeVar

from housingdesk.errors import SpecError
from housingdesk.features.opening import Frame
from housingdesk.geometry.solid import Solid
from housingdesk.standards.bearings import Bearing, Bush, bearing_for, bearings, bush_for, bushes

SeatKind = Literal["bearing", "bush"]
T = TypeVar("T", Bearing, Bush)

WORDS: dict[SeatKind, str] = {"bearing": "ball bearing", "bush": "plain bush"}
OWN = "own"  # in place of a designation: the user gives the size
SLACK_MM = 0.1  # a bore fits a shaft within this
LEAST_RING_MM = 1.0  # between bore and outside, in diameter (own choice)

SHOULDER_MM = 1.6  # thickness of the shoulders, four lines of a 0.4 mm nozzle (own choice)
RING_SHARE = 0.2  # of D - d: so wide a shoulder may touch the outer ring alone; common practice, no source
AXIAL_PLAY_MM = 0.2  # in all, so that the halves close over the bearing; common practice, no source


class OwnSize(NamedTuple):
    """A size the user gives; a bore of None is as wide as the shaft."""

    bore_mm: float | None = None
    outside_mm: float = 14.0
    width_mm: float = 5.0


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
    def words(self) -> str:
        """What it is, its size included: bore, outside, width."""
        size = _size(self.bore_mm, self.steps[-1][1], self.length_mm)
        return self.what if size in self.what else f"{self.what}, {size}"

    @property
    def length_mm(self) -> float:
        """Length along the shaft."""
        return sum(length for length, _ in self.steps)

    @property
    def widest_mm(self) -> float:
        """Greatest diameter."""
        return max(diameter for _, diameter in self.steps)


def carried_by(kind: SeatKind, named: str, shaft_mm: float, own: OwnSize) -> Carried:
    """Return what carries a shaft: of the table, the smallest whose bore fits, or of the user's own size.

    Parameters
    ----------
    named : designation in the table; "" for the smallest that fits, ``OWN`` for the size in ``own``.

    Raises
    ------
    SpecError : none of that name, none for that shaft, or a size that is none.
    """
    if named == OWN:
        return _own(kind, own, shaft_mm)
    if named in (bushes() if kind == "bearing" else bearings()):
        named = ""  # chosen before the kind was changed
    return ball_bearing(named, shaft_mm) if kind == "bearing" else plain_bush(named, shaft_mm)


def _own(kind: SeatKind, own: OwnSize, shaft_mm: float) -> Carried:
    bore, outside, width = own
    bore = shaft_mm if bore is None else bore
    what = f"{WORDS[kind]} {_size(bore, outside, width)}"
    if outside < bore + LEAST_RING_MM:
        raise SpecError(
            f"A {what} has next to nothing between bore and outside; give its outside as it is measured."
        )
    # Of a plain bush nothing turns but the shaft in it.
    free = outside - RING_SHARE * (outside - bore) if kind == "bearing" else bore
    return Carried(what, "", bore, ((width, outside),), free, False)


def ball_bearing(designation: str, shaft_mm: float) -> Carried:
    """Return a ball bearing by its designation, or the smallest that fits the shaft.

    Raises
    ------
    SpecError : none of that name, or none for that shaft.
    """
    table = bearings()
    found = _taken("bearing", table, designation, bearing_for(shaft_mm, SLACK_MM), shaft_mm)
    free = found.outside_mm - RING_SHARE * (found.outside_mm - found.bore_mm)
    return Carried(
        f"ball bearing {found.name}",
        "ISO 15",
        found.bore_mm,
        ((found.width_mm, found.outside_mm),),
        free,
        found.source("outside_mm").from_memory,
    )


def plain_bush(named: str, shaft_mm: float) -> Carried:
    """Return a plain bush with a shoulder by its name in the table, or the one for the shaft.

    Raises
    ------
    SpecError : none of that name, or none for that shaft.
    """
    found = _taken("bush", bushes(), named, bush_for(shaft_mm, SLACK_MM), shaft_mm)
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


def _taken(kind: SeatKind, table: Mapping[str, T], named: str, fitting: Sequence[T], shaft_mm: float) -> T:
    """Return the one of that name, or the first that fits the shaft; else say which is nearest."""
    if named in table:
        return table[named]
    what = WORDS[kind]
    if named:
        raise SpecError(f"There is no {what} '{named}' in the table; choose one of {', '.join(table)}.")
    if fitting:
        return fitting[0]
    none = f"No {what} of the table has a bore for a shaft of {shaft_mm:.2f} mm."
    wider = [one for one in table.values() if one.bore_mm > shaft_mm]
    if not wider:
        most = max(one.bore_mm for one in table.values())
        raise SpecError(f"{none} The widest has {most:g} mm; choose your own size and give that of yours.")
    near = min(wider, key=lambda one: (one.bore_mm, one.outside_mm))
    sleeve = (near.bore_mm - shaft_mm) / 2
    raise SpecError(
        f"{none} The nearest is the {_named(near)}: choose it if the real shaft measures "
        f"{near.bore_mm:g} mm, or gets a sleeve {sleeve:.2f} mm thick; or choose your own size and give that "
        "of yours."
    )


def _named(found: Bearing | Bush) -> str:
    if isinstance(found, Bearing):
        return f"{found.name}, {_size(found.bore_mm, found.outside_mm, found.width_mm)}"
    return f"one of {_size(found.bore_mm, found.outside_mm, found.length_mm)}"


def _size(bore_mm: float, outside_mm: float, width_mm: float) -> str:
    return f"{round(bore_mm, 2):g} x {round(outside_mm, 2):g} x {round(width_mm, 2):g}"


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
