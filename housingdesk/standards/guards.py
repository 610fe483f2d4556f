"""Openings that keep fingers safe: ISO 13857 table 4 and the probes of IEC 60529."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from housingdesk.errors import SpecError
from housingdesk.standards._data import Entry, Figure, Positive, table

Opening = Literal["slot", "square", "round"]


class SafeDistance(Entry):
    """Least distance to the hazard for openings up to and with ``to_mm``, persons of 14 years and above, mm.

    ``short_slot`` holds for slots no longer than ``SHORT_SLOT_MM``, where it differs.
    """

    to_mm: Positive
    slot: Positive
    square: Positive
    round: Positive
    short_slot: Positive | None = None


class Probe(Entry):
    """The test of a first numeral: what shall not enter.

    Attributes
    ----------
    numeral : first characteristic numeral of the IP code.
    access_mm : diameter of the access probe; numeral 2 is the jointed finger, which may enter up to
        ``access_length_mm`` if it stays clear of the hazard.
    object_mm : diameter of the object probe, which shall not fully enter.
    """

    numeral: int
    access_mm: Positive
    object_mm: Positive
    access_length_mm: Positive | None = None
    force_n: Positive | None = None


SHORT_SLOT_MM = 65.0  # ISO 13857 table 4, note on thumb-stop slots


def probes() -> Mapping[str, Probe]:
    """All probes, named 'IP1' to 'IP4'."""
    return table("iec60529", Probe)


def safe_distance_mm(shape: Opening, opening_mm: float, slot_length_mm: float | None = None) -> Figure:
    """Return the least distance between an opening and the hazard behind it.

    Parameters
    ----------
    opening_mm : the narrow side of a slot, the side of a square, the diameter of a round hole.
    slot_length_mm : the long side of a slot, if known.

    Raises
    ------
    SpecError
        For an opening of no size, or wider than 120 mm, for which the table has no distance.
    """
    if not opening_mm > 0:
        raise SpecError("An opening needs a size above zero; enter it in mm.")
    for row in table("iso13857", SafeDistance).values():
        if opening_mm <= row.to_mm:
            short = shape == "slot" and slot_length_mm is not None and slot_length_mm <= SHORT_SLOT_MM
            return row.figure("short_slot" if short and row.short_slot else shape)
    raise SpecError("Openings wider than 120 mm are not guarded by distance; make the opening smaller.")


def first_numeral(opening_mm: float, finger_stays_clear: bool = False) -> int:
    """Return the first IP numeral that a round opening reaches by its size; 0 where it reaches none.

    Parameters
    ----------
    opening_mm : diameter, greater than zero.
    finger_stays_clear : the hazard is out of reach of the 12 mm jointed finger, so that it may enter.
    """
    reached = 0
    for probe in probes().values():
        finger_may_enter = probe.numeral == 2 and finger_stays_clear
        if opening_mm < probe.object_mm and (opening_mm < probe.access_mm or finger_may_enter):
            reached = max(reached, probe.numeral)
    return reached
