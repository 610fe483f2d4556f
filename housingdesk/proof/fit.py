"""Checks of the room between part and halves."""

from __future__ import annotations

from collections.abc import Iterator

from housingdesk.geometry.types import SIDES
from housingdesk.proof.finding import Finding
from housingdesk.proof.measured import Measured
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import cm3, mm, triple

SLACK_MM = 0.01  # what a clearance may fall short: a twentieth of a printer's repeatability (common practice)
MUCH_RELIEF = 0.3  # share of the hollow in a half; more means the part is poorly held (own choice)
NEARLY_NO_RELIEF_MM3 = 1.0

_MORE_ROOM = "Raise the clearance a little, or choose another parting height, and build again."
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


def goes_in(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether the part goes straight in, and tell what it took."""
    asked = subject.clearance_mm
    for side in SIDES:
        found, relief = measured.halves[side], subject.relief_mm3[side]
        half = subject.halves[side]
        code, where = f"goes-in-{side}", triple(found.way.at_half_mm)
        whence = "above" if side == "lower" else "below"
        if found.way_hits or found.way.certain_mm < asked - 2 * SLACK_MM:
            what = (
                f"The part hits the {side} half when it goes in from {whence}."
                if found.way_hits or found.way.distance_mm == 0.0 < asked
                else f"When the part goes into the {side} half it comes within "
                f"{mm(found.way.distance_mm, asked)}, {mm(asked)} asked."
            )
            yield Finding(code, "fail", what, _OTHER_WAY, where)
            continue
        least = mm(found.way.distance_mm, asked)
        taken = (
            "nothing had to be cut away for that"
            if relief < NEARLY_NO_RELIEF_MM3
            else f"{cm3(relief)} were cut away for that"
        )
        message = (
            f"The part goes straight into the {side} half from {whence}, never nearer than {least}; {taken}."
        )
        hollow = float(half.size_mm.prod()) - half.volume_mm3
        if relief > MUCH_RELIEF * hollow:
            share = f"{100 * relief / hollow:.0f} %"
            yield Finding(code, "caution", f"{message[:-1]}, {share} of the hollow.", _OTHER_WAY, where)
        else:
            yield Finding(code, "pass", message, where_mm=where)


def parting(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether the parting plane runs through the part, and the halves meet there."""
    z, (low, high) = subject.parting_z_mm, subject.part_bounds[:, 2].tolist()
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
    top = float(subject.halves["lower"].bounds[1, 2])
    bottom = float(subject.halves["upper"].bounds[0, 2])
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
