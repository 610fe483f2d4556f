"""Screws as built: their holes, seats and the material around them, measured on the finished halves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from housingdesk.features.records import Fastener
from housingdesk.finding import Finding
from housingdesk.geometry.loops import contains, distance
from housingdesk.geometry.section import section
from housingdesk.geometry.types import Floats, Mesh, Side
from housingdesk.proof.measured import Measured
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import mm

HOLE_SLACK_MM = 0.05
THIN_MM = 0.8  # two lines of a 0.4 mm nozzle: thinner does not print (shop guidance, check-values 4a)
_INTO = {"pilot": "printed threads", "insert": "inserts", "nut": "nuts", "through": "nuts outside"}
_FOR = {"pilot": "thread", "insert": "insert"}
TORN = 1.02  # a round hole's corners lie at most a hundredth outside its round
SAME_MM = 0.1  # a screw whose holes differ by less is one of the same kind


class Slices:
    """Level slices of the halves, each made once."""

    def __init__(self, halves: Mapping[Side, Mesh]) -> None:
        self._halves = halves
        self._kept: dict[tuple[Side, float], list[Floats]] = {}

    def at(self, side: Side, z_mm: float) -> list[Floats]:
        """Return the closed lines of a level slice, each (k, 2)."""
        key = side, round(z_mm, 4)
        if key not in self._kept:
            lines = section(self._halves[side], (0, 0, key[1]), (1, 0, 0), (0, 1, 0))
            self._kept[key] = [line.points for line in lines if line.closed]
        return self._kept[key]

    def rim_heights(self, side: Side, place: Floats, radius_mm: float) -> Floats:
        """Return the heights of all corners of a half that lie on a round about an upright axis."""
        points = self._halves[side].vertices
        away = np.hypot(points[:, 0] - place[0], points[:, 1] - place[1])
        # The flats of a hole lie on its round, its corners up to a hundredth of it outside.
        heights: Floats = points[(away > radius_mm - 0.02) & (away < 1.02 * radius_mm + 0.02), 2]
        return heights


@dataclass(frozen=True, slots=True)
class Bore:
    """A hole in one level slice: what passes it, and the least material around; 0 where it is torn open."""

    diameter_mm: float
    around_mm: float


def bore(lines: list[Floats], place: Floats) -> Bore:
    """Measure the hole round an axis in one level slice.

    Parameters
    ----------
    lines : closed lines, each (k, 2).
    place : (2,) of the axis.
    """
    round_it = [line for line in lines if contains([line], place)]
    if not round_it:
        return Bore(0.0, 0.0)
    own = min(round_it, key=lambda line: float(np.ptp(line, axis=0).max()))
    radius = distance([own], place)
    if float(np.linalg.norm(own - place, axis=1).max()) > TORN * radius + HOLE_SLACK_MM:
        return Bore(2 * radius, 0.0)
    others = [line for line in lines if line is not own]
    return Bore(2 * radius, distance(others, place) - radius)


def as_measured(screw: Fastener, slices: Slices, parting_z_mm: float) -> Fastener:
    """Return a screw with its figures as found on the finished halves."""
    (x, y, seat), (_, _, tip) = screw.axis_mm
    place, up = np.array([x, y]), 1.0 if seat > tip else -1.0
    head: Side = "upper" if up > 0 else "lower"
    thread: Side = "lower" if up > 0 else "upper"
    found: list[Bore] = []

    def look(side: Side, z_mm: float) -> float:
        found.append(bore(slices.at(side, z_mm), place))
        return found[-1].diameter_mm

    # A cone's seat is its rim, so the shank begins a cone's depth below.
    sunk = screw.head_hole_mm > 0
    cone = sunk and look(head, seat - up * 0.1 * screw.head_depth_mm) > screw.clear_hole_mm + SAME_MM
    shank = seat - up * screw.head_depth_mm if cone else seat
    clear = look(head, (parting_z_mm + shank) / 2)
    head_hole, head_depth = 0.0, 0.0
    if cone:
        # The rim by the cone's own slope, from two heights.
        one, two = (look(head, seat - up * share * screw.head_depth_mm) for share in (0.2, 0.6))
        head_hole = one + 0.2 / 0.4 * (one - two)
        head_depth = (head_hole - clear) / 2
    elif sunk:
        head_hole = look(head, seat + up * min(0.5, screw.head_depth_mm / 2))
        rims = slices.rim_heights(head, place, head_hole / 2)
        # What lies below the middle of the shank is another's, such as a lip that runs round the boss.
        rims = rims[up * (rims - (parting_z_mm + shank) / 2) > 0]
        if len(rims):
            face = seat + up * screw.head_depth_mm
            head_depth = up * (face - float(rims.min() if up > 0 else rims.max()))
    hold = 0.0
    if screw.kind in ("pilot", "insert"):
        half = up * screw.engagement_mm / 2
        hold = look(thread, tip + half if screw.kind == "pilot" else parting_z_mm - half)
    return replace(
        screw,
        clear_hole_mm=clear,
        pilot_or_insert_hole_mm=hold,
        head_hole_mm=head_hole,
        head_depth_mm=head_depth,
        least_wall_mm=min(b.around_mm for b in found),
    )


def screws(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge every screw's holes against what was designed, and the material around them."""
    slices = Slices(subject.halves)
    groups: dict[tuple[str, str, float], list[Fastener]] = {}
    for designed in subject.fasteners:
        found = as_measured(designed, slices, subject.parting_z_mm)
        where = (*found.axis_mm[0][:2], subject.parting_z_mm)
        wrong = _differs(designed, found)
        if wrong:
            yield Finding("screw-holes", "fail", f"A screw {found.size} {wrong}.",
                          "Move it, or what is near it.", where)  # fmt: skip
        elif found.least_wall_mm < THIN_MM:
            yield Finding(
                "screw-material",
                "fail",
                f"A screw {found.size} has only {mm(max(found.least_wall_mm, 0.0))} of material beside it.",
                "Move it away from the cavity and the edge.",
                where,
            )
        else:
            groups.setdefault((found.size, found.kind, found.length_mm), []).append(found)
    for (size, kind, length), group in groups.items():
        least = min(group, key=lambda f: f.least_wall_mm)
        yield Finding(
            "screws",
            "pass",
            f"{len(group)} × {size} × {length:g} into {_INTO[kind]}: {_holes(least)}, "
            f"{mm(min(f.engagement_mm for f in group))} of thread, {mm(least.least_wall_mm)} of material "
            "around them or more.",
            where_mm=(*least.axis_mm[0][:2], subject.parting_z_mm),
        )


def _holes(screw: Fastener) -> str:
    """Say how wide each hole is, and how wide once printed where the file allows for that."""
    sizes = [screw.clear_hole_mm, *([screw.pilot_or_insert_hole_mm] if screw.kind in _FOR else [])]
    one, *other = (mm(size) for size in sizes)
    said = f"holes of {one} for the screw" + (f" and {other[0]} for the {_FOR[screw.kind]}" if other else "")
    if screw.hole_correction_mm:
        printed = " and ".join(mm(size - screw.hole_correction_mm) for size in sizes)
        said += f" (as the printer makes holes smaller, {printed} once printed)"
    return said


def _differs(designed: Fastener, found: Fastener) -> str:
    """Return what is not as designed, as the end of a sentence, or nothing."""
    for field, what in (
        ("clear_hole_mm", "its hole"),
        ("head_hole_mm", "the hole for its head"),
        ("pilot_or_insert_hole_mm", "its thread's hole"),
        ("head_depth_mm", "the depth of its head"),
    ):
        asked, got = getattr(designed, field), getattr(found, field)
        if abs(asked - got) > HOLE_SLACK_MM:
            return f"is spoiled: {what} measures {mm(got)}, {mm(asked)} asked"
    return ""
