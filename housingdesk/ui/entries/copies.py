"""Mirror and repeat a feature: a line below what else can be set of it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QVBoxLayout, QWidget

from housingdesk.spec.edits_copies import mirror_feature, repeat_feature
from housingdesk.ui.desk import Desk
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import button
from housingdesk.ui.numberfield import NumberField


class CopyLines(QWidget):
    """Asks the desk for copies of the feature that ``name`` gives."""

    def __init__(self, desk: Desk, name: Callable[[], str]) -> None:
        super().__init__()
        self.mirror_x = button(
            "left – right",
            "A copy as far to the other side of the part's middle.",
            lambda: desk.apply(mirror_feature(name(), "x")),
            link=True,
        )
        self.mirror_y = button(
            "front – back",
            "A copy as far to the other side of the part's middle.",
            lambda: desk.apply(mirror_feature(name(), "y")),
            link=True,
        )
        self.count = NumberField(
            1, least=1, most=20, step=1, decimals=0, show_unit=False, name="Further copies",
            reason="How many more in a row.",
        )  # fmt: skip
        self.step = NumberField(
            10.0, least=-500, most=500, step=1, name="Distance of the copies",
            reason="How far each lies from the last, along the side; below 0 goes the other way.",
        )  # fmt: skip
        self.repeat = button(
            "repeat",
            "Puts the copies on the housing.",
            lambda: desk.apply(repeat_feature(name(), round(self.count.value), self.step.value)),
            link=True,
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 0)
        column.setSpacing(6)
        column.addWidget(Sentence("Mirror it {x} {y}", {"x": self.mirror_x, "y": self.mirror_y}))
        column.addWidget(
            Sentence(
                "Add {count} more, {step} apart: {repeat}",
                {"count": self.count, "step": self.step, "repeat": self.repeat},
            )
        )
