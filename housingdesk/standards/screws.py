"""Metric screws, nuts, washers and heat-set inserts, M2 to M6; lengths in mm."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from housingdesk.standards._data import Entry, Positive, table

ScrewSize = Literal["M2", "M2.5", "M3", "M4", "M5", "M6"]
SIZES: tuple[ScrewSize, ...] = ("M2", "M2.5", "M3", "M4", "M5", "M6")


class Thread(Entry):
    """Coarse thread (ISO 261/262): nominal diameter, pitch and tap drill."""

    diameter_mm: Positive
    pitch_mm: Positive
    tap_drill_mm: Positive

    @property
    def pitch_diameter_mm(self) -> float:
        """D2 = d - (3 sqrt3 / 8) P, ISO 724."""
        return self.diameter_mm - 3 * math.sqrt(3) / 8 * self.pitch_mm

    @property
    def minor_diameter_mm(self) -> float:
        """D1 = d - (5 sqrt3 / 8) P, ISO 724."""
        return self.diameter_mm - 5 * math.sqrt(3) / 8 * self.pitch_mm

    @property
    def stress_area_mm2(self) -> float:
        """As = pi/4 ((d2 + d3)/2)^2 with d3 = d1 - H/6, H = sqrt3/2 P, ISO 898-1."""
        core = self.minor_diameter_mm - math.sqrt(3) / 12 * self.pitch_mm
        return math.pi / 4 * ((self.pitch_diameter_mm + core) / 2) ** 2


class ClearanceHole(Entry):
    """Through hole for a screw, ISO 273: fine (H12), medium (H13), coarse (H14)."""

    fine_mm: Positive
    medium_mm: Positive
    coarse_mm: Positive


class CapScrew(Entry):
    """Hexagon socket head cap screw, ISO 4762.

    A counterbore must clear the knurled head.
    """

    head_mm: Positive
    head_knurled_mm: Positive
    head_min_mm: Positive
    head_height_mm: Positive
    key_mm: Positive
    socket_depth_mm: Positive
    fillet_mm: Positive
    thread_length_mm: Positive


class ButtonScrew(Entry):
    """Hexagon socket button head screw, ISO 7380-1; begins at M3."""

    head_mm: Positive
    head_height_mm: Positive
    key_mm: Positive
    socket_depth_mm: Positive


class CountersunkScrew(Entry):
    """Countersunk screw; its standard must be named, heads of one size differ.

    Attributes
    ----------
    head_mm : diameter of the 90 degree cone's rim: theoretical (sharp) for ISO 10642, greatest for ISO 7046,
        nominal for DIN 7991.
    head_height_mm : greatest.
    """

    head_mm: Positive
    head_height_mm: Positive
    key_mm: Positive | None = None


class HexNut(Entry):
    """Hexagon nut: width over flats and height.

    ``corners_min_mm`` is the tabulated e, a least value; a pocket must clear ``corners_max_mm``.
    """

    flats_mm: Positive
    height_mm: Positive
    flats_min_mm: Positive | None = None
    height_min_mm: Positive | None = None
    corners_min_mm: Positive | None = None

    @property
    def corners_max_mm(self) -> float:
        """Width over the corners of a sharp hexagon: 2 s / sqrt3."""
        return across_corners_mm(self.flats_mm)


class Washer(Entry):
    """Plain washer, ISO 7089."""

    hole_mm: Positive
    outside_mm: Positive
    thickness_mm: Positive


class HeatInsert(Entry):
    """Brass insert pressed in hot: hole, its least surrounding wall, pocket depth, greatest outside.

    ``pocket_depths_mm`` has one entry per insert length on sale.
    """

    hole_mm: Positive
    pocket_depths_mm: tuple[Positive, ...]
    wall_mm: Positive | None = None
    outside_mm: Positive | None = None


class PilotRule(Entry):
    """Thread-forming screw in a plastic: factors on the screw's outer diameter."""

    pilot: Positive
    boss: Positive
    engagement: Positive


def across_corners_mm(flats_mm: float) -> float:
    """Width over the corners of a regular hexagon."""
    return 2 * flats_mm / math.sqrt(3)


def threads() -> Mapping[str, Thread]:
    """Coarse threads by size."""
    return table("iso261_threads", Thread)


def clearance_holes() -> Mapping[str, ClearanceHole]:
    """Through holes by size."""
    return table("iso273", ClearanceHole)


def cap_screws() -> Mapping[str, CapScrew]:
    """Cap screws by size."""
    return table("iso4762", CapScrew)


def button_screws() -> Mapping[str, ButtonScrew]:
    """Button head screws by size, from M3."""
    return table("iso7380", ButtonScrew)


def countersunk_screws(
    standard: Literal["ISO 10642", "DIN 7991", "ISO 7046"],
) -> Mapping[str, CountersunkScrew]:
    """Countersunk screws of one standard by size."""
    return table(standard.replace(" ", "").lower(), CountersunkScrew)


def nuts() -> Mapping[str, HexNut]:
    """Hexagon nuts ISO 4032 by size."""
    return table("iso4032", HexNut)


def old_nuts() -> Mapping[str, HexNut]:
    """Hexagon nuts DIN 934 by size: lower than ISO 4032 at M5 and M6."""
    return table("din934", HexNut)


def thin_nuts() -> Mapping[str, HexNut]:
    """Thin hexagon nuts ISO 4036 by size."""
    return table("iso4036", HexNut)


def washers() -> Mapping[str, Washer]:
    """Plain washers by size."""
    return table("iso7089", Washer)


def heat_inserts() -> Mapping[str, HeatInsert]:
    """Heat-set inserts by size."""
    return table("heat_inserts", HeatInsert)


def pilot_rules() -> Mapping[str, PilotRule]:
    """Factors for thread-forming screws by plastic."""
    return table("pilot_holes", PilotRule)


def screw_lengths() -> tuple[float, ...]:
    """Nominal lengths on sale (ISO 888), shortest first; the list is from memory."""
    return tuple(row.length_mm for row in table("iso888", _Length).values())


class _Length(Entry):
    length_mm: Positive
