"""A slip of paper at the top of the window: what is running, with a way to stop it, or one sentence."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QProgressBar, QPushButton, QVBoxLayout, QWidget
from typing_extensions import override

from housingdesk.jobs.messages import Progress

_SENTENCE_MS = 9000
_WIDTH = 460


class Notice(QFrame):
    """Lies over its parent, top middle, and takes no room when there is nothing to say."""

    stop_asked = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._over = parent
        self.setObjectName("banner")
        self._words, self._more = _line(), _line()
        self._bar = QProgressBar()
        self._bar.setTextVisible(False)
        self._button = QPushButton("Stop")
        self._button.clicked.connect(self._press)
        self._sentence = ""
        self._progress: Progress | None = None
        row = QHBoxLayout()
        row.setSpacing(14)
        row.addWidget(self._words, 1)
        row.addWidget(self._button, 0, Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 9, 10, 9)
        column.addLayout(row)
        column.addWidget(self._bar)
        column.addWidget(self._more)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_SENTENCE_MS)
        self._timer.timeout.connect(self._forget)
        parent.installEventFilter(self)
        self.hide()

    @property
    def words(self) -> str:
        """What it says; empty when hidden."""
        return "" if self.isHidden() else f"{self._words.text()} {self._more.text()}".strip()

    @property
    def press_button(self) -> QPushButton:
        """Stop or close, for tests."""
        return self._button

    def say(self, sentence: str) -> None:
        """Show one sentence for a while."""
        self._sentence = sentence
        self._timer.start()
        self._show_all()

    def show_progress(self, progress: Progress | None) -> None:
        """Show what is running, or that nothing is."""
        if progress != self._progress:
            self._progress = progress
            self._show_all()

    def _forget(self) -> None:
        self._sentence = ""
        self._show_all()

    def _press(self) -> None:
        if self._progress is not None:
            self.stop_asked.emit()
        else:
            self._forget()

    def _show_all(self) -> None:
        progress = self._progress
        self.setVisible(bool(self._sentence or progress))
        self._bar.setVisible(progress is not None)
        self._button.setText("Stop" if progress else "Close")
        self._button.setToolTip("Stop this work; nothing is lost." if progress else "Take this away.")
        if progress is not None:
            self._words.setText(f"{progress.phrase.rstrip('.… ')}…")
            self._bar.setRange(0, 0 if progress.share is None else 1000)
            self._bar.setValue(int(1000 * (progress.share or 0.0)))
        else:
            self._words.setText(self._sentence)
        self._more.setText(self._sentence if progress else "")
        self._more.setVisible(bool(progress and self._sentence))
        self._place()

    def _place(self) -> None:
        parent = self._over
        if (layout := self.layout()) is not None:
            layout.activate()  # or the height would be that of the words before
        width = min(_WIDTH, max(200, parent.width() - 40))
        height = max(self.heightForWidth(width), self.minimumSizeHint().height())
        self.setGeometry((parent.width() - width) // 2, 14, width, height)
        self.raise_()

    @override
    def eventFilter(self, watched: QObject, event: QEvent, /) -> bool:
        if event.type() == QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)


def _line() -> QLabel:
    label = QLabel()
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label
