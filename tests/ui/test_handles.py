"""A feature dragged on the bench by its knob, with real mouse events."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

import numpy as np
import pytest
from pydantic import Field
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from housingdesk.build.results import FeatureFacts
from housingdesk.features.feature import Feature, Station
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.geometry.types import Floats
from housingdesk.jobs.messages import Build
from housingdesk.spec.edits_features import add_feature
from housingdesk.ui.entries.featurelist import FeatureStation
from housingdesk.ui.window import MainWindow
from tests.ui.inline import InlineClient
from tests.ui.test_window import settle, type_into, window, working

pytestmark = pytest.mark.window
__all__ = ["window", "working"]  # fixtures


class Bolt(Feature):
    """A bolt with two knobs; only for tests.  Its keys hold only for where it was when it was taken."""

    TITLE: ClassVar[str] = "Bolt"
    STATION: ClassVar[Station] = "Joints"

    kind: Literal["test_bolt"] = "test_bolt"
    x_mm: float = Field(default=0.0, ge=-30, le=30)
    y_mm: float = Field(default=0.0, ge=-30, le=30)

    def build(self, site: Site) -> Work:
        return Work()

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        assert handle == f"at {self.x_mm:g}"
        return self.model_copy(update={"x_mm": float(to_mm[0]), "y_mm": float(to_mm[1])})


@pytest.fixture
def bolted(working: MainWindow, clients: list[InlineClient], qtbot: QtBot) -> MainWindow:
    """A housing with a bolt whose knob lies on the roof, seen from above at station Joints."""
    clients[0].made = {
        "Bolt": FeatureFacts(
            handles=(
                Handle("at 0", (0.0, 0.0, 12.9), label="the bolt"),
                Handle("other", (15.0, 5.0, 12.9)),
            )
        )
    }
    working.desk.apply(add_feature(Bolt()))
    working.desk.end_drag()
    settle(working, qtbot)
    working.card.open_station("Joints")
    working.bench.view_from("top")
    qtbot.waitUntil(lambda: working.bench.eye.view.elevation_deg == 90)
    return working


def pixel(window: MainWindow, x: float, y: float) -> QPoint:
    at = window.bench.eye.pixels(np.array([[x, y, 12.9]]))[0]
    return QPoint(round(at[0]), round(at[1]))


def bolt(window: MainWindow) -> Bolt:
    assert window.desk.spec is not None
    (feature,) = window.desk.spec.features
    assert isinstance(feature, Bolt)
    return feature


def test_knobs_are_those_of_the_open_station(bolted: MainWindow) -> None:
    knobs = bolted.bench.stage.scene.knobs
    assert [(k.feature, k.key, k.at_mm) for k in knobs] == [
        ("Bolt", "at 0", (0.0, 0.0, 12.9)),
        ("Bolt", "other", (15.0, 5.0, 12.9)),
    ]
    assert len(bolted.bench._overlay.drawing.handles) == 2
    bolted.card.open_station("Mounts")
    assert bolted.bench.stage.scene.knobs == ()


def test_a_knob_under_the_pointer_is_lit_and_says_what_it_is(bolted: MainWindow, qtbot: QtBot) -> None:
    qtbot.mouseMove(bolted.bench.interactor, pixel(bolted, 9, 8))  # a move to where it is would be none
    with qtbot.waitSignal(
        bolted.bench.spot_hovered
    ):  # at rest, where the window has nothing to say of the part
        qtbot.mouseMove(bolted.bench.interactor, pixel(bolted, 0, 0))
    drawing = bolted.bench._overlay.drawing
    assert drawing.lit == pytest.approx(tuple(bolted.bench.eye.pixels(np.array([[0, 0, 12.9]]))[0][:2]))
    assert drawing.hint is not None
    assert drawing.hint[0] == "the bolt"
    qtbot.mouseMove(bolted.bench.interactor, pixel(bolted, 8, -7))
    qtbot.waitUntil(lambda: bolted.bench._overlay.drawing.lit is None)
    assert bolted.bench._overlay.drawing.hint is None


def test_a_drag_moves_the_feature_with_drafts_and_is_one_step(
    bolted: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    bench, before = bolted.bench, len(clients[0].jobs)
    qtbot.mousePress(bench.interactor, Qt.MouseButton.LeftButton, pos=pixel(bolted, 0, 0))
    for share in (0.25, 0.5, 0.75, 1.0):
        qtbot.mouseMove(bench.interactor, pixel(bolted, 9 * share, -4 * share))
        qtbot.wait(20)
    assert bench._overlay.drawing.lit is not None
    qualities = {j.quality for j in clients[0].jobs[before:] if isinstance(j, Build)}
    assert qualities == {"draft"}
    qtbot.mouseRelease(bench.interactor, Qt.MouseButton.LeftButton, pos=pixel(bolted, 9, -4))
    assert (bolt(bolted).x_mm, bolt(bolted).y_mm) == pytest.approx((9.0, -4.0), abs=0.2)
    assert bolted.actions_table.by_id["undo"].text() == "&Undo move Bolt"
    settle(bolted, qtbot)
    assert [j.quality for j in clients[0].jobs if isinstance(j, Build)][-1] == "final"
    bolted.desk.undo()
    assert (bolt(bolted).x_mm, bolt(bolted).y_mm) == (0.0, 0.0)
    assert bolted.desk.undo_label == "Add bolt"


def test_escape_gives_the_knob_back(bolted: MainWindow, qtbot: QtBot) -> None:
    bench = bolted.bench
    qtbot.mousePress(bench.interactor, Qt.MouseButton.LeftButton, pos=pixel(bolted, 0, 0))
    qtbot.mouseMove(bench.interactor, pixel(bolted, 9, -4))
    assert bolt(bolted).x_mm != 0.0
    qtbot.keyClick(bench.interactor, Qt.Key.Key_Escape)
    assert (bolt(bolted).x_mm, bolt(bolted).y_mm) == (0.0, 0.0)
    assert bolted.desk.undo_label == "Add bolt"
    qtbot.mouseRelease(bench.interactor, Qt.MouseButton.LeftButton, pos=pixel(bolted, 9, -4))
    assert bolt(bolted).x_mm == 0.0


def test_beside_a_knob_the_view_turns(bolted: MainWindow, qtbot: QtBot) -> None:
    bench = bolted.bench
    start = pixel(bolted, -12, 6)
    azimuth = bench.eye.view.azimuth_deg
    qtbot.mousePress(bench.interactor, Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(bench.interactor, start + QPoint(40, 0))
    qtbot.mouseRelease(bench.interactor, Qt.MouseButton.LeftButton, pos=start + QPoint(40, 0))
    assert bench.eye.view.azimuth_deg != azimuth
    assert bolt(bolted) == Bolt(name="Bolt")


def test_a_limit_ends_the_way_and_is_told(bolted: MainWindow, qtbot: QtBot) -> None:
    bench = bolted.bench
    bolted.bench.fit_view()
    qtbot.mousePress(bench.interactor, Qt.MouseButton.LeftButton, pos=pixel(bolted, 0, 0))
    qtbot.mouseMove(bench.interactor, pixel(bolted, 20, 0))
    qtbot.mouseMove(bench.interactor, pixel(bolted, 34, 0))
    qtbot.mouseRelease(bench.interactor, Qt.MouseButton.LeftButton, pos=pixel(bolted, 34, 0))
    assert bolt(bolted).x_mm == pytest.approx(20.0, abs=0.2)
    assert "between -30 and 30 mm" in bolted.notice.words


def test_mirrored_and_repeated_with_the_mouse(bolted: MainWindow, qtbot: QtBot) -> None:
    station = bolted.card.stations["Joints"]
    assert isinstance(station, FeatureStation)

    def places() -> list[float]:
        assert bolted.desk.spec is not None
        return [f.x_mm for f in bolted.desk.spec.features if isinstance(f, Bolt)]

    entry = station.list.entries["Bolt"]
    qtbot.mouseClick(entry.more, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(entry.copies.mirror_x, Qt.MouseButton.LeftButton)
    assert "in the middle" in bolted.notice.words
    assert places() == [0.0]
    type_into(qtbot, entry.controls["x_mm"].number, "5")
    qtbot.mouseClick(entry.copies.mirror_x, Qt.MouseButton.LeftButton)
    assert places() == [5.0, -5.0]
    type_into(qtbot, entry.copies.count, "2")
    type_into(qtbot, entry.copies.step, "4")
    qtbot.mouseClick(entry.copies.repeat, Qt.MouseButton.LeftButton)
    assert places() == [5.0, -5.0, 9.0, 13.0]
    assert list(station.list.entries) == ["Bolt", "Bolt 2", "Bolt 3", "Bolt 4"]
    bolted.desk.undo()
    assert places() == [5.0, -5.0]
