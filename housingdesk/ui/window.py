"""The main window: job card, bench, section strip and proof sheet around one desk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QMainWindow,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from housingdesk.build.results import BuildResult
from housingdesk.document.autosave import Recovery
from housingdesk.files.project import is_project
from housingdesk.finding import Finding
from housingdesk.geometry.frames import pull_rotation
from housingdesk.spec.edits import lay_flat, set_parting_height
from housingdesk.spec.models import Spec
from housingdesk.ui import actions as table
from housingdesk.ui.actions import Actions
from housingdesk.ui.asking import ask_folder, ask_part, ask_project, ask_save_path
from housingdesk.ui.benchpaint import Painter
from housingdesk.ui.benchrow import BenchRow
from housingdesk.ui.desk import Desk
from housingdesk.ui.dialogs import ask_save, cautions_html, keys_html, show_about, show_page
from housingdesk.ui.facepick import NOTHING
from housingdesk.ui.handledrag import HandleDrag, knobs_of
from housingdesk.ui.jobcard.card import JobCard
from housingdesk.ui.measuring import ask_measured
from housingdesk.ui.notice import Notice
from housingdesk.ui.proofsheet import ProofSheet
from housingdesk.ui.sectionstrip import SectionStrip
from housingdesk.ui.startpage import StartPage
from housingdesk.ui.themes import Themes
from housingdesk.view3d.arrows import Arrow, play_arrows
from housingdesk.view3d.canvas import Bench
from housingdesk.view3d.scene import GAPS, Look, Spot, scene_of

_STALE_MS = 400  # halves out of date for less than this are not worth a change of colour
_STRIP_HEIGHT = 250


class MainWindow(QMainWindow):
    """Owns the views; the desk owns what they show.  No view sets a view."""

    def __init__(self, desk: Desk, themes: Themes) -> None:
        super().__init__()
        self.desk = desk
        self._themes = themes
        self._look = Look()
        self._stale_shown = False
        self._painter = Painter()
        self._handles = HandleDrag(desk)
        self._hovered = NOTHING
        self._leaving = False
        self._halves_due = True
        self.setAcceptDrops(True)
        self.setMinimumSize(1100, 640)
        self.resize(1440, 900)
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
        self.actions_table = Actions(self, self._handlers())
        self._stale_timer = QTimer(self)
        self._stale_timer.setSingleShot(True)
        self._stale_timer.setInterval(_STALE_MS)
        self._stale_timer.timeout.connect(self._show_stale)
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
        self.splitter.setSizes([600, _STRIP_HEIGHT])
        page = QWidget()
        row = QHBoxLayout(page)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.card)
        row.addWidget(self.splitter, 1)
        row.addWidget(self.proof)
        return page

    def _connect(self) -> None:
        desk = self.desk
        desk.changed.connect(self._refresh)
        desk.opened.connect(self._begin_housing)
        desk.said.connect(self.notice.say)
        desk.add_part_asked.connect(self._add_part)
        desk.measure_asked.connect(self._add_measured)
        desk.swap_asked.connect(self._swap_part)
        desk.folder_asked.connect(self._choose_folder)
        self._themes.changed.connect(self._dress)
        self.notice.stop_asked.connect(desk.cancel)
        self.card.write_asked.connect(self._write)
        self.bench.plane_drag_began.connect(desk.begin_drag)
        self.bench.plane_dragged.connect(self._drag_plane)
        self.bench.plane_drag_ended.connect(self._end_plane_drag)
        self.bench.face_clicked.connect(self._click_bench)
        self.bench.face_added.connect(lambda spot: self._click_bench(spot, adding=True))
        self.bench.spot_hovered.connect(self._hover)
        self.bench.handle_taken.connect(self._handles.take)
        self.bench.handle_dragged.connect(self._handles.drag)
        self.bench.handle_left.connect(desk.end_drag)
        self.card.station_opened.connect(self._show_bench)
        self.bench_row.look_changed.connect(self._set_look)
        self.strip.cut_moved.connect(self._move_cut)
        self.bench.cut_dragged.connect(lambda offset: self.strip.set_cut(self.strip.angle_deg, offset))
        self.proof.finding_chosen.connect(self._go_to)
        self.proof.cautions_asked.connect(self._show_cautions)
        self.start.part_asked.connect(self._open_part)
        self.start.measure_asked.connect(self._measure_part)
        self.start.project_asked.connect(self._open_project)
        self.start.project_chosen.connect(self.open_path)
        self.start.recovery_chosen.connect(desk.recover)
        self.start.recovery_dropped.connect(self._drop_recovery)

    def _handlers(self) -> dict[str, Callable[..., object]]:
        desk = self.desk
        handlers: dict[str, Callable[..., object]] = {
            "open_part": self._open_part,
            "measure_part": self._measure_part,
            "open_project": self._open_project,
            "add_part": self._add_part,
            "save": self._save,
            "save_as": self._save_as,
            "write": self._write,
            "close": self._close_project,
            "quit": self.close,
            "undo": desk.undo,
            "redo": desk.redo,
            "suggest": self._suggest,
            "grow": desk.grow_faces,
            "shrink": lambda: desk.grow_faces(less=True),
            "cancel": desk.cancel,
            "ghost": lambda on: self._set_look(replace(self._look, ghost_on=on)),
            "lower": lambda on: self._set_look(replace(self._look, lower_shown=on)),
            "upper": lambda on: self._set_look(replace(self._look, upper_shown=on)),
            "lift": self._lift_apart,
            "gaps": lambda on: self._set_look(replace(self._look, gaps_on=on)),
            "plane": lambda on: self._set_look(replace(self._look, plane_shown=on)),
            "fit": self.bench.fit_view,
            "from_corner": lambda: self.bench.view_from("corner"),
            "from_front": lambda: self.bench.view_from("front"),
            "from_right": lambda: self.bench.view_from("right"),
            "from_top": lambda: self.bench.view_from("top"),
            "cut_along": lambda: self.strip.set_cut(0.0, 0.0),
            "cut_across": lambda: self.strip.set_cut(90.0, 0.0),
            "dark": self._themes.set_dark,
            "keys": lambda: show_page(self, "Keys and mouse", keys_html()),
            "cautions": self._show_cautions,
            "about": lambda: show_about(self),
        }
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
        if desk.halves_stale and not self._stale_shown:
            if not self._stale_timer.isActive():
                self._stale_timer.start()
        elif not desk.halves_stale:
            self._stale_timer.stop()
            self._stale_shown = False
        self.strip.show_result(desk.result, stale=self._stale_shown)
        self._show_bench()
        self._refresh_actions()

    def _show_stale(self) -> None:
        self._stale_shown = self.desk.halves_stale
        self.strip.show_result(self.desk.result, stale=self._stale_shown)
        self._show_bench()

    def _show_bench(self) -> None:
        desk = self.desk
        pick_faces = desk.picking_for is not None or desk.faces is not None
        self._look = replace(
            self._look, pick_faces=pick_faces, gaps_on=desk.gaps_wanted, dark=self._themes.dark
        )
        self.bench.set_picking(desk.picking)
        self._not_now.setEnabled(desk.picking)  # Esc means other things in a number, or while dragging
        self.bench_row.show_look(self._look, self._most_lift_mm())
        result = desk.result
        if result is None:
            self.bench.show_scene(scene_of(desk.bare_parts, None, None, None, self._look))
            self._halves_due = True
            return
        same_frame = desk.spec is not None and _frame_key(desk.spec) == _frame_key(result.spec)
        height = desk.spec.parting.height_mm if desk.spec and same_frame else result.parting_z_mm
        self.bench.set_snaps(desk.snap_heights_mm)
        live = desk.live_parts
        self.bench.show_scene(
            scene_of(
                live or result.parts,
                result.halves,
                result.outer_mm,
                height,
                self._look,
                stale=self._stale_shown,
                cut=(self.strip.angle_deg, self.strip.offset_mm),
                paints=() if live else self._painter.paints(desk, self._hovered, self._themes.palette),
                knobs=knobs_of(result, self.card.open_title, self._look.lift_mm),
                arrows=self._play_shown(result),
                gaps=self._painter.gaps(desk, self._themes.palette) if self._look.gaps_on else None,
                relief=desk.relief if desk.relief_wanted else None,
            )
        )

        if self._halves_due:
            self._halves_due = False
            self.bench.fit_view()

    def _play_shown(self, result: BuildResult) -> tuple[Arrow, ...]:
        """Return how far the part can move, as arrows; only at the station where that is settled."""
        facts = result.play
        if facts is None or self.desk.halves_stale or self.card.open_title != "Fit":
            return ()
        about = (facts.axis_mm, facts.axis) if facts.about else (None, None)
        return play_arrows(facts.now, result.outer_mm, *about)

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
            table.FACES: desk.faces is not None,
        }
        self.actions_table.refresh(holds, undo=desk.undo_label, redo=desk.redo_label)
        look = self._look
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
        """Start with the whole housing in view and the cut through its middle."""
        self._look = Look(dark=self._themes.dark)
        self.strip.set_cut(0.0, 0.0)
        self.card.open_station("Parting")
        self.bench.fit_view()

    def _set_look(self, look: Look) -> None:
        self._look = look
        if look.gaps_on != self.desk.gaps_wanted:
            self.desk.show_gaps(look.gaps_on)
        self._show_bench()
        self._refresh_actions()

    def _lift_apart(self, on: bool) -> None:
        self._set_look(replace(self._look, lift_mm=self._most_lift_mm() / 2 if on else 0.0))
        self.bench.fit_view()

    def _most_lift_mm(self) -> float:
        if self.desk.result is None:
            return 40.0
        low, high = np.asarray(self.desk.result.outer_mm, float)
        return 1.5 * float(high[2] - low[2])

    def show_start(self) -> None:
        """Fill the start page afresh."""
        library = self.desk.library
        self.start.show_choices(library.recent(), library.samples(), library.recoveries())

    # --- the bench's intents ------------------------------------------------------------------------

    def _drag_plane(self, z_mm: float) -> None:
        self.desk.apply(set_parting_height(z_mm))

    def _end_plane_drag(self, z_mm: float) -> None:
        self.desk.apply(set_parting_height(z_mm))
        self.desk.end_drag()

    def _click_bench(self, spot: Spot, *, adding: bool = False) -> None:
        if self.desk.faces is not None:
            self.desk.click_face(spot, adding=adding)
        elif self.desk.placing is not None:
            self.desk.place_feature(self.desk.placing, spot)
        else:
            self._lay_face(spot)

    def _hover(self, spot: Spot | None) -> None:
        """Say what of the part is under the pointer, and light it where a click would pick it."""
        self.bench.set_hint(self._gap_words(spot) or self.desk.words_at(spot))
        hovered = self.desk.faces_at(spot) if self.desk.faces is not None else NOTHING
        if hovered != self._hovered:
            self._hovered = hovered
            self._show_bench()

    def _gap_words(self, spot: Spot | None) -> str:
        found = self.desk.gaps
        if spot is None or spot.item != GAPS or found is None or spot.face >= len(found.faces):
            return ""
        return f"gap {found.distance_mm[found.faces[spot.face]].mean():.2f} mm"

    def _lay_face(self, spot: Spot) -> None:
        part, spec = self.desk.picking_for, self.desk.spec
        if part is None or spec is None or not spot.item.startswith("part-"):
            return
        clicked = spec.parts[int(spot.item.removeprefix("part-"))]
        normal = pull_rotation(spec.parting.pull)[:3, :3].T @ np.asarray(spot.normal)
        self.desk.stop_picking()
        self.desk.apply(lay_flat(clicked.name, normal))

    def _go_to(self, finding: Finding) -> None:
        if finding.where_mm is None:
            return
        self._set_look(replace(self._look, mark_mm=finding.where_mm))
        self.bench.fly_to(finding.where_mm)

    # --- files --------------------------------------------------------------------------------------

    def open_path(self, path: Path) -> None:
        """Open a part or a project, after asking about unsaved work."""
        if not self._may_leave():
            return
        if is_project(path):
            self.desk.open_project(path)
        else:
            self.desk.open_part(path)

    def _open_part(self) -> None:
        if (path := ask_part(self, self.desk.last_folder, "Open a part")) is not None:
            self.open_path(path)

    def _add_part(self) -> None:
        if (path := ask_part(self, self.desk.last_folder, "Add another part")) is not None:
            self.desk.add_part(path)

    def _measure_part(self) -> None:
        """Start a housing around a part without a file, after asking about unsaved work."""
        part = ask_measured(self, self.desk, "Measure a part", "&Make the housing")
        if part is not None and self._may_leave():
            self.desk.measure_part(part.name, part.shapes)

    def _add_measured(self) -> None:
        part = ask_measured(self, self.desk, "Measure another part", "&Add the part")
        if part is not None:
            self.desk.add_measured(part.name, part.shapes)

    def _swap_part(self, name: str) -> None:
        if (path := ask_part(self, self.desk.last_folder, f"Put a file in the place of {name}")) is not None:
            self.desk.swap_part(name, path)

    def _open_project(self) -> None:
        if (path := ask_project(self, self.desk.last_folder)) is not None:
            self.open_path(path)

    def _save(self) -> bool:
        return self._save_as() if self.desk.path is None else self.desk.save(self.desk.path)

    def _save_as(self) -> bool:
        spec = self.desk.spec
        path = ask_save_path(self, self.desk.last_folder, spec.name) if spec else None
        return path is not None and self.desk.save(path)

    def _choose_folder(self) -> bool:
        folder = ask_folder(self, self.desk.last_folder)
        if folder is not None:
            self.desk.set_export_folder(folder)
        return folder is not None

    def _write(self) -> None:
        if self.desk.export_folder is None and not self._choose_folder():
            return
        self.card.open_station("Print")
        self.desk.write()

    def _suggest(self) -> None:
        self.card.open_station("Parting")
        self.desk.ask_proposals()

    def _drop_recovery(self, token: Recovery) -> None:
        self.desk.library.autosaver.discard(token)
        self.show_start()

    def _close_project(self) -> None:
        if self._may_leave():
            self.desk.close_project()

    def _may_leave(self) -> bool:
        """Whether unsaved work may be left: saved, or the user says so.  Waits for a save under way."""
        self.desk.finish_saving()
        if not self.desk.modified or self.desk.spec is None:
            return True
        answer = ask_save(self, self.desk.spec.name)
        if answer == "save":
            return self._save() and self.desk.finish_saving()
        return answer == "drop"

    def _show_cautions(self) -> None:
        show_page(self, "Cautions", cautions_html())

    # --- Qt ----------------------------------------------------------------------------------------

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
            may_leave = self._may_leave()
        finally:
            self._leaving = False
        if not may_leave:
            event.ignore()
            return
        self.desk.close()
        self.bench.close()
        super().closeEvent(event)


def _frame_key(spec: Spec) -> object:
    """Return what decides the build frame."""
    return spec.parts, spec.parting.pull


def _dropped(event: QDropEvent) -> Path | None:
    urls = [u for u in event.mimeData().urls() if u.isLocalFile()]
    return Path(urls[0].toLocalFile()) if urls else None
