"""What the window shows while no housing is open: a few large plain choices."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

_CHOICE_WIDTH = 380


class Choice(QPushButton):
    """A large button of two lines: what it does, and a soft word about it."""

    def __init__(self, words: str, detail: str) -> None:
        super().__init__()
        self.setObjectName("choice")
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAccessibleName(words)
        self.setAccessibleDescription(detail)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 16, 10)
        column.setSpacing(1)
        for text, name in ((words, "strong"), (detail, "soft")):
            label = QLabel(QFontMetrics(self.font()).elidedText(text, Qt.TextElideMode.ElideMiddle, 330))
            label.setObjectName(name)
            label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            label.setTextFormat(Qt.TextFormat.PlainText)
            column.addWidget(label)
        self.setFixedSize(_CHOICE_WIDTH, 64)


class StartPage(QWidget):
    """Open a part, measure one, open a project, go on with a recent one, or look at a sample.

    ``project_chosen(Path)``, ``recovery_chosen(object)`` and ``recovery_dropped(object)`` name what.
    """

    part_asked = Signal()
    measure_asked = Signal()
    project_asked = Signal()
    project_chosen = Signal(object)
    recovery_chosen = Signal(object)
    recovery_dropped = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("startPage")
        self.choices: dict[str, QPushButton] = {}
        inner = QWidget()
        self._grid = QVBoxLayout(inner)
        self._grid.setContentsMargins(48, 36, 48, 36)
        self._grid.setSpacing(0)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(inner)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)

    def show_choices(
        self,
        recent: Sequence[Path],
        samples: Sequence[tuple[Path, str]],
        recoveries: Sequence[tuple[str, object]],
    ) -> None:
        """Show the choices afresh.

        Parameters
        ----------
        recent : parts and projects.
        samples : projects, each with a line about it.
        recoveries : words and token of each unsaved housing that a crash left behind.
        """
        self.choices = {}
        while (item := self._grid.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.setParent(None)
                old.deleteLater()
        self._grid.addStretch(2)
        self._add(_line("Housing Desk", "title"))
        self._add(_line("Two printed halves that close around a bought part.", "soft"))
        self._grid.addSpacing(22)
        for words, token in recoveries:
            self._add(self._recovery(words, token))
            self._grid.addSpacing(14)
        columns = QWidget()
        row = QHBoxLayout(columns)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(40)
        row.addStretch(1)
        row.addLayout(self._first_column(samples))
        if recent:
            row.addLayout(self._column("Recent", [(p, str(p.parent)) for p in recent[:5]]))
        row.addStretch(1)
        self._grid.addWidget(columns)
        self._grid.addSpacing(22)
        self._add(
            _line("Or drop a file anywhere on this window: STL, OBJ, PLY, 3MF, STEP, or a project.", "soft")
        )
        self._grid.addStretch(3)

    def _add(self, widget: QWidget) -> None:
        self._grid.addWidget(widget, 0, Qt.AlignmentFlag.AlignHCenter)

    def _first_column(self, samples: Sequence[tuple[Path, str]]) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(8)
        column.addWidget(_line("Begin", "strong"))
        part = self._choice("Open a part…", "a motor, a board: STL, OBJ, PLY, 3MF or STEP")
        part.clicked.connect(self.part_asked)
        measure = self._choice("Measure a part…", "no file: a known motor or bearing, or your calipers")
        measure.clicked.connect(self.measure_asked)
        project = self._choice("Open a project…", "go on with a saved housing")
        project.clicked.connect(self.project_asked)
        column.addWidget(part)
        column.addWidget(measure)
        column.addWidget(project)
        if samples:
            column.addSpacing(10)
            column.addWidget(_line("Look at a sample", "strong"))
        for sample, about in samples:
            words = _words(sample)
            column.addWidget(self._project_choice(sample, f"{words[:1].upper()}{words[1:]}", about))
        column.addStretch(1)
        return column

    def _column(self, title: str, projects: Sequence[tuple[Path, str]]) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(8)
        column.addWidget(_line(title, "strong"))
        for path, detail in projects:
            column.addWidget(self._project_choice(path, _words(path), detail))
        column.addStretch(1)
        return column

    def _choice(self, words: str, detail: str) -> QPushButton:
        made = Choice(words, detail)
        self.choices[words] = made
        return made

    def _project_choice(self, path: Path, words: str, detail: str) -> QPushButton:
        made = self._choice(words, detail)
        made.clicked.connect(lambda: self.project_chosen.emit(path))
        return made

    def _recovery(self, words: str, token: object) -> QFrame:
        banner = QFrame()
        banner.setObjectName("banner")
        row = QHBoxLayout(banner)
        row.setContentsMargins(16, 10, 10, 10)
        row.setSpacing(10)
        row.addWidget(_line(words, "strong"))
        go_on, drop = QPushButton("Go on with it"), QPushButton("Throw it away")
        go_on.clicked.connect(lambda: self.recovery_chosen.emit(token))
        drop.clicked.connect(lambda: self.recovery_dropped.emit(token))
        self.choices[f"recover {words}"], self.choices[f"drop {words}"] = go_on, drop
        row.addWidget(go_on)
        row.addWidget(drop)
        return banner


def _words(path: Path) -> str:
    """Return a file's or folder's name as its owner wrote it, with its capitals."""
    name = path.name if path.is_dir() else path.stem
    return name.replace("_", " ")


def _line(words: str, name: str) -> QLabel:
    label = QLabel(words)
    label.setObjectName(name)
    return label
