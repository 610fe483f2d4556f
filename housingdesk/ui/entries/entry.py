"""One feature on the job card: its sentence, what is wrong with it, and the rest folded away."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from housingdesk.features.feature import Feature
from housingdesk.finding import Finding
from housingdesk.spec import edits
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.controls import Control
from housingdesk.ui.entries.wishes import Wish, hint_of, named_in, wishes_of
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import button, note, show_note
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
        self.on.toggled.connect(lambda on: self._settle(on=on))
        wishes = wishes_of(type(feature))
        said = tuple(n for n in named_in(feature.SENTENCE) if n in wishes)
        self.controls = {name: self._control(wish) for name, wish in wishes.items()}
        self.sentence = Sentence(_spoken(feature), {n: self.controls[n].widget for n in said})
        self.complaint = note()
        self.complaint.setObjectName("complaint")
        self.rest = QWidget()
        lines = QVBoxLayout(self.rest)
        lines.setContentsMargins(0, 2, 0, 0)
        lines.setSpacing(6)
        for name, wish in wishes.items():
            if name not in said:
                lines.addWidget(_line(wish, self.controls[name]))
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
        for widget in (self.on, self.sentence, self.complaint, self.rest):
            column.addWidget(widget)
        column.addLayout(foot)
        self.rest.hide()
        self.show_feature(feature, ())

    def show_feature(self, feature: Feature, said: tuple[Finding, ...]) -> None:
        """Show a feature of the same name and kind, and what was found about it."""
        self.feature = feature
        self.on.blockSignals(True)
        self.on.setChecked(feature.on)
        self.on.blockSignals(False)
        for widget in (self.sentence, self.rest):
            widget.setEnabled(feature.on)
        for name, control in self.controls.items():
            control.show(getattr(feature, name))
        told = [f for f in said if f.severity != "pass"]
        show_note(self.complaint, "\n".join(f"{GLYPH[f.severity]} {f.message}" for f in told))

    def _control(self, wish: Wish) -> Control:
        def change(value: Any) -> None:
            self.desk.apply(edits.change_feature(self.feature.name, **{wish.name: value}))

        return Control(wish, self.desk.begin_drag, change, self.desk.end_drag)

    def _settle(self, **changes: Any) -> None:
        self.desk.apply(edits.change_feature(self.feature.name, **changes))
        self.desk.end_drag()

    def _fold(self) -> None:
        opened = self.rest.isHidden()
        self.rest.setVisible(opened)
        self.more.setText("less" if opened else "more")

    def _copy(self) -> None:
        self.desk.apply(edits.copy_feature(self.feature.name))

    def _remove(self) -> None:
        self.desk.apply(edits.remove_feature(self.feature.name))


def _spoken(feature: Feature) -> str:
    """Return the sentence, or the bare title where a kind has none.

    A field that cannot be asked for in a word or number is said as it is.
    """
    wishes = wishes_of(type(feature))
    words = feature.SENTENCE or f"{feature.TITLE}."
    for name in named_in(words):
        if name not in wishes:
            words = words.replace(f"{{{name}}}", str(getattr(feature, name, "")))
    return words


def _line(wish: Wish, control: Control) -> QWidget:
    """Return one of the folded wishes: its name and its widget."""
    if wish.form == "tick":
        return Sentence("{value}", {"value": control.widget})
    return Sentence(f"{_upper_first(wish.title)} {{value}}", {"value": control.widget})


def _upper_first(words: str) -> str:
    return words[:1].upper() + words[1:]


def rule() -> QLabel:
    """Return a thin line between entries."""
    line = QLabel()
    line.setObjectName("thin")
    line.setFixedHeight(1)
    line.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
    return line
