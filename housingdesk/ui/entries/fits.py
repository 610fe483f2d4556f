"""A fit in the trade's words that fills a clearance."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from housingdesk.standards.fits import FITS, Fit, Process, fit_preset
from housingdesk.ui.choicefield import ChoiceField

OWN = "own"
_SAME_MM = 0.0005
REASON = (
    "Choosing a fit fills in the gap on each side that is usual for it. It is shop guidance: no standard "
    "gives\n"
    "these for printed parts, and every printer differs, so print a small test piece for a tight one."
)


class FitChoice(ChoiceField):
    """Press, snug, sliding or loose; shows which of them a clearance is.

    Parameters
    ----------
    fill : called with the clearance of the fit chosen, mm a side.
    """

    def __init__(self, process: Callable[[], Process], fill: Callable[[float], object]) -> None:
        choices = [(OWN, "own figure"), *((fit, fit) for fit in FITS)]
        super().__init__(choices, reason=REASON, name="Fit")
        self._process = process
        self.chosen.connect(lambda key: None if key == OWN else fill(self._gap_mm(cast(Fit, key))))

    def show_clearance(self, clearance_mm: float) -> None:
        """Show the fit that a clearance is, else that it is an own figure."""
        for fit in FITS:
            self.setItemText(self.findData(fit), f"{fit}, {self._gap_mm(fit):.2f}")
        same = (f for f in FITS if abs(self._gap_mm(f) - clearance_mm) < _SAME_MM)
        self.show_key(next(same, OWN))

    def _gap_mm(self, fit: Fit) -> float:
        return fit_preset(self._process(), fit).clearance_mm
