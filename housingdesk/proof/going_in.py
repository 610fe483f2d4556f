"""Can the part be laid straight into each half, and what that took."""

from __future__ import annotations

from collections.abc import Iterator

from housingdesk.finding import Finding
from housingdesk.geometry.types import SIDES
from housingdesk.proof.measured import Measured
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import mm, triple, volume

MUCH_RELIEF = 0.3  # share of the hollow in a half; more means the part is poorly held (own choice)
NEARLY_NO_RELIEF_MM3 = 1.0

_OTHER_WAY = "Choose another parting height or pull direction."
_CUT_RELIEF = "Let the {side} half be cut away for it, or choose another parting height or pull direction."


def goes_in(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether the part goes straight in, and tell what it took."""
    asked = subject.clearance_mm
    for side in SIDES:
        found, relief = measured.halves[side], subject.relief_mm3[side]
        half = subject.halves[side]
        code, where = f"goes-in-{side}", triple(found.way.at_half_mm)
        whence = "above" if side == "lower" else "below"
        if not found.goes_in(asked):
            what = (
                f"The part hits the {side} half when it goes in from {whence}."
                if found.way_hits or found.way.distance_mm == 0.0 < asked
                else f"When the part goes into the {side} half it comes within "
                f"{mm(found.way.distance_mm, asked)}, {mm(asked)} asked."
            )
            if side in subject.kept:
                what = f"{what[:-1]}, because its material is kept as you asked."
                yield Finding(code, "caution", what, _CUT_RELIEF.format(side=side), where)
            else:
                yield Finding(code, "fail", what, _OTHER_WAY, where)
            continue
        least = mm(found.way.distance_mm, asked)
        taken = (
            "no material stands in its way"
            if side in subject.kept
            else "nothing had to be cut away for that"
            if relief < NEARLY_NO_RELIEF_MM3
            else f"{volume(relief)} were cut away for that"
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
