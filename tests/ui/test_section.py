"""The section strip as a widget: pointer, wheel, cutting line."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QCursor, QFontMetricsF
from pytestqt.qtbot import QtBot

from housingdesk.build.results import Plan, Section
from housingdesk.ui.desk import Desk
from housingdesk.ui.sectioncanvas import SectionCanvas, bar_length_mm
from housingdesk.ui.sectionstrip import SectionStrip
from housingdesk.view3d.cutting import chord
from housingdesk.view3d.palette import LIGHT
from tests.ui.inline import InlineClient
from tests.ui.test_gauge import boxed_section, two_zones


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
    made.setGeometry(100, 100, 900, 260)
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
    assert strip.angle_deg == pytest.approx(-45.0)
    assert np.array(strip.cut.right)[:2] == pytest.approx([np.sqrt(0.5)] * 2)


@pytest.mark.window
def test_turned_across_the_line_dragged_to_the_right_is_further_on(qtbot: QtBot, strip: SectionStrip) -> None:
    plan = strip.plan
    strip.set_cut(90.0, 0.0)
    middle = QPoint(plan.width() // 2, plan.height() // 2)
    qtbot.mousePress(plan, Qt.MouseButton.LeftButton, pos=middle)
    qtbot.mouseMove(plan, middle + QPoint(10, 0))
    qtbot.mouseRelease(plan, Qt.MouseButton.LeftButton, pos=middle + QPoint(10, 0))
    assert strip.offset_mm > 0
    assert strip.cut.origin_mm[0] == pytest.approx(strip.offset_mm)


@pytest.mark.window
def test_turning_past_across_keeps_the_line_where_it_is(qtbot: QtBot, strip: SectionStrip) -> None:
    plan = strip.plan
    strip.set_cut(85.0, 4.0)
    _, knob = plan.ends()
    middle = QPointF(plan.width() / 2, plan.height() / 2)
    qtbot.mousePress(plan, Qt.MouseButton.LeftButton, pos=knob.toPoint())
    for angle in (95.0, 105.0):  # clockwise from the right
        way = np.radians(angle)
        qtbot.mouseMove(plan, (middle + 40 * QPointF(np.cos(way), np.sin(way))).toPoint())
        assert strip.angle_deg == pytest.approx(angle - 180.0)
        assert strip.offset_mm == pytest.approx(-4.0)
        assert strip.cut.origin_mm[0] > 3.5
    qtbot.mouseRelease(plan, Qt.MouseButton.LeftButton, pos=knob.toPoint())


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


@pytest.mark.window
def test_old_outlines_carry_no_figures(
    qtbot: QtBot, strip: SectionStrip, open_desk: Desk, clients: list[InlineClient]
) -> None:
    QCursor.setPos(strip.mapToGlobal(QPoint(-20, -20)))  # away from the drawing, which measures under it
    strip.cut_moved.connect(lambda: open_desk.set_cut(strip.cut))
    strip.set_cut(0.0, 0.0)
    canvas = strip.canvas

    def shown(*, stale: bool = False) -> None:
        strip.show_result(open_desk.result, stale=stale)

    qtbot.waitUntil(lambda: open_desk.result is not None and open_desk.result.section is not None)
    shown()
    qtbot.waitUntil(lambda: canvas.dimension is not None)  # the least gap, looked for when it rests
    assert canvas.dimension is not None
    assert canvas.dimension.length_mm == pytest.approx(0.5)
    moved = replace(open_desk.result, outer_mm=open_desk.result.outer_mm + 1.0)  # type: ignore[union-attr,type-var]
    strip.show_result(moved, stale=False)  # a wall that grew moves the middle, and the cut with it
    assert strip.cut.origin_mm[1] == pytest.approx(1.0)
    assert canvas.dimension is None
    shown()
    qtbot.waitUntil(lambda: open_desk.result.section.plane == strip.cut)  # type: ignore[union-attr]  # it is there
    shown()
    qtbot.waitUntil(lambda: canvas.dimension is not None)
    shown(stale=True)
    assert canvas.dimension is None
    shown()
    assert canvas.dimension is not None
    clients[0].held = True
    qtbot.keyClick(strip.plan, Qt.Key.Key_Up)  # the cut is elsewhere, and what is drawn is not
    assert canvas.dimension is None
    shown()
    assert canvas.dimension is None
    clients[0].release()
    qtbot.waitUntil(lambda: open_desk.result.section.plane == strip.cut)  # type: ignore[union-attr]  # it is there
    shown()
    qtbot.waitUntil(lambda: canvas.dimension is not None)


@pytest.mark.window
def test_a_figure_under_the_pointer_goes_with_its_outlines(qtbot: QtBot, strip: SectionStrip) -> None:
    section, canvas = boxed_section(gap=1.0, wall=2.4), strip.canvas
    canvas.show_section(section)
    qtbot.mouseMove(canvas, canvas.to_screen((10.0, -0.5)).toPoint())
    qtbot.waitUntil(lambda: "gap here 1.00 mm" in strip.words)
    canvas.show_section(section, stale=True)
    assert strip.words == ""
    canvas.show_section(section)
    assert "gap here 1.00 mm" in strip.words


@pytest.mark.window
def test_the_plan_shows_a_round_housing_round(qtbot: QtBot, strip: SectionStrip, open_desk: Desk) -> None:
    result = open_desk.result
    assert result is not None
    turn = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    rim = 26.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    outer = np.array([[-26.0, -26, -2.9], [26, 26, 13]])
    strip.show_result(replace(result, plan=Plan((rim,), ()), outer_mm=outer), stale=False)
    box = strip.plan.housing_mm.boundingRect()
    assert (box.width(), box.height()) == pytest.approx((52.0, 52.0), abs=0.05)
    assert strip.plan.housing_mm.contains(QPointF(18.0, 18.0))
    assert not strip.plan.housing_mm.contains(QPointF(20.0, 20.0))  # and no box around it
    drawn, scale = strip.plan.grab().toImage(), strip.plan._scale()  # one area, without lines within
    for x in (-15.0, 0.0, 15.0):
        at = strip.plan.rect().center() + QPoint(round(x * scale), -round(17.0 * scale))
        assert drawn.pixelColor(at).name() == QColor(LIGHT.paper).name()


@pytest.mark.window
def test_the_plan_shows_all_of_a_shaft_that_stands_out(strip: SectionStrip, open_desk: Desk) -> None:
    result = open_desk.result
    assert result is not None
    form = np.array([[-20.0, -10], [20, -10], [20, 10], [-20, 10]])
    shaft = np.array([[-2.0, -45], [2, -45], [2, 10], [-2, 10]])
    strip.show_result(replace(result, plan=Plan((form,), (shaft,))), stale=False)
    end = strip.plan._screen(0.0, -45.0)
    assert strip.plan.rect().contains(end.toPoint())


@pytest.mark.window
def test_the_figure_leaves_what_it_points_at_in_sight(qtbot: QtBot) -> None:
    canvas = SectionCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(600, 200)
    canvas.show_section(boxed_section(gap=1.0, wall=2.4))
    transform = canvas._map()
    assert transform is not None
    for gap in ((3.0, -1.0), (10.0, -1.0), (19.9, -1.0)):
        start, end = canvas.to_screen(gap), canvas.to_screen((gap[0], 0.0))
        left, top, wide, high = canvas._tag_box(transform, start, end, (110.0, 24.0))
        tag = QRectF(left, top, wide, high)
        assert QRectF(canvas.rect()).contains(tag)
        assert not tag.intersects(QRectF(start, end).normalized().adjusted(-9, -9, 9, 9))


@pytest.mark.window
def test_the_cut_goes_through_a_place_that_is_shown_and_marks_it(
    strip: SectionStrip, open_desk: Desk, qtbot: QtBot
) -> None:
    strip.cut_moved.connect(lambda: open_desk.set_cut(strip.cut))
    place = (7.0, 4.0, 3.0)
    strip.cut_through(place)
    assert (strip.angle_deg, strip.offset_mm) == (0.0, 4.0)
    qtbot.waitUntil(lambda: open_desk.result is not None and open_desk.result.section is not None)
    strip.show_result(open_desk.result, stale=False)
    strip.canvas.show_place(place)
    assert strip.canvas.mark == pytest.approx((7.0, 3.0))
    strip.canvas.show_place((7.0, 4.5, 3.0))  # beside the cut
    assert strip.canvas.mark is None
    strip.cut_through((0.0, 900.0, 0.0))
    assert strip.offset_mm < 20.0  # no farther than the housing


@pytest.mark.window
def test_zones_are_dimensioned_side_by_side_and_in_little_room_the_least_wins(qtbot: QtBot) -> None:
    canvas = SectionCanvas()
    qtbot.addWidget(canvas)
    canvas.show_section(two_zones(0.5))
    canvas._find_least()
    for size, seen in (((700, 240), ["shaft 0.50", "body 1.00"]), ((90, 60), ["shaft 0.50"])):
        canvas.resize(*size)
        transform = canvas._map()
        assert transform is not None
        tags = canvas.tags(transform, QFontMetricsF(canvas.font()))
        assert [t[0] for t in tags] == seen
        boxes = [QRectF(*t[3]) for t in tags]
        assert not any(a.intersects(b) for i, a in enumerate(boxes) for b in boxes[:i])
        canvas.grab()


def bare_canvas(qtbot: QtBot) -> SectionCanvas:
    canvas = SectionCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(600, 300)
    canvas.show()
    return canvas


@pytest.mark.window
def test_a_section_on_the_way_that_cuts_nothing_leaves_the_last_one_pale(qtbot: QtBot) -> None:
    canvas, last = bare_canvas(qtbot), boxed_section()
    empty = replace(last, parts=(), bought=(), halves={"lower": (), "upper": ()})
    inside = canvas_colour(canvas, last, stale=False)
    canvas.show_section(empty, elsewhere=True)
    assert canvas.section is last
    canvas.mark_elsewhere(True)
    assert canvas.grab().toImage().pixelColor(*inside[0]) != inside[1]  # pale
    canvas.show_section(empty)
    assert canvas.section is empty  # there it is wanted: nothing is cut, and that is said
    canvas.show_section(last)
    assert canvas.grab().toImage().pixelColor(*inside[0]) == inside[1]


def canvas_colour(canvas: SectionCanvas, section: Section, *, stale: bool) -> tuple[tuple[int, int], QColor]:
    """Show a section; where its part is drawn, and in which colour."""
    canvas.show_section(section, stale=stale)
    at = canvas.to_screen((10.0, 3.0)).toPoint().toTuple()
    return at, canvas.grab().toImage().pixelColor(*at)


@pytest.mark.window
def test_a_gap_out_of_the_picture_has_no_words_and_the_scale_has_a_ground(qtbot: QtBot) -> None:
    canvas = bare_canvas(qtbot)
    canvas.show_section(boxed_section(gap=1.0, wall=2.4))
    canvas._find_least()
    least, transform = canvas.dimension, canvas._map()
    assert least is not None and transform is not None
    assert canvas._is_seen(transform, least)
    canvas._shift = QPointF(0.0, 2000.0)
    moved = canvas._map()
    assert moved is not None
    assert not canvas._is_seen(moved, least)
    canvas._shift = QPointF()
    canvas._zoom_at(QPointF(300, 150), 12.0)
    assert canvas.grab().toImage().pixelColor(12, canvas.height() - 20) == QColor(LIGHT.card)
