"""Parting planes in words: which way the upper half comes off, how planes compare, what does not fit them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal

import numpy as np
from PySide6.QtCore import QEvent, QSize, Qt
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QVBoxLayout
from typing_extensions import override

from housingdesk.build.results import BuildResult, PlaneProposal
from housingdesk.geometry.frames import PULLS, PullDirection, pull_rotation
from housingdesk.proof.wording import volume
from housingdesk.ui.jobcard.station import note, show_note

_ALIKE_MM3 = 1.0  # planes that differ by less are said to cost the same

Way = Literal["up", "down", "back", "front", "right", "left"]
WAYS: dict[Way, str] = {
    "up": "straight up",
    "down": "downward",
    "front": "to the front",
    "back": "to the back",
    "left": "to the left",
    "right": "to the right",
}
_WAY_OF: dict[PullDirection, Way] = {
    "+z": "up", "-z": "down", "+y": "back", "-y": "front", "+x": "right", "-x": "left"
}  # fmt: skip
TURNED: dict[Way, str] = {
    "up": "As it lies",
    "down": "Turned over",
    "front": "Front turned up",
    "back": "Back turned up",
    "left": "Left side turned up",
    "right": "Right side turned up",
}


def way_of(pull: PullDirection, now: PullDirection) -> Way:
    """Return where a pull direction points in the picture, which shows another one upright."""
    return next(way for way in WAYS if pull_of(way, now) == pull)


def pull_of(way: Way, now: PullDirection) -> PullDirection:
    """Return the pull direction that points some way in the picture, which shows another one upright."""
    shown = pull_rotation(now)[:3, :3]
    along = shown.T @ _AXIS[next(p for p, w in _WAY_OF.items() if w == way)]
    return max(PULLS, key=lambda pull: float(_AXIS[pull] @ along))


_AXIS = {p: (1.0 if p[0] == "+" else -1.0) * np.eye(3)["xyz".index(p[1])] for p in PULLS}


def misfits(result: BuildResult) -> str:
    """Say which features do not fit the plane of some halves; empty where all do."""
    fails = {name: [f.code for f in said if f.severity == "fail"] for name, said in result.said.items()}
    left_out = [name for name, codes in fails.items() if any(c.startswith("feature-") for c in codes)]
    wrong = [name for name, codes in fails.items() if codes and name not in left_out]
    words = []
    if left_out:
        words.append(f"Left out, as it does not fit this plane: {_listed(left_out)}.")
    if wrong:
        words.append(f"To be changed for this plane: {_listed(wrong)}.")
    return " ".join(words)


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


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

    def __init__(self, why: str) -> None:
        super().__init__()
        self.setObjectName("proposal")
        self.setCheckable(True)
        self.setAccessibleDescription(why)
        self.where = QLabel()
        self.where.setWordWrap(True)
        self.why = note(why)
        self.misfits = note()
        self.misfits.setObjectName("caution")
        self.misfits.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(9, 6, 9, 6)
        column.setSpacing(2)
        for label in (self.where, self.why, self.misfits):
            label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            column.addWidget(label)
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_where(self, words: str) -> None:
        """Say where the plane lies, as the picture is now."""
        self.where.setText(words)
        self.setAccessibleName(words)

    def show_misfits(self, words: str) -> None:
        """Say which features do not fit this plane; nothing for an empty string."""
        show_note(self.misfits, words)

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
