"""What one unit in a file is: guessed from the part's size where the file does not say."""

from __future__ import annotations

import math

import numpy as np

from housingdesk.errors import PartError
from housingdesk.geometry.types import Floats
from housingdesk.spec.models import UNIT_MM, Unit

# Bought parts that people house are mostly 20 to 120 mm long; 50 mm is the middle of that on a
# logarithmic scale (common practice, no source).
TYPICAL_MM = 50.0
# How much likelier a file is in mm or m than in cm or inch, as a factor on size: millimetres are the
# trade's unit, robot descriptions are in metres (ROS REP 103), cm and inch are rarities.
_RARITY: dict[Unit, float] = {"mm": 1.0, "m": 1.0, "cm": math.e, "inch": math.e}

MIN_PART_MM = 1.0  # greatest extent; nothing that is bought to be housed is smaller
MAX_PART_MM = 2000.0  # greatest extent; far more than any printer takes

UNIT_WORD: dict[Unit, str] = {"mm": "millimetres", "cm": "centimetres", "m": "metres", "inch": "inches"}


def guess_unit(size: Floats) -> Unit:
    """Guess what one file unit is from the part's extent.

    The unit is chosen that brings the greatest extent nearest to that of a typical part, measured as a
    factor, with a handicap for rare units.  Inch and cm differ by a factor of 2.54 only, so size alone
    cannot always tell them apart: extents that all lie on the sixteenths of an inch, and not all on half
    millimetres, speak for inch.  It stays a guess; a caliper measurement settles it.

    Parameters
    ----------
    size : (3,) float, extent along x, y and z in file units.
    """
    greatest = float(np.max(size))
    if not greatest > 0 or not math.isfinite(greatest):
        return "mm"

    def strangeness(unit: Unit) -> float:
        return abs(math.log(greatest * UNIT_MM[unit] / TYPICAL_MM)) + math.log(_RARITY[unit])

    best = min(UNIT_MM, key=strangeness)
    if best == "cm" and _on_grid(size, 1 / 16) and not _on_grid(size, 0.05):
        return "inch"
    return best


def suggest_unit(size: Floats, unit: Unit) -> Unit | None:
    """Return a unit that makes sense of an extent in file units where ``unit`` does not, or None."""
    better = guess_unit(size)
    sensible = MIN_PART_MM <= float(np.max(size)) * UNIT_MM[better] <= MAX_PART_MM
    return better if better != unit and sensible else None


def check_size(size_mm: Floats, unit: Unit) -> None:
    """Refuse a part that cannot be of this size.

    Parameters
    ----------
    size_mm : (3,) float, extent in mm as ``unit`` makes it.
    unit : what one file unit was taken to be.

    Raises
    ------
    PartError : the greatest extent lies outside 1 mm to 2000 mm; the sentence names the likely unit.
    """
    greatest = float(np.max(size_mm))
    if MIN_PART_MM <= greatest <= MAX_PART_MM:
        return
    shown = f"{greatest / 1000:.4g} m" if greatest > MAX_PART_MM else f"{greatest:.4g} mm"
    kind = "large" if greatest > MAX_PART_MM else "small"
    better = suggest_unit(np.asarray(size_mm, float) / UNIT_MM[unit], unit)
    if better is None:
        hint = f"a housing is made for parts of {MIN_PART_MM:g} to {MAX_PART_MM:g} mm; check the file"
    else:
        in_mm = greatest / UNIT_MM[unit] * UNIT_MM[better]
        hint = f"choose {UNIT_WORD[better]} as its unit ({better}), which makes it {in_mm:.4g} mm"
    raise PartError(
        f"The part is too {kind}: read in {UNIT_WORD[unit]} its greatest length is {shown}; {hint}."
    )


def _on_grid(size: Floats, step: float) -> bool:
    """Whether all extents are multiples of a step, within what single precision can hold."""
    steps = np.asarray(size, float) / step
    return bool(np.all(np.abs(steps - np.round(steps)) < 1e-4 * np.maximum(1.0, steps)))
