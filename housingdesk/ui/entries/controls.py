"""The widget for one wish: shows a value, and says when the user changed it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QWidget

from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.entries.wishes import AS_NEEDED, Wish
from housingdesk.ui.numberfield import NumberField
from housingdesk.ui.textline import WordLine

_WIDEST_CHOICE = 190


class Control:
    """A wish on screen.

    Parameters
    ----------
    began, ended : called around a drag or a burst of steps.
    changed : called with each new value of the field, None where the program is to choose.
    free : what is shown in place of None.
    offers : what can be chosen now, where that is not settled by the model; makes a text a choice.

    Attributes
    ----------
    widget : what stands in the sentence.
    """

    def __init__(
        self,
        wish: Wish,
        began: Callable[[], object],
        changed: Callable[[Any], object],
        ended: Callable[[], object],
        free: str = AS_NEEDED,
        offers: Callable[[], tuple[str, ...]] | None = None,
    ) -> None:
        self.wish = wish
        self._changed = changed
        self._ended = ended
        self._free = free
        self._offers = offers
        self._idle = ""
        self.number: NumberField | None = None
        self.choice: ChoiceField | None = None
        self.tick: QCheckBox | None = None
        self.text: WordLine | None = None
        if wish.form in ("number", "count"):
            self.number = self._number(began)
            self.widget: QWidget = self._with_free_choice(self.number) if wish.optional else self.number
        elif wish.form == "choice" or offers is not None:
            words = [(w, w) for w in wish.choices]
            self.choice = ChoiceField(
                [("", free), *words] if wish.optional else words, reason=wish.reason, name=wish.title
            )
            self.choice.setMaximumWidth(_WIDEST_CHOICE)
            self.choice.chosen.connect(lambda key: self._settle(key or None))
            self.widget = self.choice
        elif wish.form == "tick":
            self.tick = QCheckBox(wish.title)
            self.tick.setToolTip(wish.reason)
            self.tick.toggled.connect(self._settle)
            self.widget = self.tick
        else:
            self.text = WordLine()
            self.text.setObjectName("text")
            self.text.setAccessibleName(wish.title)
            self.text.setToolTip(wish.reason)
            self.text.editingFinished.connect(self._take_text)
            self.widget = self.text

        self._reason = self.widget.toolTip()

    def show(self, value: Any, usual: float | None = None) -> None:
        """Show a value from outside; says nothing to anybody.

        Parameters
        ----------
        usual : what the program takes where there is no number; a number of one's own begins there.
        """
        if self.number is not None:
            if self.wish.optional and self.choice is not None:
                self.choice.show_key("" if value is None else "set")
                self.number.setVisible(value is not None)
            shown = usual if value is None else value
            if shown is not None:
                self.number.show_value(float(shown))
        elif self.choice is not None:
            if self._offers is not None:
                self._offer(dict.fromkeys((*self._offers(), str(value))))
            self.choice.show_key("" if value is None else str(value))
        elif self.tick is not None:
            self.tick.blockSignals(True)
            self.tick.setChecked(bool(value))
            self.tick.blockSignals(False)
        elif self.text is not None and not self.text.isModified():
            self.text.setText(str(value))

    def show_idle(self, why: str) -> None:
        """Let the field rest while it has no effect, and say why; empty: it has an effect."""
        if self._idle != why:
            self._idle = why
            self.widget.setEnabled(not why)
            self.widget.setToolTip("\n".join(filter(None, (why, self._reason))))

    def _offer(self, words: Iterable[str]) -> None:
        assert self.choice is not None
        wanted = list(words)
        if [self.choice.itemText(i) for i in range(self.choice.count())] != wanted:
            self.choice.clear()
            for word in wanted:
                self.choice.addItem(word, word)

    def _number(self, began: Callable[[], object]) -> NumberField:
        wish = self.wish
        field = NumberField(
            wish.start,
            least=wish.least,
            most=wish.most,
            step=wish.step,
            decimals=wish.decimals,
            unit=wish.unit,
            show_unit=bool(wish.unit),
            reason=wish.reason,
            name=wish.title,
        )
        field.began.connect(began)
        field.changed.connect(lambda value: self._changed(self._typed(value)))
        field.ended.connect(self._ended)
        return field

    def _typed(self, value: float) -> float | int:
        return round(value) if self.wish.form == "count" else value

    def _with_free_choice(self, number: NumberField) -> QWidget:
        """Return the number behind a choice of whether there is one."""
        self.choice = ChoiceField(
            (("", self._free), ("set", "just")),
            reason=self.wish.reason,
            name=self.wish.title,
        )
        self.choice.chosen.connect(lambda key: self._settle(self._typed(number.value) if key else None))
        both = QWidget()
        row = QHBoxLayout(both)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        row.addWidget(self.choice)
        row.addWidget(number)
        return both

    def _settle(self, value: Any) -> None:
        """Pass on a value that is a step of its own."""
        self._changed(value)
        self._ended()

    def _take_text(self) -> None:
        if self.text is not None and self.text.isModified():
            self.text.setModified(False)
            self._settle(self.text.text().strip())
