"""The dialog for a part without a file: a thing of known size, or a first shape from caliper readings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLineEdit, QVBoxLayout, QWidget

from housingdesk.errors import HousingError
from housingdesk.spec.edits import changed
from housingdesk.spec.known_shapes import (
    BODY_LONG_MM,
    SHAFT_LONG_MM,
    Kind,
    Told,
    figures,
    kinds,
    known,
    warning,
)
from housingdesk.spec.shapes import SHAPES, AnyShape, body
from housingdesk.standards._data import MARKS
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.desk import Desk
from housingdesk.ui.dialogs import CAUTIONS
from housingdesk.ui.entries.worded import Worded
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import note, show_note
from housingdesk.ui.numberfield import NumberField

_SIZE = (520, 430)
_KNOWN_WORDS: dict[Kind, str] = {
    "motor": "a motor with the face",
    "bearing": "a ball bearing",
    "cell": "a round cell",
}
_SHAPE_WORDS = {"block": "something like a block", "round": "something round", "plate": "a board or plate"}
_CAUTION_OF: dict[str, str] = {"motor": "Turning shafts", "cell": "Lithium cells"}


@dataclass(frozen=True, slots=True)
class Measured:
    """What was chosen: the part's name and its shapes."""

    name: str
    shapes: tuple[AnyShape, ...]


class MeasureDialog(QDialog):
    """Asks what the part is and for what no standard says of it.

    Attributes
    ----------
    what, which, code : kind of thing; which one; a cell's code where none of those offered is meant.
    length, shaft : of a motor, which its face does not say.
    worded : the fields of a first shape, by its kind.
    """

    def __init__(self, parent: QWidget | None, desk: Desk, title: str, go_on: str) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.what = ChoiceField(
            (_KNOWN_WORDS | _SHAPE_WORDS).items(),
            name="What the part is",
            reason="A thing whose size a standard says, or the first of the shapes that it is made of;\n"
            "more can be added at station Part.",
        )
        self.what.chosen.connect(lambda _: self._choose_kind())
        self.which = ChoiceField((), name="Which one", reason="As its papers or the print on it say.")
        self.which.chosen.connect(lambda _: self._refresh())
        self.code = _text("Code of the cell", "Another code, as printed on the cell: 26650, CR2450.", 90)
        self.code.setPlaceholderText("other code")
        self.code.textEdited.connect(lambda _: self._refresh())
        self.length = self._number("Length of the body", BODY_LONG_MM)
        self.shaft = self._number("Length of the shaft", SHAFT_LONG_MM)
        self.name = _text("Name of the part", "A name for your eyes.", 200)
        self.name.setMaxLength(80)
        self._firsts: dict[str, AnyShape] = {kind.model_fields["kind"].default: kind() for kind in SHAPES}
        self.worded = {
            kind: Worded(desk, shape, f"{shape.SENTENCE}.", partial(self._set, kind))
            for kind, shape in self._firsts.items()
        }
        self._which_line = Sentence("It is {what} {which} {code}", _fields(self, "what", "which", "code"))
        self._motor_line = Sentence(
            "Its body is {length} long, its shaft stands out {shaft}.", _fields(self, "length", "shaft")
        )
        self.unsaid = note("No standard says these two: measure yours. All can be corrected afterwards.")
        self.figures, self.warning, self.complaint, self.caution = note(), note(), note(), note()
        self.warning.setObjectName("caution")
        self.complaint.setObjectName("complaint")
        self.buttons = QDialogButtonBox()
        self.go_on = self.buttons.addButton(go_on, QDialogButtonBox.ButtonRole.AcceptRole)
        self.go_on.setObjectName("main")
        self.buttons.addButton("&Go back", QDialogButtonBox.ButtonRole.RejectRole)
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 20, 22, 18)
        column.setSpacing(10)
        column.addWidget(self._which_line)
        column.addWidget(self._motor_line)
        column.addWidget(self.unsaid)
        for words in self.worded.values():
            column.addWidget(words.sentence)
            words.rest.setParent(self)  # hidden: the rest is for station Part
        column.addWidget(Sentence("&Called {name}", {"name": self.name}))
        for label in (self.complaint, self.figures, self.warning, self.caution):
            column.addWidget(label)
        column.addStretch(1)
        column.addWidget(self.buttons)
        self._choose_kind()
        self.resize(*_SIZE)  # now that what is not asked of this kind is hidden

    @property
    def measured(self) -> Measured:
        """What is chosen now.

        Raises
        ------
        SpecError : it cannot be: an unknown code, a shape that leaves nothing.
        """
        shapes = self._shapes()
        body(shapes)
        return Measured(self.name.text().strip() or self._usual_name(), shapes)

    def _number(self, name: str, value: float) -> NumberField:
        made = NumberField(value, least=1, most=500, step=0.5, name=name, reason="Measured with calipers.")
        made.changed.connect(lambda _: self._refresh())
        return made

    def _thing(self) -> str:
        """Name of the known thing that is chosen; empty for a first shape."""
        kind = self.what.key
        if kind not in kinds():
            return ""
        return f"{kind} {(kind == 'cell' and self.code.text().strip()) or self.which.key}"

    def _shapes(self) -> tuple[AnyShape, ...]:
        thing = self._thing()
        return known(thing, self.length.value, self.shaft.value) if thing else (self._firsts[self.what.key],)

    def _usual_name(self) -> str:
        kind, _, which = self._thing().partition(" ")
        return f"{which} {kind}" if which else self._firsts[self.what.key].TITLE

    def _set(self, kind: str, field: str, value: Any) -> None:
        try:
            self._firsts[kind] = changed(self._firsts[kind], **{field: value})
        except HousingError as error:
            self.worded[kind].show(self._firsts[kind])
            show_note(self.complaint, str(error))
            return
        self._refresh()

    def _choose_kind(self) -> None:
        self.which.clear()
        for name in dict(kinds()).get(self.what.key, ()):  # type: ignore[call-overload]  # shapes have no names
            self.which.addItem(name, name)
        self.code.clear()
        self._refresh()

    def _refresh(self) -> None:
        kind, thing = self.what.key, self._thing()
        self.which.setVisible(bool(thing))
        self.which.setEnabled(not self.code.text().strip())
        self.code.setVisible(kind == "cell")
        self._motor_line.setVisible(kind == "motor")
        self.unsaid.setVisible(kind == "motor")
        for shape, words in self.worded.items():
            words.sentence.setVisible(shape == kind)
        self.name.setPlaceholderText(self._usual_name())
        try:
            told, warned = (figures(thing), warning(thing)) if thing else ((), "")
            complaint = ""
            body(self._shapes())
        except HousingError as error:
            told, warned, complaint = (), "", str(error)
        self.go_on.setEnabled(not complaint)
        show_note(self.complaint, complaint)
        show_note(self.figures, "\n".join(_by_source(told)))
        self.figures.setToolTip("\n".join(dict.fromkeys(t.source.text for t in told)))
        show_note(self.warning, f"! {warned}" if warned else "")
        show_note(self.caution, dict(CAUTIONS)[_CAUTION_OF[kind]] if kind in _CAUTION_OF else "")


def ask_measured(parent: QWidget, desk: Desk, title: str, go_on: str) -> Measured | None:
    """Ask what a part without a file is; None where the user goes back.  ``go_on`` is on the button."""
    dialog = MeasureDialog(parent, desk, title, go_on)
    taken = dialog.exec() == QDialog.DialogCode.Accepted
    found = dialog.measured if taken else None
    dialog.deleteLater()
    return found


def _by_source(told: tuple[Told, ...]) -> list[str]:
    """Say figures with their standard and how they are known, those of one source in one line."""
    lines: dict[str, list[str]] = {}
    for figure in told:
        source = figure.source
        lines.setdefault(f"{source.standard}, {MARKS[source.mark]}", []).append(figure.words)
    return [f"{', '.join(words)[:1].upper()}{', '.join(words)[1:]}: {how}." for how, words in lines.items()]


def _fields(owner: MeasureDialog, *names: str) -> dict[str, QWidget]:
    return {name: getattr(owner, name) for name in names}


def _text(name: str, reason: str, width: int) -> QLineEdit:
    made = QLineEdit()
    made.setObjectName("text")
    made.setAccessibleName(name)
    made.setToolTip(reason)
    made.setFixedWidth(width)
    return made
