"""Parting planes the program offers: each a button that says how it compares with the others."""

from __future__ import annotations

import re
from collections.abc import Sequence

from PySide6.QtCore import QEvent, QSize, Qt
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QVBoxLayout
from typing_extensions import override

from housingdesk.build.results import PlaneProposal
from housingdesk.proof.wording import volume
from housingdesk.ui.jobcard.station import note

_ALIKE_MM3 = 1.0  # planes that differ by less are said to cost the same


def compared(proposals: Sequence[PlaneProposal]) -> tuple[str, ...]:
    """Say of each plane in plain words why it is better or worse than the others.

    What is said of all of them alike, but for figures, tells nothing and is left out.

    Parameters
    ----------
    proposals : best first.
    """
    least = min((p.relief_mm3 for p in proposals), default=0.0)
    told = [_told(p) for p in proposals]
    common = set.intersection(*(set(map(_without_figures, t)) for t in told)) if len(told) > 1 else set()
    words = []
    for place, (proposal, sentences) in enumerate(zip(proposals, told, strict=True)):
        own = [s for s in sentences if _without_figures(s) not in common]
        first = ["The best of these."] if place == 0 and len(proposals) > 1 else []
        words.append(" ".join([*first, _cost(proposal.relief_mm3, least), *own]))
    return tuple(words)


def _told(proposal: PlaneProposal) -> list[str]:
    """Return what is said of a plane besides what it costs, which is said by comparing."""
    return [s for s in dict.fromkeys((proposal.reason, *proposal.notes)) if "cut away" not in s]


def _without_figures(sentence: str) -> str:
    return re.sub(r"\d[\d.,]*", "#", sentence)


def _cost(relief_mm3: float, least_mm3: float) -> str:
    if relief_mm3 < _ALIKE_MM3:
        return "Nothing has to be cut for the part to go in."
    if relief_mm3 - least_mm3 < _ALIKE_MM3:
        return f"Least has to be cut for the part to go in: {volume(relief_mm3)}."
    if least_mm3 < _ALIKE_MM3:
        return f"{volume(relief_mm3)} have to be cut for the part to go in, elsewhere nothing."
    return f"{volume(relief_mm3)} have to be cut for the part to go in, elsewhere only {volume(least_mm3)}."


class PlaneButton(QPushButton):
    """A plane to choose: where it lies, and below that, wrapped, how it compares."""

    def __init__(self, where: str, why: str) -> None:
        super().__init__()
        self.setObjectName("proposal")
        self.setCheckable(True)
        self.setAccessibleName(where)
        self.setAccessibleDescription(why)
        head = QLabel(where)
        head.setWordWrap(True)
        self.why = note(why)
        column = QVBoxLayout(self)
        column.setContentsMargins(9, 6, 9, 6)
        column.setSpacing(2)
        for label in (head, self.why):
            label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            column.addWidget(label)
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    @override
    def sizeHint(self) -> QSize:
        layout = self.layout()
        return layout.sizeHint() if layout is not None else super().sizeHint()

    @override
    def minimumSizeHint(self) -> QSize:
        return QSize(0, 0)

    @override
    def hasHeightForWidth(self) -> bool:
        return True

    @override
    def heightForWidth(self, width: int, /) -> int:
        layout = self.layout()
        return layout.totalHeightForWidth(width) if layout is not None else super().heightForWidth(width)

    @override
    def event(self, event: QEvent, /) -> bool:
        if event.type() == QEvent.Type.LayoutRequest:
            self.updateGeometry()
        return super().event(event)
