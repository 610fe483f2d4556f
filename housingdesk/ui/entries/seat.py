"""What carries a shaft in the wall: a plain hole, or a bearing or bush of the table or of one's own size."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QVBoxLayout, QWidget

from housingdesk.build.passages import seat_name
from housingdesk.build.results import BuildResult
from housingdesk.features.carried import OWN
from housingdesk.spec.zones import Seat, ZoneSpec
from housingdesk.standards.bearings import bearings, bushes
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import note, show_note
from housingdesk.ui.numberfield import NumberField

SEAT_WORDS: dict[Seat, str] = {"plain": "a plain hole", "bearing": "a ball bearing", "bush": "a plain bush"}
LEAST_MM = 0.5  # a bore, an outside or a width is no less


class SeatLines(QWidget):
    """The lines of a zone's entry about its seat.

    Parameters
    ----------
    settle : takes changes of the zone's fields, by name, as one step.
    number : makes a field for one of the zone's numbers.
    """

    def __init__(self, settle: Callable[..., None], number: Callable[..., NumberField]) -> None:
        super().__init__()
        self._settle = settle
        self.seat = ChoiceField(
            SEAT_WORDS.items(),
            reason="What carries the shaft in the wall: nothing but the hole with its gap, a ball bearing\n"
            "pressed into a seat, or a plain bush with a shoulder.",
            name="seat",
        )
        self.seat.chosen.connect(lambda key: settle(seat=key, bearing=""))
        own = (OWN, "of my own size")
        self.bearing = ChoiceField(
            [("", "the smallest that fits"), *((k, _bearing_words(k)) for k in bearings()), own],
            reason="Designation, bore × outside × width by ISO 15; the bore must be the shaft's diameter.",
            name="Bearing",
        )
        self.bush = ChoiceField(
            [("", "the one that fits"), *((k, _bush_words(k)) for k in bushes()), own],
            reason="Bore × outside × length, sizes of ISO 2795 from memory: measure yours.",
            name="Bush",
        )
        for choice in (self.bearing, self.bush):
            choice.setMaximumWidth(190)
            choice.chosen.connect(lambda key: settle(bearing=key))
        self.bore = number(
            "bore_mm", least=LEAST_MM, most=200, step=0.05, name="Bore",
            reason="As wide as the shaft until you give another.",
        )  # fmt: skip
        self.outside = number(
            "outside_mm", least=LEAST_MM, most=300, step=0.1, name="Outside diameter",
            reason="As measured on yours; the seat gets the room it needs by itself.",
        )  # fmt: skip
        self.breadth = number(
            "width_mm", least=LEAST_MM, most=200, step=0.1, name="Width",
            reason="Along the shaft, as measured on yours.",
        )  # fmt: skip
        self.line = Sentence(
            "It goes out through {seat} {bearing} {bush}",
            {"seat": self.seat, "bearing": self.bearing, "bush": self.bush},
        )
        self.own = Sentence(
            "Its bore is {bore}, its outside {outside}, its width {width}.",
            {"bore": self.bore, "outside": self.outside, "width": self.breadth},
        )
        self.taken = note()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        for widget in (self.line, self.own, self.taken):
            column.addWidget(widget)

    def show_zone(self, zone: ZoneSpec, result: BuildResult | None) -> None:
        """Show what a zone asks for, and what was taken for it in the latest halves."""
        self.seat.show_key(zone.seat)
        self.bearing.show_key(zone.bearing)
        self.bush.show_key(zone.bearing)
        self.bearing.setVisible(zone.seat == "bearing")
        self.bush.setVisible(zone.seat == "bush")
        self.own.setVisible(zone.seat != "plain" and zone.bearing == OWN)
        self.bore.show_value(_shaft_mm(zone) if zone.bore_mm is None else zone.bore_mm)
        self.outside.show_value(zone.outside_mm)
        self.breadth.show_value(zone.width_mm)
        show_note(self.taken, "" if zone.seat == "plain" else taken_words(zone, result))


def taken_words(zone: ZoneSpec, result: BuildResult | None) -> str:
    """Say which bearing or bush was taken, or why there is none; empty where that is not known."""
    if result is None:
        return ""
    name = seat_name(zone.name)
    facts = result.features.get(name)
    if facts is not None and facts.seats:
        return f"Taken: {facts.seats[0].words}."
    return next((f.message for f in result.said.get(name, ()) if f.severity == "fail"), "")


def _shaft_mm(zone: ZoneSpec) -> float:
    """Return the diameter of the longest round of a zone."""
    rounds = [p for p in zone.patches if p.kind == "cylinder"]
    return max(rounds, key=lambda p: p.length_mm).size_mm if rounds else LEAST_MM


def _bearing_words(key: str) -> str:
    size = bearings()[key]
    return f"{key}, {size.bore_mm:g} × {size.outside_mm:g} × {size.width_mm:g}"


def _bush_words(key: str) -> str:
    size = bushes()[key]
    return f"{size.bore_mm:g} × {size.outside_mm:g} × {size.length_mm:g}"
