"""The slim row under the bench: from where one looks, lift, ghost, and which halves are shown."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QMenu, QPushButton, QSlider, QWidget

from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.flow import FlowLayout
from housingdesk.view3d.scene import Look

_STEPS = 100
_NOT_WHILE_GAPS = "Not while the gaps are shown: they take the picture for themselves. Untick Gaps, key M."


class BenchRow(QWidget):
    """The viewer's choices as sliders and switches.

    ``look_changed(Look)`` asks for another look, ``lift_rested`` says that the lift slider has been let go or
    was moved by a key.  The lift slider is a share; how many mm that is depends on the housing's height.
    """

    look_changed = Signal(object)
    lift_rested = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("benchRow")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        self._look = Look()
        self._most_lift_mm = 40.0
        self.looks = QPushButton("Look from")
        self.looks.setObjectName("looks")
        self.looks.setToolTip("Look at the whole housing from one of its sides, or aslant. Keys 1 to 7.")
        self.lift = _slider("Lift the upper half off along the pull. Key E.", "Lift", 130)
        self.ghost = _slider(
            "How densely the untouched part is drawn. Key G turns it off and on.", "Ghost", 100
        )
        self.ghost.setObjectName("ghost")
        self.ghost_on = _switch("Ghost", "Draw the untouched part over the halves. Key G.")
        self.lower_on = _switch("Lower half", "Show the lower half. Key L.")
        self.upper_on = _switch("Upper half", "Show the upper half. Key U.")
        self.gaps_on = _switch(
            "Gaps", "Show the part alone, or the cavity, coloured by the gap between them. Key M."
        )
        self.gaps_where = ChoiceField(
            (("part", "on the part"), ("cavity", "on the cavity")),
            reason="Which surface is coloured: the untouched part, or the inside of the finished halves.",
            name="Gaps on",
        )
        self._idle = {  # what does nothing while the gaps are shown, and what else it says
            w: w.toolTip() for w in (self.lift, self.ghost, self.ghost_on, self.lower_on, self.upper_on)
        }
        switches = QWidget()
        row = FlowLayout(switches)  # a narrow bench has them in two lines
        margins = QHBoxLayout(self)
        margins.setContentsMargins(22, 4, 8, 6)
        margins.addWidget(switches)
        for group in (
            (self.looks,),
            (QLabel("Lift"), self.lift),
            (self.ghost_on, self.ghost),
            (self.lower_on,),
            (self.upper_on,),
            (self.gaps_on, self.gaps_where),
        ):
            row.addWidget(_together(*group))
        self.lift.valueChanged.connect(
            lambda v: self._change(replace(self._look, lift_mm=v / _STEPS * self._most_lift_mm))
        )
        self.lift.valueChanged.connect(
            lambda _: None if self.lift.isSliderDown() else self.lift_rested.emit()
        )
        self.lift.sliderReleased.connect(self.lift_rested)
        self.ghost.valueChanged.connect(
            lambda v: self._change(replace(self._look, ghost_opacity=v / _STEPS, ghost_on=True))
        )
        self.ghost_on.toggled.connect(lambda on: self._change(replace(self._look, ghost_on=on)))
        self.lower_on.toggled.connect(lambda on: self._change(replace(self._look, lower_shown=on)))
        self.upper_on.toggled.connect(lambda on: self._change(replace(self._look, upper_shown=on)))
        self.gaps_on.toggled.connect(lambda on: self._change(replace(self._look, gaps_on=on)))
        self.gaps_where.chosen.connect(self._choose_where)
        self.show_look(self._look, self._most_lift_mm)

    def offer_looks(self, looks: Iterable[QAction]) -> None:
        """List from where the housing can be looked at."""
        menu = QMenu(self.looks)
        menu.setToolTipsVisible(True)
        menu.addActions(list(looks))
        self.looks.setMenu(menu)

    def show_look(self, look: Look, most_lift_mm: float) -> None:
        """Show a look; says nothing to anybody."""
        self._look, self._most_lift_mm = look, max(most_lift_mm, 1.0)
        values = (
            (self.lift, round(look.lift_mm / self._most_lift_mm * _STEPS)),
            (self.ghost, round(look.ghost_opacity * _STEPS)),
        )
        for slider, value in values:
            slider.blockSignals(True)
            slider.setValue(value)
            slider.blockSignals(False)
        for box, on in (
            (self.ghost_on, look.ghost_on),
            (self.lower_on, look.lower_shown),
            (self.upper_on, look.upper_shown),
            (self.gaps_on, look.gaps_on),
        ):
            box.blockSignals(True)
            box.setChecked(on)
            box.blockSignals(False)
        self.gaps_where.show_key(look.gaps_where)
        self.gaps_where.setVisible(look.gaps_on)
        for widget, words in self._idle.items():
            widget.setEnabled(not look.gaps_on)
            widget.setToolTip(_NOT_WHILE_GAPS if look.gaps_on else words)

    def _rest_lift(self) -> None:
        if not self.lift.isSliderDown():
            self.lift_rested.emit()

    def _choose_where(self, key: str) -> None:
        self._change(replace(self._look, gaps_where="cavity" if key == "cavity" else "part"))

    def _change(self, look: Look) -> None:
        if look != self._look:
            self._look = look
            self.look_changed.emit(look)


def _together(*widgets: QWidget) -> QWidget:
    """Keep widgets on one line, with a distance to what follows."""
    held = QWidget()
    row = QHBoxLayout(held)
    row.setContentsMargins(0, 0, 10, 0)
    row.setSpacing(8)
    for widget in widgets:
        row.addWidget(widget)
    return held


def _slider(reason: str, name: str, width: int) -> QSlider:
    slider = QSlider(Qt.Orientation.Horizontal)
    slider.setRange(0, _STEPS)
    slider.setPageStep(10)
    slider.setFixedWidth(width)
    slider.setToolTip(reason)
    slider.setAccessibleName(name)
    return slider


def _switch(words: str, reason: str) -> QCheckBox:
    box = QCheckBox(words)
    box.setToolTip(reason)
    return box
