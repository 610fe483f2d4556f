"""Seats of bearings and bushes as built: their diameters, width and shoulders, by sections of the halves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from housingdesk.features.records import Seat
from housingdesk.finding import Finding
from housingdesk.geometry.frames import rotation_to
from housingdesk.geometry.loops import distance
from housingdesk.geometry.section import section
from housingdesk.geometry.types import SIDES, Floats
from housingdesk.proof.measured import Measured
from housingdesk.proof.sight import free_mm
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import SLACK_MM, mm

CATCHES_MM = 0.4  # a shoulder takes hold of so much of a ring, each side, or more (own choice)
_PAST_MM = 0.5  # a shoulder is measured so far behind what it catches
_BIAS = 0.6  # directions looked in along the shaft are none in which halves or facets meet


@dataclass(frozen=True, slots=True)
class Measurement:
    """A seat as found on the finished halves.

    Attributes
    ----------
    across_mm : diameter at the middle of each step of what is put in.
    along_mm : from shoulder to shoulder; infinite where it is open inward.
    open_mm : diameters that the shoulders leave open, inner one first where there is one.
    """

    across_mm: tuple[float, ...]
    along_mm: float
    open_mm: tuple[float, ...]


def seats(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge each seat against what is put in."""
    for seat in subject.seats:
        found = measure_seat(subject, seat)
        said = f"The {seat.words} carries the {seat.zone}: its seat measures {_sizes(found.across_mm)} across"
        said += f" for {_sizes(d for _, d in seat.steps_mm)}"
        if seat.laid:
            said += f" and {mm(found.along_mm)} along the shaft for {mm(seat.steps_mm[0][0])}"
        said += f", and leaves {_sizes(found.open_mm)} open beside it, where {mm(seat.free_mm)} turns."
        wrong = _wrong(seat, found)
        if wrong:
            yield Finding("seat", "fail", f"{said} {wrong}", "Move it away from what cuts its seat, or what "
                          "stands in it.", seat.starts_mm)  # fmt: skip
        else:
            yield Finding("seat", "pass", said, where_mm=seat.starts_mm)


def measure_seat(subject: Subject, seat: Seat) -> Measurement:
    """Measure a seat on the finished halves."""
    lengths = [length for length, _ in seat.steps_mm]
    ends = np.cumsum([0.0, *lengths]).tolist()
    across = tuple(_across(subject, seat, (a + b) / 2) for a, b in pairwise(ends))
    # What catches it outward: the wall behind it, or of a bush the wall behind its own shoulder.
    caught = ends[1]
    beyond = [-_PAST_MM] if seat.laid else []
    beyond.append(caught + _PAST_MM)
    middle = caught / 2
    along = sum(_along(subject, seat, middle, way) for way in (-1.0, 1.0)) if seat.laid else np.inf
    return Measurement(across, along, tuple(_across(subject, seat, at) for at in beyond))


def _wrong(seat: Seat, found: Measurement) -> str:
    """Return what is wrong as a sentence, or nothing."""
    for (_, needed), across in zip(seat.steps_mm, found.across_mm, strict=True):
        if across < needed:
            return f"It needs {mm(needed)} across."
    length, outside = seat.steps_mm[0]
    if found.along_mm < length:
        return f"It needs {mm(length)} along the shaft."
    if min(found.open_mm) < seat.free_mm - SLACK_MM:
        return f"What turns is {mm(seat.free_mm)} wide and would rub on the shoulder."
    if max(found.open_mm) > outside - 2 * CATCHES_MM + SLACK_MM:
        return f"That catches nothing of its {mm(outside)}."
    return ""


def _sizes(values: Iterable[float]) -> str:
    """Return lengths, those that differ by next to nothing said once."""
    said: list[float] = []
    for value in values:
        if all(abs(value - other) > SLACK_MM for other in said):
            said.append(value)
    return " and ".join(mm(v) for v in said)


def _place(seat: Seat, along_mm: float) -> tuple[Floats, Floats]:
    """Return a place on the axis, so far from where it begins, and a (3, 3) frame whose z is the axis."""
    axis = np.array(seat.axis)
    return np.array(seat.starts_mm) + along_mm * axis, rotation_to(np.array([0.0, 0.0, 1.0]), axis)[:3, :3]


def _across(subject: Subject, seat: Seat, along_mm: float) -> float:
    """Return the diameter of the widest bar about the axis that passes there."""
    at, frame = _place(seat, along_mm)
    lines = [
        line.points for side in SIDES for line in section(subject.halves[side], at, frame[:, 0], frame[:, 1])
    ]
    return 2 * distance(lines, (0.0, 0.0))


def _along(subject: Subject, seat: Seat, along_mm: float, way: float) -> float:
    """Return how far it is along the shaft to a shoulder, beside the shaft, from a place in the seat."""
    at, frame = _place(seat, along_mm)
    radius = (seat.shoulder_mm + seat.steps_mm[0][1]) / 4
    least = np.inf
    for side in SIDES:
        for sign in (1.0, -1.0):
            turned = np.cos(_BIAS) * frame[:, 0] + sign * np.sin(_BIAS) * frame[:, 1]
            for out in (turned, -turned):
                least = min(
                    least,
                    free_mm(subject.halves[side], at + radius * out, way * frame[:, 2], out),
                )
    return least
