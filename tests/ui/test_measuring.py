"""A part without a file in the window, with mouse and keys; and another file in a part's place."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtWidgets import QApplication, QFileDialog, QLabel, QWidget
from pytestqt.qtbot import QtBot

from housingdesk.files.project import load_project
from housingdesk.geometry.frames import rotation_about
from housingdesk.jobs.messages import Build, Loaded, LoadParts, Propose
from housingdesk.spec.models import PartSpec
from housingdesk.spec.part_edits import part_of_shapes
from housingdesk.spec.shapes import Block, Plate, Round
from housingdesk.ui.entries.shapelist import ShapeList, lie_words
from housingdesk.ui.jobcard.part import PartStation
from housingdesk.ui.measuring import MeasureDialog
from housingdesk.ui.window import MainWindow
from tests.ui.inline import InlineClient
from tests.ui.test_window import settle, type_into, window, working

pytestmark = pytest.mark.window
__all__ = ["window", "working"]  # fixtures


def in_dialog(qtbot: QtBot, ask: Callable[[], object], do: Callable[[MeasureDialog], object]) -> None:
    """Press what opens the dialog, and act in it while it is open."""
    failed: list[BaseException] = []

    def act() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, MeasureDialog)
        try:
            do(dialog)
        except BaseException as error:  # raised again outside the event handler, where pytest sees it
            failed.append(error)
            dialog.reject()

    QTimer.singleShot(100, act)
    ask()
    if failed:
        raise failed[0]


def press(qtbot: QtBot, widget: QWidget) -> None:
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)
    QApplication.processEvents()  # new entries are shown when their layout is done


def choose(qtbot: QtBot, field: QWidget, key: str) -> None:
    """Go to an entry of a choice with the arrow keys."""
    index = field.findData(key)  # type: ignore[attr-defined]  # a ChoiceField
    assert index >= 0
    field.setFocus()
    way = Qt.Key.Key_Down if index > field.currentIndex() else Qt.Key.Key_Up  # type: ignore[attr-defined]
    while field.currentIndex() != index:  # type: ignore[attr-defined]
        qtbot.keyClick(field, way)


def measure(window: MainWindow, qtbot: QtBot, do: Callable[[MeasureDialog], object]) -> None:
    """Go through the dialog from the start page and wait for the housing."""

    def fill(dialog: MeasureDialog) -> None:
        do(dialog)
        press(qtbot, dialog.go_on)

    in_dialog(qtbot, lambda: press(qtbot, window.start.choices["Measure a part…"]), fill)
    qtbot.waitUntil(lambda: window.desk.proof is not None, timeout=10_000)


def only(window: MainWindow) -> PartSpec:
    assert window.desk.spec is not None
    (part,) = window.desk.spec.parts
    return part


def shape_list(window: MainWindow) -> ShapeList:
    window.card.open_station("Part")
    found = window.card.stations["Part"]
    assert isinstance(found, PartStation)
    return found.shapes


@pytest.fixture
def blocky(window: MainWindow, qtbot: QtBot) -> MainWindow:
    """A housing around a 30 x 20 x 10 mm block from readings."""

    def block(dialog: MeasureDialog) -> None:
        choose(qtbot, dialog.what, "block")
        for field, text in (("long_mm", "30"), ("wide_mm", "20"), ("high_mm", "10")):
            type_into(qtbot, dialog.worded["block"].controls[field].number, text)

    measure(window, qtbot, block)
    return window


def test_how_a_part_lies_on_the_bench_is_said_where_it_is_turned() -> None:
    part, _ = part_of_shapes("block", (Block(),))
    assert lie_words(part, "+z") == ""
    # Lifting along the part's +x makes that the bench's z; the other two follow by the right-hand rule.
    words = lie_words(part, "+x")
    assert "its X along Z" in words
    assert words.count("along") == 3
    tilted = rotation_about((0, 0, 1), 30.0)
    assert "askew" in lie_words(part.model_copy(update={"placement": tuple(tilted.ravel())}), "+z")


def test_a_motor_by_its_face_gives_a_whole_housing(
    window: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    def motor(dialog: MeasureDialog) -> None:
        choose(qtbot, dialog.which, "NEMA 17")
        assert dialog.length.isVisible()
        assert "No standard says" in dialog.unsaid.text()
        assert "NEMA ICS 16" in dialog.figures.text()
        assert "42 to 43.2 mm" in dialog.warning.text()  # NEMA ICS 16 as published differs from real motors
        assert "catch hair" in dialog.caution.text()
        type_into(qtbot, dialog.length, "34")
        type_into(qtbot, dialog.shaft, "24")

    measure(window, qtbot, motor)
    part = only(window)
    assert part.name == "NEMA 17 motor"
    assert (part.unit_origin, part.source_name) == ("measured", "")
    assert part.shapes == (
        Block(long_mm=34, wide_mm=43.2, high_mm=43.2, x_mm=-17, z_mm=-21.6),
        Round(diameter_mm=22, long_mm=2, way="+x"),
        Round(diameter_mm=5, long_mm=24, way="+x"),
    )
    assert window.desk.meshes[part.mesh_key].size_mm == pytest.approx((58.0, 43.2, 43.2))
    asked = [j for j in clients[0].jobs if isinstance(j, Propose)]
    assert asked[0].find_zones  # zones and planes are looked for as in a file
    assert window.desk.modified
    assert window.card.rows[0].summary.text() == "NEMA 17 motor, 58.0 × 43.2 × 43.2 mm, from your readings."


def test_enter_in_a_number_of_the_dialog_does_not_close_it(window: MainWindow, qtbot: QtBot) -> None:
    def motor(dialog: MeasureDialog) -> None:
        type_into(qtbot, dialog.length, "34")
        assert dialog.isVisible()
        qtbot.keyClick(dialog, Qt.Key.Key_Escape)

    in_dialog(qtbot, lambda: press(qtbot, window.start.choices["Measure a part…"]), motor)
    assert window.desk.spec is None


def test_a_cell_by_its_code_and_a_code_that_names_none(window: MainWindow, qtbot: QtBot) -> None:
    def cell(dialog: MeasureDialog) -> None:
        choose(qtbot, dialog.what, "cell")
        assert not dialog.length.isVisible()
        assert "Cells burn" in dialog.caution.text()
        qtbot.keyClicks(dialog.code, "nonsense")
        assert "names no round cell" in dialog.complaint.text()
        assert not dialog.go_on.isEnabled()
        dialog.code.selectAll()
        qtbot.keyClicks(dialog.code, "CR2450")
        assert not dialog.complaint.isVisible()
        assert "from memory" in dialog.figures.text()
        assert "measure" in dialog.warning.text()
        qtbot.keyClicks(dialog.name, "Clock cell")

    measure(window, qtbot, cell)
    assert only(window).name == "Clock cell"
    # The code says whole millimetres of diameter and tenths of length: 24 x 5.0 (rule of IEC 60086-3).
    assert window.desk.meshes[only(window).mesh_key].size_mm == pytest.approx((5.0, 24.0, 24.0), abs=0.02)


def test_a_bearing_says_its_standard(window: MainWindow, qtbot: QtBot) -> None:
    def bearing(dialog: MeasureDialog) -> None:
        choose(qtbot, dialog.what, "bearing")
        choose(qtbot, dialog.which, "608")
        assert dialog.figures.text().startswith("Bore 8 mm, outside 22 mm, width 7 mm: ISO 15")  # ISO 15
        assert not dialog.warning.isVisible()

    measure(window, qtbot, bearing)
    assert only(window).name == "608 bearing"


def test_nothing_is_left_by_going_back(window: MainWindow, qtbot: QtBot) -> None:
    in_dialog(
        qtbot,
        window.actions_table.by_id["measure_part"].trigger,
        lambda d: press(qtbot, next(b for b in d.buttons.buttons() if b is not d.go_on)),
    )
    assert window.desk.spec is None
    assert not window.desk.busy


def test_a_reading_is_corrected_and_the_halves_follow(blocky: MainWindow, qtbot: QtBot) -> None:
    shapes = shape_list(blocky)
    assert shapes.isVisible()
    (entry,) = shapes.entries
    words = " ".join(w.text() for w in entry.sentence.findChildren(QLabel) if w.isVisible())
    assert words.startswith("by mm") or "high" in words
    assert not entry.remove.isVisible()  # the last shape is the part
    type_into(qtbot, entry.controls["long_mm"].number, "44")
    settle(blocky, qtbot)
    result = blocky.desk.result
    assert result is not None
    # 44 + 2 x (0.5 + 2.4), and so on
    assert (result.outer_mm[1] - result.outer_mm[0]).tolist() == pytest.approx([49.8, 25.8, 15.8])
    assert blocky.actions_table.by_id["undo"].text() == "&Undo measure Block"
    blocky.desk.undo()
    assert only(blocky).shapes == (Block(long_mm=30, wide_mm=20, high_mm=10),)
    assert entry.controls["long_mm"].number.value == 30


def test_a_drag_of_a_number_is_one_step_and_each_step_is_made(
    blocky: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    number = shape_list(blocky).entries[0].controls["high_mm"].number
    before = len(clients[0].jobs)
    qtbot.mousePress(number.grip, Qt.MouseButton.LeftButton, pos=QPoint(3, 3))
    for way in (12, 24, 36):
        qtbot.mouseMove(number.grip, QPoint(3 + way, 3))
    qtbot.mouseRelease(number.grip, Qt.MouseButton.LeftButton, pos=QPoint(39, 3))
    made = [j.spec.parts[0].shapes[0].high_mm for j in clients[0].jobs[before:] if isinstance(j, Build)]
    assert made[:3] == [11.0, 12.0, 13.0]
    assert only(blocky).shapes[0].high_mm == 13.0  # type: ignore[union-attr]  # a block
    blocky.desk.undo()
    assert only(blocky).shapes[0].high_mm == 10.0  # type: ignore[union-attr]
    assert not blocky.desk.undo_label


def test_the_part_on_the_bench_follows_before_the_halves_do(
    blocky: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    entry = shape_list(blocky).entries[0]
    clients[0].held = True
    type_into(qtbot, entry.controls["long_mm"].number, "44")
    ghost = {item.name: item.mesh for item in blocky.bench.stage.scene.items}
    # Its middle stays where it was, 7 mm more on either side; the halves shown are still the old ones.
    assert ghost["part-0"].bounds == pytest.approx(np.array([[-22, -10, 0], [22, 10, 10]]))
    assert ghost["lower"].size_mm[0] == pytest.approx(35.8)
    clients[0].release()
    settle(blocky, qtbot)
    ghost = {item.name: item.mesh for item in blocky.bench.stage.scene.items}
    assert ghost["lower"].size_mm[0] == pytest.approx(49.8)


def test_shapes_are_added_cut_away_and_removed(blocky: MainWindow, qtbot: QtBot) -> None:
    shapes = shape_list(blocky)
    press(qtbot, shapes.adds["Round"])
    assert only(blocky).shapes[1] == Round(z_mm=10.0)
    press(qtbot, shapes.adds["Plate with holes"])
    assert isinstance(only(blocky).shapes[2], Plate)
    press(qtbot, shapes.cuts["Block"])
    assert [e.head.text() for e in shapes.entries] == [
        "Block",
        "Round",
        "Plate with holes",
        "Block, cut away",
    ]
    full = blocky.desk.meshes[only(blocky).mesh_key].volume_mm3
    press(qtbot, shapes.entries[2].remove)
    assert [type(s) for s in only(blocky).shapes] == [Block, Round, Block]
    assert blocky.desk.meshes[only(blocky).mesh_key].volume_mm3 < full
    blocky.desk.undo()
    assert len(shapes.entries) == 4
    # The tick under "more" turns a cut into an addition.
    entry = shapes.entries[3]
    tick = entry.controls["cut"].tick
    assert tick is not None
    assert not tick.isVisible()
    press(qtbot, entry.more)
    qtbot.mouseClick(tick, Qt.MouseButton.LeftButton, pos=QPoint(6, tick.height() // 2))
    assert not only(blocky).shapes[3].cut


def test_what_cannot_be_is_said_beside_it_and_the_part_stays(blocky: MainWindow, qtbot: QtBot) -> None:
    shapes = shape_list(blocky)
    press(qtbot, shapes.adds["Round"])
    before = only(blocky)
    entry = shapes.entries[1]
    press(qtbot, entry.more)
    flat = entry.controls["flat_mm"].number
    type_into(qtbot, flat, "6")  # as deep as the round is thick
    assert entry.complaint.isVisible()
    assert entry.complaint.text() == "The flat is deeper than the round is thick; make it less deep."
    assert flat.value == 0.0
    assert only(blocky) == before
    type_into(qtbot, flat, "1")
    assert not entry.complaint.isVisible()
    type_into(qtbot, entry.controls["long_mm"].number, "0")
    assert entry.complaint.text() == "The length must be more than 0 and at most 2000 mm."
    assert only(blocky).shapes[1].long_mm == 20.0  # type: ignore[union-attr]  # a round
    tick = shapes.entries[0].controls["cut"].tick
    assert tick is not None
    press(qtbot, shapes.entries[0].more)
    press(qtbot, entry.remove)
    qtbot.mouseClick(tick, Qt.MouseButton.LeftButton, pos=QPoint(6, tick.height() // 2))
    assert shapes.entries[0].controls["cut"].tick is not None
    assert "leave no part" in shapes.entries[0].complaint.text()


def test_a_measured_part_is_saved_and_opened(blocky: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    path = tmp_path / "kept.hdesk"
    assert blocky.desk.save(path)
    assert blocky.desk.finish_saving()
    spec, meshes = load_project(path)
    assert spec.parts[0].shapes == only(blocky).shapes
    assert spec.parts[0].mesh_key in meshes
    blocky.open_path(path)
    qtbot.waitUntil(lambda: blocky.desk.path == path, timeout=10_000)
    assert len(shape_list(blocky).entries) == 1


def test_a_measured_part_is_added_to_an_open_housing(working: MainWindow, qtbot: QtBot) -> None:
    working.card.open_station("Part")
    station = working.card.stations["Part"]
    assert isinstance(station, PartStation)
    assert not station.shapes.isVisible()  # its part came from a file
    assert station.unit.isVisible()

    def round_one(dialog: MeasureDialog) -> None:
        choose(qtbot, dialog.what, "round")
        press(qtbot, dialog.go_on)

    in_dialog(qtbot, lambda: press(qtbot, station.measure_more), round_one)
    settle(working, qtbot)
    assert working.desk.spec is not None
    assert [p.name for p in working.desk.spec.parts] == ["block", "Round"]
    assert station.shapes.isVisible()
    assert not station.unit.isVisible()


def test_another_file_takes_a_parts_place(
    working: MainWindow, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    newer = tmp_path / "block_b.stl"
    trimesh.creation.box(extents=(50, 20, 10)).export(newer)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(newer), ""))
    station = working.card.stations["Part"]
    assert isinstance(station, PartStation)
    working.card.open_station("Part")
    before = only(working)
    press(qtbot, station.swap)
    qtbot.waitUntil(lambda: only(working).source_name == "block_b.stl", timeout=10_000)
    settle(working, qtbot)
    after = only(working)
    assert after.placement == before.placement
    assert after.name == "block_b"  # it was called after its file
    assert working.desk.result is not None
    assert np.ptp(working.desk.result.parts[0].vertices, axis=0) == pytest.approx((50, 20, 10))
    assert "does not say its unit" in working.notice.words
    assert working.actions_table.by_id["undo"].text() == "&Undo put block_b.stl in place of block"
    working.desk.undo()
    assert only(working) == before


def test_a_file_that_cannot_be_read_leaves_the_part(
    working: MainWindow,
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
    clients: list[InlineClient],
    tmp_path: Path,
) -> None:
    clients[0].refuse[LoadParts] = "empty.stl holds no triangles; export it again."
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(tmp_path / "empty.stl"), ""))
    before = only(working)
    station = working.card.stations["Part"]
    assert isinstance(station, PartStation)
    working.card.open_station("Part")
    press(qtbot, station.swap)
    qtbot.waitUntil(lambda: "empty.stl" in working.notice.words)
    assert only(working) == before


def test_of_a_file_with_several_parts_the_first_takes_the_place_and_that_is_said(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient], tmp_path: Path
) -> None:
    newer = tmp_path / "set.stl"
    trimesh.creation.box(extents=(30, 20, 10)).export(newer)
    client = clients[0]
    client.held = True
    working.desk.swap_part("block", newer)
    ((generation, job),) = [(g, j) for g, j in client.kept if isinstance(j, LoadParts)]
    client.kept = [(g, j) for g, j in client.kept if g != generation]
    client.held = False
    read = client._made(generation, job)
    assert isinstance(read, Loaded)
    client.on_answer(generation, job, Loaded((*read.parts, *read.parts)))
    qtbot.waitUntil(lambda: only(working).source_name == "set.stl", timeout=10_000)
    assert working.notice.words.endswith("set.stl holds 2 parts; set was taken.")
