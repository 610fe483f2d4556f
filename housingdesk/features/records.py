"""What is told about features: lines of the proof document and of the parts list.  Build frame, mm."""

from __future__ import annotations

from dataclasses import dataclass, field

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Fastener:
    """One screw and its holes, as designed; the proof measures them on the finished halves.

    Attributes
    ----------
    size, kind : "M3", and how it holds: pilot, insert, nut or through.
    axis_mm : two points, from under the head to the screw's tip.
    clear_hole_mm, pilot_or_insert_hole_mm, head_hole_mm : diameters; 0 where there is none.
    head_depth_mm : from the outer face to the seat of the head; 0 where it stands proud.
    length_mm, engagement_mm : nominal length, and how much of it holds.
    least_wall_mm : least material around any of its holes.
    hole_correction_mm : what its round holes are made larger, for a printer whose holes come out small.
    """

    size: str
    kind: str
    axis_mm: tuple[Point, Point]
    clear_hole_mm: float
    pilot_or_insert_hole_mm: float
    head_hole_mm: float
    head_depth_mm: float
    length_mm: float
    engagement_mm: float
    least_wall_mm: float
    hole_correction_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class OpeningRecord:
    """One opening: what it is for, its middle at the outer face, width and height there."""

    name: str
    kind: str
    centre_mm: Point
    size_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Channel:
    """A wire's channel as designed; the proof measures it on the finished halves.

    Attributes
    ----------
    wire_mm, width_mm : diameter of the wire, and width of the channel.
    across, out : unit, in the parting plane: across the channel, and out of the housing.
    mouth_mm : a place on its axis where the rounding of its mouth has ended.
    straight_mm : how far it runs straight from there inward, through the wall.
    hold_mm, gap_mm : the place between the humps of a clamp and what they leave; None and 0 without a clamp.
    """

    name: str
    wire_mm: float
    width_mm: float
    across: Point
    out: Point
    mouth_mm: Point
    straight_mm: float = 0.0
    hold_mm: Point | None = None
    gap_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Joint:
    """A lip, dowel, hook or notch, with its figures by name (units in the names)."""

    name: str
    kind: str
    figures: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Seat:
    """A bearing's or bush's seat as designed; the proof measures it on the finished halves.

    Attributes
    ----------
    zone, words : the shaft, and what is put in, with its size.
    starts_mm, axis : where on the shaft's axis its inner end lies, and the way out (unit).
    steps_mm : (length along the shaft, outside diameter) of what is put in, from inside out.
    free_mm : diameter of what turns, which no shoulder may touch.
    shoulder_mm, mouth_mm : diameters that the shoulders leave open, and that its mouth is widened to.
    laid : whether it is laid in between the halves, with a shoulder at its inner end too.
    ends_mm : where on the axis its mouth lies, at the end of its boss.
    chamfer_mm : how deep the mouth is chamfered.
    """

    zone: str
    words: str
    starts_mm: Point
    axis: Point
    steps_mm: tuple[tuple[float, float], ...]
    free_mm: float
    shoulder_mm: float
    mouth_mm: float
    laid: bool
    ends_mm: Point
    chamfer_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Contact:
    """A place where the housing touches the part on purpose.

    Attributes
    ----------
    centre_mm, radius_mm : a ball that holds all of the housing and of the part that come nearer there than
        the clearance, also while the part slides in.
    press_mm : how deep the housing stands into the untouched part there; less than 0 where it ends before it.
    out : unit, from the part to the housing; with a press it says where the housing is crushed flush.
    printed_more_mm : how much deeper it does once printed, on a printer for which it is drawn lower.
    """

    centre_mm: Point
    radius_mm: float
    press_mm: float = 0.0
    out: Point = (0.0, 0.0, 0.0)
    printed_more_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Cushion:
    """A bought pad between part and wall, whose thickness strays as its user has measured.

    Attributes
    ----------
    out : unit, from the part to the housing.
    squeeze_mm : how much thicker it is than the gap; negative where it leaves room.
    stray_mm : its thickness lies within +- this, at three standard deviations.
    """

    out: Point
    squeeze_mm: float
    stray_mm: float


@dataclass(frozen=True, slots=True)
class BillLine:
    """A bought thing: how many, what, by which standard, for what."""

    count: int
    what: str
    standard: str = ""
    purpose: str = ""
