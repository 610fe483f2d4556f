"""Station Part: what is enclosed, how big it is, and how it lies."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

import numpy as np
from PySide6.QtWidgets import QHBoxLayout, QWidget

from housingdesk.geometry.frames import pull_rotation
from housingdesk.geometry.types import Floats
from housingdesk.spec import edits, placing
from housingdesk.spec.models import UNIT_MM, PartSpec, Unit, UnitOrigin
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.entries.shapelist import ShapeList
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import Station, button, note, show_note
from housingdesk.ui.lengths import size_words
from housingdesk.ui.numberfield import NumberField
from housingdesk.ui.stack import show_if
from housingdesk.ui.textline import WordLine

ORIGIN_WORDS: dict[UnitOrigin, str] = {
    "tagged": "as the file says.",
    "guessed": "a guess from its size; check it.",
    "given": "as you said.",
    "measured": "from your measurement.",
}
_AXES = ("x", "y", "z")


class PartStation(Station):
    """Name, size, unit, placing; several parts, one shown at a time."""

    title = "Part"
    order = 10

    def build(self) -> None:
        """Make the sentences."""
        self._name = ""
        self._size = (1.0, 1.0, 1.0)
        self._sizes: dict[object, tuple[float, float, float]] = {}
        self.which = ChoiceField((), name="Part to change", reason="The part that the lines below are about.")
        self.which.setMaximumWidth(170)
        self.which.chosen.connect(self._choose)
        self._which_line = Sentence("Show the part {which}", {"which": self.which})
        self.add(self._which_line)
        self.name_edit = WordLine()
        self.name_edit.setObjectName("text")
        self.name_edit.setMaxLength(80)
        self.name_edit.setAccessibleName("Name of the part")
        self.name_edit.setToolTip("A name for your eyes; it goes into the report and nowhere else.")
        self.name_edit.editingFinished.connect(self._rename)
        self.add(Sentence("&Called {name}", {"name": self.name_edit}))
        self.size_note = note()
        self.add(self.size_note)
        self.unit = ChoiceField(
            ((u, u) for u in UNIT_MM),
            name="Unit of the file",
            reason="What one unit of the file is. Many files do not say; a motor of 60 m is a wrong guess.",
        )
        self.unit.chosen.connect(lambda key: self.desk.apply(edits.set_unit(self._name, cast(Unit, key))))
        self.origin = note()
        self._unit_line = Sentence("&Read as {unit}", {"unit": self.unit})
        self.add(self._unit_line)
        self.add(self.origin)
        self._build_measure()
        self.shapes = ShapeList(self.desk)
        self.add(self.shapes)
        self._build_placing()
        self.notes = note()
        self.add(self.notes)
        self._build_parts()

    def _build_measure(self) -> None:
        self.axis = ChoiceField(
            (("x", "X"), ("y", "Y"), ("z", "Z")),
            name="Measured along",
            reason="The way you held the calipers.",
        )
        self.axis.chosen.connect(lambda _: self._show_measure())
        self.measure = NumberField(
            least=0.01,
            most=5000,
            step=0.1,
            name="Measured length",
            reason="Measure one outside length with calipers and type it: that settles the unit, and the\n"
            "scale where a file was drawn to another one.",
        )
        self.measure.changed.connect(self._take_measure)
        self.measure.began.connect(self.desk.begin_drag)
        self.measure.ended.connect(self.desk.end_drag)
        self._measure_line = Sentence(
            "Along {axis} I &measured {length}.", {"axis": self.axis, "length": self.measure}
        )
        self.add(self._measure_line)

    def _build_placing(self) -> None:
        self.angle = NumberField(
            90.0,
            least=-360,
            most=360,
            step=5,
            decimals=1,
            unit="°",
            name="Turn by",
            reason="A quarter turn is 90°. The part turns about its own middle.",
        )
        self.turns = {
            axis: button(axis.upper(), f"Turn the part about its {axis.upper()} axis.", self._turner(axis))
            for axis in _AXES
        }
        for made in self.turns.values():
            made.setObjectName("axis")
        self.add(Sentence("&Turn it {angle} about {x} {y} {z}", {"angle": self.angle, **self.turns}))
        self.lay = button(
            "Lay a face down",
            "Click this, then a flat face of the part on the bench: it will lie against the floor.",
            self._lay,
        )
        self.lay.setCheckable(True)
        self.middle = button(
            "Centre", "Put the part's middle over the middle of the others.", lambda: self._do(edits.centre)
        )
        row = QWidget()
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.lay)
        line.addWidget(self.middle)
        line.addStretch(1)
        self.add(row)

    def _build_parts(self) -> None:
        self.shift = [
            NumberField(
                least=-2000,
                most=2000,
                step=0.5,
                show_unit=False,
                name=f"Shift along {axis.upper()}",
                reason=f"Where the part lies along {axis.upper()}, from where its file drew it.",
            )
            for axis in _AXES
        ]
        for index, field in enumerate(self.shift):
            field.changed.connect(lambda value, i=index: self._shift(i, value))
            field.began.connect(self.desk.begin_drag)
            field.ended.connect(self.desk.end_drag)
        self._shift_line = Sentence("X {x} Y {y} Z {z}", dict(zip(("x", "y", "z"), self.shift, strict=True)))
        self._shift_words = note("Moved from there, in mm:")
        self.add(self._shift_words)
        self.add(self._shift_line)
        self.remove = button(
            "Remove this part",
            "Takes this part out of the housing; the file stays where it is.",
            lambda: self._do(edits.remove_part),
            link=True,
        )
        self.more = button(
            "Add another part…",
            "A board beside its motor: several parts in one housing.",
            self.desk.add_part_asked.emit,
            link=True,
        )
        self.swap = button(
            "Put another file in its place…",
            "A newer file of the same part: its place, its zones and all features stay; faces that are not\n"
            "found again are listed on the proof sheet.",
            lambda: self.desk.swap_asked.emit(self._name),
            link=True,
        )
        self.swapped = note()
        self.take_offer = button(
            "Take what turns on it",
            "The round that sticks out of the new part is taken for a shaft, in place of zones that are\n"
            "lost.",
            self.desk.take_offer,
            link=True,
        )
        self.measure_more = button(
            "Measure another part…",
            "A part without a file: of a known size, or from caliper readings.",
            self.desk.measure_asked.emit,
            link=True,
        )
        for links in ((self.swap,), (self.more, self.remove), (self.measure_more,)):
            row = QWidget()
            line = QHBoxLayout(row)
            line.setContentsMargins(0, 0, 0, 0)
            line.setSpacing(18)
            for link in links:
                line.addWidget(link)
            line.addStretch(1)
            self.add(row)
            if links == (self.swap,):
                self.add(self.swapped)
                self.add(self.take_offer)

    # showing

    def refresh(self) -> None:
        """Show the chosen part."""
        names = [p.name for p in self.spec.parts]
        if [self.which.itemText(i) for i in range(self.which.count())] != names:
            if len(names) > self.which.count() > 0:
                self._name = names[-1]  # the one just added
            elif len(names) == self.which.count() and self._name not in names:
                self._name = names[self.which.currentIndex()]  # it is called otherwise now
            self.which.clear()
            for name in names:
                self.which.addItem(name, name)
        if self._name not in names:
            self._name = names[0]
        self.which.show_key(self._name)
        several = len(names) > 1
        for widget in (self._which_line, self._shift_words, self._shift_line, self.remove):
            widget.setVisible(several)
        part = self._part()
        if not self.name_edit.isModified():
            self.name_edit.setText(part.name)
            self.name_edit.setCursorPosition(0)
        self._size = self._size_of(part)
        whence = f"From {part.source_name}. " if part.source_name else ""
        show_note(self.size_note, f"{whence}It measures {size_words(self._size)}.")
        told = self.desk.swapped
        mine = told is not None and told.part == self._name
        show_note(self.swapped, told.words if told is not None and mine else "")
        show_if(self.take_offer, told is not None and mine and bool(told.offer), self.swap)
        made = bool(part.shapes)
        self._unit_line.setVisible(not made)
        self._measure_line.setVisible(not made)
        self.shapes.setVisible(made)
        if made:
            self.shapes.show_part(part)
        self.unit.show_key(part.unit)
        show_note(self.origin, "" if made else f"That is {ORIGIN_WORDS[part.unit_origin]}")
        self._show_measure()
        for index, field in enumerate(self.shift):
            field.show_value(round(self._shift_now(part, index), 6))
        self.lay.setChecked(self.desk.picking_for == self._name)
        facts = self.desk.mesh_facts.get(part.mesh_key)
        show_note(self.notes, "\n".join(facts.notes) if facts else "")

    def summary(self) -> str:
        """Say name and size."""
        parts = self.spec.parts
        if len(parts) > 1:
            return f"{len(parts)} parts: {', '.join(p.name for p in parts)}."
        whence = "from your readings" if parts[0].shapes else f"read as {parts[0].unit}"
        return f"{parts[0].name}, {size_words(self._size_of(parts[0]))}, {whence}."

    def _size_of(self, part: PartSpec) -> tuple[float, float, float]:
        """Extents along the bench's axes, mm; kept, because large parts take a moment."""
        key = (part.mesh_key, part.scale_mm, part.placement, self.spec.parting.pull)
        if key not in self._sizes:
            box = placing.box_mm([part], self.desk.meshes, self.spec.parting.pull)
            self._sizes = {key: cast("tuple[float, float, float]", tuple(float(v) for v in box[1] - box[0]))}
        return self._sizes[key]

    def _show_measure(self) -> None:
        self.measure.show_value(round(self._size["xyz".index(self.axis.key)], 4))

    # intents

    def _part(self) -> PartSpec:
        return next(p for p in self.spec.parts if p.name == self._name)

    def _choose(self, name: str) -> None:
        self._name = name
        self.desk.stop_picking()
        self.refresh()

    def _do(self, edit: Callable[[str], edits.Edit]) -> None:
        self.desk.apply(edit(self._name))

    def _rename(self) -> None:
        name = self.name_edit.text().strip()
        self.name_edit.setModified(False)
        if not name or name == self._name:
            self.name_edit.setText(self._name)
            return
        before, self._name = self._name, name
        if not self.desk.apply(edits.rename(before, name)):
            self._name = before
            self.name_edit.setText(before)

    def _take_measure(self, measured_mm: float) -> None:
        file_length = self._size["xyz".index(self.axis.key)] / self._part().scale_mm
        self.desk.apply(edits.set_scale_by_measure(self._name, measured_mm, file_length))

    def _turner(self, axis: str) -> Callable[[], object]:
        index = "xyz".index(axis)
        return lambda: self.desk.apply(edits.turn(self._name, self._bench_axis(index), self.angle.value))

    def _bench_axis(self, index: int) -> Floats:
        """Axis of the bench's compass, as a (3,) direction of the assembly frame."""
        return pull_rotation(self.spec.parting.pull)[index, :3]

    def _shift_now(self, part: PartSpec, index: int) -> float:
        return float(self._bench_axis(index) @ np.reshape(part.placement, (4, 4))[:3, 3])

    def _lay(self) -> None:
        if self.lay.isChecked():
            self.desk.start_picking(self._name)
        else:
            self.desk.stop_picking()

    def _shift(self, index: int, value: float) -> None:
        part = self._part()
        matrix = np.reshape(part.placement, (4, 4)).copy()
        matrix[:3, 3] += self._bench_axis(index) * (value - self._shift_now(part, index))
        self.desk.apply(edits.place(self._name, matrix))
