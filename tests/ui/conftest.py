"""A desk and a window with the stand-in client, for tests that need no engine."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import trimesh
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from housingdesk.ui.desk import Desk
from housingdesk.ui.theme import system_font
from housingdesk.ui.themes import Themes
from tests.ui.inline import InlineClient


@pytest.fixture
def part_file(tmp_path: Path) -> Path:
    """A 40 x 20 x 10 mm box as STL."""
    path = tmp_path / "block.stl"
    trimesh.creation.box(extents=(40, 20, 10)).export(path)
    return path


@pytest.fixture
def clients() -> list[InlineClient]:
    """The clients made by ``desk``."""
    return []


@pytest.fixture
def desk(qapp: QApplication, tmp_path: Path, clients: list[InlineClient]) -> Iterator[Desk]:
    def factory(*arguments: object) -> InlineClient:
        clients.append(InlineClient(*arguments))  # type: ignore[arg-type]  # passed on as they are
        return clients[-1]

    made = Desk(factory, tmp_path / "data", tmp_path / "cache")
    yield made
    made.close()


@pytest.fixture
def themes(qapp: QApplication, tmp_path: Path) -> Themes:
    qapp.setStyle("Fusion")
    qapp.setFont(system_font())
    return Themes(qapp, QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat))


@pytest.fixture
def open_desk(desk: Desk, part_file: Path, qtbot: QtBot) -> Desk:
    """A desk with the block on it, built in full."""
    desk.open_part(part_file)
    qtbot.waitUntil(lambda: desk.proof is not None, timeout=10_000)
    return desk
