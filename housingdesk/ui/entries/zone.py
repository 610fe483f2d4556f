"""One zone on the job card: how much room it gets, what it is for, and how a shaft leaves."""

from __future__ import annotations

from typing import Any

import numpy as np
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from housingdesk.features.site import LEVEL
from housingdesk.proof.facts import ZoneFacts
from housingdesk.spec.edits_features import change_zone, remove_zone
from housingdesk.spec.zones import AlongPull, EndAxis, Purpose, ZoneSpec
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.fits import FitChoice
from housingdesk.ui.entries.seat import SeatLines
from housingdesk.ui.facepick import pick_of
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import ResultNote, button, note, show_note
from housingdesk.ui.lengths import write_number
from housingdesk.ui.numberfield import NumberField
from housingdesk.ui.stack import unfold
from housingdesk.ui.textline import WordLine

PURPOSE_WORDS: dict[Purpose, str] = {
    "held": "held",
    "turning": "turning",
    "hot": "hot",
    "open": "kept open",
}
ALONG_WORDS: dict[AlongPull, str] = {
    "inside": "ends inside",
    "out": "comes out there",
}
AXIS_WORDS: dict[EndAxis, str] = {"own": "its own axis", "x": "X", "y": "Y", "z": "Z"}


class ZoneEntry(QFrame):
    """A zone as the user reads and changes it; holds no truth of its own."""

    def __init__(self, desk: Desk, zone: ZoneSpec) -> None:
        super().__init__()
        self.setObjectName("entry")
        self.desk = desk
        self.zone = zone
        self.clearance = self._number(
            "clearance_mm",
            most=20,
            step=0.05,
            name="Clearance of the zone",
            reason="Gap around these faces, on each side. A turning shaft wants about 0.5 mm.",
        )
        self.name = WordLine(zone.name)
        self.name.setObjectName("text")
        self.name.setMaxLength(40)
        self.name.setAccessibleName("Name of the zone")
        self.name.setToolTip("What you call it; the proof and the parts list use this name.")
        self.name.editingFinished.connect(self._rename)
        self.purpose = self._choice(
            "purpose",
            PURPOSE_WORDS,
            "Held: the housing holds the part here. Turning: a shaft, which gets a way out through the\n"
            "wall. Hot: air around it, nothing touches. Kept open: a connector or a button, which gets a\n"
            "way through the wall in front of it.",
        )
        self.fit = FitChoice(self._process, lambda gap: self._settle(clearance_mm=gap))
        self.seat = SeatLines(self._settle, self._number)
        self.mouth = self._number(
            "mouth_mm",
            most=5,
            step=0.1,
            name="Chamfer of the mouth",
            reason="Widens the outer mouth of the way out, so that no sharp edge rubs on the shaft\n"
            "and a plug finds its way in.",
        )
        self.end = self._number(
            "end_mm",
            most=20,
            step=0.5,
            name="Room at the ends",
            reason="More room than elsewhere at the ends of these faces, so that the part can be slid in.",
        )
        self.axis = self._choice("end_axis", AXIS_WORDS, "Along which way the ends get more room.")
        self.along = self._choice(
            "along_pull",
            ALONG_WORDS,
            "Ends inside: floor or roof reach past its end, with a hole for it. Comes out: floor and roof\n"
            "are measured from the body, and the half is printed on the face that it comes out of.",
        )
        self._build()
        self.show_zone(zone, None)

    def _build(self) -> None:
        self.sentence = Sentence(
            "Leave {clearance} around the {name}, which is {purpose}, {fit}.",
            {"clearance": self.clearance, "name": self.name, "purpose": self.purpose, "fit": self.fit},
        )
        self.along_line = Sentence("It points at floor or roof and {along}.", {"along": self.along})
        self.measured = ResultNote(
            "Gaps around it", "Gaps measured: 0.50 mm at the least, 0.52 typically, 0.60 at the most."
        )
        self.faces = note()
        self.rest = QWidget()
        lines = QVBoxLayout(self.rest)
        lines.setContentsMargins(0, 2, 0, 0)
        lines.setSpacing(6)
        lines.addWidget(
            Sentence("Leave {end} more room at its ends, along {axis}.", {"end": self.end, "axis": self.axis})
        )
        self._mouth_line = Sentence("Chamfer the mouth of its way out by {mouth}.", {"mouth": self.mouth})
        lines.addWidget(self._mouth_line)
        lines.addWidget(self.faces)
        self.more = button("more", "What else can be set.", self._fold, link=True)
        self.pick = button(
            "change its faces", "Pick on the bench which faces belong to it.", self._pick, link=True
        )
        self.remove = button(
            "remove",
            "Its faces become part of the body again.",
            lambda: self.desk.apply(remove_zone(self.zone.name)),
            link=True,
        )
        foot = QHBoxLayout()
        foot.setSpacing(14)
        for link in (self.more, self.pick, self.remove):
            foot.addWidget(link)
        foot.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 6)
        column.setSpacing(4)
        for widget in (self.sentence, self.seat, self.along_line, self.measured, self.rest):
            column.addWidget(widget)
        column.addLayout(foot)
        self.rest.hide()

    def show_zone(self, zone: ZoneSpec, facts: ZoneFacts | None) -> None:
        """Show a zone of the same name, and the gaps measured around it."""
        self.zone = zone
        if not self.name.isModified():
            self.name.setText(zone.name)
        self.clearance.show_value(zone.clearance_mm)
        self.fit.show_clearance(zone.clearance_mm)
        self.purpose.show_key(zone.purpose)
        self.seat.show_zone(zone, self.desk.result)
        self.mouth.show_value(zone.mouth_mm)
        self.end.show_value(zone.end_mm)
        self.axis.show_key(zone.end_axis)
        turning = zone.purpose == "turning"
        self.seat.setVisible(turning)
        self._mouth_line.setVisible(turning or zone.purpose == "open")
        self.along.show_key(zone.along_pull)
        self.along_line.setVisible(turning and self._lies_along())
        found = self.desk.patches_of(zone.part)
        words = pick_of(zone, found).words(found) if found else ""
        several = len(self.desk.spec.parts) > 1 if self.desk.spec else False
        show_note(self.faces, f"On {zone.part}: {words}." if several and words else f"Its faces: {words}.")
        self.measured.show_result(gap_words(facts), measuring=self.desk.measuring)

    def _lies_along(self) -> bool:
        """Tell whether it goes out of floor or roof in the halves shown."""
        ways = self.desk.result.passages if self.desk.result else ()
        return any(w.zone == self.zone.name and abs(w.axis[2]) > LEVEL for w in ways)

    # intents

    def _number(
        self, field: str, *, most: float, step: float, name: str, reason: str, least: float = 0.0
    ) -> NumberField:
        made = NumberField(least=least, most=most, step=step, name=name, reason=reason)
        made.began.connect(self.desk.begin_drag)
        made.changed.connect(lambda value: self.desk.apply(change_zone(self.zone.name, **{field: value})))
        made.ended.connect(self.desk.end_drag)
        return made

    def _choice(self, field: str, words: Any, reason: str) -> ChoiceField:
        made = ChoiceField(words.items(), reason=reason, name=field.replace("_", " "))
        made.chosen.connect(lambda key: self._settle(**{field: key}))
        return made

    def _settle(self, **changes: Any) -> None:
        self.desk.apply(change_zone(self.zone.name, **changes))
        self.desk.end_drag()

    def _rename(self) -> None:
        name = self.name.text().strip()
        self.name.setModified(False)
        if name and name != self.zone.name:
            self._settle(name=name)
        else:
            self.name.setText(self.zone.name)

    def _process(self) -> Any:
        return self.desk.spec.printer.process if self.desk.spec else "filament"

    def _fold(self) -> None:
        opened = self.rest.isHidden()
        unfold(self.rest, opened)
        self.more.setText("less" if opened else "more")

    def _pick(self) -> None:
        found = self.desk.patches_of(self.zone.part)
        self.desk.start_faces(pick_of(self.zone, found) if found else None, self.zone.name)


def gap_words(facts: ZoneFacts | None) -> str:
    """Say the gaps measured around a zone; empty where nothing was measured."""
    if facts is None or not np.isfinite(facts.min_gap_mm):
        return ""
    least, median, most = (write_number(v) for v in (facts.min_gap_mm, facts.median_gap_mm, facts.max_gap_mm))
    words = f"Gaps measured: {least} mm at the least"
    words += f", {median} typically, {most} at the most." if np.isfinite(facts.median_gap_mm) else "."
    short = len(facts.below_mm)
    return f"{words} Less than asked in {short} {'spot' if short == 1 else 'spots'}." if short else words
