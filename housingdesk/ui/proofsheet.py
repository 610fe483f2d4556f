"""The proof sheet: findings worst first; one click and the bench flies there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QTextDocument
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget
from typing_extensions import override

from housingdesk.build.results import BuildResult, HalfFacts
from housingdesk.finding import Finding, Severity, counted, worst_first
from housingdesk.geometry.types import SIDES
from housingdesk.proof.wording import volume
from housingdesk.ui.jobcard.station import may_be_narrow
from housingdesk.ui.lengths import size_words
from housingdesk.ui.stack import Stack, scrolled, settle, take_out
from housingdesk.ui.theme import GLYPH, PROOF_SHEET_WIDTH, severity_colour
from housingdesk.view3d.palette import LIGHT, Palette

CAUTION_LINE = "Turning shafts catch, motors get hot, mains and lithium cells can kill."


def figures_of(result: BuildResult) -> tuple[str, ...]:
    """Return the lines of sizes, volumes and triangle counts of both halves."""
    if result.facts is None:
        return ()
    return tuple(_half_line(side.capitalize(), result.facts[side]) for side in SIDES if side in result.facts)


def _half_line(name: str, facts: HalfFacts) -> str:
    about = float(f"{facts.triangles:.3g}")  # a few slivers of no volume are left out of the files
    told = f"{volume(facts.volume_mm3)}, about {about:,.0f} triangles"
    return f"{name} half {told},\n{size_words(facts.size_mm)}"


def verdict(findings: Sequence[Finding]) -> str:
    """Say in a few words how the proof went: what does not pass, worst first, or that all does."""
    number = Counter(finding.severity for finding in findings)
    open_ones = [counted(number[s], s) for s in ("fail", "caution") if number[s]]
    return ", ".join(open_ones) if open_ones else f"all {len(findings)} pass"


_WORD_WIDTH = 70
FOLDED_WIDTH = 58
_SEVERITIES: tuple[Severity, ...] = ("fail", "caution", "pass")


class FindingRow(QFrame):
    """One finding: glyph, word, sentence, remedy.  Click or Enter when it has a place to look at."""

    chosen = Signal(object)

    def __init__(self, finding: Finding, theme: Palette) -> None:
        super().__init__()
        self.finding = finding
        live = finding.where_mm is not None
        self.setObjectName("finding")
        self.setProperty("live", live)
        self.setProperty("chosen", False)
        self.setAccessibleName(f"{finding.severity}: {finding.message}")
        head = QLabel(f"{GLYPH[finding.severity]} {finding.severity}")
        head.setStyleSheet(f"color: {severity_colour(theme, finding.severity)}; font-weight: bold;")
        head.setFixedWidth(_WORD_WIDTH)
        grid = QGridLayout(self)
        grid.setContentsMargins(22, 8, 16, 9)
        grid.setHorizontalSpacing(4)
        grid.setVerticalSpacing(3)
        grid.setColumnStretch(1, 1)
        grid.addWidget(head, 0, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(_text(finding.message), 0, 1)
        if finding.remedy:
            grid.addWidget(_text(finding.remedy, "soft"), 1, 1)
        if live:
            self.setCursor(Qt.CursorShape.PointingHandCursor)
            self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            self.setToolTip("Show where on the bench.")
            if finding.severity != "pass":
                look = QLabel("show where ›")
                look.setObjectName("link")
                grid.addWidget(look, 2, 1)

    def mark(self, chosen: bool) -> None:
        """Show as the one now looked at."""
        if chosen == self.property("chosen"):
            return
        self.setProperty("chosen", chosen)
        self.style().unpolish(self)
        self.style().polish(self)

    @override
    def mouseReleaseEvent(self, event: QMouseEvent, /) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self.rect().contains(event.position().toPoint()):
            self._choose()

    @override
    def keyPressEvent(self, event: QKeyEvent, /) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self._choose()
        else:
            super().keyPressEvent(event)

    def _choose(self) -> None:
        if self.finding.where_mm is not None:
            self.chosen.emit(self.finding)


class ProofSheet(QWidget):
    """All findings of the last build.

    ``finding_chosen(Finding)`` asks for the bench to go there; ``cautions_asked`` for the cautions.
    """

    finding_chosen = Signal(object)
    cautions_asked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("proofSheet")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        self.setFixedWidth(PROOF_SHEET_WIDTH)
        self._theme = LIGHT
        self._result: BuildResult | None = None
        self._failure = ""
        self._measuring = False
        self._shown: tuple[Finding, ...] | None = None
        self._worst: tuple[str, str] | None = None
        title = QLabel("Proof")
        title.setObjectName("title")
        self.folder = QPushButton()
        self.folder.setObjectName("link")
        self.folder.clicked.connect(lambda: self.set_folded(not self.folded))
        self._counts = QLabel()
        self._counts.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self._counts.setTextFormat(Qt.TextFormat.RichText)
        self._state = _text("", "faint")
        self._figures = _text("", "soft")
        self.rows: list[FindingRow] = []
        self._list = Stack()
        self._scroll = scroll = scrolled(self._list)
        caution = QPushButton("More about this")
        caution.setObjectName("link")
        caution.setToolTip("What no program can check for you.")
        caution.clicked.connect(self.cautions_asked)
        self._list.column.addWidget(_inset(self._figures))  # below the findings, and scrolled with them
        self._sheet = QWidget()
        column = QVBoxLayout(self._sheet)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(_inset(self._state))
        column.addSpacing(10)
        column.addWidget(scroll, 1)
        column.addSpacing(8)
        column.addWidget(_inset(_text(CAUTION_LINE, "faint")))
        column.addWidget(_inset(caution))
        head = QHBoxLayout()
        head.setContentsMargins(22, 0, 12, 2)
        head.addWidget(title, 1)
        head.addWidget(self.folder)
        self._title, self._head = title, head
        whole = QVBoxLayout(self)
        whole.setContentsMargins(1, 14, 0, 14)
        whole.setSpacing(0)
        whole.addLayout(head)
        whole.addWidget(self._counts)
        whole.addWidget(self._sheet, 1)
        whole.addStretch()
        self.set_folded(False)

    @property
    def state_line(self) -> str:
        """What the header says."""
        return self._state.text()

    @property
    def folded(self) -> bool:
        """Whether only the counts are shown."""
        return self._sheet.isHidden()

    def set_folded(self, folded: bool) -> None:
        """Fold the sheet to a narrow band that counts the findings, or show it again."""
        self._sheet.setHidden(folded)
        self._title.setHidden(folded)
        self._counts.setVisible(folded)
        self._head.setContentsMargins(*((6, 0, 6, 8) if folded else (22, 0, 12, 2)))
        self.folder.setText("Proof" if folded else "Fold away")
        self.folder.setToolTip("Show the findings." if folded else "Leave more room to the bench.")
        self.setFixedWidth(FOLDED_WIDTH if folded else PROOF_SHEET_WIDTH)

    @property
    def counts(self) -> str:
        """What the folded sheet says, in plain text."""
        document = QTextDocument()
        document.setHtml(self._counts.text())
        return document.toPlainText()

    def set_theme(self, theme: Palette) -> None:
        """Change colours."""
        self._theme = theme
        self._shown = None
        self._fill()

    def show_proof(self, result: BuildResult | None, *, stale: bool, failure: str = "") -> None:
        """Show the findings of the last result.

        Parameters
        ----------
        stale : the wish has changed since; what is shown is being measured again.
        failure : a sentence, when the last job could not be done.
        """
        self._result, self._failure = result, failure
        self._measuring = not failure and (result is None or stale or result.facts is None)
        if failure:
            self._state.setText("out of date: the last wish could not be made")
        elif result is None:
            self._state.setText("nothing to measure yet")
        elif stale or result.facts is None:
            self._state.setText("out of date, measuring…")
        else:
            self._state.setText(f"{verdict(result.findings)}; measured on the finished halves")
        self._fill()

    def _fill(self) -> None:
        findings = list(self._result.findings) if self._result else []
        if self._failure:
            findings.insert(0, Finding("job-failed", "fail", self._failure))
        ordered = worst_first(findings)
        figures = figures_of(self._result) if self._result else ()
        self._figures.setText("\n".join(figures))
        number = Counter(finding.severity for finding in findings)
        lines = [self._count_line(s, number[s]) for s in _SEVERITIES if number[s]]
        self._counts.setText("<br>".join([*lines, "…"] if self._measuring else lines))
        self._counts.setToolTip(self._state.text())
        if ordered == self._shown:
            return
        self._shown = ordered
        for row in self.rows:
            take_out(row, self)
        self.rows = [FindingRow(f, self._theme) for f in ordered]
        for row in self.rows:
            row.chosen.connect(self._choose)
            self._list.add(row)
        settle()
        worst = next(((f.severity, f.code) for f in ordered if f.severity != "pass"), None)
        if worst != self._worst:  # what is new at the top has to be seen
            self._scroll.verticalScrollBar().setValue(0)
        self._worst = worst

    def _count_line(self, severity: Severity, number: int) -> str:
        colour = severity_colour(self._theme, severity)
        return f'<span style="color: {colour}; font-weight: bold">{GLYPH[severity]} {number}</span>'

    def show_chosen(self, finding: Finding | None) -> None:
        """Show which finding's place is looked at; says nothing to anybody."""
        for row in self.rows:
            row.mark(row.finding is finding)

    def _choose(self, finding: Finding) -> None:
        self.show_chosen(finding)
        self.finding_chosen.emit(finding)


def _text(words: str, name: str = "") -> QLabel:
    label = QLabel(words)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    may_be_narrow(label)
    if name:
        label.setObjectName(name)
    return label


def _inset(widget: QWidget) -> QWidget:
    """Give a widget the sheet's side margins."""
    holder = QWidget()
    row = QHBoxLayout(holder)
    row.setContentsMargins(22, 0, 16, 0)
    row.addWidget(widget)
    return holder
