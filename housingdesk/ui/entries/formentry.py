"""The outside form at station Shell: which, and its measures."""

from __future__ import annotations

from typing import Any

from PySide6.QtWidgets import QVBoxLayout, QWidget

from housingdesk.features.forms import registry
from housingdesk.features.forms.form import Form
from housingdesk.spec.edits_shell import change_form, set_form
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.wishes import hint_of
from housingdesk.ui.entries.worded import Worded
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import button, note, show_note
from housingdesk.ui.stack import take_out, unfold


class FormEntry(QWidget):
    """A choice of form, and below it that form's sentence."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.form: Form | None = None
        self.worded: Worded | None = None
        kinds = registry.kinds()
        self.kind = ChoiceField(
            [(kind, made.TITLE) for kind, made in kinds.items()],
            reason="\n".join(f"{made.TITLE}: {hint_of(made)}" for made in kinds.values()),
            name="Outside form",
        )
        self.kind.setMaximumWidth(240)
        self.kind.chosen.connect(self._choose)
        self.more = button("more", "What else can be set of this form.", self._fold, link=True)
        self.sides_note = note()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(6)
        self._column.addWidget(Sentence("&Outside: {kind}", {"kind": self.kind}))
        self._column.addWidget(self.more)

    def show_form(self, form: Form) -> None:
        """Show a form."""
        self.kind.show_key(form.kind)
        if self.worded is None or type(form) is not type(self.form):
            self._lay_out(form)
        self.form = form
        assert self.worded is not None
        self.worded.show(form)
        show_note(self.sides_note, form.SIDES_NOTE)

    def _lay_out(self, form: Form) -> None:
        if self.worded is not None:
            for widget in (self.worded.sentence, self.worded.rest):
                take_out(widget, self)
        words = form.SENTENCE or f"{form.TITLE}."
        self.worded = Worded(self.desk, form, words, lambda field, value: self._change(field, value))
        self._column.insertWidget(1, self.worded.sentence)
        self._column.insertWidget(2, self.worded.rest)
        self.more.setVisible(self.worded.has_rest)
        self.more.setText("more")

    def _change(self, field: str, value: Any) -> None:
        self.desk.apply(change_form(**{field: value}))

    def _choose(self, kind: str) -> None:
        self.desk.apply(set_form(kind))

    def _fold(self) -> None:
        if self.worded is not None:
            opened = self.worded.rest.isHidden()
            unfold(self.worded.rest, opened)
            self.more.setText("less" if opened else "more")
