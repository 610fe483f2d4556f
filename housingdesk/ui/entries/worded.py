"""A model as a sentence with its fields in it, and the fields it leaves out as lines of their own."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtWidgets import QVBoxLayout, QWidget

from housingdesk.model import Model
from housingdesk.spec.zones import BODY
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.controls import Control
from housingdesk.ui.entries.wishes import Wish, named_in, title_of, wishes_of
from housingdesk.ui.flow import Sentence

WIDEST_TICK = 230


class Worded:
    """The widgets of one model.

    Parameters
    ----------
    words : the sentence, its fields in braces; a field that cannot be asked for in a word or number is
        said as it is.
    change : called with a field's name and its new value.

    Attributes
    ----------
    sentence, rest : the sentence, and the lines of what it leaves out; ``has_rest`` where there are any.
    """

    def __init__(self, desk: Desk, model: Model, words: str, change: Callable[[str, Any], object]) -> None:
        wishes = wishes_of(type(model))
        for name in named_in(words):
            if name not in wishes:
                words = words.replace(f"{{{name}}}", str(getattr(model, name, "")))
        self.controls = {name: _control(desk, wish, change) for name, wish in wishes.items()}
        said = named_in(words)
        self.sentence = Sentence(words, {n: self.controls[n].widget for n in said})
        self.rest = QWidget()
        lines = QVBoxLayout(self.rest)
        lines.setContentsMargins(0, 2, 0, 0)
        lines.setSpacing(6)
        unsaid = [wish for name, wish in wishes.items() if name not in said]
        for wish in unsaid:
            lines.addWidget(_line(wish, self.controls[wish.name]))
        self._lines = lines
        self.has_rest = bool(unsaid)
        self.rest.hide()
        self.show(model)

    def add(self, widget: QWidget) -> None:
        """Put a widget below the lines."""
        self._lines.addWidget(widget)

    def show(self, model: Model) -> None:
        """Show a model of the same type; what has no effect is left out of the sentence where that can be."""
        barred = set()
        for name, control in self.controls.items():
            control.show(getattr(model, name))
            bar = model.bars(name)
            words = "" if bar is None else f"{title_of(model, bar)} “{getattr(model, bar)}”"
            control.show_idle(f"Has no effect with {words}." if words else "")
            if words:
                barred.add(name)
        self.sentence.leave_out(barred)


def _control(desk: Desk, wish: Wish, change: Callable[[str, Any], object]) -> Control:
    def zones() -> tuple[str, ...]:
        return (BODY, *(z.name for z in desk.spec.fit.zones)) if desk.spec else (BODY,)

    return Control(
        wish,
        desk.begin_drag,
        lambda value: change(wish.name, value),
        desk.end_drag,
        offers=zones if wish.name == "zone" else None,
    )


def _line(wish: Wish, control: Control) -> QWidget:
    """Return one wish of its own: its name and its widget."""
    title = wish.title[:1].upper() + wish.title[1:]
    if control.tick is not None:
        if control.tick.sizeHint().width() <= WIDEST_TICK:
            return Sentence("{value}", {"value": control.tick})
        control.tick.setText("")  # its words would not wrap
        control.tick.setAccessibleName(wish.title)
        return Sentence(f"{{value}} {title}", {"value": control.tick})
    return Sentence(f"{title} {{value}}", {"value": control.widget})
