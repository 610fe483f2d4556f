"""One feature on the job card: its sentence, what is wrong with it, and the rest folded away."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QLabel, QVBoxLayout

from housingdesk.features.feature import Feature
from housingdesk.finding import Finding
from housingdesk.spec import edits_features
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.copies import CopyLines
from housingdesk.ui.entries.wishes import hint_of
from housingdesk.ui.entries.worded import Worded
from housingdesk.ui.jobcard.station import button, note, show_note
from housingdesk.ui.stack import unfold
from housingdesk.ui.theme import GLYPH


class FeatureEntry(QFrame):
    """A feature as the user reads and changes it; holds no truth of its own."""

    def __init__(self, desk: Desk, feature: Feature) -> None:
        super().__init__()
        self.setObjectName("entry")
        self.desk = desk
        self.feature = feature
        self.on = QCheckBox(feature.name)
        self.on.setToolTip(f"{hint_of(type(feature))}\nUntick it to leave it out without losing it.")
        self.on.toggled.connect(self._switch)
        words = feature.SENTENCE or f"{feature.TITLE}."
        self._worded = Worded(desk, feature, words, self._change)
        self.controls, self.sentence = self._worded.controls, self._worded.sentence
        self.copies = CopyLines(desk, lambda: self.feature.name)
        self._worded.add(self.copies)
        self.complaint = note()
        self.complaint.setObjectName("complaint")
        self.caution = note()
        self.caution.setObjectName("caution")
        self.more = button("more", "What else can be set.", self._fold, link=True)
        self.copy = button("copy", "A second one like this.", self._copy, link=True)
        self.remove = button("remove", "Take it off the housing.", self._remove, link=True)
        foot = QHBoxLayout()
        foot.setSpacing(14)
        for link in (self.more, self.copy, self.remove):
            foot.addWidget(link)
        foot.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 6)
        column.setSpacing(4)
        for widget in (self.on, self.sentence, self.complaint, self.caution, self._worded.rest):
            column.addWidget(widget)
        column.addLayout(foot)
        self.show_feature(feature, ())

    def show_feature(self, feature: Feature, said: tuple[Finding, ...]) -> None:
        """Show a feature of the same name and kind, and what was found about it."""
        self.feature = feature
        self.on.blockSignals(True)
        self.on.setChecked(feature.on)
        self.on.blockSignals(False)
        for widget in (self.sentence, self._worded.rest):
            widget.setEnabled(feature.on)
        self._worded.show(feature)
        for label, severity in ((self.complaint, "fail"), (self.caution, "caution")):
            told = dict.fromkeys(f"{GLYPH[f.severity]} {f.message}" for f in said if f.severity == severity)
            show_note(label, "\n".join(told) if feature.on else "")

    def _change(self, field: str, value: Any) -> None:
        self.desk.apply(edits_features.change_feature(self.feature.name, **{field: value}))

    def _switch(self, on: bool) -> None:
        self._change("on", on)
        self.desk.end_drag()

    def _fold(self) -> None:
        opened = self._worded.rest.isHidden()
        unfold(self._worded.rest, opened)
        self.more.setText("less" if opened else "more")

    def _copy(self) -> None:
        self.desk.apply(edits_features.copy_feature(self.feature.name))

    def _remove(self) -> None:
        self.desk.apply(edits_features.remove_feature(self.feature.name))


def rule() -> QLabel:
    """Return a thin line between entries."""
    line = QLabel()
    line.setObjectName("thin")
    line.setFixedHeight(1)
    line.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
    return line
