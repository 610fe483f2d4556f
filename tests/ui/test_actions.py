"""The action table: complete, free of clashes, and what the menus are made from."""

from __future__ import annotations

from collections import Counter

import pytest
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QMainWindow
from pytestqt.qtbot import QtBot

from housingdesk.ui import actions as table
from housingdesk.ui.actions import MENUS, Actions, rows


def all_keys() -> list[str]:
    return [key for _, row in rows() for key in row.shortcut.split("|") if key]


def test_no_two_actions_share_an_id_or_a_key() -> None:
    assert not [i for i, n in Counter(row.id for _, row in rows()).items() if n > 1]
    assert not [k for k, n in Counter(all_keys()).items() if n > 1]


@pytest.mark.parametrize("menu", MENUS)
def test_alt_keys_differ_within_a_menu(menu: str) -> None:
    letters = [row.text[row.text.index("&") + 1].lower() for row in MENUS[menu] if row.id and "&" in row.text]
    assert not [k for k, n in Counter(letters).items() if n > 1]


def test_every_key_is_one_qt_understands_and_every_action_says_what_it_does() -> None:
    for key in all_keys():
        assert QKeySequence(key).toString() == key
    for _, row in rows():
        assert row.tip.endswith(".")
        assert row.text.strip()


def test_the_keys_of_the_bench_are_single_keys() -> None:
    keys = {row.id: row.shortcut for _, row in rows()}
    assert (keys["ghost"], keys["lower"], keys["upper"], keys["lift"]) == ("G", "L", "U", "E")


@pytest.mark.window
def test_menus_are_made_from_the_table_and_enabled_by_its_conditions(qtbot: QtBot) -> None:
    window = QMainWindow()
    qtbot.addWidget(window)
    done: list[str] = []
    handlers = {row.id: (lambda *_, i=row.id: done.append(i)) for _, row in rows()}
    made = Actions(window, handlers)
    holds = dict.fromkeys((row.when for _, row in rows() if row.when != table.ALWAYS), False)
    made.refresh(holds, undo="", redo="")
    assert made.by_id["undo"].text() == "&Undo"
    assert not made.by_id["undo"].isEnabled()
    assert made.by_id["open_part"].isEnabled()
    holds[table.UNDO] = True
    made.refresh(holds, undo="Wall 3 mm & more", redo="")
    assert made.by_id["undo"].text() == "&Undo wall 3 mm && more"
    for _, row in rows():
        made.by_id[row.id].setEnabled(True)
        made.by_id[row.id].trigger()
    assert done == [row.id for _, row in rows()]
    texts = [a.text() for menu in made.menus.values() for a in menu.actions() if not a.isSeparator()]
    assert len(texts) == len(list(rows()))


@pytest.mark.window
def test_a_handler_too_few_or_too_many_is_told(qtbot: QtBot) -> None:
    window = QMainWindow()
    qtbot.addWidget(window)
    with pytest.raises(ValueError, match="quit"):
        Actions(window, {row.id: print for _, row in rows() if row.id != "quit"})
