"""Opening, saving and leaving, the dialogs answered by the test; no main window."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtWidgets import QFileDialog, QWidget
from pytestqt.qtbot import QtBot

from housingdesk.files.project import load_project
from housingdesk.spec.edits import set_wall
from housingdesk.ui import errands as errands_module
from housingdesk.ui.asking import ask_part, ask_project
from housingdesk.ui.desk import Desk
from housingdesk.ui.errands import Errands
from tests.ui.inline import InlineClient

pytestmark = pytest.mark.window
Answer = Callable[[str, object], list[str]]


@pytest.fixture
def errands(open_desk: Desk, qtbot: QtBot) -> Errands:
    """Errands for the block, over an empty widget."""
    over = QWidget()
    qtbot.addWidget(over)
    return Errands(over, open_desk)


@pytest.fixture
def answer(monkeypatch: pytest.MonkeyPatch) -> Answer:
    """Answers one of the dialogs, and returns the list in which each asking is noted."""

    def put(dialog: str, reply: object) -> list[str]:
        asked: list[str] = []

        def instead(*_: object) -> object:
            asked.append(dialog)
            return reply

        monkeypatch.setattr(errands_module, dialog, instead)
        return asked

    return put


@pytest.mark.parametrize("ask", ["part", "project"])
def test_files_are_looked_for_where_a_folder_is_and_each_kind_is_told_once(
    ask: str, open_desk: Desk, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder not made yet would stand in the dialog as the name of the file to open."""
    monkeypatch.setattr(QFileDialog, "getOpenFileName", _OpenInstead())
    over = QWidget()
    qtbot.addWidget(over)
    gone = str(tmp_path / "not made" / "yet")
    asked = ask_part(over, gone, "Open") if ask == "part" else ask_project(over, gone)
    assert asked is None
    _, _, begin, kinds, _, option = _OpenInstead.heard
    assert begin == str(tmp_path)
    assert (
        option == QFileDialog.Option.HideNameFilterDetails
    )  # so that what stands before ( is all that is read
    words = str(kinds).split("(")[0].lower()
    assert words.count("stl" if ask == "part" else "project.json") == 1


class _OpenInstead:
    heard: tuple[object, ...] = ()

    def __call__(self, *asked: object) -> tuple[str, str]:
        _OpenInstead.heard = asked
        return "", ""


def test_untouched_work_is_left_without_a_question(errands: Errands, answer: Answer) -> None:
    asked = answer("ask_save", "stay")
    assert errands.may_leave()
    assert asked == []


@pytest.mark.parametrize(("reply", "may"), [("stay", False), ("drop", True)])
def test_unsaved_work_is_asked_about(
    errands: Errands, open_desk: Desk, answer: Answer, reply: str, may: bool
) -> None:
    open_desk.apply(set_wall(3.0))
    asked = answer("ask_save", reply)
    assert errands.may_leave() is may
    assert asked == ["ask_save"]
    assert open_desk.modified


def test_work_is_saved_before_it_is_left_and_stays_without_a_place(
    errands: Errands, open_desk: Desk, answer: Answer, tmp_path: Path
) -> None:
    open_desk.apply(set_wall(3.0))
    answer("ask_save", "save")
    answer("ask_save_path", None)
    assert not errands.may_leave()
    answer("ask_save_path", tmp_path / "block.hdesk")
    assert errands.may_leave()
    assert load_project(tmp_path / "block.hdesk")[0].shell.wall_mm == 3.0


def test_a_saved_project_is_saved_again_where_it_is(
    errands: Errands, open_desk: Desk, answer: Answer, tmp_path: Path
) -> None:
    asked = answer("ask_save_path", tmp_path / "block.hdesk")
    assert errands.save()
    open_desk.finish_saving()
    open_desk.apply(set_wall(3.0))
    assert errands.save()
    open_desk.finish_saving()
    assert asked == ["ask_save_path"]
    assert load_project(tmp_path / "block.hdesk")[0].shell.wall_mm == 3.0


def test_a_dialog_given_up_changes_nothing(
    errands: Errands, open_desk: Desk, answer: Answer, clients: list[InlineClient]
) -> None:
    asked = [answer(d, None) for d in ("ask_part", "ask_project", "ask_measured", "ask_save_path")]
    spec, jobs = open_desk.spec, len(clients[0].jobs)
    errands.open_part()
    errands.add_part()
    errands.swap_part("block")
    errands.open_project()
    errands.measure_part()
    errands.add_measured()
    assert not errands.save_as()
    assert [len(a) for a in asked] == [3, 1, 2, 1]
    assert (open_desk.spec, len(clients[0].jobs), open_desk.export_folder) == (spec, jobs, None)


def test_what_is_chosen_opens_only_where_the_work_may_be_left(
    errands: Errands, open_desk: Desk, answer: Answer, part_file: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    project = tmp_path / "kept.hdesk"
    assert open_desk.save(project)
    open_desk.finish_saving()
    open_desk.apply(set_wall(3.0))
    answer("ask_project", project)
    asked = answer("ask_save", "stay")
    errands.open_project()
    assert asked == ["ask_save"]
    assert open_desk.spec is not None
    assert open_desk.spec.shell.wall_mm == 3.0
    answer("ask_save", "drop")
    with qtbot.waitSignal(open_desk.opened):
        errands.open_project()
    assert open_desk.path == project
    answer("ask_part", part_file)
    with qtbot.waitSignal(open_desk.opened):
        errands.open_part()
    assert open_desk.path is None
    errands.close_project()
    assert open_desk.spec is None
