"""The printer at station Print: process, plastic, and what was measured on it."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout, QWidget

from housingdesk.spec.edits_shell import change_printer
from housingdesk.spec.models import PrinterSpec
from housingdesk.standards.fits import PROCESSES, process_spread
from housingdesk.standards.plastics import plastics
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.controls import Control
from housingdesk.ui.entries.wishes import Wish, wishes_of
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import button, note, show_note
from housingdesk.ui.stack import unfold

_REASONS = {
    "hole_correction_mm": "What your printer's holes need in diameter, as they come out small: print one,\n"
    "measure it with calipers, and type how much was missing.",
    "outside_correction_mm": "What an outside size needs, as it comes out too small;\n"
    "below 0 where it comes out too large.",
    "spread_mm": "How far a size is off after that, one way or the other, as you measured it on several\n"
    "prints. The chance that the part goes in is reckoned with it.",
}
_LINES = {
    "hole_correction_mm": "Holes need {value} more in diameter.",
    "outside_correction_mm": "Outside sizes need {value} more.",
    "spread_mm": "Sizes scatter by ± {value}.",
}


class PrinterEntry(QWidget):
    """What is known of the printer; holds no truth of its own."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.process = ChoiceField(
            [(p, p) for p in PROCESSES],
            reason="Filament: melted plastic laid in lines. Resin: liquid hardened by light. Fits and the\n"
            "usual scatter of sizes depend on it.",
            name="Process",
        )
        self.material = ChoiceField(
            [(name, name) for name in plastics()],
            reason="The plastic: how far hooks may bend, and which screws hold in it, depend on it.",
            name="Plastic",
        )
        self.process.chosen.connect(lambda key: self._settle(process=key))
        self.material.chosen.connect(lambda key: self._settle(material=key))
        wishes = wishes_of(PrinterSpec)
        self.measured = {name: self._control(wishes[name], reason) for name, reason in _REASONS.items()}
        self.rest = QWidget()
        lines = QVBoxLayout(self.rest)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.setSpacing(6)
        self.usual = note()
        for name, control in self.measured.items():
            lines.addWidget(Sentence(_LINES[name], {"value": control.widget}))
        lines.addWidget(self.usual)
        self.more = button(
            "What I measured on my printer",
            "Your own figures in place of the usual ones.",
            self._fold,
            link=True,
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(
            Sentence(
                "Printed from {process}, {material}.", {"process": self.process, "material": self.material}
            )
        )
        column.addWidget(self.rest)
        column.addWidget(self.more)
        self.rest.hide()

    def show_printer(self, printer: PrinterSpec) -> None:
        """Show what is known."""
        self.process.show_key(printer.process)
        self.material.show_key(printer.material)
        for name, control in self.measured.items():
            control.show(getattr(printer, name))
        spread = process_spread(printer.process)
        show_note(
            self.usual,
            f"Usual for {printer.process}: holes {spread.hole_correction_mm:g} mm, outside sizes "
            f"{spread.outside_correction_mm:g} mm, scatter ± {spread.hole_limit_mm:g} mm; shop guidance, no "
            "standard.",
        )

    def _control(self, wish: Wish, reason: str) -> Control:
        return Control(
            wish.because(reason, -2.0 if wish.name != "spread_mm" else 0.01, 2.0),
            self.desk.begin_drag,
            lambda value: self.desk.apply(change_printer(**{wish.name: value})),
            self.desk.end_drag,
            free="as usual",
        )

    def _settle(self, **changes: str) -> None:
        self.desk.apply(change_printer(**changes))
        self.desk.end_drag()

    def _fold(self) -> None:
        unfold(self.rest, self.rest.isHidden())
