"""The printer at station Print: process, plastic, and what was measured on it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from housingdesk.spec.edits_shell import change_printer
from housingdesk.spec.limits import words_of
from housingdesk.spec.models import PrinterSpec
from housingdesk.standards.fits import PROCESSES, off_words, process_spread
from housingdesk.standards.plastics import plastics
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.controls import Control
from housingdesk.ui.entries.wishes import Wish, wishes_of
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import button, note, show_note
from housingdesk.ui.numberfield import NumberField
from housingdesk.ui.stack import unfold

_MOST_MM = 2.0  # as PrinterSpec
_REASONS = {
    "hole_correction_mm": "Print a hole, measure its diameter with calipers, and type how far it is off.\n"
    "Holes for screws, pins, glands and bearings are drawn so much larger. The room around the part is not:\n"
    "its clearance stays as you ask, and the chance that the part goes in is reckoned with it.",
    "outside_correction_mm": "Print a block, measure it with calipers, and type how far it is off.\n"
    "Printed pins, lips, hooks and ribs are drawn for it, as they have to fit into or against something.\n"
    "The housing's own outside is not; it keeps the size you ask.",
    "spread_mm": "Print one size ten times and measure each: the largest less the smallest is this number.\n"
    "The chance that the part goes in is reckoned with it.",
}
_LINES = {
    "hole_correction_mm": "Holes come out {value}.",
    "outside_correction_mm": "Outside sizes come out {value}.",
    "spread_mm": "Apart from that, sizes scatter by ± {value}.",
}
# The odds read it as three standard deviations (geometry.tolerance): a normal size lies within it in 99.7 of
# 100 prints, and the range of ten is 3.08 of them on the average (by integrating its distribution).
_SCATTER = (
    "Scatter is what nearly all prints stay within, 997 of 1000: about the largest less the smallest of ten "
    "prints of one size."
)


class Off(QWidget):
    """How far a printed size is off: as usual, or so much too small or too large.

    Parameters
    ----------
    began, ended : called around a drag or a burst of steps.
    changed : called with what such a size needs added, mm, or None for the usual.
    """

    def __init__(
        self,
        title: str,
        reason: str,
        began: Callable[[], object],
        changed: Callable[[float | None], object],
        ended: Callable[[], object],
    ) -> None:
        super().__init__()
        self._changed, self._ended = changed, ended
        self.choice = ChoiceField(
            (("", "as usual"), ("small", "too small by"), ("large", "too large by")),
            reason=reason,
            name=title,
        )
        self.number = NumberField(most=_MOST_MM, step=0.05, reason=reason, name=title)
        self.choice.chosen.connect(lambda _: self._settle())
        self.number.began.connect(began)
        self.number.changed.connect(lambda _: self._changed(self._value()))
        self.number.ended.connect(ended)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        row.addWidget(self.choice)
        row.addWidget(self.number)

    def show_off(self, value: float | None, usual: float) -> None:
        """Show what is added to such a size, mm; None is as usual, where a figure of one's own begins."""
        known = usual if value is None else value
        if value is None:
            self.choice.show_key("")
        elif known or not self.choice.key:  # nothing is neither too small nor too large
            self.choice.show_key("large" if known < 0 else "small")
        self.number.setVisible(value is not None)
        self.number.show_value(abs(known))

    def _value(self) -> float | None:
        if not self.choice.key:
            return None
        return 0.0 - self.number.value if self.choice.key == "large" else self.number.value

    def _settle(self) -> None:
        self._changed(self._value())
        self._ended()


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
        self.off = {name: self._off(name) for name in ("hole_correction_mm", "outside_correction_mm")}
        self.spread = self._control(wishes_of(PrinterSpec)["spread_mm"], _REASONS["spread_mm"])
        self.rest = QWidget()
        lines = QVBoxLayout(self.rest)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.setSpacing(6)
        self.usual = note()
        for name, field in (*self.off.items(), ("spread_mm", self.spread.widget)):
            lines.addWidget(Sentence(_LINES[name], {"value": field}))
        lines.addWidget(note(_SCATTER))
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
        spread = process_spread(printer.process)
        for name, off in self.off.items():
            off.show_off(getattr(printer, name), getattr(spread, name))
        self.spread.show(printer.spread_mm, spread.hole_limit_mm)
        show_note(
            self.usual,
            f"Usual for {printer.process}: holes {off_words(spread.hole_correction_mm)}, outside sizes "
            f"{off_words(spread.outside_correction_mm)}, scatter ± {spread.hole_limit_mm:g} mm; shop "
            "guidance, no standard.",
        )

    def _off(self, name: str) -> Off:
        return Off(
            words_of(name, PrinterSpec.model_fields[name]).capitalize(),
            _REASONS[name],
            self.desk.begin_drag,
            lambda value: self.desk.apply(change_printer(**{name: value})),
            self.desk.end_drag,
        )

    def _control(self, wish: Wish, reason: str) -> Control:
        return Control(
            wish.because(reason, 0.01, _MOST_MM),
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
