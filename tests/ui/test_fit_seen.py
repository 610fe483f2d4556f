"""The fit seen in the window: gaps, what is cut for going in, the odds, and what the printer needs."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
import trimesh
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from housingdesk.build.results import FeatureFacts
from housingdesk.features.records import BillLine
from housingdesk.jobs.messages import FindRelief, MapClearance
from housingdesk.proof.facts import ZoneOdds
from housingdesk.spec.edits import changed
from housingdesk.spec.edits_shell import change_printer
from housingdesk.spec.models import PrinterSpec
from housingdesk.ui.jobcard.fit import FitStation, chance_words
from housingdesk.ui.jobcard.parting import PartingStation
from housingdesk.ui.jobcard.printing import PrintStation
from housingdesk.ui.window import MainWindow
from housingdesk.view3d.legend import STOPS, Legend, gap_legend, gap_paint
from housingdesk.view3d.palette import LIGHT, channels
from housingdesk.view3d.scene import Spot
from tests.ui.inline import InlineClient, as_mesh
from tests.ui.test_window import settle, station, type_into, window, working

pytestmark = pytest.mark.window
__all__ = ["window", "working"]  # fixtures


@pytest.fixture
def gaps(working: MainWindow, qtbot: QtBot) -> Iterator[MainWindow]:
    """The window with the map on, by its switch."""
    switch = working.bench_row.gaps_on
    qtbot.mouseClick(switch, Qt.MouseButton.LeftButton, pos=QPoint(6, switch.height() // 2))
    qtbot.waitUntil(lambda: working.bench.stage.scene.legend is not None)
    yield working


def rgb(colour: str) -> list[int]:
    return [round(255 * c) for c in channels(colour)]


def test_the_part_alone_is_coloured_by_its_gap(gaps: MainWindow) -> None:
    scene = gaps.bench.stage.scene
    assert [item.name for item in scene.items] == ["gaps"]
    paint = scene.items[0].paint
    assert paint is not None
    # A box in a box: 0.5 mm all round, and the scale ends at twice the asked.
    assert scene.legend is not None
    assert (scene.legend.most_mm, scene.legend.asked_mm) == (1.0, (0.5,))
    middle = [(a + b) / 2 for a, b in zip(rgb(STOPS[4]), rgb(STOPS[5]), strict=True)]
    assert np.abs(paint.rgb.astype(float) - middle).max() <= 1.0
    assert scene.legend.short_colour == ""
    assert gaps.actions_table.by_id["gaps"].isChecked()


def test_the_gap_under_the_pointer_is_said(gaps: MainWindow) -> None:
    gaps.bench.spot_hovered.emit(Spot("gaps", (0.0, 0.0, 10.0), (0.0, 0.0, 1.0), 0))
    assert gaps.bench._overlay.drawing.hint is not None
    assert gaps.bench._overlay.drawing.hint[0] == "gap 0.50 mm"


def test_the_map_follows_the_halves_and_is_measured_only_while_looked_at(
    gaps: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    def asked() -> int:
        return sum(isinstance(job, MapClearance) for job in clients[0].jobs)

    assert asked() == 1
    fit = station(gaps, "Fit")
    assert isinstance(fit, FitStation)
    type_into(qtbot, fit.clearance, "0.8")
    settle(gaps, qtbot)
    qtbot.waitUntil(lambda: gaps.bench.stage.scene.legend is not None)
    assert gaps.bench.stage.scene.legend is not None
    assert gaps.bench.stage.scene.legend.asked_mm == (0.8,)
    assert asked() == 2
    qtbot.keyClick(gaps.bench.interactor, Qt.Key.Key_M)
    assert gaps.bench.stage.scene.legend is None
    assert {"lower", "upper", "part-0"} <= {i.name for i in gaps.bench.stage.scene.items}
    type_into(qtbot, fit.clearance, "0.9")
    settle(gaps, qtbot)
    assert asked() == 2


def test_the_cavity_shows_the_gaps_where_that_is_chosen(
    gaps: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    where = gaps.bench_row.gaps_where
    assert (where.isVisible(), where.currentText()) == (True, "on the part")
    (part,) = gaps.bench.stage.scene.items
    where.setFocus()
    qtbot.keyClick(where, Qt.Key.Key_Down)
    qtbot.waitUntil(lambda: gaps.desk.gaps is not None and gaps.bench.stage.scene.items[0] is not part)
    (cavity,) = gaps.bench.stage.scene.items
    # Half a millimetre beyond the part on all sides, by the box's own corners.
    assert cavity.mesh.bounds == pytest.approx(part.mesh.bounds + np.array([[-0.5], [0.5]]))
    assert [j.on for j in clients[0].jobs if isinstance(j, MapClearance)] == ["part", "cavity"]
    qtbot.keyClick(where, Qt.Key.Key_Up)  # that one is known
    assert gaps.bench.stage.scene.items[0].mesh.bounds == pytest.approx(part.mesh.bounds)
    assert len([j for j in clients[0].jobs if isinstance(j, MapClearance)]) == 2
    qtbot.keyClick(gaps.bench.interactor, Qt.Key.Key_M)
    assert not where.isVisible()


def test_a_map_that_cannot_be_made_is_told_and_not_asked_for_again(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    clients[0].refuse[MapClearance] = "The gaps cannot be measured on these halves; move the parting plane."
    qtbot.keyClick(working.bench.interactor, Qt.Key.Key_M)
    qtbot.waitUntil(lambda: "cannot be measured" in working.notice.words)
    assert not working.bench_row.gaps_on.isChecked()
    assert not working.desk.gaps_wanted


def test_what_is_cut_for_going_in_is_tinted(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    clients[0].relief = {"lower": as_mesh(trimesh.creation.box(extents=(4, 4, 4)))}
    parting = station(working, "Parting")
    assert isinstance(parting, PartingStation)
    assert parting.look.text() == "Show what is cut for that"
    qtbot.mouseClick(parting.look, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: any(i.name == "relief-lower" for i in working.bench.stage.scene.items))
    assert parting.look.text() == "Hide what is cut"
    qtbot.mouseClick(parting.look, Qt.MouseButton.LeftButton)
    assert not any(i.name.startswith("relief") for i in working.bench.stage.scene.items)
    assert sum(isinstance(job, FindRelief) for job in clients[0].jobs) == 1


def test_material_in_the_way_is_kept_half_by_half(working: MainWindow, qtbot: QtBot) -> None:
    parting = station(working, "Parting")
    assert isinstance(parting, PartingStation)

    def kept() -> tuple[str, ...]:
        assert working.desk.spec is not None
        return working.desk.spec.fit.keep_material

    for side, wanted in (("upper", ("upper",)), ("lower", ("lower", "upper"))):
        way = parting.ways[side]  # type: ignore[index]  # both are sides
        assert way.key == "cut"
        way.setFocus()
        qtbot.keyClick(way, Qt.Key.Key_Down)
        assert kept() == wanted
    working.desk.undo()
    assert kept() == ("upper",)
    assert parting.ways["lower"].key == "cut"


def test_the_odds_offer_the_gap_that_makes_it_sure(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    def odds(clearance: float, goes_in: float) -> ZoneOdds:
        return ZoneOdds(
            "body", clearance, 1.0, goes_in, 0.9, goes_in, 0.9, 0.001, 1.0, 0.1, 0.2, (), sure_mm=0.6431
        )

    clients[0].odds = (odds(0.6, 0.953),)
    fit = station(working, "Fit")
    assert isinstance(fit, FitStation)
    type_into(qtbot, fit.clearance, "0.6")
    settle(working, qtbot)
    qtbot.waitUntil(fit.sure.isVisible)
    assert fit.chance.text() == (
        "The part goes in with 95.3 % of prints; with 90.0 % its gaps alone let it move no more than 1.00 mm."
    )
    assert fit.sure.text() == "Leave 0.65 mm, so that 99 % go in"  # rounded up, or it would be less than 99
    clients[0].odds = (odds(0.65, 0.991),)
    qtbot.mouseClick(fit.sure, Qt.MouseButton.LeftButton)
    assert working.desk.spec is not None
    assert working.desk.spec.fit.clearance_mm == 0.65
    settle(working, qtbot)
    assert not fit.sure.isVisible()


def test_the_play_that_is_no_rattle_is_typed_and_undone(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    fit = station(working, "Fit")
    assert isinstance(fit, FitStation)
    assert working.desk.spec is not None
    before = working.desk.spec
    assert fit.still.value == 1.0
    type_into(qtbot, fit.still, "0.4")
    assert working.desk.spec == changed(before, play_mm=0.4)
    settle(working, qtbot)
    working.desk.undo()
    assert fit.still.value == 1.0
    odds = ZoneOdds("body", 0.5, 0.4, 0.9999, 0.0, 0.9999, 0.0, 0.0, 1.0, 0.1, 0.2, (), sure_mm=0.3)
    assert chance_words(odds) == (
        "The part goes in with over 99.9 % of prints; with less than 0.1 % its gaps alone let it move no "
        "more than 0.40 mm."
    )


def test_the_printer_is_said_and_its_own_figures_typed(working: MainWindow, qtbot: QtBot) -> None:
    station_print = station(working, "Print")
    assert isinstance(station_print, PrintStation)
    printer = station_print.printer
    assert working.desk.spec is not None
    assert (printer.process.key, printer.material.key) == ("filament", "PLA")
    printer.process.setFocus()
    qtbot.keyClick(printer.process, Qt.Key.Key_Down)
    assert working.desk.spec.printer.process == "resin"
    qtbot.mouseClick(printer.more, Qt.MouseButton.LeftButton)
    holes = printer.off["hole_correction_mm"]
    assert holes.choice.currentText() == "as usual"
    holes.choice.setFocus()
    qtbot.keyClick(holes.choice, Qt.Key.Key_Down)
    type_into(qtbot, holes.number, "0.23")
    assert working.desk.spec.printer.hole_correction_mm == 0.23
    assert working.desk.spec.printer.spread_mm is None
    # With the process the fits change: resin sliding is 0.15 (the program's own, check-values.md section 4).
    fit = station(working, "Fit")
    assert isinstance(fit, FitStation)
    assert [fit.preset.itemText(i) for i in range(5)][3] == "sliding, 0.15"


def test_own_figures_begin_at_the_usual_ones_and_say_their_sign(working: MainWindow, qtbot: QtBot) -> None:
    printing = station(working, "Print")
    assert isinstance(printing, PrintStation)
    printer = printing.printer
    qtbot.mouseClick(printer.more, Qt.MouseButton.LeftButton)
    usual = "holes 0.2 mm too small, outside sizes to size, scatter ± 0.2 mm"
    assert usual in printer.usual.text()

    def known() -> PrinterSpec:
        assert working.desk.spec is not None
        return working.desk.spec.printer

    holes, outsides, scatter = *printer.off.values(), printer.spread
    assert scatter.choice is not None
    for choice in (holes.choice, outsides.choice, scatter.choice):
        choice.setFocus()
        qtbot.keyClick(choice, Qt.Key.Key_Down)
    assert (known().hole_correction_mm, known().outside_correction_mm, known().spread_mm) == (0.2, 0.0, 0.2)
    assert holes.choice.currentText() == outsides.choice.currentText() == "too small by"
    outsides.choice.setFocus()
    qtbot.keyClick(outsides.choice, Qt.Key.Key_Down)  # nothing is neither, but what was chosen stays
    assert outsides.choice.currentText() == "too large by"
    type_into(qtbot, outsides.number, "0.15")
    assert known().outside_correction_mm == -0.15
    working.desk.apply(change_printer(outside_correction_mm=0.1))
    assert (outsides.choice.currentText(), outsides.number.value) == ("too small by", 0.1)


def test_what_has_to_be_bought_is_listed(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    printing = station(working, "Print")
    assert isinstance(printing, PrintStation)
    assert not printing.buy.isVisible()
    four = FeatureFacts(bill=(BillLine(4, "cap screw M3 x 20", "ISO 4762", "closing"),))
    clients[0].made = {"Screws": four, "Screws 2": four, "Gland": FeatureFacts(bill=(BillLine(1, "gland"),))}
    working.desk.undo()
    fit = station(working, "Fit")
    assert isinstance(fit, FitStation)
    type_into(qtbot, fit.clearance, "0.7")
    settle(working, qtbot)
    station(working, "Print")
    assert printing.buy.text() == (
        "To buy, also in parts.csv:\n8 × cap screw M3 x 20, ISO 4762 (closing)\n1 × gland"
    )


def test_clearances_near_each_other_differ_in_colour_and_their_words_have_room() -> None:
    legend = Legend(2.0, (0.0, 0.4, 0.5, 1.0), "", "#FFFFFF")
    at = dict(zip((0.0, 0.4, 0.5, 1.0, 2.0, 7.0), legend.shares((0.0, 0.4, 0.5, 1.0, 2.0, 7.0)), strict=True))
    assert at == {0.0: 0.0, 0.4: 0.25, 0.5: 0.5, 1.0: 0.75, 2.0: 1.0, 7.0: 1.0}
    words = ["0 mm, asked", "0.40 asked", "0.50 asked", "1.00 asked", "2.00 and more"]
    assert legend.words(8) == list(zip((0.0, 0.25, 0.5, 0.75, 1.0), words, strict=True))
    assert [w for _, w in legend.words(2)] == ["0 mm, asked", "0.40 to 0.50 asked", "1.00 asked", words[-1]]


def test_what_the_gaps_leave_no_picture_for_says_so(gaps: MainWindow, qtbot: QtBot) -> None:
    row, actions = gaps.bench_row, gaps.actions_table.by_id
    idle = (row.lift, row.ghost, row.ghost_on, row.lower_on, row.upper_on)
    assert not any(w.isEnabled() for w in idle)
    assert all("Untick Gaps" in w.toolTip() for w in idle)
    assert not any(actions[i].isEnabled() for i in ("ghost", "lower", "upper", "lift", "plane"))
    qtbot.keyClick(gaps.bench.interactor, Qt.Key.Key_M)
    assert all(w.isEnabled() and "Gaps" not in w.toolTip() for w in idle)
    assert actions["lower"].isEnabled()


def test_less_than_asked_has_a_colour_of_its_own() -> None:
    gap, asked = np.array([0.0, 0.5, 0.48, 0.7, np.nan, 3.0]), np.array([0.5, 0.5, 0.5, 1.0, 0.5, 1.0])
    legend = gap_legend(gap, asked, LIGHT)
    assert (legend.most_mm, legend.asked_mm) == (2.0, (0.5, 1.0))
    got = gap_paint(gap, asked, legend, LIGHT).rgb.tolist()
    short, open_air = rgb(legend.short_colour), rgb(legend.open_colour)
    assert [g == short for g in got] == [True, False, True, True, False, False]
    assert got[4] == open_air
    assert got[5] == rgb(STOPS[-1])
    assert got[1] not in (short, open_air)
