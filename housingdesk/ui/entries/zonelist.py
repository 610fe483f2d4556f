"""The zones of the Fit station, and the picking of faces for another."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from housingdesk.proof.facts import ZoneFacts
from housingdesk.spec.zones import BODY, ZoneSpec
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.entry import rule
from housingdesk.ui.entries.zone import ZoneEntry
from housingdesk.ui.flow import FlowLayout
from housingdesk.ui.jobcard.station import button, note, show_note
from housingdesk.ui.stack import allow, relist, show_if

GROW, SHRINK = "add what is joined smoothly", "take off the outermost"
GROW_HINT = "Adds the faces that the picked ones run into over rounded edges. Key +."
SHRINK_HINT = "Takes off the picked faces that run smoothly into others that are not picked. Key −."
HOW = "Click a flat or a round of the part; Shift and a click add more. Esc: not now."


class ZoneList(QWidget):
    """Entries of all zones, and what is picked for a new one."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.entries: dict[str, ZoneEntry] = {}
        self._list = QVBoxLayout()
        self._list.setContentsMargins(0, 0, 0, 0)
        self._list.setSpacing(0)
        self.start = button(
            "Pick faces for a zone",
            "A zone is a part of the surface with its own gap and purpose: a shaft that turns, a side that\n"
            "gets hot, a connector that must stay open.",
            self._toggle,
        )
        self.start.setCheckable(True)
        self.how = note()
        self.picked = note()
        self.grow = button(
            GROW,
            GROW_HINT,
            desk.grow_faces,
            link=True,
        )
        self.shrink = button(
            SHRINK,
            SHRINK_HINT,
            lambda: desk.grow_faces(less=True),
            link=True,
        )
        self.make = button(
            "Make it a zone", "Makes what is picked a zone, with a name and a gap of its own.", desk.make_zone
        )
        self._row = QWidget()
        row = FlowLayout(self._row)
        for made in (self.make, self.grow, self.shrink):
            row.addWidget(made)
        # What is picked is said below the links: as it grows, none of them slides under the mouse.
        self.tool = QWidget()  # all that is needed for picking
        lines = QVBoxLayout(self.tool)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.setSpacing(6)
        lines.addWidget(self.start, 0, Qt.AlignmentFlag.AlignLeft)
        for widget in (self.how, self._row, self.picked):
            lines.addWidget(widget)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addLayout(self._list)
        column.addWidget(self.tool)

    def refresh(self) -> None:
        """Show the desk's zones and what is picked."""
        spec = self.desk.spec
        zones = spec.fit.zones if spec else ()
        if tuple(self.entries) != tuple(z.name for z in zones):
            self._lay_out(zones)
        facts = self._facts()
        for zone in zones:
            self.entries[zone.name].show_zone(zone, facts.get(zone.name))
        pick = self.desk.faces
        found = self.desk.patches_of(pick.part) if pick else None
        chosen = pick.words(found) if pick and found and pick.chosen else ""
        show_note(self.how, HOW if pick is not None else "")
        show_note(self.picked, f"Picked: {chosen}." if chosen else "")
        show_if(self._row, bool(chosen), self.start)
        if pick and found and chosen:
            _allow(self.grow, GROW_HINT, pick.why_not_grown(found), self.make)
            _allow(self.shrink, SHRINK_HINT, pick.why_not_shrunk(found), self.make)
        self.make.setText(
            f"These are the {self.desk.zone_picked}" if self.desk.zone_picked else "Make it a zone"
        )
        self.start.setChecked(pick is not None)
        self.start.setText("Stop picking" if pick is not None else "Pick faces for a zone")

    def _facts(self) -> dict[str, ZoneFacts]:
        result = self.desk.result
        return {f.name: f for f in result.zones} if result and not self.desk.stale else {}

    def body_facts(self) -> ZoneFacts | None:
        """Return the gaps around all that no zone names, if they are measured."""
        return self._facts().get(BODY)

    def _lay_out(self, zones: tuple[ZoneSpec, ...]) -> None:
        self.entries = {z.name: self.entries.get(z.name) or ZoneEntry(self.desk, z) for z in zones}
        relist(self._list, [w for entry in self.entries.values() for w in (entry, rule())], self)

    def _toggle(self) -> None:
        if self.desk.faces is None:
            self.desk.start_faces()
        else:
            self.desk.stop_picking()


def _allow(link: QPushButton, hint: str, why_not: str, heir: QWidget) -> None:
    """Let a link be pressed, or say on it why that would do nothing."""
    allow(link, not why_not, heir)
    link.setToolTip(f"{why_not}\n{hint}" if why_not else hint)
