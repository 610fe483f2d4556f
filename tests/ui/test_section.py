"""The section strip as a widget: pointer, wheel, cutting line."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from housingdesk.ui.sectioncanvas import SectionCanvas, bar_length_mm
from housingdesk.ui.sectionstrip import SectionStrip
from housingdesk.view3d.cutting import chord
from tests.ui.inline import InlineClient
from tests.ui.test_gauge import boxed_section


@pytest.mark.parametrize(("scale", "bar"), [(1.0, 50.0), (9.0, 10.0), (4.6, 10.0), (4.4, 20.0), (100.0, 0.5)])
def test_the_scale_bar_is_a_round_length_that_fits(scale: float, bar: float) -> None:
    assert bar_length_mm(scale) == pytest.approx(bar)
    assert bar * scale <= 90


@pytest.mark.parametrize(
    ("angle", "offset", "ends"),
    [
        (0, 0, (-20, 20)),
        (90, 0, (-10, 10)),
        (0, 9, (-20, 20)),
        (45, 0, (-10 * np.sqrt(2), 10 * np.sqrt(2))),
        (180, 3, (-20, 20)),
    ],
)
def test_the_cutting_line_ends_at_the_housing(angle: float, offset: float, ends: tuple[float, float]) -> None:
    assert chord(angle, offset, (20.0, 10.0)) == pytest.approx(ends)


@pytest.mark.window
def test_the_pointer_reads_gap_and_wall(qtbot: QtBot) -> None:
    canvas = SectionCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(600, 300)
    canvas.show_section(boxed_section(gap=1.0, wall=2.4))
    canvas.show()
    qtbot.waitExposed(canvas)
    for point, kind, length in (((10.0, -0.5), "gap", 1.0), ((10.0, -2.2), "wall", 2.4)):
        qtbot.mouseMove(canvas, canvas.to_screen(point).toPoint())
        qtbot.waitUntil(lambda k=kind: canvas.dimension is not None and canvas.dimension.kind == k)
        assert canvas.dimension is not None
        assert canvas.dimension.length_mm == pytest.approx(length, abs=1e-9)


@pytest.mark.window
def test_coming_closer_keeps_the_point_under_the_pointer(qtbot: QtBot) -> None:
    canvas = SectionCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(600, 300)
    canvas.show_section(boxed_section())
    before = canvas.to_screen((3.0, 2.0))
    canvas._zoom_at(before, 2.0)
    after = canvas.to_screen((3.0, 2.0))
    assert (after.x(), after.y()) == pytest.approx((before.x(), before.y()), abs=1e-6)
    qtbot.mouseDClick(canvas, Qt.MouseButton.LeftButton, pos=QPoint(300, 150))
    assert canvas.to_screen((3.0, 2.0)).x() == pytest.approx(before.x(), abs=1e-6)


@pytest.fixture
def strip(qtbot: QtBot, open_desk: object) -> SectionStrip:
    made = SectionStrip()
    qtbot.addWidget(made)
    made.resize(900, 260)
    made.show_result(open_desk.result, stale=False)  # type: ignore[attr-defined]  # a Desk
    made.show()
    qtbot.waitExposed(made)
    return made


@pytest.mark.window
def test_the_line_is_dragged_to_shift_and_its_knob_to_turn(qtbot: QtBot, strip: SectionStrip) -> None:
    plan = strip.plan
    middle = QPoint(plan.width() // 2, plan.height() // 2)
    qtbot.mousePress(plan, Qt.MouseButton.LeftButton, pos=middle)
    qtbot.mouseMove(plan, middle - QPoint(0, 10))
    qtbot.mouseRelease(plan, Qt.MouseButton.LeftButton, pos=middle - QPoint(0, 10))
    assert strip.angle_deg == 0.0
    assert strip.offset_mm > 0  # upward on the plan is +Y, the normal at angle 0
    assert strip.cut.origin_mm[1] == pytest.approx(strip.offset_mm)
    _, knob = plan.ends()
    qtbot.mousePress(plan, Qt.MouseButton.LeftButton, pos=knob.toPoint())
    qtbot.mouseMove(plan, middle + QPoint(40, -40))
    qtbot.mouseRelease(plan, Qt.MouseButton.LeftButton, pos=middle + QPoint(40, -40))
    assert strip.angle_deg == pytest.approx(45.0)
    assert np.array(strip.cut.right)[:2] == pytest.approx([np.sqrt(0.5)] * 2)


@pytest.mark.window
def test_the_cut_cannot_leave_the_housing(qtbot: QtBot, strip: SectionStrip) -> None:
    plan = strip.plan
    middle = QPoint(plan.width() // 2, plan.height() // 2)
    qtbot.mousePress(plan, Qt.MouseButton.LeftButton, pos=middle)
    qtbot.mouseMove(plan, middle - QPoint(0, 500))
    qtbot.mouseRelease(plan, Qt.MouseButton.LeftButton, pos=middle - QPoint(0, 500))
    # 20 mm deep block, 0.5 mm clearance, 2.4 mm wall: half the depth is 12.9 mm.
    assert 12.5 < strip.offset_mm < 12.9


@pytest.mark.window
def test_keys_move_and_turn_the_cut(qtbot: QtBot, strip: SectionStrip) -> None:
    with qtbot.waitSignal(strip.cut_moved):
        qtbot.keyClick(strip.plan, Qt.Key.Key_Up)
    assert strip.offset_mm == pytest.approx(0.5)
    qtbot.keyClick(strip.plan, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert strip.angle_deg == pytest.approx(5.0)


@pytest.mark.window
def test_moving_the_cut_asks_for_a_section_there(
    qtbot: QtBot, open_desk: object, strip: SectionStrip, clients: list[InlineClient]
) -> None:
    open_desk.set_cut(strip.cut)  # type: ignore[attr-defined]  # a Desk
    last = clients[0].jobs[-1]
    assert last.section == strip.cut  # type: ignore[union-attr]  # a Build
    assert last.quality == "final"  # type: ignore[union-attr]  # the halves shown are final, and stay so
