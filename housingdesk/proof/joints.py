"""What joins the halves, as built: whether anything does, and how near it comes to the other half."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from housingdesk.finding import Finding
from housingdesk.geometry.measure import distances
from housingdesk.geometry.types import SIDES, Floats, Side
from housingdesk.proof.measured import Measured
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import SLACK_MM, mm, triple
from housingdesk.standards.fits import off_words

FREE_MM = 0.05  # a joint nearer to the other half than this touches it, and the halves do not close
ROOT_SHARE = 0.4  # of a joint's height: nearer the plane lies its root, beside the face the halves meet in


def clear(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether everything that stands across the parting plane has room in the other half."""
    standing = [(side, points) for side in SIDES if len(points := _standing(subject, side))]
    if not standing:
        return
    least, where = np.inf, np.zeros(3)
    for side, points in standing:
        other: Side = "upper" if side == "lower" else "lower"
        away = distances(points, subject.halves[other])
        if away.min() < least:
            least, where = float(away.min()), points[int(away.argmin())]
    off = subject.outside_extra_mm
    drawn = f", drawn for outsides that come out {off_words(off)}" if off else ""
    if least + max(off, 0.0) / 2 < FREE_MM:  # what comes out small is drawn nearer than it is printed
        yield Finding(
            "joints-clear",
            "fail",
            f"What joins the halves comes within {mm(least)} of the other half{drawn}; they do not close.",
            "Give it more room on the job card.",
            triple(where),
        )
    else:
        yield Finding(
            "joints-clear",
            "pass",
            f"What stands across the parting plane keeps {mm(least)} from the other half{drawn}.",
            where_mm=triple(where),
        )


def held_together(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Tell where nothing keeps the halves together: a lip and dowels only keep them from shifting."""
    if not subject.joined:
        yield Finding(
            "held-together",
            "caution",
            "Nothing holds the two halves together yet.",
            "Add screws or hooks at station Joints, unless you mean to glue or tape them.",
        )


def _standing(subject: Subject, side: Side) -> Floats:
    """Return corners of a half that lie across the plane in a joint, away from its root."""
    points, z = subject.halves[side].vertices, subject.parting_z_mm
    way = 1.0 if side == "lower" else -1.0
    out = np.zeros(len(points), bool)
    for low, high in subject.across:
        tall = way * (float(high[2] if way > 0 else low[2]) - z)
        above = way * (points[:, 2] - z) > max(ROOT_SHARE * tall, SLACK_MM)
        out |= above & ((points >= low - SLACK_MM) & (points <= high + SLACK_MM)).all(axis=1)
    found: Floats = points[out]
    return found
