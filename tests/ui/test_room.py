"""A small window: the bench keeps a usable share, and what is folded away comes back."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from housingdesk.ui.window import MainWindow
from tests.ui.test_window import window, working  # noqa: F401  # fixtures

pytestmark = pytest.mark.window


def test_a_small_window_leaves_the_bench_half_of_it(working: MainWindow, qtbot: QtBot) -> None:  # noqa: F811
    working.resize(1024, 700)
    qtbot.waitUntil(lambda: working.width() == 1024 and working.proof.folded)
    assert working.height() == 700  # nothing asks for more
    qtbot.waitUntil(lambda: working.bench.width() >= 0.5 * 1024)
    qtbot.waitUntil(lambda: working.bench.height() >= 0.5 * 700)
    assert working.card.write.isVisible()
    for shown in (working.bench_row.gaps_on, working.strip.folder, working.strip.angle_field):
        right = shown.mapTo(working, QPoint(shown.width(), 0)).x()
        assert right <= working.proof.mapTo(working, QPoint(0, 0)).x()  # nothing is cut off
    assert working.proof.counts.split("\n") == ["! 1", "✓ 2"]
    working.proof.show_proof(working.desk.proof, stale=True)
    assert working.proof.counts.split("\n")[-1] == "…"
    working.resize(1440, 900)
    qtbot.waitUntil(lambda: not working.proof.folded)
    assert working.strip.height() > 200


def test_what_is_folded_is_unfolded_by_a_click_and_stays(working: MainWindow, qtbot: QtBot) -> None:  # noqa: F811
    working.resize(1024, 700)
    qtbot.waitUntil(lambda: working.proof.folded)
    qtbot.mouseClick(working.proof.folder, Qt.MouseButton.LeftButton)
    assert not working.proof.folded
    working.resize(1000, 690)
    qtbot.waitUntil(lambda: working.width() == 1000)
    assert not working.proof.folded  # the user has said so
    assert working.bench.width() > 250
    qtbot.mouseClick(working.strip.folder, Qt.MouseButton.LeftButton)
    assert working.strip.folded
    qtbot.waitUntil(lambda: working.strip.height() < 60)
    qtbot.mouseClick(working.strip.folder, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: working.strip.height() >= 150)
