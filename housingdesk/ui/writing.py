"""Where the halves are written, and whether earlier files there may be replaced."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from PySide6.QtCore import QObject, QTimer, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from housingdesk.deliver.names import already_there, names_written
from housingdesk.finding import Finding, counted
from housingdesk.spec.models import Spec
from housingdesk.ui.desk import Desk
from housingdesk.ui.dialogs import Role, chosen
from housingdesk.ui.jobcard.station import button, note

ReplaceAnswer = Literal["replace", "elsewhere", "stay"]

_SIZE = (560, 200)
_NO_NAME = set('<>:"/\\|?*')  # of no file on one system or another


def suggested_folder(near: Path, name: str) -> Path:
    """Return a new folder beside other work, called as the housing is."""
    plain = "".join(" " if c in _NO_NAME or not c.isprintable() else c for c in name)
    return near / (" ".join(plain.split()).strip(". ") or "halves")


def folder_of(typed: str, near: Path) -> Path | None:
    """Return the folder meant by typed text, relative to ``near``; None where nothing is typed."""
    text = typed.strip()
    if not text:
        return None
    if text == "~" or text.startswith(("~/", "~\\")):
        return Path.home() / text[2:]
    return near / text


def folder_words(folder: Path | None, names: Sequence[str]) -> tuple[str, bool]:
    """Say what writing into a folder means, and whether it can be.

    Parameters
    ----------
    names : files that would be written.
    """
    if folder is None:
        return "Type the folder's name, or choose one.", False
    try:
        if folder.is_dir():
            there = already_there(folder, names)
            if there:
                return f"Already in it: {', '.join(there)}. You are asked before they are replaced.", True
            return "The folder is there; nothing in it has to be replaced.", True
        near = next(p for p in (folder, *folder.absolute().parents) if p.exists())
    except (OSError, ValueError):  # too long, a NUL, no permission to look
        return "No folder can have this name; change it.", False
    if not near.is_dir():
        return f"{near.name} is a file and not a folder; choose another name.", False
    return "The folder is made when the halves are written.", True


class FolderDialog(QDialog):
    """A folder typed, or chosen with the system's own dialog; it need not exist yet.

    Parameters
    ----------
    folder : suggested.
    names : files that would be written, so that it can be said which are there already.
    writes : the halves are written as soon as the folder is taken; otherwise it is only kept for later.
    """

    def __init__(
        self, parent: QWidget | None, folder: Path, names: Sequence[str] = (), *, writes: bool = True
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Folder for the halves")
        self._near, self._names = folder.parent, names
        self.text = QLineEdit(str(folder))
        self.text.setObjectName("text")
        self.text.setAccessibleName("Folder for the halves")
        self.text.setMinimumHeight(28)
        self.text.textChanged.connect(self._refresh)
        self.browse = button("&Look for one…", "Choose a folder that is there, or make one.", self._browse)
        self.browse.setAutoDefault(False)  # Enter takes what was typed
        self.words = note()
        head = QLabel("Folder &for the halves:")
        head.setBuddy(self.text)
        self.buttons = QDialogButtonBox()
        does = "&Write the halves into it" if writes else "&Keep this folder for later"
        self.take = self.buttons.addButton(does, QDialogButtonBox.ButtonRole.AcceptRole)
        self.take.setObjectName("main")
        self.take.setDefault(True)
        self.buttons.addButton("&Go back", QDialogButtonBox.ButtonRole.RejectRole)
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addWidget(self.text, 1)
        row.addWidget(self.browse)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 20, 22, 18)
        column.setSpacing(10)
        column.addWidget(head)
        column.addLayout(row)
        column.addWidget(self.words)
        column.addStretch(1)
        column.addWidget(self.buttons)
        self.resize(*_SIZE)
        self._refresh()
        self.text.setFocus()
        self.text.setSelection(len(str(folder)) - len(folder.name), len(folder.name))

    @property
    def folder(self) -> Path | None:
        """The folder meant now; None where it cannot be."""
        folder = folder_of(self.text.text(), self._near)
        return folder if folder_words(folder, ())[1] else None

    def _browse(self) -> None:
        at = next(
            (p for p in (self.folder or self._near, self._near, Path.home()) if p.is_dir()), Path.home()
        )
        name = QFileDialog.getExistingDirectory(self, "Folder for the halves", str(at))
        if name:
            self.text.setText(name)

    def _refresh(self) -> None:
        words, can_be = folder_words(folder_of(self.text.text(), self._near), self._names)
        self.words.setText(words)
        self.words.setObjectName("soft" if can_be else "complaint")
        self.words.style().unpolish(self.words)
        self.words.style().polish(self.words)
        self.take.setEnabled(can_be)


def ask_output_folder(
    parent: QWidget, folder: Path, names: Sequence[str] = (), *, writes: bool = True
) -> Path | None:
    """Ask for the folder that the halves are written into; None where the user goes back."""
    dialog = FolderDialog(parent, folder, names, writes=writes)
    taken = dialog.exec() == QDialog.DialogCode.Accepted
    chosen = dialog.folder if taken else None
    dialog.deleteLater()
    return chosen


def ask_replace(parent: QWidget, folder: Path, names: Sequence[str]) -> ReplaceAnswer:
    """Ask whether files that are there may be replaced; Enter and Esc leave them."""
    buttons: dict[ReplaceAnswer, tuple[str, Role]] = {
        "replace": ("&Replace them", Role.DestructiveRole),
        "elsewhere": ("&Another folder…", Role.AcceptRole),
        "stay": ("&Go back", Role.RejectRole),
    }
    more = f"These files would be replaced: {', '.join(names)}."
    return chosen(
        parent, f"There are already halves in {folder}.", buttons, enter="stay", esc="stay", more=more
    )


def ask_unproved(parent: QWidget, fails: Sequence[Finding], failure: str = "") -> bool:
    """Ask whether halves that do not pass their proof are written all the same; Enter and Esc leave it.

    Parameters
    ----------
    failure : why there is no proof of the housing as it is wanted now; empty where there is one.
    """
    if failure:
        words = f"The halves as they are wanted now are not proved: {failure}"
    elif len(fails) == 1:
        words = f"The proof has 1 fail: {fails[0].message}"
    else:
        words = f"The proof has {counted(len(fails), 'fail')}, the first of them: {fails[0].message}"
    buttons: dict[Literal["write", "stay"], tuple[str, Role]] = {
        "write": ("&Write them all the same", Role.DestructiveRole),
        "stay": ("&Go back", Role.RejectRole),
    }
    more = "Write the halves all the same?"
    return chosen(parent, words, buttons, enter="stay", esc="stay", more=more) == "write"


def open_folder(folder: Path) -> bool:
    """Show a folder in the system's own file window; whether the system could."""
    return QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder)))


class Writing(QObject):
    """Asks where the halves go and what may be replaced, then has the desk write them.

    Parameters
    ----------
    window : what the dialogs lie over.
    """

    def __init__(self, window: QWidget, desk: Desk) -> None:
        super().__init__(window)
        self._window, self._desk = window, desk
        self._waiting: Spec | None = None  # is written once it is measured
        desk.changed.connect(self._go_on)
        desk.folder_asked.connect(lambda: self.choose_folder())
        desk.folder_shown.connect(self.show_folder)

    def choose_folder(self, *, writes: bool = False) -> bool:
        """Choose where the halves are written, at once if ``writes``; whether a folder was chosen."""
        desk = self._desk
        if desk.spec is None:
            return False
        near = desk.path.parent if desk.path else Path(desk.last_folder)
        suggested = desk.export_folder or suggested_folder(near, f"{desk.spec.name} halves")
        folder = ask_output_folder(self._window, suggested, self._names, writes=writes)
        if folder is not None:
            desk.set_export_folder(folder)
        return folder is not None

    def write(self) -> bool:
        """Have the halves written, asking for what is not settled; whether that was begun.

        What is still being measured is written, or asked about, when its proof is there.
        """
        desk = self._desk
        if desk.writing or desk.spec is None:
            return False
        if desk.measuring:
            self._wait(desk.spec)
            return True
        if (desk.fails or desk.failure) and not ask_unproved(self._window, desk.fails, desk.failure):
            return False
        if desk.export_folder is None and not self.choose_folder(writes=True):
            return False
        while desk.export_folder is not None:
            there = already_there(desk.export_folder, self._names)
            answer = ask_replace(self._window, desk.export_folder, there) if there else "replace"
            if answer == "stay" or (answer == "elsewhere" and not self.choose_folder(writes=True)):
                return False
            if answer == "replace":
                desk.write(replace=bool(there))
                return True
        return False

    def _wait(self, spec: Spec | None) -> None:
        self._waiting = spec
        self._desk.write_waits = spec is not None
        self._desk.changed.emit()

    def _go_on(self) -> None:
        """Write what waited for its proof, unless something else is wanted by now."""
        desk, waiting = self._desk, self._waiting
        same = desk.spec is waiting
        if waiting is None or (same and desk.measuring):
            return
        self._wait(None)
        if same and not desk.failure:
            QTimer.singleShot(0, self, self.write)
        elif same:
            desk.said.emit(f"Nothing was written. {desk.failure}")
        elif desk.spec is not None:
            desk.said.emit("Nothing was written, for the housing was changed before it was measured.")

    def show_folder(self) -> None:
        """Open the folder that the halves were written into in the system's file window."""
        files = self._desk.exported
        if files and not open_folder(files[0].parent):
            self._desk.said.emit(f"The system shows no folders; look into {files[0].parent} yourself.")

    @property
    def _names(self) -> tuple[str, ...]:
        spec = self._desk.spec
        return names_written(len(spec.parts)) if spec else ()
