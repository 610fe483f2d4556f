"""Checks of the room between part and halves."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from housingdesk.finding import Finding
from housingdesk.geometry.edges import Flags
from housingdesk.geometry.types import SIDES, Floats, Side
from housingdesk.proof.measured import Measured
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import SLACK_MM as SLACK_MM
from housingdesk.proof.wording import mm, triple

_MORE_ROOM = "Raise the clearance a little, or choose another parting height."
WIDER_MM = 0.1  # more than asked by this is no accident of the engine, which keeps within 0.05 on flats
_OTHER_WAY = "Choose another parting height or pull direction."


def gap(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge the least room around the seated part, per half."""
    asked = subject.clearance_mm
    for side in SIDES:
        found = measured.halves[side].gap
        least = found.distance_mm
        message = (
            f"In the {side} half the part has {mm(least, asked)} room at the tightest place, "
            f"{mm(asked)} asked."
        )
        where = triple(found.at_part_mm)
        if found.certain_mm >= asked - SLACK_MM:
            yield Finding(f"gap-{side}", "pass", message, where_mm=where)
        elif least >= asked - SLACK_MM and found.short_by_mm > SLACK_MM:
            yield Finding(
                f"gap-{side}",
                "caution",
                f"{message[:-1]}; the part is so finely divided that this is known only to "
                f"{mm(found.short_by_mm)}.",
                "Use a coarser model of the part to have the room measured exactly.",
                where,
            )
        else:
            yield Finding(f"gap-{side}", "fail", message, _MORE_ROOM, where)


def interference(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Look for part inside the material."""
    for side in SIDES:
        found = measured.halves[side]
        if not len(found.stuck):
            yield Finding(f"interference-{side}", "pass", f"No point of the part is inside the {side} half.")
            continue
        size = f" (about {found.overlap_mm3:.1f} mm³)" if found.overlap_mm3 >= 0.05 else ""
        yield Finding(
            f"interference-{side}",
            "fail",
            f"The part is inside the material of the {side} half{size}.",
            _MORE_ROOM,
            triple(found.stuck[0]),
        )


def zone_gaps(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge the gap around each zone against the clearance asked of it."""
    ends = {zone.name: zone.end_mm for zone in subject.zones}
    for facts in measured.zones:
        asked, code = facts.clearance_mm, f"zone-{_slug(facts.name)}"
        if not np.isfinite(facts.min_gap_mm):
            yield Finding(
                code,
                "caution",
                f"The {facts.name} lies wholly outside the housing, so it has no gap to measure.",
                "Let the sides of the shell reach further out if it should be inside.",
            )
            continue
        message = f"Around the {facts.name} the gap is {mm(facts.min_gap_mm, asked)} at the tightest"
        if np.isfinite(facts.median_gap_mm):
            message += f", {mm(facts.median_gap_mm)} typically, {mm(facts.max_gap_mm)} at most"
        message += f"; {mm(asked)} asked."
        where = triple(facts.min_gap_at_mm)
        if facts.purpose == "held" and facts.min_gap_mm > asked + ends.get(facts.name, 0.0) + WIDER_MM:
            yield Finding(
                code,
                "caution",
                f"{message} What lies beside it has more room, and takes that along on its way in.",
                f"Give what lies beside the {facts.name} its clearance too, choose another pull direction, "
                "or hold it with ribs.",
                where,
            )
        elif facts.min_gap_mm >= asked - SLACK_MM:
            yield Finding(code, "pass", message, where_mm=where)
        else:
            yield Finding(
                code,
                "fail",
                message,
                f"Raise the clearance of the {facts.name} a little, or choose another parting height.",
                where,
            )


def parting(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether the parting plane runs through the part, and the halves meet there."""
    z, (low, high) = subject.parting_z_mm, subject.held[:, 2].tolist()
    if low < z < high:
        message = (
            f"The halves part {mm(z - low)} above the lowest point of the part, "
            f"{mm(high - z)} below the highest."
        )
        yield Finding("parting-through-part", "pass", message)
    else:
        yield Finding(
            "parting-through-part",
            "fail",
            f"The parting plane at {mm(z)} does not run through the part ({mm(low)} to {mm(high)}).",
            "Move the parting plane between the lowest and the highest point of the part.",
        )
    top, bottom = (_end(subject, side) for side in SIDES)
    if abs(top - z) <= SLACK_MM and abs(bottom - z) <= SLACK_MM:
        yield Finding("halves-meet", "pass", "The halves meet in the parting plane.")
    else:
        yield Finding(
            "halves-meet",
            "fail",
            f"The lower half ends {mm(top - z)} and the upper half begins {mm(bottom - z)} above "
            "the parting plane.",
            _OTHER_WAY,
        )


def _end(subject: Subject, side: Side) -> float:
    """Return the height at which a half ends, but for what stands across the plane on purpose."""
    points, z = subject.halves[side].vertices, subject.parting_z_mm
    beyond = points[:, 2] - z if side == "lower" else z - points[:, 2]
    left = points[(beyond > SLACK_MM) & ~_meant(points, subject.across)]
    if not len(left):
        left = points[beyond <= SLACK_MM]
    return float(left[:, 2].max() if side == "lower" else left[:, 2].min())


def _meant(points: Floats, boxes: tuple[Floats, ...]) -> Flags:
    """Tell which (n, 3) points lie in any of the boxes."""
    out = np.zeros(len(points), bool)
    for low, high in boxes:
        out |= ((points >= low - SLACK_MM) & (points <= high + SLACK_MM)).all(axis=1)
    return out


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-") or "unnamed"
