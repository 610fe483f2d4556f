"""Will it fit on this printer: the chance that the part goes in, and that it does not rattle.

The stack is that of ``geometry.tolerance``: hole and outside sizes scatter by what is known of the process or
was measured on the user's printer; the position of one wall against another scatters besides.
"""

from __future__ import annotations

from housingdesk.finding import Finding
from housingdesk.geometry.tolerance import Spread, chance, clearance_for, simulate, stack
from housingdesk.proof.facts import ZoneOdds
from housingdesk.proof.wording import mm
from housingdesk.spec.models import PrinterSpec
from housingdesk.standards.fits import process_spread

SURE = 0.99
CODE = "odds"
DRAWS = 200_000  # simulated prints
USUAL_PLAY_MM = 1.0  # total free movement that most would not yet call a rattle (own choice)


def spreads(printer: PrinterSpec, part_limit_mm: float = 0.0) -> tuple[Spread, ...]:
    """Return what strays on a printer.

    A hole that is not corrected for comes out small by the process's usual amount: the halves are drawn to
    size, so this narrows the gap.  What the user has measured takes the place of the usual limits.

    Parameters
    ----------
    part_limit_mm : +- limit of the part's own size where it is known.
    """
    usual = process_spread(printer.process)
    limit = printer.spread_mm
    hole = usual.hole_correction_mm if printer.hole_correction_mm is None else printer.hole_correction_mm
    out = [
        Spread("size of the cavity", usual.hole_limit_mm if limit is None else limit, -hole),
        Spread("place of the walls", usual.position_limit_mm, on="position"),
    ]
    if part_limit_mm:
        out.append(Spread("size of the part", part_limit_mm))
    return tuple(out)


def odds(
    zone: str,
    clearance_mm: float,
    printer: PrinterSpec,
    play_mm: float = USUAL_PLAY_MM,
    part_limit_mm: float = 0.0,
) -> ZoneOdds:
    """Return the chances of a zone with a clearance, by formula and counted on simulated prints."""
    sources = spreads(printer, part_limit_mm)
    exact, drawn = chance(clearance_mm, sources, play_mm), simulate(clearance_mm, sources, play_mm, DRAWS)
    whole = stack(clearance_mm, sources)
    return ZoneOdds(
        zone=zone,
        clearance_mm=clearance_mm,
        play_mm=play_mm,
        goes_in=exact.goes_in,
        held=exact.held,
        goes_in_drawn=drawn.goes_in,
        held_drawn=drawn.held,
        error=drawn.error,
        mean_gap_mm=whole.mean_gap_mm,
        gap_std_mm=whole.gap_std_mm,
        worst_side_mm=whole.worst_side_mm,
        shares=whole.shares,
        sure_mm=clearance_for(sources, SURE),
    )


def told(found: ZoneOdds, printer: PrinterSpec) -> Finding:
    """Say the chances as a line of the proof sheet."""
    whose = "your printer" if printer.spread_mm is not None else f"a usual {printer.process} printer"
    message = (
        f"On {whose} {_percent(found.goes_in)} of prints let the part in at the {found.zone}, and in "
        f"{_percent(found.held)} it moves no more than {mm(found.play_mm)} by its gaps alone (counted on "
        f"{DRAWS:,} simulated prints: {_percent(found.goes_in_drawn)} and {_percent(found.held_drawn)}). "
        f"From {mm(max(found.sure_mm, 0.0))} clearance on, 99 % let it in."
    )
    if found.goes_in >= SURE:
        return Finding(CODE, "pass", message)
    more = (
        f"Raise the clearance of the {found.zone} to {mm(found.sure_mm)}, or measure your printer's spread."
    )
    return Finding(CODE, "caution", message, more)


def _percent(share: float) -> str:
    if share >= 0.9995:
        return "over 99.9 %"
    return f"{100 * share:.1f} %" if share >= 0.0005 else "less than 0.1 %"
