"""Will it fit on this printer: the chance that the part goes in, and that it does not rattle.

The stack is that of ``geometry.tolerance``: hole and outside sizes scatter by what is known of the process or
was measured on the user's printer; the position of one wall against another scatters besides.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from housingdesk.features.records import Contact, Cushion
from housingdesk.finding import Finding
from housingdesk.geometry.tolerance import Spread, chance, clearance_for, simulate, stack
from housingdesk.proof.facts import Across, ZoneOdds
from housingdesk.proof.wording import mm
from housingdesk.spec.models import USUAL_PLAY_MM, PrinterSpec
from housingdesk.spec.zones import Purpose
from housingdesk.standards.fits import process_spread

SURE = 0.99
CODE = "odds"
RIB_CODE = "odds-ribs"
SHAFT_CODE = "odds-shaft"
SEIZES = 0.5  # of prints let a shaft turn: with fewer it is taken to be wrong, not tight (own choice)
DRAWS = 200_000  # simulated prints

AXES = ("left and right", "front and back", "floor and roof")


@dataclass(frozen=True, slots=True)
class RibOdds:
    """The chance that nothing is left to move along one build axis, since ribs or pads press there.

    Attributes
    ----------
    axis : 0, 1 or 2 for x, y, z; ``sides`` 1 or 2 of its two ends have ribs or pads.
    room_mm : free movement by design, from rib to rib or from rib to wall; negative where they press.
    touch : chance that it is zero or less as printed, by formula; ``touch_drawn`` from simulated prints, with
        its standard error ``error``.
    more_mm : how much deeper each rib has to press, or how much thicker each pad has to be, for 99 %; 0
        where that is reached.
    pads : whether pads press there.
    """

    axis: int
    sides: int
    room_mm: float
    touch: float
    touch_drawn: float
    error: float
    more_mm: float
    pads: bool = False


def rib_odds(
    contacts: Iterable[Contact], clearance_mm: float, printer: PrinterSpec, cushions: Iterable[Cushion] = ()
) -> tuple[RibOdds, ...]:
    """Return for each build axis with ribs or pads the chance that they touch.

    The room along an axis is the gap at one end and the gap at the other.  At ribs the gap is less than
    nothing by what the deepest of them presses, at pads by what the gap squeezes them, at a bare end it is
    the clearance.  It is one size of the cavity, so it scatters as the cavity does; where the walls lie makes
    no difference to it.  Ribs count as printed, for what its outsides are off by is in how they are drawn.
    The pads of one end are cut from one piece and stray alike in thickness.

    Parameters
    ----------
    clearance_mm : gap a side where neither rib nor pad stands.
    """
    size = tuple(s for s in spreads(printer) if s.on == "gap")
    printed = ((c.out, c.press_mm + c.printed_more_mm) for c in contacts)
    presses = [(out, -press_mm, 0.0) for out, press_mm in printed if press_mm > 0]
    presses += [(c.out, -c.squeeze_mm, c.stray_mm) for c in cushions]
    gaps, strays = np.full((3, 2), np.inf), np.zeros((3, 2))
    for out_of, gap_mm, stray_mm in presses:
        axis = int(np.argmax(np.abs(out_of)))
        end = int(out_of[axis] > 0)
        if gap_mm < gaps[axis, end]:
            gaps[axis, end], strays[axis, end] = gap_mm, stray_mm
    out = []
    for axis in np.flatnonzero((gaps < 0).any(axis=1)).tolist():
        sides = int(np.isfinite(gaps[axis]).sum())
        room = float(np.where(np.isfinite(gaps[axis]), gaps[axis], clearance_mm).sum())
        soft = tuple(Spread("thickness of the pads", limit) for limit in strays[axis].tolist() if limit > 0)
        sources = (*size, *soft)
        exact, drawn = chance(room / 2, sources, 0.0), simulate(room / 2, sources, 0.0, DRAWS)
        whole = stack(room / 2, sources)
        more = max(0.0, whole.mean_gap_mm + float(ndtri(SURE)) * whole.gap_std_mm) / sides
        out.append(RibOdds(axis, sides, room, exact.held, drawn.held, drawn.error, more, bool(soft)))
    return tuple(out)


def ribs_told(found: tuple[RibOdds, ...], printer: PrinterSpec) -> tuple[Finding, ...]:
    """Say the chances that ribs and pads touch as one line of the proof sheet; none without them."""
    if not found:
        return ()
    each = [f"between {AXES[r.axis]} in {_both(r.touch, r.touch_drawn)} of prints" for r in found]
    words = ", ".join(each[:-1]) + (" and " if each[:-1] else "") + each[-1]
    what = {r.pads for r in found}
    who = "ribs and pads" if len(what) == 2 else "pads" if what == {True} else "ribs"
    how = _where_from(*((r.touch, r.touch_drawn) for r in found))
    message = f"On {_whose(printer)} the {who} touch and leave no room {words}. {how}"
    short = [r for r in found if r.touch < SURE]
    if not short:
        return (Finding(RIB_CODE, "pass", message),)
    bare = [AXES[r.axis] for r in short if r.sides == 1]
    ribs, pads = [r for r in short if not r.pads], [r for r in short if r.pads]
    if bare:
        more = f"They stand at one end only between {' and '.join(bare)}; add ribs or a pad at the other."
    elif ribs:
        more = f"Let the ribs press {mm(max(r.more_mm for r in ribs))} deeper for 99 %."
    else:
        more = f"Take pads {mm(max(r.more_mm for r in pads))} thicker for 99 %."
    return (Finding(RIB_CODE, "caution", message, more),)


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
    out = [
        Spread("size of the cavity", usual.hole_limit_mm if limit is None else limit, -printer.hole_extra_mm),
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
    purpose: Purpose = "held",
    across: Sequence[Across] = (Across(),),
) -> ZoneOdds:
    """Return the chances of a zone with a clearance, by formula and counted on simulated prints.

    A part that has more room on one side than on the other finds its middle: the total gap counts.  A shaft
    turns freely where it has a gap on both sides, which is the same stack about its hole.

    Parameters
    ----------
    play_mm : total free movement that is still no rattle.
    across : what lies opposite, in every direction the zone looks; at least one.
    """
    sources = spreads(printer, part_limit_mm)
    tight = min(across, key=lambda a: a.gap_mm(clearance_mm))
    least, most = (f(a.gap_mm(clearance_mm) for a in across) / 2 for f in (min, max))
    exact, drawn = chance(least, sources, play_mm), simulate(least, sources, play_mm, DRAWS)
    loose, loose_drawn = exact, drawn
    if most > least:
        loose, loose_drawn = chance(most, sources, play_mm), simulate(most, sources, play_mm, DRAWS)
    whole = stack(least, sources)
    sure = 2 * clearance_for(sources, SURE)
    return ZoneOdds(
        zone=zone,
        clearance_mm=clearance_mm,
        play_mm=play_mm,
        goes_in=exact.goes_in,
        held=loose.held,
        goes_in_drawn=drawn.goes_in,
        held_drawn=loose_drawn.held,
        error=max(drawn.error, loose_drawn.error),
        mean_gap_mm=whole.mean_gap_mm,
        gap_std_mm=whole.gap_std_mm,
        worst_side_mm=whole.worst_side_mm,
        shares=whole.shares,
        sure_mm=max(a.clearance_mm(sure) for a in across),
        purpose=purpose,
        opposite_mm=tight.other_mm,
    )


def told(found: ZoneOdds, printer: PrinterSpec) -> Finding:
    """Say the chances as a line of the proof sheet."""
    goes, held = (found.goes_in, found.goes_in_drawn), (found.held, found.held_drawn)
    on = f"On {_whose(printer)} {_both(*goes)} of prints let the"
    turning = found.purpose == "turning"
    if turning:
        message = f"{on} {found.zone} turn freely. {_where_from(goes)}"
    else:
        beside = "" if found.opposite_mm is None else f", with {mm(found.opposite_mm)} opposite"
        message = f"{on} part in at the {found.zone}{beside}. "
        if found.purpose == "held":
            message += f"In {_both(*held)} of prints the gaps leave it at most {mm(found.play_mm)} to move. "
            message += _where_from(goes, held)
        else:
            message += _where_from(goes)
    message += f" From {mm(found.advised_mm)} clearance on, 99 % let it {'turn freely' if turning else 'in'}."
    code = SHAFT_CODE if turning else CODE
    if found.goes_in >= SURE:
        return Finding(code, "pass", message)
    more = [f"Raise the clearance of the {found.zone} to {mm(found.advised_mm)}"]
    if turning:
        more.append("carry it in a bearing or bush")
    if printer.spread_mm is None:
        more.append("measure your printer's spread")
    remedy = f"{', '.join(more[:-1])}, or {more[-1]}." if len(more) > 1 else f"{more[0]}."
    return Finding(code, "fail" if turning and found.goes_in < SEIZES else "caution", message, remedy)


def _whose(printer: PrinterSpec) -> str:
    own = (printer.hole_correction_mm, printer.outside_correction_mm, printer.spread_mm)
    return f"a usual {printer.process} printer" if own == (None, None, None) else "your printer"


def _where_from(*pairs: tuple[float, float]) -> str:
    """Say, as a sentence of its own, where the figures of ``_both`` come from."""
    prints = f"{DRAWS:,} simulated prints"
    if all(_percent(exact) == _percent(drawn) for exact, drawn in pairs):
        return f"The formula and {prints} agree."
    return f"That is by formula; in brackets is what {prints} gave where it differs."


def _both(exact: float, drawn: float) -> str:
    """Return a chance by formula, and as counted in brackets where that reads otherwise."""
    one, other = _percent(exact), _percent(drawn)
    return one if one == other else f"{one} ({other})"


def _percent(share: float) -> str:
    if share >= 0.9995:
        return "over 99.9 %"
    return f"{100 * share:.1f} %" if share >= 0.0005 else "less than 0.1 %"
