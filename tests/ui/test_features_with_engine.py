"""Zones and features with the real worker: from a bare part to screws, a wireway by click, the gaps seen."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from housingdesk.ui.entries.featurelist import FeatureStation
from housingdesk.ui.window import MainWindow
from tests.ui.inline import write_motor
from tests.ui.test_with_engine import PATIENCE_MS, wait_final, window

pytestmark = pytest.mark.window
__all__ = ["window"]  # a fixture


@pytest.fixture
def motor_file(tmp_path: Path) -> Path:
    """A 40 x 24 x 14 mm block with a shaft of 6 mm that stands 10 mm out of the middle of its right face."""
    return write_motor(tmp_path, (40, 24, 14))


def stations(window: MainWindow, title: str) -> FeatureStation:
    window.card.open_station(title)
    found = window.card.stations[title]
    assert isinstance(found, FeatureStation)
    return found


def test_from_the_bare_part_to_a_housing_that_is_screwed_together(
    window: MainWindow, motor_file: Path, qtbot: QtBot
) -> None:
    desk, bench = window.desk, window.bench
    window.open_path(motor_file)
    qtbot.waitUntil(lambda: desk.proof is not None, timeout=PATIENCE_MS)
    assert desk.spec is not None

    # What the program sees by itself: the shaft, a plane through its axis, its way out on the right.
    (shaft,) = desk.spec.fit.zones
    assert (shaft.name, shaft.purpose) == ("shaft", "turning")
    assert desk.spec.parting.height_mm == pytest.approx(7.0, abs=0.02)
    assert desk.proof is not None
    (way_out,) = desk.proof.passages
    assert way_out.axis == pytest.approx((1.0, 0.0, 0.0), abs=1e-3)
    assert way_out.diameter_mm == pytest.approx(6.0 + 2 * 0.5, abs=0.02)
    assert {z.name for z in desk.proof.zones} == {"body", "shaft"}
    found = desk.patches_of("motor")
    assert found is not None
    assert {p.kind for p in found.patches} == {"flat", "cylinder"}

    # Screws where the program puts them.
    joints = stations(window, "Joints")
    qtbot.mouseClick(joints.list.adds["screws"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: bool(desk.spec and desk.spec.features), timeout=PATIENCE_MS)
    wait_final(window, qtbot)
    assert desk.result is not None
    facts = desk.result.features["Screws"]
    assert len(facts.fasteners) == len(facts.handles) == desk.spec.features[0].count == 4  # type: ignore[attr-defined]
    assert sum(line.count for line in desk.result.bill if "screw" in line.what) == 4
    assert not [f for f in desk.result.said.get("Screws", ()) if f.severity == "fail"]

    # A wireway where the back is clicked.
    openings = stations(window, "Openings")
    qtbot.mouseClick(openings.list.places["wireway"], Qt.MouseButton.LeftButton)
    bench.view_from("back")
    qtbot.waitUntil(lambda: abs(bench.eye.view.azimuth_deg) == 90 and bench.eye.view.elevation_deg == 0)
    back = float(desk.result.outer_mm[1, 1])
    at = bench.eye.pixels(np.array([[-4.0, back, 3.0]]))[0]
    qtbot.mouseClick(bench.interactor, Qt.MouseButton.LeftButton, pos=QPoint(round(at[0]), round(at[1])))
    qtbot.waitUntil(lambda: len(desk.spec.features if desk.spec else ()) == 2, timeout=PATIENCE_MS)
    wireway = desk.spec.features[1]
    assert (wireway.kind, wireway.side) == ("wireway", "back")  # type: ignore[attr-defined]  # of that kind
    wait_final(window, qtbot)

    # The gaps, measured on these halves: never less than asked but for a hundredth.
    qtbot.keyClick(bench.interactor, Qt.Key.Key_M)
    qtbot.waitUntil(lambda: desk.gaps is not None, timeout=PATIENCE_MS)
    assert desk.gaps is not None
    assert float(desk.gaps.distance_mm.min()) >= 0.5 - 0.01
    assert bench.stage.scene.legend is not None
    assert bench.stage.scene.legend.short_colour == ""
