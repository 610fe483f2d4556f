"""The main window: job card, bench, section strip and proof sheet around one desk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QMainWindow,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from housingdesk.document.autosave import Recovery
from housingdesk.finding import Finding
from housingdesk.ui import actions as table
from housingdesk.ui.actions import Actions
from housingdesk.ui.benchrow import BenchRow
from housingdesk.ui.benchscene import BenchScene
from housingdesk.ui.benchwork import BenchWork
from housingdesk.ui.desk import Desk
from housingdesk.ui.dialogs import cautions_html, keys_html, show_about, show_page
from housingdesk.ui.errands import Errands
from housingdesk.ui.jobcard.card import JobCard
from housingdesk.ui.notice import Notice
from housingdesk.ui.proofsheet import ProofSheet
from housingdesk.ui.room import STRIP_PX, Room
from housingdesk.ui.sectionstrip import SectionStrip
from housingdesk.ui.stack import settle
from housingdesk.ui.staleness import Staleness
from housingdesk.ui.startpage import StartPage
from housingdesk.ui.themes import Themes
from housingdesk.ui.writing import Writing
from housingdesk.view3d.camera import STANDPOINTS
from housingdesk.view3d.canvas import Bench

_SIZE, _LEAST_SIZE = QSize(1440, 900), QSize(900, 560)


class MainWindow(QMainWindow):
    """Owns the views; the desk owns what they show.  No view sets a view."""

    def __init__(self, desk: Desk, themes: Themes) -> None:
        super().__init__()
        self.desk = desk
        self._themes = themes
        self._leaving = False
        self.setAcceptDrops(True)
        room = self.screen().availableSize()
        self.setMinimumSize(_LEAST_SIZE.boundedTo(room))
        self.resize(_SIZE.boundedTo(room))
        if self.size() != _SIZE:  # the frame around the window needs some of it too
            self.setWindowState(Qt.WindowState.WindowMaximized)
        self.card = JobCard(desk)
        self.bench = Bench()
        self.bench_row = BenchRow()
        self.strip = SectionStrip()
        self.proof = ProofSheet()
        self.start = StartPage()
        self._pages = QStackedWidget()
        self._pages.addWidget(self.start)
        self._pages.addWidget(self._work_page())
        self.setCentralWidget(self._pages)
        self.notice = Notice(self._pages)
        self.errands = Errands(self, desk)
        self.writing = Writing(self, desk)
        self._staleness = Staleness(self)
        self._scenes = BenchScene(desk, themes, self)
        self._bench_work = BenchWork(desk, self.bench, self._scenes)
        self.actions_table = Actions(self, self._handlers())
        self.bench_row.offer_looks([self.actions_table.by_id[row.id] for row in table.LOOKS])
        self._not_now = QShortcut(QKeySequence(Qt.Key.Key_Escape), self, desk.stop_picking)
        self._connect()
        self._dress()
        self._refresh()

    def _work_page(self) -> QWidget:
        bench_box = QWidget()
        column = QVBoxLayout(bench_box)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.bench, 1)
        column.addWidget(self.bench_row)
        self.splitter = QSplitter(Qt.Orientation.Vertical)
        self.splitter.addWidget(bench_box)
        self.splitter.addWidget(self.strip)
        self.splitter.setStretchFactor(0, 1)
        self.splitter.setStretchFactor(1, 0)
        self.splitter.setCollapsible(0, False)
        self.splitter.setSizes([600, STRIP_PX])
        page = QWidget()
        row = QHBoxLayout(page)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.card)
        row.addWidget(self.splitter, 1)
        row.addWidget(self.proof)
        self._room = Room(self, self.proof, self.splitter)
        return page

    def _connect(self) -> None:
        desk, errands = self.desk, self.errands
        desk.changed.connect(self._refresh)
        desk.opened.connect(self._begin_housing)
        desk.said.connect(self.notice.say)
        desk.add_part_asked.connect(errands.add_part)
        desk.measure_asked.connect(errands.add_measured)
        desk.swap_asked.connect(errands.swap_part)
        self._themes.changed.connect(self._dress)
        self.notice.stop_asked.connect(desk.cancel)
        self.card.write_asked.connect(self._write)
        self.card.station_opened.connect(self._show_bench)
        self.bench_row.look_changed.connect(self._scenes.set_look)
        self.bench_row.lift_rested.connect(self._bench_work.keep_in_view)
        self._scenes.changed.connect(self._show_look)
        self._staleness.worn.connect(self._show_halves)
        self.strip.cut_moved.connect(self._move_cut)
        self.bench.cut_dragged.connect(lambda offset: self.strip.set_cut(self.strip.angle_deg, offset))
        self.proof.finding_chosen.connect(self._go_to)
        self.proof.cautions_asked.connect(self._show_cautions)
        self.start.part_asked.connect(errands.open_part)
        self.start.measure_asked.connect(errands.measure_part)
        self.start.project_asked.connect(errands.open_project)
        self.start.project_chosen.connect(errands.open_path)
        self.start.recovery_chosen.connect(desk.recover)
        self.start.recovery_dropped.connect(self._drop_recovery)

    def _handlers(self) -> dict[str, Callable[..., object]]:
        desk, errands, scenes = self.desk, self.errands, self._scenes
        handlers: dict[str, Callable[..., object]] = {
            "open_part": errands.open_part,
            "measure_part": errands.measure_part,
            "open_project": errands.open_project,
            "add_part": errands.add_part,
            "save": errands.save,
            "save_as": errands.save_as,
            "write": self._write,
            "close": errands.close_project,
            "quit": self.close,
            "undo": desk.undo,
            "redo": desk.redo,
            "suggest": self._suggest,
            "grow": desk.grow_faces,
            "shrink": lambda: desk.grow_faces(less=True),
            "cancel": desk.cancel,
            "ghost": lambda on: scenes.set_look(replace(scenes.look, ghost_on=on)),
            "lower": lambda on: scenes.set_look(replace(scenes.look, lower_shown=on)),
            "upper": lambda on: scenes.set_look(replace(scenes.look, upper_shown=on)),
            "lift": self._bench_work.lift_apart,
            "gaps": lambda on: scenes.set_look(replace(scenes.look, gaps_on=on)),
            "plane": lambda on: scenes.set_look(replace(scenes.look, plane_shown=on)),
            "fit": self.bench.fit_view,
            "cut_along": lambda: self.strip.set_cut(0.0, 0.0),
            "cut_across": lambda: self.strip.set_cut(90.0, 0.0),
            "dark": self._themes.set_dark,
            "keys": lambda: show_page(self, "Keys and mouse", keys_html()),
            "cautions": self._show_cautions,
            "about": lambda: show_about(self),
        }
        for side in STANDPOINTS:
            handlers[f"from_{side}"] = lambda s=side: self.bench.view_from(s)
        for number, title in enumerate(self.card.stations, 1):
            handlers[f"station_{number}"] = lambda t=title: self.card.open_station(t, focus=True)
        return handlers

    # --- showing ------------------------------------------------------------------------------------

    def _refresh(self) -> None:
        """Show the desk's state; each view changes only what differs."""
        desk = self.desk
        is_open = desk.spec is not None
        if not is_open and self._pages.currentIndex() != 0:
            self.show_start()
        self._pages.setCurrentIndex(1 if is_open else 0)
        self.setWindowTitle(desk.title)
        self.setWindowModified(desk.modified)
        self.card.refresh()
        self.notice.show_progress(desk.progress)
        self.proof.show_proof(desk.proof, stale=desk.stale, failure=desk.failure)
        self._staleness.follow(desk.halves_stale)
        settle()
        self._show_halves()
        self._refresh_actions()

    def _show_halves(self) -> None:
        self.strip.show_result(self.desk.result, stale=self._staleness.shown)
        self._show_bench()

    def _show_bench(self) -> None:
        self._not_now.setEnabled(self.desk.picking)  # Esc means other things in a number, or while dragging
        self.bench_row.show_look(self._scenes.look, self._scenes.most_lift_mm)
        cut = (self.strip.angle_deg, self.strip.offset_mm)
        self._bench_work.show(self.card.open_title, cut, stale=self._staleness.shown)
        pointed = self._scenes.pointed
        self.proof.show_chosen(pointed)
        self.strip.canvas.show_place(pointed.where_mm if pointed is not None else None)

    def _go_to(self, finding: Finding) -> None:
        """Show the place of a finding on the bench and in the section."""
        self._bench_work.go_to(finding)
        if finding.where_mm is not None:
            self.strip.cut_through(finding.where_mm)

    def _move_cut(self) -> None:
        self.desk.set_cut(self.strip.cut)
        self._show_bench()

    def _refresh_actions(self) -> None:
        desk = self.desk
        holds = {
            table.OPEN: desk.spec is not None,
            table.RESULT: desk.result is not None,
            table.UNDO: bool(desk.undo_label),
            table.REDO: bool(desk.redo_label),
            table.MODIFIED: desk.spec is not None and (desk.modified or desk.path is None),
            table.BUSY: desk.busy,
            table.BODIES: desk.spec is not None and not desk.gaps_wanted,
            table.FACES: desk.faces is not None,
        }
        self.actions_table.refresh(holds, undo=desk.undo_label, redo=desk.redo_label)
        look = self._scenes.look
        for name, on in (
            ("ghost", look.ghost_on),
            ("lower", look.lower_shown),
            ("upper", look.upper_shown),
            ("lift", look.lift_mm > 0),
            ("gaps", look.gaps_on),
            ("plane", look.plane_shown),
            ("dark", self._themes.dark),
        ):
            self.actions_table.by_id[name].setChecked(on)

    def _dress(self) -> None:
        for view in (self.card, self.strip, self.proof):
            view.set_theme(self._themes.palette)
        self._show_bench()
        self._refresh_actions()

    def _begin_housing(self) -> None:
        """Start with the whole housing in view, from the corner, and the cut through its middle."""
        self._scenes.begin()
        self.strip.set_cut(0.0, 0.0)
        self.card.open_station("Parting")
        self._bench_work.begin()

    def _show_look(self) -> None:
        self._show_bench()
        self._refresh_actions()

    def show_start(self) -> None:
        """Fill the start page afresh."""
        library = self.desk.library
        self.start.show_choices(library.recent(), library.samples(), library.recoveries())

    # --- asked by several views -----------------------------------------------------------------------

    def open_path(self, path: Path) -> None:
        """Open a part or a project, after asking about unsaved work."""
        self.errands.open_path(path)

    def _write(self) -> None:
        if self.writing.write():
            self.card.open_station("Print")

    def _suggest(self) -> None:
        self.card.open_station("Parting")
        self.desk.ask_proposals()

    def _drop_recovery(self, token: Recovery) -> None:
        self.desk.library.autosaver.discard(token)
        self.show_start()

    def _show_cautions(self) -> None:
        show_page(self, "Cautions", cautions_html())

    # --- Qt ----------------------------------------------------------------------------------------

    @override
    def keyPressEvent(self, event: QKeyEvent, /) -> None:
        if event.key() == Qt.Key.Key_Escape:  # that no number and no list wanted for itself
            self._bench_work.forget_place()
        super().keyPressEvent(event)

    @override
    def dragEnterEvent(self, event: QDragEnterEvent, /) -> None:
        if _dropped(event) is not None:
            event.acceptProposedAction()

    @override
    def dropEvent(self, event: QDropEvent, /) -> None:
        path = _dropped(event)
        if path is not None:
            event.acceptProposedAction()
            QTimer.singleShot(0, self, lambda: self.open_path(path))

    @override
    def closeEvent(self, event: QCloseEvent, /) -> None:
        if self._leaving:  # asked again while the first asking waits for a save
            event.ignore()
            return
        self._leaving = True
        try:
            may_leave = self.errands.may_leave()
        finally:
            self._leaving = False
        if not may_leave:
            event.ignore()
            return
        self.desk.close()
        self.bench.close()
        super().closeEvent(event)


def _dropped(event: QDropEvent) -> Path | None:
    urls = [u for u in event.mimeData().urls() if u.isLocalFile()]
    return Path(urls[0].toLocalFile()) if urls else None
