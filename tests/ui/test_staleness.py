"""Halves out of date are shown so after a while, and never longer than they are."""

from __future__ import annotations

import pytest
from pytestqt.qtbot import QtBot

from housingdesk.ui.staleness import Staleness

pytestmark = pytest.mark.window


def test_it_is_shown_only_when_it_lasts(qtbot: QtBot) -> None:
    staleness = Staleness()
    staleness.follow(True)
    assert staleness.waiting
    assert not staleness.shown
    with qtbot.waitSignal(staleness.worn):
        staleness.follow(True)
    assert staleness.shown
    staleness.follow(True)
    assert not staleness.waiting


def test_what_is_made_in_time_is_never_shown_as_out_of_date(qtbot: QtBot) -> None:
    staleness = Staleness()
    staleness.follow(True)
    staleness.follow(False)
    assert not staleness.waiting
    assert not staleness.shown


def test_it_ends_at_once(qtbot: QtBot) -> None:
    staleness = Staleness()
    with qtbot.waitSignal(staleness.worn):
        staleness.follow(True)
    staleness.follow(False)
    assert not staleness.shown
