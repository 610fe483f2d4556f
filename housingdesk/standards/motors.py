"""Stepper motor faces by frame size (NEMA ICS 16 naming)."""

from __future__ import annotations

from collections.abc import Mapping

from housingdesk.standards._data import Entry, Positive, Range, table
from housingdesk.standards.screws import ScrewSize


class MotorFace(Entry):
    """The mounting face of a motor.

    Attributes
    ----------
    face_mm : width over flats; the published figures are a range, real motors differ.
    hole_spacing_mm : side of the square of the four screw holes.
    shaft_mm : shaft diameter.
    pilot_mm, pilot_height_mm : the round shoulder about the shaft.
    screw : size of its four screws.
    warning : what to check with calipers, for the user.
    """

    face_mm: Range
    hole_spacing_mm: Positive
    shaft_mm: Positive
    pilot_mm: Positive
    pilot_height_mm: Positive
    screw: ScrewSize
    warning: str


def motor_faces() -> Mapping[str, MotorFace]:
    """All faces by name, smallest first."""
    return table("nema_faces", MotorFace)
