"""Results on the job card stay where they are while they are measured anew."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication, QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from housingdesk.geometry.freedom import Play
from housingdesk.jobs.messages import Build
from housingdesk.proof.facts import PlayFacts, ZoneOdds
from housingdesk.ui.desk import Desk
from housingdesk.ui.jobcard.card import JobCard
from housingdesk.ui.jobcard.fit import FitStation
from housingdesk.ui.jobcard.parting import PartingStation
from housingdesk.ui.jobcard.station import ResultNote
from housingdesk.ui.stack import bring_into_view
from tests.ui.inline import InlineClient
from tests.ui.test_window import type_into

pytestmark = pytest.mark.window


@pytest.fixture
def card(open_desk: Desk, clients: list[InlineClient], qtbot: QtBot) -> Iterator[JobCard]:
    """The job card with everything measured that the proof can say."""
    none = (0.0, 0.0)
    found = Play((0.5, 0.52), (0.51, 0.5), (0.5, 3.0), (1.25, 1.31), none, none, none, 3.0, 45.0)
    clients[0].play = PlayFacts("shaft", (15.0, 0.0, 5.0), (1.0, 0.0, 0.0), found, before=found)
    clients[0].odds = (
        ZoneOdds("body", 0.6, 1.0, 0.953, 0.9, 0.953, 0.9, 0.001, 1.0, 0.1, 0.2, (), sure_mm=0.6431),
    )
    made = JobCard(open_desk)
    open_desk.changed.connect(made.refresh)
    qtbot.addWidget(made)
    made.resize(made.width(), 1200)
    made.refresh()
    made.show()
    qtbot.waitExposed(made)
    yield made
    open_desk.changed.disconnect(made.refresh)


@pytest.fixture
def fit(card: JobCard) -> FitStation:
    """The station Fit, open."""
    card.open_station("Fit")
    station = card.stations["Fit"]
    assert isinstance(station, FitStation)
    return station


def laid_out(card: JobCard) -> bool:
    """Whether every wrapped line has the height that it needs."""
    card.grab()
    shown = [w for w in card.findChildren(ResultNote) if w.isVisible()]
    return all(w.height() >= max(w.minimumHeight(), w.heightForWidth(w.width())) for w in shown)


def places(card: JobCard, *widgets: QWidget) -> list[tuple[int, int]]:
    return [(w.mapTo(card, QPoint(0, 0)).y(), w.height()) for w in widgets]


def test_results_of_the_fit_keep_their_places(
    card: JobCard, fit: FitStation, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    type_into(qtbot, fit.clearance, "0.6")
    qtbot.waitUntil(lambda: not open_desk.measuring_play and fit.play.text().startswith("In the closed"))
    watched = (fit.measured, fit.chance, fit.play, fit.sure, fit.zones)
    qtbot.waitUntil(lambda: laid_out(card))
    before = places(card, *watched)
    clients[0].held = True
    type_into(qtbot, fit.clearance, "0.61")
    qtbot.waitUntil(lambda: open_desk.stale)
    for result in (fit.measured, fit.chance, fit.play):
        assert result.isVisible()
        assert result.text().endswith(": measuring…")
    assert not fit.sure.isEnabled()  # what it offers is of other halves
    qtbot.waitUntil(lambda: laid_out(card))
    assert places(card, *watched) == before
    clients[0].release()
    qtbot.waitUntil(lambda: not open_desk.measuring_play and fit.play.text().startswith("In the closed"))
    qtbot.waitUntil(lambda: laid_out(card))
    assert places(card, *watched) == before
    assert fit.measured.text() == "Smallest gap measured: lower 0.61 mm, upper 0.61 mm."
    assert fit.sure.isEnabled()


def test_what_is_no_longer_offered_keeps_its_room_until_the_station_is_folded(
    card: JobCard, fit: FitStation, open_desk: Desk, qtbot: QtBot
) -> None:
    type_into(qtbot, fit.clearance, "0.6")
    qtbot.waitUntil(lambda: not open_desk.measuring_play and fit.sure.isVisible())
    qtbot.waitUntil(lambda: laid_out(card))
    before = places(card, fit.zones)[0][0]
    type_into(qtbot, fit.clearance, "0.7")
    qtbot.waitUntil(lambda: not open_desk.measuring_play and not fit.sure.isVisible())
    qtbot.waitUntil(lambda: laid_out(card))
    assert places(card, fit.zones)[0][0] == before
    card.open_station("Shell")
    card.open_station("Fit")
    qtbot.waitUntil(lambda: laid_out(card))
    assert places(card, fit.zones)[0][0] < before


def test_a_result_has_its_place_before_it_is_known(qtbot: QtBot) -> None:
    note = ResultNote("Gaps", "Gaps measured: 0.50 mm at the least, 0.52 typically, 0.60 at the most.")
    qtbot.addWidget(note)
    note.resize(200, 20)
    note.show()
    note.show_result("", measuring=True)
    reserved = note.minimumHeight()
    note.show_result(
        "Gaps measured: 0.61 mm at the least, 0.62 typically, 0.85 at the most.", measuring=False
    )
    assert reserved == note.heightForWidth(200) > note.fontMetrics().height()
    note.show_result("Gaps measured.", measuring=False)
    assert note.minimumHeight() == reserved


def test_what_slides_under_a_resting_mouse_cannot_be_pressed(
    card: JobCard, fit: FitStation, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    start, shield = fit.zones.start, card._shield
    type_into(qtbot, fit.clearance, "0.6")
    qtbot.waitUntil(lambda: not card.desk.busy and laid_out(card))
    middle = start.mapToGlobal(start.rect().center())
    monkeypatch.setattr(shield, "_mouse", lambda: middle)
    card.refresh()
    assert not shield.isVisible()
    monkeypatch.setattr(fit.measured, "show_result", lambda *_, **__: fit.measured.setFixedHeight(120))
    card.refresh()
    assert shield.isVisible()
    assert shield.geometry().contains(card.mapFromGlobal(middle))
    qtbot.waitUntil(lambda: not shield.isVisible())
    shield.rise()
    none = Qt.MouseButton.NoButton
    for place in (QPointF(20, 20), QPointF(20, 40)):
        moved = QMouseEvent(QEvent.Type.MouseMove, place, place, none, none, Qt.KeyboardModifier.NoModifier)
        QApplication.sendEvent(shield, moved)
    assert not shield.isVisible()


def test_what_is_pressed_leaves_the_keyboard_near_and_scrolls_nothing(
    card: JobCard, fit: FitStation, clients: list[InlineClient], qtbot: QtBot
) -> None:
    card.resize(card.width(), 420)
    type_into(qtbot, fit.clearance, "0.6")
    qtbot.waitUntil(lambda: laid_out(card) and fit.sure.isVisible() and fit.sure.isEnabled())
    bar = card.findChild(QScrollArea).verticalScrollBar()
    add, make = next(iter(fit.features.adds.values())), card.write
    for pressed, heir in ((fit.sure, fit.clearance.line_edit), (add, fit.features), (make, card)):
        pressed.setFocus(Qt.FocusReason.MouseFocusReason)
        bring_into_view(card._scroller, pressed)
        before = bar.value()
        clients[0].held = True
        if pressed is make:
            clients[0].held, card.desk.write_waits = False, True
            card.refresh()
        else:
            pressed.click()
        assert not pressed.isEnabled()
        assert card.window().focusWidget() is heir
        laid_out(card)
        assert bar.value() == before
        clients[0].release()
        qtbot.waitUntil(lambda: not card.desk.measuring)


def test_what_could_not_be_made_is_not_said_to_be_measured(
    fit: FitStation, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    clients[0].refuse[Build] = "Not so; take less."
    type_into(qtbot, fit.clearance, "0.6")
    qtbot.waitUntil(lambda: bool(open_desk.failure))
    assert not fit.measured.isVisible()
    assert not fit.play.isVisible()


def test_nothing_is_offered_before_anything_is_known(
    desk: Desk, part_file: Path, clients: list[InlineClient], qtbot: QtBot
) -> None:
    card = JobCard(desk)
    qtbot.addWidget(card)
    desk.changed.connect(card.refresh)
    card.show()
    desk.opened.connect(lambda: setattr(clients[0], "held", True))
    desk.open_part(part_file)
    qtbot.waitUntil(lambda: desk.spec is not None)
    for title, hidden in (("Fit", ("sure",)), ("Parting", ("look", "_ways_line"))):
        card.open_station(title)
        assert all(getattr(card.stations[title], name).isHidden() for name in hidden)
    desk.changed.disconnect(card.refresh)


def test_what_is_said_of_going_in_keeps_its_place_and_explains_relief(
    card: JobCard, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    card.open_station("Parting")
    parting = card.stations["Parting"]
    assert isinstance(parting, PartingStation)
    watched = (parting.relief, parting.look, parting.ways["lower"], parting.suggest)
    qtbot.waitUntil(lambda: laid_out(card))
    before = places(card, *watched)
    assert "of extra room (relief) are cut" in parting.relief.text()
    clients[0].held = True
    type_into(qtbot, parting.height_field, "5.5")
    qtbot.waitUntil(lambda: open_desk.stale)
    assert parting.relief.text() == "Whether the part goes straight in: measuring…"
    qtbot.waitUntil(lambda: laid_out(card))
    assert places(card, *watched) == before
    clients[0].release()
    qtbot.waitUntil(lambda: not open_desk.stale)
    qtbot.waitUntil(lambda: laid_out(card))
    assert places(card, *watched) == before
