"""The shapes of a part that was measured, each as a sentence, and what can be added to them."""

from __future__ import annotations

from typing import Any

import numpy as np
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from housingdesk.errors import HousingError
from housingdesk.geometry.frames import PullDirection, pull_rotation
from housingdesk.spec.edits import changed
from housingdesk.spec.models import PartSpec
from housingdesk.spec.part_edits import fresh_shape, set_shapes
from housingdesk.spec.shapes import SHAPES, AnyShape, Plate
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.entry import rule
from housingdesk.ui.entries.worded import Worded
from housingdesk.ui.jobcard.station import button, note, show_note
from housingdesk.ui.stack import relist

AXES = ("x", "y", "z")


def lie_words(part: PartSpec, pull: PullDirection) -> str:
    """Say how a part's own axes lie on the bench; empty where they are the bench's own."""
    turn = pull_rotation(pull)[:3, :3] @ np.reshape(part.placement, (4, 4))[:3, :3]
    if np.allclose(turn, np.eye(3), atol=1e-6):
        return ""
    if not np.allclose(np.abs(turn).max(axis=0), 1.0, atol=1e-6):
        return "The part lies askew on the bench."
    said = []
    for own, way in zip(AXES, turn.T, strict=True):
        along = int(np.argmax(np.abs(way)))
        sign = "" if way[along] > 0 else "−"
        said.append(f"{own.upper()} along {sign}{AXES[along].upper()}")
    return f"The part is turned: on the bench its {', its '.join(said)}."


class ShapeEntry(QFrame):
    """One shape as the user reads and changes it; holds no truth of its own."""

    def __init__(self, shapes: ShapeList, index: int, shape: AnyShape) -> None:
        super().__init__()
        self.setObjectName("entry")
        self.head = QLabel()
        self.head.setObjectName("strong")
        words = f"{shape.SENTENCE}, {shape.PLACE}."
        self._worded = Worded(
            shapes.desk, shape, words, lambda field, value: shapes.change(index, field, value)
        )
        self.controls, self.sentence = self._worded.controls, self._worded.sentence
        for axis in AXES:
            if (number := self.controls[f"{axis}_mm"].number) is not None:
                number.grip.hide()  # three of them then stand in one line; their X, Y, Z can be dragged
        self.complaint = note()
        self.complaint.setObjectName("complaint")
        self.more = button("more", "What else can be set.", self._fold, link=True)
        self.remove = button("remove", "Take this shape out.", lambda: shapes.remove(index), link=True)
        foot = QHBoxLayout()
        foot.setSpacing(14)
        for link in (self.more, self.remove):
            foot.addWidget(link)
        foot.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 6)
        column.setSpacing(4)
        for widget in (self.head, self.sentence, self.complaint, self._worded.rest):
            column.addWidget(widget)
        column.addLayout(foot)
        self.show_shape(shape)
        self.complain("")

    def show_shape(self, shape: AnyShape) -> None:
        """Show a shape of the same kind."""
        self.head.setText(f"{shape.TITLE}, cut away" if shape.cut else shape.TITLE)
        self._worded.show(shape)

    def complain(self, sentence: str) -> None:
        """Say what is wrong with what was just asked; empty when all is well."""
        show_note(self.complaint, sentence)

    def _fold(self) -> None:
        opened = self._worded.rest.isHidden()
        self._worded.rest.setVisible(opened)
        self.more.setText("less" if opened else "more")


class ShapeList(QWidget):
    """Entries of a part's shapes in their order; a shape that is cut away takes from those before it."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.entries: list[ShapeEntry] = []
        self._name = ""
        self._order: object = None
        self._list = QVBoxLayout()
        self._list.setContentsMargins(0, 0, 0, 0)
        self._list.setSpacing(0)
        self.adds: dict[str, QPushButton] = {}
        self.cuts: dict[str, QPushButton] = {}
        self.complaint = note()
        self.complaint.setObjectName("complaint")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        self.lie = note()
        column.addWidget(note("Made of these, in the part's own X, Y and Z:"))
        column.addWidget(self.lie)
        column.addLayout(self._list)
        for kind in SHAPES:
            column.addWidget(self._add_row(kind))
        column.addWidget(self.complaint)
        show_note(self.complaint, "")

    def show_part(self, part: PartSpec) -> None:
        """Show a part's shapes; entries that stay keep their widgets."""
        order = (part.name, tuple(s.kind for s in part.shapes))
        if order != self._order:
            self._lay_out(part.shapes)
            self._order = order
        self._name = part.name
        assert self.desk.spec is not None
        show_note(self.lie, lie_words(part, self.desk.spec.parting.pull))
        for entry, shape in zip(self.entries, part.shapes, strict=True):
            entry.show_shape(shape)

    def change(self, index: int, field: str, value: Any) -> None:
        """Correct one field of one shape; what cannot be is told beside it and the part stays."""
        shapes = list(self._shapes())
        try:
            shapes[index] = changed(shapes[index], **{field: value})
        except HousingError as error:
            self._refuse(index, error)
            return
        self._set(tuple(shapes), index, f"{index} {field}")

    def remove(self, index: int) -> None:
        """Take a shape out."""
        shapes = self._shapes()
        self._set((*shapes[:index], *shapes[index + 1 :]), index)

    def _add(self, kind: type[AnyShape], *, cut: bool) -> None:
        part = self._part()
        shape = fresh_shape(kind, self.desk.meshes[part.mesh_key].bounds, cut=cut)
        self._set((*part.shapes, shape), None)

    def _set(self, shapes: tuple[AnyShape, ...], index: int | None, step: str = "") -> None:
        try:
            edit = set_shapes(self._name, shapes, step)
        except HousingError as error:
            self._refuse(index, error)
            return
        self._clear()
        self.desk.apply(edit)

    def _refuse(self, index: int | None, error: HousingError) -> None:
        self._clear()
        if index is None:
            show_note(self.complaint, str(error))
        else:
            self.entries[index].complain(str(error))
        self.show_part(self._part())  # the fields go back to the last good reading

    def _clear(self) -> None:
        show_note(self.complaint, "")
        for entry in self.entries:
            entry.complain("")

    def _part(self) -> PartSpec:
        assert self.desk.spec is not None
        return next(p for p in self.desk.spec.parts if p.name == self._name)

    def _shapes(self) -> tuple[AnyShape, ...]:
        return self._part().shapes

    def _lay_out(self, shapes: tuple[AnyShape, ...]) -> None:
        self.entries = [ShapeEntry(self, index, shape) for index, shape in enumerate(shapes)]
        for entry in self.entries:
            entry.remove.setVisible(len(shapes) > 1)
        relist(self._list, [w for entry in self.entries for w in (entry, rule())], self)

    def _add_row(self, kind: type[AnyShape]) -> QWidget:
        title = kind.TITLE
        holder = QWidget()
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        self.adds[title] = button(
            f"+ {title}", "Puts one on top of the part.", lambda: self._add(kind, cut=False), link=True
        )
        row.addWidget(self.adds[title])
        row.addStretch(1)
        if kind is not Plate:
            self.cuts[title] = button(
                "cut one away",
                "Takes one from the top of the part: a hole, a notch.",
                lambda: self._add(kind, cut=True),
                link=True,
            )
            row.addWidget(self.cuts[title])
        return holder
