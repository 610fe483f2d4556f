"""The whole window with real mouse and keys, boxes in place of the engine."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from housingdesk.features.forms.form import Form
from housingdesk.features.forms.registry import kinds as form_kinds
from housingdesk.files.project import load_project
from housingdesk.jobs.messages import Build
from housingdesk.spec.edits import rename_housing, set_parting_height, set_wall
from housingdesk.ui import errands as errands_module
from housingdesk.ui import writing as writing_module
from housingdesk.ui.desk import Desk
from housingdesk.ui.jobcard.card import station_classes
from housingdesk.ui.jobcard.fit import FitStation
from housingdesk.ui.jobcard.part import PartStation
from housingdesk.ui.jobcard.parting import PartingStation
from housingdesk.ui.jobcard.shell import ShellStation
from housingdesk.ui.themes import Themes
from housingdesk.ui.window import MainWindow
from housingdesk.view3d.camera import STANDPOINTS
from housingdesk.view3d.scene import Spot, height_label
from tests.ui.inline import InlineClient

pytestmark = pytest.mark.window


@pytest.fixture
def window(desk: Desk, themes: Themes, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> Iterator[MainWindow]:
    monkeypatch.setattr(errands_module, "ask_save", lambda parent, name: "drop")
    made = MainWindow(desk, themes)
    qtbot.addWidget(made)
    made.show_start()
    made.show()
    qtbot.waitExposed(made)
    made.activateWindow()
    yield made
    made.close()


@pytest.fixture
def working(window: MainWindow, part_file: Path, qtbot: QtBot) -> MainWindow:
    window.open_path(part_file)
    qtbot.waitUntil(lambda: window.desk.proof is not None, timeout=10_000)
    return window


def settle(window: MainWindow, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not window.desk.stale, timeout=10_000)


def type_into(qtbot: QtBot, field: object, text: str) -> None:
    edit = field.line_edit  # type: ignore[attr-defined]  # a NumberField
    edit.setFocus()
    edit.selectAll()
    qtbot.keyClicks(edit, text)
    qtbot.keyClick(edit, Qt.Key.Key_Return)


def station(window: MainWindow, title: str) -> object:
    window.card.open_station(title)
    return window.card.stations[title]


def test_the_stations_are_those_that_are_live_in_order() -> None:
    assert [s.title for s in station_classes()] == [
        "Part",
        "Parting",
        "Fit",
        "Shell",
        "Openings",
        "Joints",
        "Mounts",
        "Print",
    ]


def test_the_start_page_offers_parts_projects_and_samples(window: MainWindow) -> None:
    offered = set(window.start.choices)
    assert {"Open a part…", "Open a project…", "Vent drive", "Rain logger"} <= offered


def test_names_keep_the_capitals_their_owner_gave_them(window: MainWindow) -> None:
    window.start.show_choices([Path("/jobs/jobA.hdesk"), Path("/jobs/left_Arm.stl")], [], [])
    assert {"jobA", "left Arm"} <= set(window.start.choices)


def test_a_dropped_file_opens(window: MainWindow, part_file: Path, qtbot: QtBot) -> None:
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(part_file))])
    event = QDropEvent(
        QPointF(5, 5),
        Qt.DropAction.CopyAction,
        mime,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    window.dropEvent(event)
    qtbot.waitUntil(lambda: window.desk.proof is not None, timeout=10_000)
    assert window.card.title.text() == "block"
    assert window.windowTitle().startswith("block")


def test_the_part_is_seen_before_there_are_halves(
    window: MainWindow, part_file: Path, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    clients[0].refuse[Build] = "Not yet."
    window.open_path(part_file)
    qtbot.waitUntil(lambda: window.desk.spec is not None)
    (item,) = window.bench.stage.scene.items
    assert (item.name, item.opacity) == ("part-0", 1.0)
    # In the build frame: on the ground, in the middle.
    assert np.allclose(item.mesh.bounds, [[-20.0, -10, 0], [20, 10, 10]])
    near = window.bench.eye.view.distance_mm
    clients[0].refuse.clear()
    window.desk.apply(set_wall(12.0))
    settle(window, qtbot)
    assert set(shown(window)) == {"lower", "upper", "part-0"}
    assert window.bench.eye.view.distance_mm > 1.3 * near  # stepped back to see the housing


def test_a_long_name_is_written_small_enough_to_be_read(working: MainWindow) -> None:
    title = working.card.title

    def fits() -> bool:
        return title.fontMetrics().horizontalAdvance(title.text()) <= title.width() - 8

    large = title.fontMetrics().height()
    working.desk.apply(rename_housing("Stepper of the greenhouse, geared"))
    title.ensurePolished()
    assert title.text() == "Stepper of the greenhouse, geared"
    assert fits()
    assert title.fontMetrics().height() < large
    working.desk.undo()
    title.ensurePolished()
    assert fits()
    assert title.fontMetrics().height() == large


def test_the_job_card_says_what_is_made(working: MainWindow) -> None:
    card = working.card
    assert "40.0 × 20.0 × 10.0 mm" in card.rows[0].summary.text()
    assert "read as mm" in card.rows[0].summary.text()
    assert card.rows[1].summary.text() == "5.0 mm up from the part's lowest point."
    assert card.rows[2].summary.text() == "0.50 mm around the part."
    working.desk.apply(set_parting_height(5.65))  # the same words as beside the grip on the bench
    assert card.rows[1].summary.text() == "5.65 mm up from the part's lowest point."
    assert height_label(5.65) == "5.65 mm"
    # 40 + 2 x (0.5 + 2.4) and so on.
    assert card.rows[3].summary.text() == "Block, 2.40 mm wall, 45.8 × 25.8 × 15.8 mm in all."


def test_wall_and_clearance_are_typed_and_the_halves_follow(working: MainWindow, qtbot: QtBot) -> None:
    shell, fit = station(working, "Shell"), station(working, "Fit")
    assert isinstance(shell, ShellStation)
    assert isinstance(fit, FitStation)
    type_into(qtbot, fit.clearance, "1")
    type_into(qtbot, shell.wall, "3")
    settle(working, qtbot)
    result = working.desk.result
    assert result is not None
    assert (result.outer_mm[1] - result.outer_mm[0]).tolist() == pytest.approx([48, 28, 18])
    assert "1.00 mm" in fit.measured.text()


def test_undo_and_redo_by_key_name_their_step(working: MainWindow, qtbot: QtBot) -> None:
    fit = station(working, "Fit")
    assert isinstance(fit, FitStation)
    type_into(qtbot, fit.clearance, "1")
    assert working.actions_table.by_id["undo"].text() == "&Undo clearance 1 mm"
    qtbot.keyClick(working, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert fit.clearance.value == 0.5
    assert working.actions_table.by_id["redo"].text() == "&Redo clearance 1 mm"
    qtbot.keyClick(working, Qt.Key.Key_Y, Qt.KeyboardModifier.ControlModifier)
    assert fit.clearance.value == 1.0


def test_undo_works_while_a_number_has_the_focus(working: MainWindow, qtbot: QtBot) -> None:
    fit = station(working, "Fit")
    assert isinstance(fit, FitStation)
    type_into(qtbot, fit.clearance, "1")
    assert fit.clearance.line_edit.hasFocus()
    qtbot.keyClick(fit.clearance.line_edit, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert fit.clearance.value == 0.5


def test_dragging_the_plane_by_its_grip_moves_it_in_one_step(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    bench = working.bench
    working.resize(1280, 800)
    qtbot.waitUntil(lambda: bench.grip is not None)
    grip = bench.grip
    assert grip is not None
    start = QPoint(round(grip.at[0]), round(grip.at[1]))
    before = len(clients[0].jobs)
    qtbot.mousePress(bench.interactor, Qt.MouseButton.LeftButton, pos=start)
    for way in (10, 20, 30):
        qtbot.mouseMove(bench.interactor, start - QPoint(0, way))
        qtbot.wait(20)
    qtbot.mouseRelease(bench.interactor, Qt.MouseButton.LeftButton, pos=start - QPoint(0, 30))
    spec = working.desk.spec
    assert spec is not None
    assert spec.parting.height_mm > 5.0
    assert [j.quality for j in clients[0].jobs[before:] if isinstance(j, Build)].count("draft") >= 2
    settle(working, qtbot)
    assert working.desk.result is not None
    assert working.desk.result.parting_z_mm == spec.parting.height_mm
    qtbot.keyClick(working, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert working.desk.spec is not None
    assert working.desk.spec.parting.height_mm == 5.0
    assert not working.desk.undo_label


def shown(window: MainWindow) -> dict[str, float]:
    return {item.name: item.lift_z for item in window.bench.stage.scene.items}


def test_single_keys_show_and_lift(working: MainWindow, qtbot: QtBot) -> None:
    assert set(shown(working)) == {"lower", "upper", "part-0"}
    for key, gone in ((Qt.Key.Key_G, "part-0"), (Qt.Key.Key_L, "lower"), (Qt.Key.Key_U, "upper")):
        qtbot.keyClick(working.bench.interactor, key)
        assert gone not in shown(working)
        qtbot.keyClick(working.bench.interactor, key)
        assert gone in shown(working)
    qtbot.keyClick(working.bench.interactor, Qt.Key.Key_E)
    assert shown(working)["upper"] > 5.0
    assert working.bench_row.lift.value() > 0
    qtbot.keyClick(working.bench.interactor, Qt.Key.Key_E)
    assert shown(working)["upper"] == 0.0


def test_the_row_under_the_bench_does_the_same_by_mouse(working: MainWindow, qtbot: QtBot) -> None:
    row = working.bench_row
    qtbot.mouseClick(row.ghost_on, Qt.MouseButton.LeftButton, pos=QPoint(6, row.ghost_on.height() // 2))
    assert "part-0" not in shown(working)
    assert not working.actions_table.by_id["ghost"].isChecked()
    row.lift.setFocus()
    qtbot.keyClick(row.lift, Qt.Key.Key_PageUp)
    assert shown(working)["upper"] > 0


def test_a_click_on_a_finding_marks_the_spot(working: MainWindow, qtbot: QtBot) -> None:
    row = next(r for r in working.proof.rows if r.finding.where_mm is not None)
    qtbot.mouseClick(row, Qt.MouseButton.LeftButton)
    assert working.bench.stage.scene.marks == (row.finding.where_mm,)
    assert row.property("chosen")
    qtbot.keyClick(row, Qt.Key.Key_Escape)
    assert working.bench.stage.scene.marks == ()
    assert not row.property("chosen")


def test_the_mark_goes_with_the_halves_it_was_on(working: MainWindow, qtbot: QtBot) -> None:
    row = next(r for r in working.proof.rows if r.finding.where_mm is not None)
    qtbot.mouseClick(row, Qt.MouseButton.LeftButton)
    working.desk.apply(set_wall(2.0))
    assert working.bench.stage.scene.marks == ()
    settle(working, qtbot)
    assert working.bench.stage.scene.marks == ()
    working.desk.undo()
    settle(working, qtbot)
    assert working.bench.stage.scene.marks == ()  # nor does it come back with them


def test_lifting_beyond_the_picture_goes_back_when_the_slider_is_let_go(
    working: MainWindow, qtbot: QtBot
) -> None:
    bench, lift = working.bench, working.bench_row.lift
    before = bench.eye.view
    lift.setSliderDown(True)
    for share in (30, 60, 100):
        lift.setValue(share)
    assert bench.eye.view == before
    assert not bench.sees_all
    lift.setSliderDown(False)
    qtbot.waitUntil(lambda: bench.sees_all)
    assert bench.eye.view.azimuth_deg == before.azimuth_deg


def test_who_looks_at_one_place_stays_there_while_lifting(working: MainWindow, qtbot: QtBot) -> None:
    bench, lift = working.bench, working.bench_row.lift
    bench.fly_to((10.0, 0.0, 8.0))
    qtbot.waitUntil(lambda: not bench.sees_all)
    qtbot.wait(400)  # the flight
    before = bench.eye.view
    lift.setFocus()
    qtbot.keyClick(lift, Qt.Key.Key_PageUp)
    qtbot.wait(400)
    assert bench.eye.view == before


def test_another_part_is_seen_from_the_corner(working: MainWindow, part_file: Path, qtbot: QtBot) -> None:
    working.bench.view_from("top")
    qtbot.waitUntil(lambda: working.bench.eye.view.elevation_deg == 90.0)
    working.open_path(part_file)
    qtbot.waitUntil(lambda: working.bench.eye.view.elevation_deg == STANDPOINTS["corner"][1])
    assert working.bench.sees_all


def test_a_failure_stands_on_the_proof_sheet_and_the_halves_stay(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    clients[0].refuse[Build] = "The wall is too thick for this computer; choose a thinner one."
    working.desk.apply(set_wall(20.0))
    qtbot.waitUntil(lambda: bool(working.desk.failure))
    assert working.proof.rows[0].finding.message.startswith("The wall is too thick")
    assert {"lower", "upper"} <= set(shown(working))
    qtbot.waitUntil(lambda: working.bench.stage.scene.stale)


def test_a_side_is_fixed_and_freed(working: MainWindow, qtbot: QtBot) -> None:
    shell = station(working, "Shell")
    assert isinstance(shell, ShellStation)
    choice, reach = shell.choices["roof"], shell.reaches["roof"]
    assert reach.isHidden()
    choice.setFocus()
    qtbot.keyClick(choice, Qt.Key.Key_Down)
    spec = working.desk.spec
    assert spec is not None
    assert (spec.shell.roof_extra_mm, spec.shell.roof_mm) == (2.0, None)
    type_into(qtbot, reach, "3")
    qtbot.keyClick(choice, Qt.Key.Key_Down)
    spec = working.desk.spec
    assert spec is not None
    assert spec.shell.roof_mm == pytest.approx(0.5 + 2.4 + 3.0)  # where it was until now
    assert reach.isVisible()
    type_into(qtbot, reach, "-1")
    assert working.desk.spec is not None
    assert working.desk.spec.shell.roof_mm == -1.0
    for _ in range(2):
        qtbot.keyClick(choice, Qt.Key.Key_Up)
    assert working.desk.spec is not None
    assert (working.desk.spec.shell.roof_extra_mm, working.desk.spec.shell.roof_mm) == (0.0, None)
    assert reach.isHidden()


def test_another_outside_form_keeps_the_measures_both_have(working: MainWindow, qtbot: QtBot) -> None:
    shell = station(working, "Shell")
    assert isinstance(shell, ShellStation)

    def form() -> Form:
        assert working.desk.spec is not None
        return working.desk.spec.shell.form

    kinds = list(form_kinds())
    assert shell.form.kind.key == form().kind == kinds[0]
    shell.form.kind.setFocus()
    qtbot.keyClick(shell.form.kind, Qt.Key.Key_Down)
    assert form().kind == kinds[1] == "rounded"
    assert shell.form.worded is not None
    rim = shell.form.worded.controls["rim"].choice
    assert rim is not None
    rim.chosen.emit("rounded")  # of sharp edges there is no size
    type_into(qtbot, shell.form.worded.controls["rim_mm"].number, "1.5")
    type_into(qtbot, shell.form.worded.controls["corner_mm"].number, "4")
    assert (form().rim_mm, form().corner_mm) == (1.5, 4.0)  # type: ignore[attr-defined]  # of this kind
    qtbot.keyClick(shell.form.kind, Qt.Key.Key_Down)
    assert form().kind == kinds[2]
    assert form().rim_mm == 1.5  # type: ignore[attr-defined]  # of this kind too
    working.desk.undo()
    assert form().kind == "rounded"
    assert shell.form.worded.controls["corner_mm"].number.value == 4.0  # type: ignore[union-attr]  # a number


def test_floor_and_roof_have_their_own_thickness(working: MainWindow, qtbot: QtBot) -> None:
    shell = station(working, "Shell")
    assert isinstance(shell, ShellStation)
    floor = shell.flats["floor_wall_mm"]
    assert floor.choice is not None
    assert floor.choice.currentText() == "as the wall"
    floor.choice.setFocus()
    qtbot.keyClick(floor.choice, Qt.Key.Key_Down)
    type_into(qtbot, floor.number, "4")
    assert working.desk.spec is not None
    assert (working.desk.spec.shell.floor_wall_mm, working.desk.spec.shell.roof_wall_mm) == (4.0, None)


def test_one_caliper_reading_settles_the_unit(working: MainWindow, qtbot: QtBot) -> None:
    """The file says 40; the calipers say 1016 mm: 40 inch of 25.4 mm (1959 agreement)."""
    part = station(working, "Part")
    assert isinstance(part, PartStation)
    type_into(qtbot, part.measure, "1016")
    assert working.desk.spec is not None
    assert (working.desk.spec.parts[0].unit, working.desk.spec.parts[0].scale) == ("inch", 1.0)
    assert part.origin.text() == "That is from your measurement."
    assert "1016.0 × 508.0 × 254.0 mm" in part.size_note.text()


def test_turning_laying_and_adding_a_part(working: MainWindow, qtbot: QtBot, part_file: Path) -> None:
    part = station(working, "Part")
    assert isinstance(part, PartStation)
    qtbot.mouseClick(part.turns["x"], Qt.MouseButton.LeftButton)
    assert "40.0 × 10.0 × 20.0 mm" in part.size_note.text()
    qtbot.mouseClick(part.lay, Qt.MouseButton.LeftButton)
    assert working.desk.picking_for == "block"
    working.bench.face_clicked.emit(Spot("part-0", (0.0, 5.0, 10.0), (0.0, 1.0, 0.0), 0))
    assert working.desk.picking_for is None
    assert "40.0 × 20.0 × 10.0 mm" in part.size_note.text()
    working.desk.add_part(part_file)
    qtbot.waitUntil(lambda: working.desk.spec is not None and len(working.desk.spec.parts) == 2)
    assert part.which.key == "block 2"
    type_into(qtbot, part.shift[0], "50")
    settle(working, qtbot)
    assert working.desk.result is not None
    width = working.desk.result.outer_mm[1][0] - working.desk.result.outer_mm[0][0]
    assert width == pytest.approx(40 + 50 + 2 * (0.5 + 2.4))
    qtbot.mouseClick(part.remove, Qt.MouseButton.LeftButton)
    assert working.desk.spec is not None
    assert [p.name for p in working.desk.spec.parts] == ["block"]


def test_suggested_planes_are_clicked_through(working: MainWindow, qtbot: QtBot) -> None:
    parting = station(working, "Parting")
    assert isinstance(parting, PartingStation)
    qtbot.mouseClick(parting.suggest, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(parting.proposal_buttons) == 3)
    assert parting.proposal_buttons[1].toolTip() == "On the axis of the shaft.\nIt stands well."
    qtbot.mouseClick(parting.proposal_buttons[1], Qt.MouseButton.LeftButton)
    assert parting.height_field.value == 2.5
    assert [b.isChecked() for b in parting.proposal_buttons] == [False, True, False]


def test_everything_on_the_open_station_is_reached_by_tab(working: MainWindow, qtbot: QtBot) -> None:
    qtbot.keyClick(working, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    fit = working.card.stations["Fit"]
    assert isinstance(fit, FitStation)
    qtbot.waitUntil(fit.clearance.line_edit.hasFocus)
    qtbot.keyClick(fit.clearance.line_edit, Qt.Key.Key_Tab)
    assert fit.preset.hasFocus()
    qtbot.keyClick(fit.preset, Qt.Key.Key_Tab)
    assert fit.seal.line_edit.hasFocus()


def test_writing_asks_for_a_folder_once_and_before_replacing(
    working: MainWindow, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    answers = ["stay", "replace"]

    def choose(*_: object, writes: bool) -> Path:
        assert writes  # and the dialog says so
        asked.append("folder")
        return tmp_path / "out"

    def may(*_: object) -> str:
        asked.append("replace")
        return answers.pop(0)

    monkeypatch.setattr(writing_module, "ask_output_folder", choose)
    monkeypatch.setattr(writing_module, "ask_replace", may)
    for _ in range(3):
        qtbot.mouseClick(working.card.write, Qt.MouseButton.LeftButton)
        qtbot.waitUntil(lambda: not working.desk.writing and bool(working.desk.exported))
    assert asked == ["folder", "replace", "replace"]
    words = " ".join(label.text() for label in working.card.stations["Print"].findChildren(QLabel))
    assert "upper.stl" in words
    assert working.card.open_title == "Print"


def test_closing_unsaved_work_asks_and_an_untouched_housing_does_not(
    working: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(errands_module, "ask_save", lambda parent, name: asked.append(name) or "stay")
    assert working.errands.may_leave()
    assert asked == []
    working.desk.apply(set_wall(3.0))
    assert not working.errands.may_leave()
    assert asked == ["block"]
    assert not working.close()
    monkeypatch.setattr(errands_module, "ask_save", lambda parent, name: "drop")


def test_closing_saves_first_when_asked_and_stays_when_it_cannot(
    working: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    places = [tmp_path / "file" / "vent.hdesk", tmp_path / "vent.hdesk"]
    (tmp_path / "file").write_bytes(b"")  # a file is no folder
    monkeypatch.setattr(errands_module, "ask_save", lambda parent, name: "save")
    monkeypatch.setattr(errands_module, "ask_save_path", lambda parent, folder, name: places.pop(0))
    working.desk.apply(set_wall(3.0))
    assert not working.close()
    assert working.isVisible()
    assert "file" in working.notice.words
    assert working.isWindowModified()
    assert working.close()
    assert load_project(tmp_path / "vent.hdesk")[0].shell.wall_mm == 3.0


def test_closing_waits_for_a_save_under_way(
    working: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(parent: object, name: str) -> str:
        pytest.fail("there is nothing unsaved to ask about")

    monkeypatch.setattr(errands_module, "ask_save", never)
    working.desk.apply(set_wall(3.0))
    working.desk.save(tmp_path / "vent.hdesk")
    assert working.close()
    assert load_project(tmp_path / "vent.hdesk")[0].shell.wall_mm == 3.0


def test_dark_and_light(working: MainWindow, qtbot: QtBot) -> None:
    light = working.grab().toImage().pixelColor(5, 300)
    working.actions_table.by_id["dark"].trigger()
    dark = working.grab().toImage().pixelColor(5, 300)
    assert light.lightness() > 220
    assert dark.lightness() < 60
    assert working.bench.stage.scene.palette is working._themes.palette


def test_nothing_is_cut_off_at_the_least_size(working: MainWindow, qtbot: QtBot) -> None:
    working.resize(1280, 720)
    qtbot.waitUntil(lambda: working.width() == 1280)
    for title in working.card.stations:
        working.card.open_station(title)
        qtbot.wait(30)
        body = working.card.stations[title]
        for child in body.findChildren(QLabel):
            if child.isVisible():
                right = child.mapTo(body, QPoint(child.width(), 0)).x()
                assert right <= body.width(), (title, child.text())
    assert working.card.write.isVisible()
    assert working.card.write.mapTo(working, QPoint(0, working.card.write.height())).y() <= 720


def test_the_window_lives_while_the_worker_works(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    clients[0].held = True
    now = [0.0]
    working.desk._waits.clock = lambda: now[0]
    working.desk.apply(set_wall(3.0))
    now[0] = 1.0
    qtbot.waitUntil(lambda: working.notice.words.startswith("Making the halves…"))
    qtbot.keyClick(working.bench.interactor, Qt.Key.Key_G)
    assert "part-0" not in shown(working)
    qtbot.mouseClick(working.notice.press_button, Qt.MouseButton.LeftButton)
    assert "Making" not in working.notice.words
    assert working.desk.failure.startswith("Stopped")
