"""Where the halves go and what they may replace, with real dialogs, mouse and keys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QDialog, QMessageBox, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from housingdesk.jobs.messages import Build, Export
from housingdesk.spec.edits import set_wall
from housingdesk.ui import writing as writing_module
from housingdesk.ui.desk import Desk
from housingdesk.ui.jobcard.printing import PrintStation
from housingdesk.ui.writing import FolderDialog, Writing, folder_words, suggested_folder
from tests.ui.inline import InlineClient

pytestmark = pytest.mark.window


@pytest.fixture
def writing(open_desk: Desk, qtbot: QtBot) -> Writing:
    """Writing of the block, over an empty window."""
    over = QWidget()
    qtbot.addWidget(over)
    over.resize(800, 600)
    over.show()
    qtbot.waitExposed(over)
    over.setProperty("keeps", Writing(over, open_desk))
    return over.findChild(Writing)  # type: ignore[return-value]  # it is there


def meet(*answers: Callable[[QDialog], None]) -> list[str]:
    """Answer the dialogs that will open one after another; the list tells what they said."""
    said: list[str] = []
    left = list(answers)
    shown: list[QDialog] = []

    def look() -> None:
        box = QApplication.activeModalWidget()
        if isinstance(box, QDialog) and box not in shown:
            shown.append(box)
            said.append(box.informativeText() if isinstance(box, QMessageBox) else box.windowTitle())
            if left[1:]:
                QTimer.singleShot(20, look)
            left.pop(0)(box)
        elif left:
            QTimer.singleShot(20, look)

    QTimer.singleShot(0, look)
    return said


def press(qtbot: QtBot, words: str) -> Callable[[QDialog], None]:
    def answer(box: QDialog) -> None:
        found = [b for b in box.findChildren(QPushButton) if b.text().replace("&", "").startswith(words)]
        qtbot.mouseClick(found[0], Qt.MouseButton.LeftButton)

    return answer


def key(qtbot: QtBot, pressed: Qt.Key) -> Callable[[QDialog], None]:
    return lambda box: qtbot.keyClick(box, pressed)


def type_folder(qtbot: QtBot, folder: Path) -> Callable[[QDialog], None]:
    def answer(box: QDialog) -> None:
        assert isinstance(box, FolderDialog)
        box.text.selectAll()
        qtbot.keyClicks(box.text, str(folder))
        qtbot.keyClick(box.text, Qt.Key.Key_Return)

    return answer


def written(desk: Desk, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not desk.writing and bool(desk.exported), timeout=10_000)


def test_a_folder_that_does_not_exist_is_typed_and_made(
    writing: Writing, open_desk: Desk, qtbot: QtBot, tmp_path: Path
) -> None:
    new = tmp_path / "prints" / "first try"
    meet(type_folder(qtbot, new))
    assert writing.choose_folder()
    assert not new.parent.exists()  # made by writing, not by asking
    assert writing.write()
    written(open_desk, qtbot)
    assert (new / "lower.stl").is_file()
    assert open_desk.export_folder == new


def test_a_new_folder_called_as_the_housing_is_suggested(
    open_desk: Desk, writing: Writing, qtbot: QtBot, tmp_path: Path
) -> None:
    open_desk.last_folder = str(tmp_path)
    meet(press(qtbot, "Keep this folder for later"))
    assert writing.choose_folder()
    assert open_desk.export_folder == tmp_path / "block halves"
    assert suggested_folder(tmp_path, "a/b: c?") == tmp_path / "a b c"
    assert suggested_folder(tmp_path, "..") == tmp_path / "halves"


@pytest.mark.parametrize("pressed", [Qt.Key.Key_Return, Qt.Key.Key_Escape])
def test_files_that_are_there_stay_unless_one_says_replace(
    pressed: Qt.Key,
    writing: Writing,
    open_desk: Desk,
    clients: list[InlineClient],
    qtbot: QtBot,
    tmp_path: Path,
) -> None:
    mine = tmp_path / "upper.stl"
    mine.write_text("mine")
    (tmp_path / "notes.txt").write_text("no concern of ours")
    open_desk.set_export_folder(tmp_path)
    said = meet(key(qtbot, pressed))
    assert not writing.write()
    assert said == ["These files would be replaced: upper.stl."]
    assert not [j for j in clients[0].jobs if isinstance(j, Export)]
    assert mine.read_text() == "mine"

    meet(press(qtbot, "Replace them"))
    assert writing.write()
    written(open_desk, qtbot)
    assert mine.read_text() != "mine"
    (job,) = [j for j in clients[0].jobs if isinstance(j, Export)]
    assert job.replace


def test_another_folder_instead(writing: Writing, open_desk: Desk, qtbot: QtBot, tmp_path: Path) -> None:
    (tmp_path / "proof.json").write_text("mine")
    open_desk.set_export_folder(tmp_path)
    said = meet(press(qtbot, "Another folder"), type_folder(qtbot, tmp_path / "second"))
    assert writing.write()
    written(open_desk, qtbot)
    assert len(said) == 2
    assert (tmp_path / "proof.json").read_text() == "mine"
    assert (tmp_path / "second" / "proof.json").is_file()


def test_what_was_written_a_moment_ago_is_asked_about_too(
    writing: Writing, open_desk: Desk, qtbot: QtBot, tmp_path: Path
) -> None:
    open_desk.set_export_folder(tmp_path / "out")
    assert writing.write()  # nothing to ask
    written(open_desk, qtbot)
    open_desk.apply(set_wall(3.0))
    qtbot.waitUntil(lambda: not open_desk.stale)
    meet(key(qtbot, Qt.Key.Key_Return))
    assert not writing.write()


@pytest.mark.parametrize("letter", "RrAaGg")
def test_a_letter_typed_blindly_replaces_nothing(
    letter: str, writing: Writing, open_desk: Desk, qtbot: QtBot, tmp_path: Path
) -> None:
    (tmp_path / "upper.stl").write_text("mine")
    open_desk.set_export_folder(tmp_path)

    def blindly(box: QDialog) -> None:
        assert isinstance(box, QMessageBox)
        qtbot.keyClicks(box.defaultButton(), letter)
        QTimer.singleShot(
            200, lambda: qtbot.keyClick(box, Qt.Key.Key_Escape)
        )  # a pressed button answers later

    meet(blindly)
    assert not writing.write()
    assert open_desk.export_folder == tmp_path
    assert (tmp_path / "upper.stl").read_text() == "mine"


def with_a_fail(desk: Desk, qtbot: QtBot) -> None:
    desk.apply(set_wall(1.0))
    qtbot.waitUntil(lambda: bool(desk.fails) and not desk.stale)


@pytest.mark.parametrize("pressed", [Qt.Key.Key_Return, Qt.Key.Key_Escape])
def test_halves_with_a_fail_are_not_written_without_asking(
    pressed: Qt.Key, writing: Writing, open_desk: Desk, qtbot: QtBot, tmp_path: Path
) -> None:
    with_a_fail(open_desk, qtbot)
    open_desk.set_export_folder(tmp_path / "out")
    asked: list[str] = []

    def leave(box: QDialog) -> None:
        assert isinstance(box, QMessageBox)
        asked.append(f"{box.text()} {box.informativeText()}")
        qtbot.keyClick(box, pressed)

    meet(leave)
    assert not writing.write()
    assert asked == ["The proof has 1 fail: Least wall 1.00 mm. Write the halves all the same?"]
    assert not (tmp_path / "out").exists()
    meet(press(qtbot, "Write them all the same"))
    assert writing.write()
    written(open_desk, qtbot)


def test_what_is_being_measured_is_written_once_it_is_proved(
    writing: Writing, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot, tmp_path: Path
) -> None:
    open_desk.set_export_folder(tmp_path / "out")
    clients[0].held = True
    open_desk.apply(set_wall(3.0))
    assert writing.write()
    assert open_desk.write_waits
    assert not [j for j in clients[0].jobs if isinstance(j, Export)]
    clients[0].release()
    written(open_desk, qtbot)
    assert not open_desk.write_waits


def test_what_is_being_measured_is_asked_about_once_it_fails(
    writing: Writing, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot, tmp_path: Path
) -> None:
    open_desk.set_export_folder(tmp_path / "out")
    clients[0].held = True
    open_desk.apply(set_wall(1.0))
    said = meet(key(qtbot, Qt.Key.Key_Return))
    assert writing.write()
    clients[0].release()
    qtbot.waitUntil(lambda: bool(said), timeout=10_000)
    qtbot.waitUntil(lambda: QApplication.activeModalWidget() is None)
    assert not (tmp_path / "out").exists()


def test_what_changes_before_it_is_measured_is_not_written(
    writing: Writing, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot, tmp_path: Path
) -> None:
    open_desk.set_export_folder(tmp_path / "out")
    said: list[str] = []
    open_desk.said.connect(said.append)
    clients[0].held = True
    open_desk.apply(set_wall(3.0))
    assert writing.write()
    open_desk.apply(set_wall(3.2))
    assert said == ["Nothing was written, for the housing was changed before it was measured."]
    clients[0].release()
    qtbot.waitUntil(lambda: not open_desk.stale)
    assert not open_desk.write_waits
    assert not [j for j in clients[0].jobs if isinstance(j, Export)]


def test_a_wish_that_cannot_be_made_is_asked_about(
    writing: Writing, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot, tmp_path: Path
) -> None:
    open_desk.set_export_folder(tmp_path / "out")
    clients[0].refuse[Build] = "The wall is too thick."
    open_desk.apply(set_wall(30.0))
    qtbot.waitUntil(lambda: bool(open_desk.failure))
    said = meet(key(qtbot, Qt.Key.Key_Escape))
    assert not writing.write()
    assert said == ["Write the halves all the same?"]


def test_another_housing_begins_without_the_folder_of_the_last(
    open_desk: Desk, part_file: Path, qtbot: QtBot, tmp_path: Path
) -> None:
    project, out = tmp_path / "first.hdesk", tmp_path / "out"
    assert open_desk.save(project)
    assert open_desk.finish_saving()
    open_desk.set_export_folder(out)
    with qtbot.waitSignal(open_desk.opened):
        open_desk.open_part(part_file)
    assert open_desk.export_folder is None
    assert not Path(open_desk.last_folder).is_relative_to(out)
    with qtbot.waitSignal(open_desk.opened):
        open_desk.open_project(project)
    assert open_desk.export_folder == out  # kept while the program runs


def test_the_print_station_says_how_the_halves_are(
    writing: Writing, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot, tmp_path: Path
) -> None:
    station = PrintStation(open_desk)
    qtbot.addWidget(station)
    assert station.summary() == "Ready to print."
    clients[0].held = True
    open_desk.apply(set_wall(1.0))
    assert station.summary() == "Being measured…"
    clients[0].release()
    qtbot.waitUntil(lambda: not open_desk.stale)
    assert station.summary() == "1 fail, see the proof."
    open_desk.set_export_folder(tmp_path / "out")
    meet(press(qtbot, "Write them all the same"))
    assert writing.write()
    written(open_desk, qtbot)
    assert station.summary() == "Written into out, with 1 fail: see the proof."
    clients[0].refuse[Build] = "The wall is too thick."
    open_desk.apply(set_wall(30.0))
    qtbot.waitUntil(lambda: bool(open_desk.failure))
    assert station.summary() == "Not made as wished; see the proof."


@pytest.mark.parametrize(
    ("writes", "words"), [(True, "Write the halves into it"), (False, "Keep this folder for later")]
)
def test_the_folders_button_says_what_it_does(
    writes: bool, words: str, writing: Writing, open_desk: Desk, qtbot: QtBot, tmp_path: Path
) -> None:
    open_desk.last_folder = str(tmp_path)
    meet(press(qtbot, words))
    if writes:
        assert writing.write()
        written(open_desk, qtbot)
    else:
        open_desk.folder_asked.emit()
        assert open_desk.export_folder == tmp_path / "block halves"
    assert (tmp_path / "block halves").exists() == writes


def test_a_file_is_no_folder(tmp_path: Path, qtbot: QtBot) -> None:
    (tmp_path / "file").write_text("x")
    dialog = FolderDialog(None, tmp_path / "new")
    qtbot.addWidget(dialog)
    assert dialog.take.isEnabled()
    dialog.text.setText(str(tmp_path / "file" / "below"))
    assert not dialog.take.isEnabled()
    assert dialog.folder is None
    assert dialog.words.text() == "file is a file and not a folder; choose another name."
    dialog.text.setText("   ")
    assert not dialog.take.isEnabled()
    dialog.text.setText("beside")
    assert dialog.folder == tmp_path / "beside"
    assert folder_words(tmp_path, ["file", "other"])[0].startswith("Already in it: file.")


def test_where_they_are_is_said_and_the_folder_opens(
    writing: Writing, open_desk: Desk, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    station = PrintStation(open_desk)
    qtbot.addWidget(station)
    station.resize(300, 600)
    station.show()
    station.refresh()
    assert not station.look_in.isVisible()
    said: list[str] = []
    open_desk.said.connect(said.append)
    open_desk.set_export_folder(tmp_path / "out")
    assert writing.write()
    written(open_desk, qtbot)
    station.refresh()
    assert said == [f"The halves are written into {tmp_path / 'out'}."]
    assert str(tmp_path / "out") in station.written.text().replace("\u200b", "")
    opened: list[Path] = []

    def show(folder: Path) -> bool:
        opened.append(folder)
        return len(opened) == 1  # the second time the system has no file window

    monkeypatch.setattr(writing_module, "open_folder", show)
    for _ in range(2):
        qtbot.mouseClick(station.look_in, Qt.MouseButton.LeftButton)
    assert opened == [tmp_path / "out"] * 2
    assert said[1:] == [f"The system shows no folders; look into {tmp_path / 'out'} yourself."]
