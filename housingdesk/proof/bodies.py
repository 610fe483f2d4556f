"""Checks of the halves as bodies: closed, in one piece, not in each other's way."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from housingdesk.finding import Finding
from housingdesk.geometry.types import SIDES
from housingdesk.proof.measured import Measured
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import volume

CRUMB = 0.02  # share of the largest piece's volume below which a piece is a crumb
OVERLAP_MM3 = 0.5  # rounding of coordinates in a printer's file may claim a little space twice

_REBUILD = "Move the parting plane a little."


def closed(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether each half is closed with its material inside."""
    for side in SIDES:
        if measured.halves[side].closed and subject.halves[side].volume_mm3 > 0:
            yield Finding(f"closed-{side}", "pass", f"The surface of the {side} half is closed all round.")
        else:
            yield Finding(
                f"closed-{side}",
                "fail",
                f"The surface of the {side} half is not closed, so it cannot be printed.",
                _REBUILD,
            )


def one_piece(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether each half is one piece, without crumbs or shut-in hollows."""
    for side in SIDES:
        volumes = measured.halves[side].piece_volumes_mm3
        biggest = float(volumes.max(initial=0.0))
        pieces = int(np.count_nonzero(volumes >= CRUMB * biggest)) if biggest > 0 else 0
        hollows = int(np.count_nonzero(volumes < 0))
        crumbs = len(volumes) - pieces - hollows
        code = f"one-piece-{side}"
        if crumbs or hollows:
            loose = [(crumbs, "loose crumb"), (hollows, "shut-in hollow")]
            said = " and ".join(f"{n} {what}{'s' * (n > 1)}" for n, what in loose if n)
            yield Finding(
                code,
                "fail",
                f"The {side} half has {said}.",
                "Leave wider gaps of the part empty (station Fit).",
            )
        elif max(pieces, subject.bodies[side]) != 1:
            yield Finding(
                code,
                "fail",
                f"The {side} half falls into {max(pieces, subject.bodies[side])} pieces.",
                "Choose another parting height, or let the shell reach further on the sides that are open.",
            )
        else:
            yield Finding(code, "pass", f"The {side} half is one piece, without crumbs.")


def overlap(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Judge whether the halves leave each other room."""
    if subject.overlap_mm3 < OVERLAP_MM3:
        yield Finding("halves-overlap", "pass", "The halves do not run into each other.")
    else:
        message = f"The halves run into each other by {subject.overlap_mm3:.1f} mm³."
        yield Finding("halves-overlap", "fail", message, _REBUILD)


def size(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Tell size and volume of each half."""
    for side in SIDES:
        half = subject.halves[side]
        x, y, z = half.size_mm.tolist()
        yield Finding(
            f"size-{side}",
            "pass",
            f"The {side} half is {x:.1f} × {y:.1f} × {z:.1f} mm, {volume(half.volume_mm3)} of material.",
        )


def notes(subject: Subject, measured: Measured) -> Iterator[Finding]:
    """Pass on what was odd in the parts' files."""
    for note in subject.notes:
        yield Finding(
            "part-file", "caution", note, "Look at the part in the bench and judge whether it matters."
        )
