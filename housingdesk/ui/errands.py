"""Opening, saving and leaving: everything about files that asks the user something first."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from housingdesk.files.project import is_project
from housingdesk.ui.asking import ask_part, ask_project, ask_save_path
from housingdesk.ui.desk import Desk
from housingdesk.ui.dialogs import ask_save
from housingdesk.ui.measuring import ask_measured


class Errands(QObject):
    """Asks where and whether, then has the desk do it.  A dialog given up leaves everything as it was.

    Parameters
    ----------
    window : what the dialogs lie over.
    """

    def __init__(self, window: QWidget, desk: Desk) -> None:
        super().__init__(window)
        self._window, self._desk = window, desk

    # --- a housing of its own: unsaved work is asked about --------------------------------------------

    def open_path(self, path: Path) -> None:
        """Open a part or a project, after asking about unsaved work."""
        if not self.may_leave():
            return
        if is_project(path):
            self._desk.open_project(path)
        else:
            self._desk.open_part(path)

    def open_part(self) -> None:
        """Start a housing around a part's file."""
        if (path := ask_part(self._window, self._desk.last_folder, "Open a part")) is not None:
            self.open_path(path)

    def open_project(self) -> None:
        """Go on with a saved housing."""
        if (path := ask_project(self._window, self._desk.last_folder)) is not None:
            self.open_path(path)

    def measure_part(self) -> None:
        """Start a housing around a part without a file, after asking about unsaved work."""
        part = ask_measured(self._window, self._desk, "Measure a part", "&Make the housing")
        if part is not None and self.may_leave():
            self._desk.measure_part(part.name, part.shapes)

    def close_project(self) -> None:
        """Back to the start page, after asking about unsaved work."""
        if self.may_leave():
            self._desk.close_project()

    def may_leave(self) -> bool:
        """Whether unsaved work may be left: saved, or the user says so.  Waits for a save under way."""
        self._desk.finish_saving()
        if not self._desk.modified or self._desk.spec is None:
            return True
        answer = ask_save(self._window, self._desk.spec.name)
        if answer == "save":
            return self.save() and self._desk.finish_saving()
        return answer == "drop"

    # --- more for the open housing --------------------------------------------------------------------

    def add_part(self) -> None:
        """Add a part's file."""
        if (path := ask_part(self._window, self._desk.last_folder, "Add another part")) is not None:
            self._desk.add_part(path)

    def add_measured(self) -> None:
        """Add a part without a file."""
        part = ask_measured(self._window, self._desk, "Measure another part", "&Add the part")
        if part is not None:
            self._desk.add_measured(part.name, part.shapes)

    def swap_part(self, name: str) -> None:
        """Put another file in a part's place."""
        title = f"Put a file in the place of {name}"
        if (path := ask_part(self._window, self._desk.last_folder, title)) is not None:
            self._desk.swap_part(name, path)

    # --- where it is kept -----------------------------------------------------------------------------

    def save(self) -> bool:
        """Begin to save the project where it is, or where the user says; whether that was begun."""
        return self.save_as() if self._desk.path is None else self._desk.save(self._desk.path)

    def save_as(self) -> bool:
        """Begin to save the project somewhere else; whether that was begun."""
        spec = self._desk.spec
        path = ask_save_path(self._window, self._desk.last_folder, spec.name) if spec else None
        return path is not None and self._desk.save(path)
