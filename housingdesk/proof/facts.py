"""What a proof measures on the finished halves."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from housingdesk.finding import Finding
from housingdesk.geometry.freedom import Play
from housingdesk.geometry.types import Floats, Side
from housingdesk.spec.zones import Purpose

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class HalfFacts:
    """Figures of one half, all measured on its finished mesh.

    Attributes
    ----------
    min_gap_mm, min_gap_at_mm : least distance to the untouched part, and where on the part; places where
        the housing touches the part on purpose are left out.
    way_gap_mm : least distance met while the part goes straight in; None when not measured (draft).
    overlap_mm3 : part inside the half, 0 where it fits.
    relief_mm3 : material taken only so that the part can go in.
    wall_mm, floor_mm : least material beside the cavity and under (over) it, inf where none was found.
    clear : whether the part goes straight in with the room asked.
    """

    volume_mm3: float
    triangles: int
    size_mm: Point
    min_gap_mm: float
    min_gap_at_mm: Point
    way_gap_mm: float | None
    overlap_mm3: float
    relief_mm3: float
    wall_mm: float
    floor_mm: float
    clear: bool = True


@dataclass(frozen=True, slots=True)
class ZoneFacts:
    """Gaps around one zone of the part, where it lies inside the housing.

    Attributes
    ----------
    name, purpose, clearance_mm : as asked.
    min_gap_mm, median_gap_mm, max_gap_mm : distances of the zone's faces to the finished halves; inf where
        no point of the zone lies inside.  A shaft in a bearing may have a least gap alone.
    min_gap_at_mm : where the least was met, on the part.
    below_mm : (k, 3) points of the part with less room than asked, least room first.
    """

    name: str
    purpose: str
    clearance_mm: float
    min_gap_mm: float
    median_gap_mm: float
    max_gap_mm: float
    min_gap_at_mm: Point
    below_mm: Floats = field(default_factory=lambda: np.zeros((0, 3)))


@dataclass(frozen=True, slots=True)
class PlayFacts:
    """How far a part can still move in the closed housing; of several parts the loosest.

    Attributes
    ----------
    about : name of the turning zone whose axis ``Play.turn_deg`` is about; empty without one, and the axis
        is the upright one through the part's middle.
    axis_mm, axis : (3,) a point of that axis and its direction, build frame.
    now : with everything that holds the part.
    before : without ribs and pads; None where there are none.
    stops : what of the part meets the housing first when it is turned that way and the other, in words.
    part, middle_mm : its name and middle, where there are several parts; empty and None of a single one.
    parts : of every part in order, where there are several.
    """

    about: str
    axis_mm: Point
    axis: Point
    now: Play
    before: Play | None = None
    stops: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    part: str = ""
    middle_mm: Point | None = None
    parts: tuple[PlayFacts, ...] = ()

    @property
    def who(self) -> str:
        """Which part it is, in words."""
        return f"the part '{self.part}'" if self.part else "the part"

    @property
    def about_words(self) -> str:
        """What it turns about, such as ``about the shaft``."""
        return f"about the {self.about}" if self.about else "about the upright axis"


@dataclass(frozen=True, slots=True)
class Across:
    """What lies across the part from a zone, in one direction.

    Attributes
    ----------
    other_mm : the gap by design on the other side; None where it is the zone's own on both sides.
    more_mm : what both sides together are drawn wider than asked: room at ends, holes for a measured printer.
    """

    other_mm: float | None = None
    more_mm: float = 0.0

    def gap_mm(self, clearance_mm: float) -> float:
        """Return the total gap over both sides by design, with a clearance of the zone."""
        return clearance_mm + (clearance_mm if self.other_mm is None else self.other_mm) + self.more_mm

    def clearance_mm(self, gap_mm: float) -> float:
        """Return the clearance of the zone that gives a total gap."""
        if self.other_mm is None:
            return (gap_mm - self.more_mm) / 2
        return gap_mm - self.other_mm - self.more_mm


@dataclass(frozen=True, slots=True)
class ZoneOdds:
    """The chances of one zone on the user's printer: by formula, and counted on simulated prints.

    Attributes
    ----------
    zone, clearance_mm : which, and its gap a side by design.
    play_mm : total free movement that is still no rattle.
    goes_in, held : chance that the part goes in (a shaft: turns freely), where the gap is least, and that it
        moves no more than ``play_mm``, where the gap is greatest; by formula.
    goes_in_drawn, held_drawn, error : the same from drawn prints, and their standard error.
    mean_gap_mm, gap_std_mm : of the total gap over both sides, as printed, where it is least.
    worst_side_mm : least gap of one side with every source at its limit.
    shares : what each source adds to the variance, with its name.
    sure_mm : the clearance with which 99 % go in.
    purpose : of the zone.
    opposite_mm : the gap by design on the other side, where another zone lies there; else None.
    """

    zone: str
    clearance_mm: float
    play_mm: float
    goes_in: float
    held: float
    goes_in_drawn: float
    held_drawn: float
    error: float
    mean_gap_mm: float
    gap_std_mm: float
    worst_side_mm: float
    shares: tuple[tuple[str, float], ...]
    sure_mm: float
    purpose: Purpose = "held"
    opposite_mm: float | None = None

    @property
    def advised_mm(self) -> float:
        """The clearance to take so that 99 % go in: in hundredths, and never less than that."""
        return math.ceil(100 * max(self.sure_mm, 0.0) - 1e-6) / 100


@dataclass(frozen=True, slots=True)
class Proof:
    """All that was measured and judged on a finished housing.

    Attributes
    ----------
    findings : the proof sheet, worst first.
    """

    halves: dict[Side, HalfFacts]
    zones: tuple[ZoneFacts, ...]
    findings: tuple[Finding, ...]
