"""Named sides to look from, and a housing that grows out of the picture."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from housingdesk.spec.edits import set_pull, set_wall
from housingdesk.ui.actions import LOOKS
from housingdesk.ui.window import MainWindow
from housingdesk.view3d.camera import STANDPOINTS, Standpoint
from housingdesk.view3d.canvas import Bench
from tests.ui.test_window import settle, window, working

pytestmark = pytest.mark.window
__all__ = ["window", "working"]  # fixtures

LARGE_MM = 9.0


def stands_at(bench: Bench, azimuth_deg: float, elevation_deg: float) -> bool:
    view = bench.eye.view
    turned = (view.azimuth_deg - azimuth_deg + 180) % 360 - 180
    return abs(turned) < 1e-9 and view.elevation_deg == elevation_deg


@pytest.mark.parametrize(("key", "side"), list(enumerate(STANDPOINTS, 1)))
def test_each_side_has_a_key_and_a_line_in_the_list_on_the_bench(
    working: MainWindow, qtbot: QtBot, key: int, side: Standpoint
) -> None:
    bench, (azimuth, elevation) = working.bench, STANDPOINTS[side]
    listed = working.bench_row.looks.menu().actions()[key - 1]
    assert listed.shortcut().toString() == str(key)
    for ask in (listed.trigger, lambda: qtbot.keyClick(bench.interactor, Qt.Key(Qt.Key.Key_0 + key))):
        bench._flight.turn(37.0, 11.0)
        ask()
        qtbot.waitUntil(lambda: stands_at(bench, azimuth, elevation), timeout=10_000)
        assert bench.sees_all


def test_the_list_has_all_sides(working: MainWindow) -> None:
    assert [row.id.removeprefix("from_") for row in LOOKS] == list(STANDPOINTS)
    texts = [a.text().replace("&", "") for a in working.bench_row.looks.menu().actions()]
    assert texts == [
        "Aslant",
        "From the front",
        "From the back",
        "From the left",
        "From the right",
        "From above",
        "From below",
    ]


def test_who_sees_all_goes_on_seeing_all_when_the_housing_grows(working: MainWindow, qtbot: QtBot) -> None:
    bench = working.bench
    bench.fit_view()
    near, azimuth = bench.eye.view.distance_mm, bench.eye.view.azimuth_deg
    working.desk.apply(set_wall(LARGE_MM))
    settle(working, qtbot)
    qtbot.waitUntil(lambda: bench.sees_all, timeout=10_000)
    assert bench.eye.view.distance_mm > near
    assert bench.eye.view.azimuth_deg == azimuth
    far = bench.eye.view.distance_mm
    working.desk.undo()
    settle(working, qtbot)
    qtbot.wait(400)
    assert bench.eye.view.distance_mm == far  # what grows smaller stays where it is


def test_a_housing_that_is_turned_over_is_shown_whole(working: MainWindow, qtbot: QtBot) -> None:
    bench = working.bench
    bench.fit_view()
    for pull in ("+x", "+z"):
        working.desk.apply(set_pull(pull))
        settle(working, qtbot)
        fitted = bench.eye.fitted(bench.stage.bounds_mm())
        qtbot.waitUntil(lambda f=fitted: bench.eye.view.distance_mm == f.distance_mm, timeout=10_000)
        assert bench.eye.view.focus_mm == pytest.approx(fitted.focus_mm)


def test_who_has_come_near_or_turned_stays(working: MainWindow, qtbot: QtBot) -> None:
    bench = working.bench
    middle = QPoint(bench.interactor.width() // 2, 20)
    QTest.mousePress(bench.interactor, Qt.MouseButton.LeftButton, pos=middle)
    QTest.mouseMove(bench.interactor, middle + QPoint(30, 0))
    QTest.mouseRelease(bench.interactor, Qt.MouseButton.LeftButton, pos=middle + QPoint(30, 0))
    view = bench.eye.view
    working.desk.apply(set_wall(LARGE_MM))
    settle(working, qtbot)
    qtbot.wait(400)
    assert not bench.sees_all
    assert bench.eye.view == view


def test_the_view_stays_under_a_drag_and_follows_when_it_ends(working: MainWindow, qtbot: QtBot) -> None:
    bench, desk = working.bench, working.desk
    bench.fit_view()
    view = bench.eye.view
    desk.begin_drag()
    for wall_mm in (5.0, LARGE_MM):
        desk.apply(set_wall(wall_mm))
        qtbot.wait(400)
        assert bench.eye.view == view
    assert not bench.sees_all
    desk.end_drag()
    settle(working, qtbot)
    qtbot.waitUntil(lambda: bench.sees_all, timeout=10_000)
