"""The job done once in the real window with the real worker: open, drag, change, undo, write, open again."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from housingdesk.ui import errands as errands_module
from housingdesk.ui.desk import Desk
from housingdesk.ui.jobcard.fit import FitStation
from housingdesk.ui.jobcard.shell import ShellStation
from housingdesk.ui.themes import Themes
from housingdesk.ui.window import MainWindow
from tests.ui.test_window import settle, type_into

pytestmark = pytest.mark.window
PATIENCE_MS = 300_000  # a first run compiles


@pytest.fixture
def window(
    themes: Themes, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> Iterator[MainWindow]:
    monkeypatch.setattr(errands_module, "ask_save", lambda parent, name: "drop")
    made = MainWindow(Desk(data=tmp_path / "data", cache=tmp_path / "cache"), themes)
    qtbot.addWidget(made)
    made.resize(1280, 800)
    made.show()
    qtbot.waitExposed(made)
    made.activateWindow()
    yield made
    made.close()


def wait_final(window: MainWindow, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not window.desk.stale, timeout=PATIENCE_MS)
    assert window.desk.failure == ""


def test_the_whole_job(window: MainWindow, part_file: Path, tmp_path: Path, qtbot: QtBot) -> None:
    desk = window.desk
    window.open_path(part_file)
    qtbot.waitUntil(lambda: desk.proof is not None, timeout=PATIENCE_MS)
    spec = desk.spec
    assert spec is not None

    # The plane by its grip.
    bench = window.bench
    grip = bench.grip
    assert grip is not None
    start = QPoint(round(grip.at[0]), round(grip.at[1]))
    qtbot.mousePress(bench.interactor, Qt.MouseButton.LeftButton, pos=start)
    for way in (8, 16, 24):
        qtbot.mouseMove(bench.interactor, start - QPoint(0, way))
        qtbot.wait(30)
    qtbot.mouseRelease(bench.interactor, Qt.MouseButton.LeftButton, pos=start - QPoint(0, 24))
    dragged = desk.spec
    assert dragged is not None
    assert dragged.parting.height_mm > spec.parting.height_mm

    # Wall and clearance by number, the ghost by key.
    fit, shell = window.card.stations["Fit"], window.card.stations["Shell"]
    assert isinstance(fit, FitStation)
    assert isinstance(shell, ShellStation)
    window.card.open_station("Fit")
    type_into(qtbot, fit.clearance, "1.0")
    window.card.open_station("Shell")
    type_into(qtbot, shell.wall, "3.0")
    qtbot.keyClick(bench.interactor, Qt.Key.Key_G)
    assert not [i for i in bench.stage.scene.items if i.role == "part"]
    wait_final(window, qtbot)
    assert desk.proof is not None
    assert desk.proof.facts is not None
    # Box of 40 x 20 x 10 mm: outside = part + 2 (clearance + wall).
    assert np.ptp(desk.proof.outer_mm, axis=0) == pytest.approx([48.0, 28.0, 18.0], abs=0.02)
    assert min(f.min_gap_mm for f in desk.proof.facts.values()) >= 1.0 - 0.01
    section = desk.proof.section
    assert section is not None
    assert set(section.halves) == {"lower", "upper"}
    assert np.allclose(section.parts[0][0], section.parts[0][-1])

    # Back and forth.
    qtbot.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    wait_final(window, qtbot)
    assert desk.proof is not None
    assert np.ptp(desk.proof.outer_mm, axis=0)[0] == pytest.approx(46.8, abs=0.02)
    qtbot.keyClick(window, Qt.Key.Key_Y, Qt.KeyboardModifier.ControlModifier)

    # Written, and read by an outside library.
    out = tmp_path / "out"
    desk.set_export_folder(out)
    qtbot.mouseClick(window.card.write, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: bool(desk.exported), timeout=PATIENCE_MS)
    for name in ("lower.stl", "upper.stl"):
        body = trimesh.load_mesh(out / name)
        assert body.is_watertight
        assert body.volume > 0
        assert body.extents[:2] == pytest.approx([48.0, 28.0], abs=0.02)

    # Saved, closed, opened again: the same wish.
    wish = desk.spec
    project = tmp_path / "block.hdesk"
    assert desk.save(project)
    assert desk.finish_saving()
    window.actions_table.by_id["close"].trigger()
    assert desk.spec is None
    assert window.start.isVisible()
    window.open_path(project)
    qtbot.waitUntil(lambda: desk.proof is not None, timeout=PATIENCE_MS)
    assert desk.spec == wish
    assert not desk.modified
    settle(window, qtbot)
