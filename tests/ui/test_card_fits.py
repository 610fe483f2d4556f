"""The job card is never wider than its pane, whatever stands on it."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest
from PySide6.QtCore import QPoint, QSize
from PySide6.QtWidgets import QLabel, QWidget
from pytestqt.qtbot import QtBot

from housingdesk.build.results import PlaneProposal
from housingdesk.features import registry
from housingdesk.finding import Finding
from housingdesk.spec.edits import rename, rename_housing, set_wall
from housingdesk.spec.edits_features import add_feature
from housingdesk.ui import window as window_module
from housingdesk.ui.desk import Desk
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.card import JobCard
from housingdesk.ui.jobcard.parting import PartingStation
from housingdesk.ui.planes import compared
from housingdesk.ui.themes import Themes
from housingdesk.ui.window import MainWindow
from tests.ui.inline import InlineClient

pytestmark = pytest.mark.window
LONG_NAME = "gearmotor_with_encoder_and_a_bracket_" * 2
LONG = "The widest of all the places where the part is held lies too near to the wall beside it. " * 2


SMALL_SCREEN = SimpleNamespace(availableSize=lambda: QSize(1280, 720))


@pytest.fixture
def crowded(
    open_desk: Desk,
    clients: list[InlineClient],
    themes: Themes,
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
) -> MainWindow:
    """A small window with every kind of feature, long names and long complaints."""
    monkeypatch.setattr(window_module.MainWindow, "screen", lambda _: SMALL_SCREEN)
    made = MainWindow(open_desk, themes)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    for feature in filter(None, map(registry.plain, registry.kinds().values())):
        open_desk.apply(add_feature(feature))
        clients[0].said[feature.name] = (Finding("x", "fail", LONG), Finding("y", "caution", LONG_NAME))
    open_desk.apply(rename_housing(LONG_NAME))
    open_desk.apply(rename("block", LONG_NAME))
    open_desk.set_export_folder(Path("/home/somebody") / LONG_NAME)
    open_desk.ask_proposals()
    qtbot.waitUntil(lambda: not open_desk.stale and bool(open_desk.proposals))
    monkeypatch.setattr("housingdesk.ui.errands.ask_save", lambda *_: "drop")
    return made


def test_the_window_is_no_larger_than_its_screen(crowded: MainWindow) -> None:
    assert crowded.width() <= 1280
    assert crowded.height() <= 720


def test_no_station_is_wider_than_the_card(crowded: MainWindow, qtbot: QtBot) -> None:
    pane = crowded.card._scroller.viewport()
    for title in crowded.card.stations:
        crowded.card.open_station(title)
        qtbot.wait(30)
        seen = [w for w in crowded.card.stations[title].findChildren(QWidget) if w.isVisible()]
        assert seen
        wide = [w for w in seen if w.mapTo(pane, QPoint(w.width(), 0)).x() > pane.width()]
        assert not wide, (title, [(w, w.parent()) for w in wide[:4]])


def test_nothing_is_squeezed_when_results_come(
    crowded: MainWindow, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    """Looked at right after the views were told, before anything is drawn."""
    squeezed: list[QWidget] = []

    def look() -> None:
        lines: list[QWidget] = [w for w in crowded.card.findChildren(QLabel) if w.wordWrap()]
        lines += crowded.card.findChildren(Sentence)
        seen = [w for w in lines if w.isVisible()]
        assert seen
        squeezed.extend(w for w in seen if w.height() < w.heightForWidth(w.width()))

    for title in crowded.card.stations:
        crowded.card.open_station(title)
        qtbot.wait(30)
        open_desk.changed.connect(look)
        for name in clients[0].said:
            clients[0].said[name] = (Finding("x", "fail", LONG + title),)
        open_desk.apply(set_wall(2.0 + 0.1 * len(title)))
        qtbot.waitUntil(lambda: not open_desk.stale)
        open_desk.changed.disconnect(look)
    assert squeezed == []


def test_suggestions_wrap_and_say_how_they_compare(crowded: MainWindow, qtbot: QtBot) -> None:
    parting = crowded.card.stations["Parting"]
    assert isinstance(parting, PartingStation)
    crowded.card.open_station("Parting")
    qtbot.wait(30)
    assert len(parting.proposal_buttons) == 3
    assert parting.proposal_buttons[0].why.text().startswith("The best of these. Nothing has to be cut")
    parting.proposal_buttons[0].show_misfits(LONG)
    qtbot.wait(30)

    def all_fit() -> None:  # Qt lays out one widget around another at a time
        for made in parting.proposal_buttons:
            for label in (w for w in made.findChildren(QLabel) if w.isVisible()):
                assert label.height() >= label.heightForWidth(label.width())
                assert made.rect().contains(label.geometry())

    qtbot.waitUntil(all_fit)


def test_what_is_said_of_all_planes_alike_is_left_out() -> None:
    def plane(relief: float, reason: str, *notes: str) -> PlaneProposal:
        return PlaneProposal("+z", 5.0, relief, 100.0, reason, ("0.4 cm³ have to be cut away.", *notes))

    walls = "Both halves have walls to hold the part, {} mm of it or more."
    shaft = "A shaft does not lie in the plane."
    first, second, third = compared(
        [
            plane(36.0, "On the axis of the shaft.", walls.format("4.0")),
            plane(420.0, "Through the middle of the part.", walls.format("5.2"), shaft),
            plane(19.0, "Least material has to be cut away.", walls.format("3.1"), shaft),
        ]
    )
    assert first == (
        "The best of these. 36 mm³ have to be cut for the part to go in, elsewhere only 19 mm³. "
        "On the axis of the shaft."
    )
    assert second == (
        "420 mm³ have to be cut for the part to go in, elsewhere only 19 mm³. "
        "Through the middle of the part. A shaft does not lie in the plane."
    )
    assert third == ("Least has to be cut for the part to go in: 19 mm³. A shaft does not lie in the plane.")
    assert compared([plane(0.0, "Through the middle of the part.")]) == (
        "Nothing has to be cut for the part to go in. Through the middle of the part.",
    )


def test_an_opened_station_shows_its_heading_first(qtbot: QtBot, open_desk: Desk) -> None:
    card = JobCard(open_desk)
    qtbot.addWidget(card)
    card.resize(card.width(), 420)
    card.show()
    qtbot.waitExposed(card)
    card.refresh()
    bar = card._scroller.verticalScrollBar()
    for title in ("Shell", "Fit", "Shell", "Print", "Part"):
        qtbot.wait(50)
        bar.setValue(bar.maximum())
        card.open_station(title)
        qtbot.wait(50)
        row = next(r for r in card.rows if r.station.title == title)
        top = row.mapTo(card._scroller.viewport(), QPoint(0, 0)).y()
        assert 0 <= top < card._scroller.viewport().height()
        if row.height() <= card._scroller.viewport().height():
            assert top + row.height() <= card._scroller.viewport().height()
