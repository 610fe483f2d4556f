"""The section strip: a live cut through the housing, its gaps and walls dimensioned in mm."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from housingdesk.build.results import BuildResult, CutPlane, Plan, Section
from housingdesk.geometry.types import Floats
from housingdesk.ui.cutplan import CutPlan
from housingdesk.ui.flow import FlowLayout
from housingdesk.ui.gauge import Dimension, cut_plane
from housingdesk.ui.numberfield import NumberField
from housingdesk.ui.sectioncanvas import SectionCanvas
from housingdesk.view3d.cutting import directions, reach_along_normal, settled
from housingdesk.view3d.palette import Palette

_ANY_HEIGHT = 16_777_215  # Qt's own word for no limit
_MOVED_MM = 0.05  # half of what the cut is given in; a draft's middle differs from the final one's by less


class SectionStrip(QWidget):
    """Section, its cutting line as numbers, and the plan in which the line is dragged.

    ``cut_moved`` comes with every new place of the cut, ``cut_rested`` when a drag of it ends.
    """

    cut_moved = Signal()
    cut_rested = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("sectionStrip")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        self._asked: CutPlane | None = None  # what was told last
        self._outer = np.array([[-1.0, -1.0, 0.0], [1.0, 1.0, 1.0]])
        self.offset_field = NumberField(
            least=-1000,
            most=1000,
            step=0.5,
            decimals=1,
            name="Cut from the middle",
            reason="How far the cut lies from the middle of the housing: positive towards the back,\n"
            "or, turned by 90°, towards the right. You look the same way, from the front or from the left.",
        )
        self.angle_field = NumberField(
            least=-180,
            most=180,
            step=5.0,
            decimals=1,
            unit="°",
            name="Cut turned by",
            reason="Turn of the cut, clockwise seen from above: 0 runs from left to right,\n"
            "90 from back to front.",
        )
        self.canvas = SectionCanvas()
        self.plan = CutPlan()
        self._words = QLabel()
        self._words.setObjectName("soft")
        title = QLabel("Section")
        title.setObjectName("strong")
        whole = QPushButton("Show all of it")
        whole.setObjectName("link")
        whole.setToolTip("Fit the drawing into the strip again; double-click does the same.")
        whole.clicked.connect(self.canvas.fit)
        self.folder = QPushButton()
        self.folder.setObjectName("link")
        self.folder.clicked.connect(lambda: self.set_folded(not self.folded))
        words = QWidget()
        head = FlowLayout(words)  # a narrow bench has it in two lines
        head_row = QWidget()
        margins = QVBoxLayout(head_row)
        margins.setContentsMargins(22, 8, 8, 0)
        margins.addWidget(words)
        for widget in (
            title,
            QLabel("  cut"),
            self.offset_field,
            QLabel("from the middle, turned"),
            self.angle_field,
            QLabel("  "),
            whole,
            QLabel(" "),
            self.folder,
            self._words,
        ):
            head.addWidget(widget)
        self._body = QWidget()
        body = QHBoxLayout(self._body)
        body.setContentsMargins(6, 0, 10, 6)
        body.addWidget(self.canvas, 1)
        body.addWidget(self.plan)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 1, 0, 0)
        column.setSpacing(2)
        column.addWidget(head_row)
        column.addWidget(self._body, 1)
        self.set_folded(False)
        self.offset_field.changed.connect(lambda v: self._cut(self.angle_deg, v))
        self.angle_field.changed.connect(lambda v: self._cut(v, self.offset_mm))
        self.offset_field.ended.connect(self.cut_rested)
        self.angle_field.ended.connect(self.cut_rested)
        self.plan.moved.connect(self._cut)
        self.plan.rested.connect(self.cut_rested)
        self.canvas.measured.connect(self._say)

    @property
    def folded(self) -> bool:
        """Whether only the line of words is shown."""
        return self._body.isHidden()

    def set_folded(self, folded: bool) -> None:
        """Fold the drawing away, or show it again."""
        self._body.setHidden(folded)
        self.folder.setText("Show the drawing" if folded else "Fold away")
        self.folder.setToolTip("Leaves more room to the bench." if not folded else "Shows the section again.")
        self.setMinimumHeight(40 if folded else 150)
        self.setMaximumHeight(44 if folded else _ANY_HEIGHT)

    @property
    def angle_deg(self) -> float:
        """Turn of the cut about the pull."""
        return self.angle_field.value

    @property
    def offset_mm(self) -> float:
        """Shift of the cut from the middle."""
        return self.offset_field.value

    @property
    def cut(self) -> CutPlane:
        """Where the housing is cut now, build frame."""
        middle = self._outer.mean(axis=0)
        return cut_plane(self.angle_deg, self.offset_mm, (float(middle[0]), float(middle[1]), 0.0))

    @property
    def words(self) -> str:
        """What is measured under the pointer; empty when nothing is."""
        return self._words.text().strip()

    def set_theme(self, theme: Palette) -> None:
        """Change colours."""
        self.canvas.set_theme(theme)
        self.plan.set_theme(theme)

    def show_result(self, result: BuildResult | None, *, stale: bool) -> None:
        """Show the section that came with a result."""
        if result is None:
            self.canvas.show_section(None)
            self.plan.show_plan(None, Plan())
            return
        self._outer = np.asarray(result.outer_mm, float)
        self.plan.show_plan(_plan_box(self._outer), result.plan)
        self._limit()
        self._follow_middle(stale)
        if result.section is not None or not stale:
            self.canvas.show_section(
                result.section, stale=stale, elsewhere=self._is_elsewhere(result.section)
            )

    def _follow_middle(self, stale: bool) -> None:
        """Ask for the cut anew where the housing's middle has moved and with it the cut."""
        if self._asked is None or stale:
            return
        away = np.subtract(self.cut.origin_mm, self._asked.origin_mm)
        if float(np.linalg.norm(away)) > _MOVED_MM:
            self._cut(self.angle_deg, self.offset_mm)

    def _is_elsewhere(self, section: Section | None) -> bool:
        return section is not None and self._asked is not None and section.plane != self._asked

    def set_cut(self, angle_deg: float, offset_mm: float) -> None:
        """Put the cut somewhere and tell."""
        self._cut(angle_deg, offset_mm)
        self.cut_rested.emit()

    def cut_through(self, place_mm: tuple[float, float, float]) -> None:
        """Shift the cut, turned as it is, so that it goes through a place of the build frame."""
        middle = self._outer.mean(axis=0)
        _, normal = directions(self.angle_deg)
        shift = float(np.dot(np.subtract(place_mm, middle)[:2], normal))
        most = self._most_mm()
        self.set_cut(self.angle_deg, float(np.clip(round(shift, 1), -most, most)))

    def _most_mm(self) -> float:
        size = self._outer[1] - self._outer[0]
        most = reach_along_normal(self.angle_deg, (float(size[0]), float(size[1]))) - 0.05
        return round(max(0.0, most), 1)

    def _limit(self) -> None:
        most = self._most_mm()
        self.offset_field.set_limits(-most, most)

    def _cut(self, angle_deg: float, offset_mm: float) -> None:
        angle_deg, offset_mm = settled(angle_deg, offset_mm)
        self.angle_field.show_value(angle_deg)
        self._limit()
        self.offset_field.show_value(offset_mm)
        self.plan.show_cut(angle_deg, offset_mm)
        self._asked = self.cut
        self.canvas.mark_elsewhere(self._is_elsewhere(self.canvas.section))
        self.cut_moved.emit()

    def _say(self, dimension: Dimension | None) -> None:
        self._words.setText("" if dimension is None else f"   {dimension.words(' here ')}")


def _plan_box(corners: Floats) -> tuple[float, float, float, float]:
    return float(corners[0][0]), float(corners[0][1]), float(corners[1][0]), float(corners[1][1])
