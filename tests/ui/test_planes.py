"""Parting planes in words that go with the picture, and what of a housing does not fit them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from housingdesk.features.lip import Lip
from housingdesk.finding import Finding
from housingdesk.geometry.frames import PULLS, PullDirection, pull_rotation
from housingdesk.spec.edits import set_parting_height
from housingdesk.spec.edits_features import add_feature
from housingdesk.ui.jobcard.parting import PartingStation
from housingdesk.ui.planes import WAYS, Way, misfits, pull_of, way_of
from housingdesk.ui.window import MainWindow
from tests.ui.inline import InlineClient
from tests.ui.test_window import settle, window, working

__all__ = ["window", "working"]  # fixtures

# As the compass of the bench names them.
IN_PICTURE: dict[Way, tuple[float, float, float]] = {
    "up": (0, 0, 1),
    "down": (0, 0, -1),
    "back": (0, 1, 0),
    "front": (0, -1, 0),
    "right": (1, 0, 0),
    "left": (-1, 0, 0),
}
LEFT_OUT = (Finding("feature-lip", "fail", "Lip and groove could not be made: the wall is too thin."),)
SPOILT = (Finding("screw-place", "fail", "Screw 1 of Lid runs into the cavity."),)
CARED = (Finding("screw-care", "caution", "Plastic gives way."),)


@pytest.mark.parametrize("now", PULLS)
@pytest.mark.parametrize("way", WAYS)
def test_what_points_some_way_in_the_picture_points_up_when_it_is_taken(way: Way, now: PullDirection) -> None:
    pull = pull_of(way, now)
    along = pull_rotation(pull)[:3, :3].T @ [0, 0, 1]  # of the parts, what the new picture has upright
    assert np.allclose(pull_rotation(now)[:3, :3] @ along, IN_PICTURE[way])
    assert way_of(pull, now) == way


@pytest.mark.window
def test_what_does_not_fit_is_said_in_a_sentence(working: MainWindow) -> None:
    result = working.desk.result
    assert result is not None
    assert misfits(replace(result, said={"Lid": CARED})) == ""
    assert misfits(replace(result, said={"Lip": LEFT_OUT})) == "Left out, as it does not fit this plane: Lip."
    three = {"Lip": LEFT_OUT, "Lid": SPOILT, "Feet": LEFT_OUT}
    assert misfits(replace(result, said=three)) == (
        "Left out, as it does not fit this plane: Lip and Feet. To be changed for this plane: Lid."
    )


@pytest.fixture
def parting(working: MainWindow, qtbot: QtBot) -> PartingStation:
    """Station Parting with planes suggested for a housing that has a lip."""
    working.desk.apply(add_feature(Lip()))
    settle(working, qtbot)
    station = working.card.stations["Parting"]
    assert isinstance(station, PartingStation)
    working.card.open_station("Parting")
    station.suggest.click()
    qtbot.waitUntil(lambda: len(station.proposal_buttons) == 3)
    return station


@pytest.mark.window
def test_planes_are_worded_as_the_picture_is_now(
    parting: PartingStation, working: MainWindow, qtbot: QtBot
) -> None:
    same, lower, right = parting.proposal_buttons
    assert same.where.text() == "As it lies, parted 5.0 mm up"
    assert right.where.text() == "Right side turned up, parted 20.0 mm up"
    qtbot.mouseClick(right, Qt.MouseButton.LeftButton)
    settle(working, qtbot)
    assert parting.proposal_buttons == [same, lower, right]  # the keyboard stays where it was
    assert right.isChecked()
    assert right.where.text() == "As it lies, parted 20.0 mm up"
    assert same.where.text() != "As it lies, parted 5.0 mm up"


@pytest.mark.window
def test_the_way_off_is_told_by_the_picture_and_always_up_afterwards(
    parting: PartingStation, working: MainWindow, qtbot: QtBot
) -> None:
    parting.pull.chosen.emit("back")
    spec = working.desk.spec
    assert spec is not None
    assert spec.parting.pull == "+y"
    settle(working, qtbot)
    assert parting.pull.key == "up"
    parting.pull.chosen.emit("down")
    assert working.desk.spec.parting.pull == "-y"


@pytest.mark.window
def test_a_plane_that_was_tried_says_what_it_leaves_out(
    parting: PartingStation, working: MainWindow, clients: list[InlineClient], qtbot: QtBot
) -> None:
    same, lower, _ = parting.proposal_buttons
    assert parting.try_note.isVisible()
    assert not lower.misfits.isVisible()
    clients[0].said = {"Lip and groove": LEFT_OUT}
    qtbot.mouseClick(lower, Qt.MouseButton.LeftButton)
    settle(working, qtbot)
    assert lower.misfits.text() == "Left out, as it does not fit this plane: Lip and groove."
    assert lower.misfits.isVisible()
    assert not same.misfits.isVisible()
    clients[0].said = {}
    qtbot.mouseClick(same, Qt.MouseButton.LeftButton)
    settle(working, qtbot)
    assert lower.misfits.isVisible()  # it is still known
    assert not same.misfits.isVisible()


@pytest.mark.window
def test_a_plane_of_ones_own_says_it_too(
    parting: PartingStation, working: MainWindow, clients: list[InlineClient], qtbot: QtBot
) -> None:
    clients[0].said = {"Lip and groove": LEFT_OUT}
    working.desk.apply(set_parting_height(7.0))
    settle(working, qtbot)
    assert parting.misfits.isVisible()
    assert parting.misfits.text() == "Left out, as it does not fit this plane: Lip and groove."
