"""The slip of paper at the top of the window."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLabel, QWidget
from pytestqt.qtbot import QtBot

from housingdesk.jobs.messages import Progress
from housingdesk.ui.notice import Notice

pytestmark = pytest.mark.window
LONG = "list.stl is not an STL file that can be read; save it again from the program that made it, please."


@pytest.mark.parametrize("running", [False, True])
def test_every_line_of_a_sentence_has_its_height(running: bool, qtbot: QtBot) -> None:
    over = QWidget()
    qtbot.addWidget(over)
    over.resize(900, 500)
    notice = Notice(over)
    over.show()
    qtbot.waitExposed(over)
    notice.say("Short.")
    if running:
        notice.show_progress(
            Progress("Preparing the engine for this computer, which takes a minute once", None)
        )
    notice.say(LONG)
    for label in notice.findChildren(QLabel):
        if label.isVisible():
            assert label.height() >= label.heightForWidth(label.width())
