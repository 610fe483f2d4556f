"""The viewer's ways: by hand, in flight, and to rest; no window."""

from __future__ import annotations

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from housingdesk.view3d.camera import Eye
from housingdesk.view3d.flight import Flight
from tests.view3d.content import OUTER_MM

pytestmark = pytest.mark.window

SIZE = (900, 640)
CORNER = (23.0, -18.0, 23.0)


class Watched(Flight):
    """A flight, with a note of what it said."""

    def __init__(self, held: list[bool] | None = None) -> None:
        """``held`` are the answers, in order, to whether a hand holds something; then it holds nothing."""
        self.held = held or []
        super().__init__(lambda: SIZE, lambda: bool(self.held) and self.held.pop(0))
        self.said: list[str] = []
        self.view_changed.connect(lambda: self.said.append("view"))
        self.stirred.connect(lambda: self.said.append("stirred"))
        self.rested.connect(lambda: self.said.append("rested"))


def corners() -> np.ndarray:
    return np.array(
        [[OUTER_MM[i, 0], OUTER_MM[j, 1], OUTER_MM[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)]
    )


def test_everything_is_seen_and_the_same_view_again_is_no_news(qtbot: QtBot) -> None:
    flight = Watched()
    flight.fit(OUTER_MM)
    flight.fit(OUTER_MM)
    assert flight.said == ["view"]
    pixels = flight.eye.pixels(corners())
    assert (pixels[:, :2] > 0).all()
    assert (pixels[:, 0] < SIZE[0]).all()
    assert (pixels[:, 1] < SIZE[1]).all()


def test_a_picture_without_a_size_is_still_one(qtbot: QtBot) -> None:
    flight = Flight(lambda: (0, 0), lambda: False)
    assert (flight.eye.width, flight.eye.height) == (1, 1)


def test_by_hand_it_is_coarse_until_it_rests(qtbot: QtBot) -> None:
    flight = Watched()
    with qtbot.waitSignal(flight.rested):
        flight.turn(30.0, 0.0)
    assert flight.said == ["stirred", "view", "rested"]


def test_there_is_no_rest_while_a_hand_holds_something(qtbot: QtBot) -> None:
    flight = Watched([True, True, False])
    with qtbot.waitSignal(flight.rested):
        flight.shove(5.0, 5.0)
    assert flight.held == []
    assert flight.said.count("rested") == 1


def test_what_is_come_closer_to_stays_where_it_is(qtbot: QtBot) -> None:
    flight = Watched()
    flight.fit(OUTER_MM)
    before = flight.eye.pixels(np.array([CORNER]))[0, :2]
    distance = flight.eye.view.distance_mm
    flight.come_closer(CORNER, 0.5)
    assert flight.eye.pixels(np.array([CORNER]))[0, :2] == pytest.approx(before, abs=1e-6)
    assert flight.eye.view.distance_mm < distance
    flight.stop()


def test_a_flight_ends_at_the_place_without_turning(qtbot: QtBot) -> None:
    flight = Watched()
    flight.fit(OUTER_MM)
    axes, distance = flight.eye.view.axes(), flight.eye.view.distance_mm
    flight.said.clear()
    with qtbot.waitSignal(flight.rested):
        flight.fly_to(CORNER, OUTER_MM)
    assert flight.said[0] == "stirred"
    assert flight.said[-2:] == ["view", "rested"]
    assert flight.eye.view.focus_mm == CORNER
    assert flight.eye.view.distance_mm < 0.5 * distance
    assert flight.eye.view.axes() == pytest.approx(axes)


def test_where_nobody_sees_it_there_is_no_flight(qtbot: QtBot) -> None:
    flight = Watched()
    flight.look_from("top", OUTER_MM, at_once=True)
    assert flight.said == ["view"]
    assert flight.eye.view.elevation_deg == 90.0
    assert flight.eye == Eye(flight.eye.fitted(OUTER_MM), *SIZE)


def test_a_hand_ends_a_flight_where_it_is(qtbot: QtBot) -> None:
    flight = Watched()
    flight.fit(OUTER_MM)
    with qtbot.waitSignal(flight.view_changed):
        flight.look_from("top", OUTER_MM)
    flight.stir()
    stopped_at = flight.eye.view
    assert stopped_at.elevation_deg != 90.0
    with qtbot.waitSignal(flight.rested):  # time for the flight to go on, if it did
        flight.rest_soon()
    assert flight.eye.view == stopped_at
