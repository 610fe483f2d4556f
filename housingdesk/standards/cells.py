"""Round battery cells: size from the code printed on them, and the old letter sizes."""

from __future__ import annotations

import re
from collections.abc import Mapping

from housingdesk.errors import SpecError
from housingdesk.standards._data import Entry, Positive, Source, table

_CODE = re.compile(r"(?P<letters>[A-Z]{0,3})(?P<diameter>\d{2})(?P<length>\d{3})")
_COIN = re.compile(r"(?P<letters>[A-Z]{2})(?P<diameter>\d{2})(?P<length>\d{2})")
_SLASHED = re.compile(r"(?P<letters>[A-Z]{2,3})(?P<diameter>\d{2})/(?P<length>\d{2,3})")
_ROUND = re.compile(r"[A-Z]{0,2}R(?P<size>1|03|6|14|20|44)")  # IEC 60086: chemistry, R for round, size
_LETTERED = {"1": "N", "03": "AAA", "6": "AA", "14": "C", "20": "D", "44": "R44"}

_RULE = Source(
    standard="IEC 61960 / IEC 60086 code",
    mark="M",
    text="size read from the cell's code by rule, the rule from memory; measure the cell",
)


class Cell(Entry):
    """A round cell: diameter and length over all, and how much they vary, mm.

    ``extra_diameter_mm`` and ``extra_length_mm`` are what a cell with a protection board adds; 0 if unknown.
    """

    diameter_mm: Positive
    length_mm: Positive
    diameter_limit_mm: float = 0.0
    length_limit_mm: float = 0.0
    extra_diameter_mm: float = 0.0
    extra_length_mm: float = 0.0


def known_cells() -> Mapping[str, Cell]:
    """Cells with a row of their own, by name."""
    return table("cells", Cell)


def cell(code: str) -> Cell:
    """Return a cell by its name or by the rule of its code.

    Five digits are the diameter in mm and the length in tenths (18650: 18 x 65.0), four after two letters
    the same for coin cells (CR2032: 20 x 3.2), and with a stroke both in whole mm (INR19/66).  IEC 60086
    numbers the old sizes (LR6 is an AA, R20 a D).  A code of digits
    carries whole millimetres of diameter, so a real cell may be up to 1 mm wider (CR2450 is 24.5).

    Raises
    ------
    SpecError
        For a code that names no round cell.
    """
    name = re.sub(r"[\s-]", "", code).upper()
    known = known_cells()
    if name in known:
        return known[name]
    if of_iec := _ROUND.fullmatch(name):
        return known[_LETTERED[of_iec["size"]]].model_copy(update={"name": name})
    for pattern, scale in ((_SLASHED, 1.0), (_CODE, 0.1), (_COIN, 0.1)):
        found = pattern.fullmatch(name)
        if found and int(found["diameter"]) and int(found["length"]):
            # A lithium cell of a known size keeps that row whatever its letters say of the chemistry.
            plain = found["diameter"] + found["length"]
            if pattern is _CODE and plain in known:
                return known[plain].model_copy(update={"name": name})
            return Cell(
                name=name,
                provenance=(("diameter_mm", _RULE), ("length_mm", _RULE)),
                diameter_mm=float(found["diameter"]),
                length_mm=round(int(found["length"]) * scale, 1),
            )
    raise SpecError(f"'{code}' names no round cell; give a code such as 18650 or CR2032, or its size in mm.")
