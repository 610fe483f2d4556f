"""The proof: all checks of a finished housing.

To add a check, write one function ``(subject, measured) -> findings`` and name it in ``CHECKS``.  Figures
come from measuring the finished halves (`measured`), never from the spec; that only says what was asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from housingdesk.finding import Finding, worst_first
from housingdesk.geometry.types import SIDES
from housingdesk.proof import bodies, fasteners, fit, going_in, joints, seats, shell, wires
from housingdesk.proof.facts import Proof
from housingdesk.proof.measured import Measured, facts_of, measure
from housingdesk.proof.subject import Subject

Check = Callable[[Subject, Measured], Iterable[Finding]]

CHECKS: tuple[Check, ...] = (
    fit.gap,
    fit.zone_gaps,
    fit.interference,
    going_in.goes_in,
    fit.parting,
    bodies.overlap,
    bodies.closed,
    bodies.one_piece,
    shell.walls,
    shell.floor_and_roof,
    shell.printable,
    shell.openings,
    shell.flat_outside,
    fasteners.screws,
    joints.clear,
    joints.held_together,
    wires.channels,
    seats.seats,
    bodies.size,
    bodies.notes,
)


def prove(subject: Subject) -> Proof:
    """Measure finished halves against the untouched parts and judge them."""
    measured = measure(subject)
    findings = [finding for check in CHECKS for finding in check(subject, measured)]
    return Proof(
        {side: facts_of(subject, measured, side) for side in SIDES}, measured.zones, worst_first(findings)
    )
